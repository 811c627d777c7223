//! Which files there are, and how each must look: length, head, line ends. Knows no crate.

use super::Finding;
use std::fs;
use std::io;
use std::path::Path;

/// A text file of the workspace.
pub(crate) struct File {
    /// Path from the root, with forward slashes.
    pub(crate) path: String,
    pub(crate) text: String,
}

impl File {
    pub(crate) fn is_rust(&self) -> bool {
        self.has_extension("rs")
    }

    pub(crate) fn has_extension(&self, wanted: &str) -> bool {
        Path::new(&self.path).extension().is_some_and(|found| found == wanted)
    }

    /// Lines with their number from 1.
    pub(crate) fn lines(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text.split('\n').enumerate().map(|(at, line)| (at + 1, line))
    }
}

const MOST_LINES: usize = 800;
const EXTENSIONS: [&str; 8] = ["rs", "toml", "md", "sh", "csv", "html", "css", "json"];
const NAMES: [&str; 2] = ["Makefile", "run"];
/// Folders that hold no source: build output, the version store and editors' own.
const SKIPPED: [&str; 5] = ["target", ".git", "node_modules", ".idea", ".vscode"];

/// Reads every text file below the root, in order of path.
pub(crate) fn read_files(root: &Path) -> io::Result<Vec<File>> {
    let mut files = Vec::new();
    walk(root, "", &mut files)?;
    files.sort_by(|a, b| a.path.cmp(&b.path));
    Ok(files)
}

fn walk(folder: &Path, prefix: &str, files: &mut Vec<File>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = if prefix.is_empty() { name.clone() } else { format!("{prefix}/{name}") };
        let kind = entry.file_type()?;
        if kind.is_dir() && !SKIPPED.contains(&name.as_str()) {
            walk(&entry.path(), &path, files)?;
        }
        if kind.is_file() && is_text(&name) {
            // A file that is no UTF-8 is somebody's data, not text of ours.
            if let Ok(text) = String::from_utf8(fs::read(entry.path())?) {
                files.push(File { path, text });
            }
        }
    }
    Ok(())
}

fn is_text(name: &str) -> bool {
    let extension = Path::new(name).extension().and_then(|e| e.to_str());
    NAMES.contains(&name) || extension.is_some_and(|e| EXTENSIONS.contains(&e))
}

pub(crate) fn check(file: &File) -> Vec<Finding> {
    let mut findings = Vec::new();
    if file.is_rust() {
        check_rust(file, &mut findings);
    }
    if !file.has_extension("csv") {
        for (line, text) in file.lines() {
            if text.ends_with([' ', '\t', '\r']) {
                findings.push(Finding::new(&file.path, line, "blanks at the end of the line", "take them out"));
            }
        }
    }
    findings
}

fn check_rust(file: &File, findings: &mut Vec<Finding>) {
    if !file.text.starts_with("//!") {
        let mend = "begin with `//!`: what the file is, and what it refuses to know";
        findings.push(Finding::new(&file.path, 1, "the file has no head", mend));
    }
    let lines = file.text.lines().count();
    if lines > MOST_LINES {
        let message = format!("{lines} lines are more than {MOST_LINES}");
        findings.push(Finding::new(&file.path, MOST_LINES + 1, message, "find its second noun and give it a file"));
    }
    if Path::new(&file.path).file_name().is_some_and(|name| name == "mod.rs") {
        let mend = "name it after its folder, `part.rs` beside `part/`";
        findings.push(Finding::new(&file.path, 0, "a module is called `mod.rs`", mend));
    }
}
