//! The machine description: text to diagnostics and a typed model.
//!
//! [`read`] takes the text of one file and gives the machine, lowered to a wiring with faults, together with everything
//! found wrong in the text. It opens no files and simulates nothing.

pub mod access;
mod check;
mod diagnostic;
pub mod faults;
mod find;
mod kinds;
mod lower;
pub mod model;
mod raw;
mod reader;

pub use diagnostic::{CODES, Diagnostic, Severity};
pub use find::UnknownName;
pub use model::Machine;

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

/// Reads a description. Never fails at the first mistake and never panics, whatever the text.
#[must_use]
pub fn read(text: &str) -> ReadMachine {
    if text.len() > MOST_BYTES {
        let mut reader = Reader::new("");
        let message = format!("the text has {} bytes, more than {MOST_BYTES}", text.len());
        reader.error(TOO_BIG, &(0..0), message, "describe one machine in a file");
        return ReadMachine { machine: None, diagnostics: reader.finish() };
    }
    let mut reader = Reader::new(text);
    let machine = raw::read_file(&mut reader).and_then(|file| lower::lower(&mut reader, &file));
    let machine = machine.filter(|_| !reader.has_errors());
    ReadMachine { machine, diagnostics: reader.finish() }
}

/// Gives the JSON Schema of a description, generated from the structs that the reader reads by.
#[must_use]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(raw::File).to_value()
}
