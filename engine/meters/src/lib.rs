//! A technician's own meters: the text of one file to diagnostics and what his meters together can do.
//!
//! [`read`] takes the text of one file (docs/meter-format.md); [`Meters::together`] gives the one [`Meter`] that
//! predictions are made with. [`write`] gives meters back as a text, and [`Owned`] takes a function in or leaves one out. It opens no files and knows no machines.

mod kit;
mod owned;
mod reader;
mod writer;

pub use kit::{Buzzer, Capacitance, Clamp, Insulating, Meters, Ohms, Own, Temperature, Volts};
pub use machine::{Diagnostic, Severity};
pub use owned::Owned;
pub use prediction::Meter;
pub use writer::write;

/// An ordinary handheld meter as a file: what is taken to be there where no file is given.
pub const ORDINARY: &str = include_str!("../../../meters/ordinary.toml");

/// Most bytes of a meters file.
pub const MOST_BYTES: usize = 1 << 18;

/// What came of reading a meters file.
#[derive(Clone, Debug)]
pub struct ReadMeters {
    /// The meters; `None` if there is any mistake.
    pub meters: Option<Meters>,
    /// Everything found wrong, in the order of the text.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a meters file. Never fails at the first mistake and never panics, whatever the text.
#[must_use]
pub fn read(text: &str) -> ReadMeters {
    let (meters, diagnostics) = reader::read(text);
    ReadMeters { meters: meters.filter(|_| diagnostics.is_empty()), diagnostics }
}

/// Every code the reader can give, with its meaning in one line.
pub const CODES: &[(&str, &str)] = &[
    (reader::NOT_TOML, "the text is not TOML"),
    (reader::TOO_BIG, "the text is larger than the reader takes"),
    (reader::MISSING_KEY, "a key that must be given is not there"),
    (reader::WRONG_VALUE, "a value of another sort than the key takes"),
    (reader::UNKNOWN_KEY, "a key that nothing reads"),
    (reader::VERSION, "a version of the format that this reader does not know"),
    (reader::BAD_ID, "an id with signs that ids do not have, or too long"),
    (reader::DUPLICATE_ID, "two meters with the same id"),
    (reader::OUT_OF_RANGE, "a number that no meter has"),
    (reader::NO_FUNCTION, "a meter that can be set to nothing"),
];
