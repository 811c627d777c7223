//! A book as a text file: for carrying it elsewhere, for looking at it, and for keeping old ones as tests.
//!
//! The first line says what it is; every other line is a checksum, a space, and the text of one event.
//! Refuses to know the disk: text in, text out. Sealed records and keys are not in it.

use crate::event::{Checksum, Event};
use crate::store::{Damage, Loaded, StoreError};

const HEAD: &str = "callwright book ";
const FILE_VERSION: u32 = 1;

/// Writes events as a book file, in the order given.
#[must_use]
pub fn write_book_file(events: &[Event]) -> String {
    let lines = events.iter().map(|event| format!("{} {}\n", event.sum(), event.text()));
    core::iter::once(format!("{HEAD}{FILE_VERSION}\n")).chain(lines).collect()
}

/// Reads a book file. A damaged line is reported by its number, and the rest is kept.
///
/// # Errors
/// Refuses text that is not a book file and one of a newer version.
pub fn read_book_file(text: &str) -> Result<Loaded, StoreError> {
    let mut lines = text.lines();
    let head = lines.next().unwrap_or_default();
    let version = head.strip_prefix(HEAD).and_then(|version| version.parse::<u32>().ok());
    let found = version.ok_or_else(|| StoreError::NotABook(head.chars().take(40).collect()))?;
    if found > FILE_VERSION {
        return Err(StoreError::Newer { found, known: FILE_VERSION });
    }
    let (mut events, mut damaged) = (Vec::new(), Vec::new());
    for (at, line) in lines.enumerate().filter(|(_, line)| !line.is_empty()) {
        match event_from_line(line) {
            Ok(event) => events.push(event),
            // Counted from 1, and the head is line 1.
            Err(what) => damaged.push(Damage { id: None, what: format!("line {}: {what}", at + 2) }),
        }
    }
    Ok(Loaded::in_order(events, damaged))
}

fn event_from_line(line: &str) -> Result<Event, String> {
    let (sum, text) = line.split_once(' ').ok_or("there is no checksum before the text")?;
    let sum: Checksum = sum.parse().map_err(|_| "the checksum cannot be read")?;
    if Checksum::of(text.as_bytes()) != sum {
        return Err("the text does not match its checksum".to_owned());
    }
    Event::read(text).map_err(|error| error.to_string())
}
