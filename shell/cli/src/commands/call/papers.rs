//! The record of a finished call as files beside the book.

use crate::failure::Failure;
use book::{Entry, Job, JobId, QuoteGiven};
use documents::{Heading, quote_html, record_html, record_text};
use serde::Serialize;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Where the papers are.
#[derive(Debug, Serialize)]
pub(crate) struct Paths {
    pub(crate) html: PathBuf,
    pub(crate) text: PathBuf,
}

/// Writes the latest quote beside the book; `None` if there is none.
pub(crate) fn write_quote(book: &Path, job: &Job, heading: &Heading) -> Result<Option<PathBuf>, Failure> {
    let Some((entry, quote)) = job.all::<QuoteGiven>().last() else { return Ok(None) };
    let quote = Entry { event: entry.event, call: entry.call, at: entry.at.clone(), fact: quote.clone() };
    let path = beside(book, &format!("quote-{}.html", entry.event.counter()));
    put(&path, &quote_html(&quote, heading))?;
    Ok(Some(path))
}

/// Names a paper beside the book.
fn beside(book: &Path, name: &str) -> PathBuf {
    let folder = book.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let stem = book.file_stem().map_or_else(|| "book".to_owned(), |stem| stem.to_string_lossy().into_owned());
    folder.join(format!("{stem}-{name}"))
}

/// Writes a paper for its owner alone to read: names stand on it in clear.
fn put(path: &Path, content: &str) -> Result<(), Failure> {
    let failed = |error: std::io::Error| Failure::SetUp(format!("`{}` cannot be written: {error}", path.display()));
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path).map_err(failed)?;
    file.write_all(content.as_bytes()).map_err(failed)
}

/// Writes the record beside the book.
pub(crate) fn write(book: &Path, id: JobId, job: &Job, heading: &Heading) -> Result<Paths, Failure> {
    let paper = |end: &str| beside(book, &format!("record-{}.{end}", id.0.counter()));
    let paths = Paths { html: paper("html"), text: paper("txt") };
    put(&paths.html, &record_html(job, heading))?;
    put(&paths.text, &record_text(job, heading))?;
    Ok(paths)
}
