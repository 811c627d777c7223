//! Links between the project's own pages. Knows nothing of the web.

use super::Finding;
use super::files::File;
use std::path::Path;

/// Holds every link of a Markdown page to a local file against what is there.
pub(crate) fn check(root: &Path, file: &File) -> Vec<Finding> {
    if !file.has_extension("md") {
        return Vec::new();
    }
    let folder = root.join(Path::new(&file.path).parent().unwrap_or(Path::new("")));
    let mut findings = Vec::new();
    let mut in_code = false;
    for (line, text) in file.lines() {
        if text.trim_start().starts_with("```") {
            in_code = !in_code;
        }
        if in_code {
            continue;
        }
        for target in targets(text) {
            let path = target.split('#').next().unwrap_or_default();
            if is_local(target) && !path.is_empty() && !folder.join(path).exists() {
                let message = format!("the link to `{target}` leads nowhere");
                findings.push(Finding::new(
                    &file.path,
                    line,
                    message,
                    "name a file that is there, from this page's folder",
                ));
            }
        }
    }
    findings
}

fn is_local(target: &str) -> bool {
    !target.contains("://") && !target.starts_with("mailto:")
}

/// The targets of `[text](target)` and `![text](target)` in one line; a title behind the target is left out.
fn targets(line: &str) -> Vec<&str> {
    let pieces = line.split("](").skip(1);
    pieces.filter_map(|piece| piece.split(')').next()).filter_map(|inside| inside.split_whitespace().next()).collect()
}
