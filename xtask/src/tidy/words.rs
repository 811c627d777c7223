//! Words no file may hold, kept as data in `xtask/forbidden-words.txt`.

use super::Finding;
use super::files::File;
use std::fs;
use std::io;
use std::path::Path;

/// A word and what to do about it.
pub(crate) struct Forbidden {
    word: String,
    mend: String,
}

const LIST: &str = "xtask/forbidden-words.txt";

/// Reads the list: a word, a tab, the mend; lines that begin with `#` are remarks.
pub(crate) fn read_list(root: &Path) -> io::Result<Vec<Forbidden>> {
    let text = fs::read_to_string(root.join(LIST))
        .map_err(|error| io::Error::new(error.kind(), format!("{LIST}: {error}")))?;
    let rows = text.lines().filter(|line| !line.starts_with('#'));
    let pairs = rows.filter_map(|line| line.split_once('\t'));
    Ok(pairs.map(|(word, mend)| Forbidden { word: word.to_owned(), mend: mend.to_owned() }).collect())
}

pub(crate) fn check(file: &File, forbidden: &[Forbidden]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (line, text) in file.lines() {
        for Forbidden { word, mend } in forbidden {
            if text.contains(word.as_str()) {
                findings.push(Finding::new(&file.path, line, format!("`{word}` may not stand here"), mend.as_str()));
            }
        }
    }
    findings
}
