//! What a person typed at the meter: a reading with its unit, over-range, or nothing. Knows no machine and no meter.
//!
//! ```text
//! typed    = blank | over | figure
//! over     = ("OL" | "O.L" | "0L" | "0.L" | "over" | "over range" | "overload" | "open" | "inf" | "infinity" | "∞") [scale]
//! figure   = [sign] number [space] [scale]            15.2   -0.3   12 mV   1,2k   0.3 M   77 F
//!          | [sign] digits letter [digits]            4k7    470R   4R7   R47   4u7    (IEC 60062 code)
//! number   = digits [("." | ",") digits] | ("." | ",") digits
//! scale    = [prefix] [unit]        prefix: p n u µ m k M G, or spelled out; unit: any spelling in `typed/scale.rs`
//! ```
//!
//! Without a unit the expected one is meant. What could be read two ways six powers of ten apart (`0.3 m` for ohms,
//! `1,200`, `10 F` for a capacitor, `0.l`) is refused with both ways spelled out, never guessed.

mod error;
mod figure;
mod over;
mod scale;

pub use error::{TypedError, TypedErrorKind};

use crate::figure::Figure;
use crate::unit::Unit;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The longest text that is read at all; no reading is longer.
const LONGEST: usize = 64;

/// Says what a person typed when asked for a reading.
///
/// Prints as it would be typed again, and is kept as that text: `parse_reading(&typed.to_string(), None)` gives it back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub enum Typed {
    /// Nothing was typed.
    Blank,
    /// The meter shows over-range. This is a reading.
    OverRange,
    /// A figure in a base unit, with the digits that were typed.
    Value {
        /// The figure, in the base unit.
        figure: Figure,
        /// The unit that was typed or, without one, expected.
        unit: Unit,
    },
}

impl Typed {
    /// The value in its base unit; `None` for blank and over-range.
    #[must_use]
    pub fn value(self) -> Option<f64> {
        match self {
            Self::Value { figure, .. } => Some(figure.value()),
            Self::Blank | Self::OverRange => None,
        }
    }

    /// The value converted to `unit`, where the kinds agree (Fahrenheit to Celsius, seconds to minutes).
    #[must_use]
    pub fn value_in(self, unit: Unit) -> Option<f64> {
        let Self::Value { figure, unit: typed } = self else { return None };
        let value = figure.value();
        match (typed, unit) {
            (a, b) if a == b => Some(value),
            (Unit::Fahrenheit, Unit::Celsius) => Some((value - 32.0) / 1.8),
            (Unit::Celsius, Unit::Fahrenheit) => Some(value * 1.8 + 32.0),
            (Unit::Second, Unit::Minute) => Some(value / 60.0),
            (Unit::Minute, Unit::Second) => Some(value * 60.0),
            _ => None,
        }
    }

    /// The worth of one count of the last digit, in the base unit: a typed `15.2` is known to 0.1.
    #[must_use]
    pub fn last_digit(self) -> Option<f64> {
        match self {
            Self::Value { figure, .. } => Some(figure.last_digit()),
            Self::Blank | Self::OverRange => None,
        }
    }
}

impl fmt::Display for Typed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Blank => f.pad(""),
            Self::OverRange => f.pad("OL"),
            Self::Value { figure, unit } => f.pad(&scale::write_figure(figure, unit)),
        }
    }
}

impl From<Typed> for String {
    fn from(typed: Typed) -> Self {
        typed.to_string()
    }
}

impl TryFrom<String> for Typed {
    type Error = TypedError;

    fn try_from(text: String) -> Result<Self, TypedError> {
        parse_reading(&text, None)
    }
}

/// Reads what a person typed; `expected` is the unit that was asked for.
///
/// Over-range is a reading. Blank is told apart, because only the caller knows whether it may be left out.
///
/// # Errors
/// Says the column (counted in characters from 1) and what to type instead; never panics, whatever the text.
pub fn parse_reading(text: &str, expected: Option<Unit>) -> Result<Typed, TypedError> {
    let all: Vec<char> = text.chars().collect();
    let start = all.iter().take_while(|c| c.is_whitespace()).count();
    let end = all.iter().rposition(|c| !c.is_whitespace()).map_or(start, |last| last + 1);
    let chars = all.get(start..end).unwrap_or_default();
    if chars.is_empty() {
        return Ok(Typed::Blank);
    }
    read(chars, expected).map_err(|error| error.moved_by(start))
}

fn read(chars: &[char], expected: Option<Unit>) -> Result<Typed, TypedError> {
    if chars.len() > LONGEST {
        return Err(error::too_long(chars.len(), LONGEST));
    }
    if over::is_over(chars, expected)? {
        return Ok(Typed::OverRange);
    }
    let (figure, unit) = figure::read_figure(chars, expected)?;
    possible(chars, figure, unit)?;
    Ok(Typed::Value { figure, unit })
}

/// Refuses what no sound reading shows; each refusal is a warning in itself.
fn possible(chars: &[char], figure: Figure, unit: Unit) -> Result<(), TypedError> {
    let value = figure.value();
    // A pocket meter zeroed on its own leads can read a few tenths below zero: common practice, no source.
    let least = match unit {
        Unit::Ohm => -0.5,
        Unit::Celsius => -273.15,
        Unit::Fahrenheit => -459.67,
        Unit::Farad | Unit::Hertz | Unit::Minute | Unit::Second => 0.0,
        Unit::Volt | Unit::Amp | Unit::Watt => return Ok(()),
    };
    if value < least { Err(error::below_least(chars, unit)) } else { Ok(()) }
}
