//! The record of a finished call as files beside the book.

use crate::failure::Failure;
use book::{Job, JobId, Person};
use documents::{Heading, record_html, record_text};
use machine::model::Machine;
use serde::Serialize;
use std::collections::BTreeMap;
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

/// Writes the record beside the book.
pub(crate) fn write(book: &Path, id: JobId, job: &Job, heading: &Heading) -> Result<Paths, Failure> {
    let folder = book.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let stem = book.file_stem().map_or_else(|| "book".to_owned(), |stem| stem.to_string_lossy().into_owned());
    let name = format!("{stem}-record-{}", id.0.counter());
    let paths = Paths { html: folder.join(format!("{name}.html")), text: folder.join(format!("{name}.txt")) };
    for (path, content) in [(&paths.html, record_html(job, heading)), (&paths.text, record_text(job, heading))] {
        std::fs::write(path, content).map_err(|error| {
            Failure::SetUp(format!("the record cannot be written to `{}`: {error}", path.display()))
        })?;
    }
    Ok(paths)
}
