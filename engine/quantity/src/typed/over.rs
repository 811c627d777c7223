//! The ways a person writes down over-range. Knows no figures.

use super::error::{self, TypedError};
use crate::unit::Unit;

/// Spellings with dots, spaces and hyphens taken out, lower case.
const OVER: [&str; 9] = ["ol", "0l", "over", "overrange", "overload", "overlimit", "inf", "infinity", "∞"];
/// The word for a resistance that is over-range; it says nothing about volts or amps.
const OPEN: [&str; 2] = ["open", "opencircuit"];
/// What a meter shows beside over-range.
const SCALES: [&str; 13] = ["", "ohm", "ohms", "ω", "k", "kohm", "kω", "m", "mohm", "mω", "megohm", "v", "a"];

/// Tells whether the text is over-range.
///
/// # Errors
/// `0.l` could be `0.1` with a letter for the one, the opposite of over-range.
pub(super) fn is_over(chars: &[char], expected: Option<Unit>) -> Result<bool, TypedError> {
    if matches!(chars, ['0', '.' | ',', 'l', ..]) {
        return Err(error::two_ways(0, chars, "0.1", "OL"));
    }
    let plain: String =
        chars.iter().filter(|c| !matches!(c, '.' | ' ' | '-' | '\t')).flat_map(|c| c.to_lowercase()).collect();
    // "−OL" on a DC range is still over-range, and so is a doubled dot; what is left must be a listed word.
    let listed =
        |words: &[&str]| words.iter().any(|word| plain.strip_prefix(word).is_some_and(|rest| SCALES.contains(&rest)));
    let resistance = expected.is_none_or(|unit| unit == Unit::Ohm);
    Ok(listed(&OVER) || (resistance && listed(&OPEN)))
}
