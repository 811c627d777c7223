//! The machine description: text to diagnostics and a typed model.
//!
//! [`read`] takes the text of one file and gives the machine, lowered to a wiring with faults, together with everything
//! found wrong in the text. It opens no files and simulates nothing.

pub mod access;
mod based_on;
pub mod builds;
mod check;
pub mod compare;
mod diagnostic;
pub mod faults;
mod find;
mod kinds;
mod lower;
pub mod model;
mod nameplate;
mod observed;
mod raw;
mod reader;
pub mod sheet;

pub use based_on::{BaseOf, title_in};
pub use diagnostic::{CODES, Diagnostic, Severity};
pub use find::UnknownName;
pub use model::Machine;
pub use nameplate::{Nameplate, Rating, ratings};

use based_on::Sources;
use diagnostic::TOO_BIG;
use reader::Reader;

/// Most bytes of a description.
pub const MOST_BYTES: usize = 1024 * 1024;

/// What came of reading a description.
#[derive(Clone, Debug)]
pub struct ReadMachine {
    /// The machine; `None` if there is any error.
    pub machine: Option<Machine>,
    /// Everything found wrong, in the order of the text.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a description that stands by itself. Never fails at the first mistake and never panics, whatever the text.
#[must_use]
pub fn read(text: &str) -> ReadMachine {
    read_with(text, &|_| None)
}

/// Reads a description that may build on others; `base_of` gives their texts.
#[must_use]
pub fn read_with(text: &str, base_of: BaseOf<'_>) -> ReadMachine {
    if let Some(diagnostics) = too_big(text) {
        return ReadMachine { machine: None, diagnostics };
    }
    let sources = Sources::of(text, base_of);
    let joined = sources.joined();
    let mut reader = Reader::over(&joined, &sources);
    let machine = raw::read_file(&mut reader, &sources).and_then(|file| lower::lower(&mut reader, &file));
    let machine = machine.filter(|_| !reader.has_errors());
    ReadMachine { machine, diagnostics: reader.finish() }
}

/// Says that a text is longer than any description.
fn too_big(text: &str) -> Option<Vec<Diagnostic>> {
    let mut reader = Reader::new("");
    let message = format!("the text has {} bytes, more than {MOST_BYTES}", text.len());
    reader.error(TOO_BIG, &(0..0), message, "describe one machine in a file");
    (text.len() > MOST_BYTES).then(|| reader.finish())
}

/// Gives a description with all that it builds on, as one text to tell versions apart by: what is read depends on it
/// alone.
#[must_use]
pub fn with_bases(text: &str, base_of: BaseOf<'_>) -> String {
    let sources = Sources::of(text, base_of);
    if sources.all.len() == 1 { text.to_owned() } else { sources.joined() }
}

/// Gives the JSON Schema of a description, generated from the structs that the reader reads by: of one that stands by
/// itself, or of one that is laid over another.
#[must_use]
pub fn schema() -> serde_json::Value {
    let whole = schemars::schema_for!(raw::File).to_value();
    based_on::or_laid_over(whole)
}
