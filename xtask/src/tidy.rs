//! `cargo xtask tidy`: the rules of the workspace that the compiler does not hold anybody to.

pub mod crates;
mod files;
mod links;
mod purity;
pub mod supply;
mod table;
mod words;

use std::fmt;
use std::io;
use std::path::Path;

/// One thing to mend.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Finding {
    /// Path from the root, with forward slashes.
    pub file: String,
    /// Line from 1; 0 for the whole file.
    pub line: usize,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub mend: String,
}

impl Finding {
    pub(crate) fn new(file: &str, line: usize, message: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { file: file.to_owned(), line, message: message.into(), mend: mend.into() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let place = if self.line == 0 { self.file.clone() } else { format!("{}:{}", self.file, self.line) };
        write!(f, "{place}: {}; {}", self.message, self.mend)
    }
}

/// What a check of the workspace found.
#[derive(Debug)]
pub struct Report {
    /// Everything to mend, by file and line.
    pub findings: Vec<Finding>,
    /// How many files were read.
    pub files: usize,
    /// How many crates were held to the table.
    pub crates: usize,
}

/// Holds the workspace at `root` to its rules.
///
/// # Errors
/// A file or folder cannot be read.
pub fn check(root: &Path) -> io::Result<Report> {
    let files = files::read_files(root)?;
    let crates = crates::find_crates(root)?;
    let forbidden = words::read_list(root)?;
    let mut findings = table::check(root, &crates)?;
    for file in &files {
        findings.extend(files::check(file));
        findings.extend(purity::check(file));
        findings.extend(words::check(file, &forbidden));
        findings.extend(links::check(root, file));
    }
    findings.sort();
    findings.dedup();
    Ok(Report { findings, files: files.len(), crates: crates.len() })
}
