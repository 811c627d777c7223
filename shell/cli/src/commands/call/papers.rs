//! The record of a finished call as files beside the book.

use crate::failure::Failure;
use book::{Entry, Job, JobId, Person, QuoteGiven};
use documents::{Heading, quote_html, record_html, record_text};
use machine::model::Machine;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Where the papers are.
#[derive(Debug, Serialize)]
pub(crate) struct Paths {
    pub(crate) html: PathBuf,
    pub(crate) text: PathBuf,
}

/// Says what stands over the papers, and what ids are called.
pub(crate) fn heading(machine: &Machine, customer: Option<Person>, demo: bool) -> Heading {
    let (shop, note) = if demo {
        ("Demo shop of Sampleton".to_owned(), Some("Shop, town, customer and appliance are invented.".to_owned()))
    } else {
        ("Service record".to_owned(), None)
    };
    Heading { shop, note, customer, appliance: machine.title.clone(), words: words(machine) }
}

fn words(machine: &Machine) -> BTreeMap<String, String> {
    let mut words = BTreeMap::new();
    for (index, terminal) in machine.terminals.iter().enumerate() {
        if let Ok(index) = u16::try_from(index) {
            let say = diagnosis::words::terminal(machine, machine::model::TerminalId(index));
            words.insert(terminal.name.clone(), say);
        }
    }
    for branch in &machine.branches {
        words.insert(branch.name.clone(), format!("the conductor {}", branch.name));
    }
    words.extend(machine.parts.iter().map(|part| (part.id.clone(), part.name.clone())));
    words.extend(machine.states.iter().map(|state| (state.id.clone(), state.say.clone())));
    words.extend(machine.access.steps.iter().map(|cover| (cover.id.clone(), cover.say.clone())));
    words.extend(machine.proofs.iter().map(|proof| (format!("proof:{}", proof.id), proof.say.clone())));
    for observation in &machine.observations {
        let of =
            |value: &machine::model::ObservedValue| (format!("{}={}", observation.id, value.id), value.say.clone());
        words.extend(observation.values.iter().map(of));
    }
    words
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
