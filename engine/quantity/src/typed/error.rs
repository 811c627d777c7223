//! What went wrong with a typed reading: the column, the fault, the mend. Knows the wording only.

use crate::unit::Unit;
use std::fmt;

/// Sorts the errors for a caller that reacts to some of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TypedErrorKind {
    /// Not a number where one must be.
    NotANumber,
    /// Something after the number that is no unit.
    NotAUnit,
    /// Could be read in two ways.
    TwoWays,
    /// A unit of another kind than was asked for.
    OtherUnit {
        /// The unit that was typed.
        typed: Unit,
        /// The unit that was asked for.
        expected: Unit,
    },
    /// No unit, and none expected.
    NoUnit,
    /// More digits or more text than any meter shows.
    TooLong,
    /// A value no sound reading can have.
    Impossible,
}

/// Says where a typed reading cannot be read, why, and what to type instead.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TypedError {
    /// What kind of mistake it is.
    pub kind: TypedErrorKind,
    /// Column of the first character at fault, from 1, counted in characters of the text as typed.
    pub column: usize,
    /// How many characters are at fault, at least 1.
    pub length: usize,
    /// What is wrong, with the typed words in backticks.
    pub message: String,
    /// What to do about it.
    pub mend: String,
}

impl TypedError {
    pub(super) fn new(kind: TypedErrorKind, at: usize, length: usize, message: String, mend: String) -> Self {
        Self { kind, column: at + 1, length: length.max(1), message, mend }
    }

    pub(super) fn moved_by(mut self, columns: usize) -> Self {
        self.column += columns;
        self
    }

    /// Draws the line to print under the typed text: carets below what is at fault.
    #[must_use]
    pub fn underline(&self) -> String {
        format!("{}{}", " ".repeat(self.column - 1), "^".repeat(self.length))
    }
}

impl fmt::Display for TypedError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "column {}: {}; {}", self.column, self.message, self.mend)
    }
}

impl std::error::Error for TypedError {}

pub(super) fn words(chars: &[char]) -> String {
    chars.iter().collect()
}

pub(super) fn too_long(length: usize, longest: usize) -> TypedError {
    TypedError::new(
        TypedErrorKind::TooLong,
        longest,
        length - longest,
        "this is longer than any reading".to_owned(),
        "type only what the meter shows, such as `15.2 ohm`".to_owned(),
    )
}

pub(super) fn two_ways(at: usize, typed: &[char], one: &str, other: &str) -> TypedError {
    TypedError::new(
        TypedErrorKind::TwoWays,
        at,
        typed.len(),
        format!("`{}` could mean `{one}` or `{other}`", words(typed)),
        format!("type `{one}` or `{other}`"),
    )
}

pub(super) fn below_least(chars: &[char], unit: Unit) -> TypedError {
    let mend = match unit {
        Unit::Ohm => "a minus sign on ohms means a voltage is present: stop, prove dead, then read again",
        Unit::Farad => "discharge the capacitor, prove it dead, then read again",
        Unit::Celsius | Unit::Fahrenheit => "this is colder than anything can be: read it again",
        _ => "type it without the minus sign",
    };
    TypedError::new(
        TypedErrorKind::Impossible,
        0,
        chars.len(),
        format!("`{}` cannot be a reading in {}", words(chars), unit.plural()),
        mend.to_owned(),
    )
}
