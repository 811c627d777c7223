//! The number in a typed reading, in plain decimals or the letter-for-point code of IEC 60062. Knows no over-range.

use super::error::{TypedError, TypedErrorKind, two_ways, words};
use super::scale::{Behind, prefix_power};
use crate::figure::Figure;
use crate::unit::Unit;
use std::iter;

/// Digits on either side of the point, still as text.
struct Digits {
    whole: Vec<char>,
    part: Vec<char>,
    /// Where the number ended.
    end: usize,
}

/// Reads number and unit.
pub(super) fn read_figure(chars: &[char], expected: Option<Unit>) -> Result<(Figure, Unit), TypedError> {
    let (negative, start) = match chars.first() {
        Some('-' | '−' | '–') => (true, 1),
        Some('+') => (false, 1),
        _ => (false, 0),
    };
    let start = start + spaces(chars, start);
    let digits = read_digits(chars, start)?;
    if let Some((part, power, unit)) = read_code(chars, &digits, expected)? {
        let figure = make_figure(chars, negative, &digits.whole, &part, power)?;
        return Ok((figure, unit));
    }
    if digits.whole.is_empty() && digits.part.is_empty() {
        return Err(not_a_number(chars, start));
    }
    let number = words(chars.get(..digits.end).unwrap_or_default());
    let at = digits.end + spaces(chars, digits.end);
    let rest = chars.get(at..).unwrap_or_default();
    refuse_second_number(rest, at)?;
    let scale = Behind { rest, at, number: &number, expected }.read()?;
    let figure = make_figure(chars, negative, &digits.whole, &digits.part, scale.power)?;
    Ok((figure, scale.unit))
}

fn spaces(chars: &[char], from: usize) -> usize {
    chars.iter().skip(from).take_while(|c| c.is_whitespace()).count()
}

fn run(chars: &[char], from: usize) -> Vec<char> {
    chars.iter().skip(from).take_while(|c| c.is_ascii_digit()).copied().collect()
}

fn read_digits(chars: &[char], start: usize) -> Result<Digits, TypedError> {
    let whole = run(chars, start);
    let point = start + whole.len();
    let Some(mark @ ('.' | ',')) = chars.get(point).copied() else {
        return Ok(Digits { whole, part: Vec::new(), end: point });
    };
    let part = run(chars, point + 1);
    let end = point + 1 + part.len();
    // `1,200` is 1200 to one reader and 1.2 to another; `0,300` and `1,25` can only be decimals.
    let grouped = mark == ',' && part.len() == 3 && (1..=3).contains(&whole.len()) && whole.first() != Some(&'0');
    if grouped {
        let typed = chars.get(start..end).unwrap_or_default();
        let (whole, part) = (words(&whole), words(&part));
        return Err(two_ways(start, typed, &format!("{whole}.{part}"), &format!("{whole}{part}")));
    }
    Ok(Digits { whole, part, end })
}

/// Reads the letter-for-point code: `4k7`, `470R`, `R47`, `4u7`. Gives the digits behind the letter, its power, its unit.
///
/// SOURCE: IEC 60062 (from memory): the letter stands where the decimal point is and names the multiplier.
fn read_code(
    chars: &[char],
    digits: &Digits,
    expected: Option<Unit>,
) -> Result<Option<(Vec<char>, i8, Unit)>, TypedError> {
    let Some(letter) = chars.get(digits.end).copied() else { return Ok(None) };
    let part = run(chars, digits.end + 1);
    let is_r = matches!(letter, 'R' | 'r');
    let code = !part.is_empty() && (is_r || prefix_power(letter).is_some());
    if !code || !digits.part.is_empty() {
        return Ok(None);
    }
    let tail: Vec<char> =
        chars.iter().skip(digits.end + 1 + part.len()).filter(|c| !c.is_whitespace()).copied().collect();
    // What is left once the letter moves behind the digits: `4k7 ohm` reads as `4.7 kohm`, `4R7 ohm` as `4.7 ohm`.
    let rest = if is_r && !tail.is_empty() { tail } else { iter::once(letter).chain(tail).collect() };
    let number = format!("{}.{}", words(&digits.whole), words(&part));
    let behind = Behind { rest: &rest, at: digits.end, number: &number, expected };
    let scale = behind.read()?;
    // R says ohms and no thousands: `4R7 k` is neither one nor the other.
    if is_r && (scale.unit != Unit::Ohm || scale.power != 0) {
        return Err(behind.not_a_unit());
    }
    Ok(Some((part, scale.power, scale.unit)))
}

fn refuse_second_number(rest: &[char], at: usize) -> Result<(), TypedError> {
    let stray = |message: String, mend: &str| {
        Err(TypedError::new(TypedErrorKind::NotANumber, at, rest.len(), message, mend.to_owned()))
    };
    match rest.first() {
        Some(c) if c.is_ascii_digit() => {
            stray(format!("`{}` is a second number", words(rest)), "type one number without spaces in it")
        }
        Some('.' | ',') => stray(
            format!("`{}` is a second decimal point", words(rest)),
            "type one point and no marks between thousands",
        ),
        Some('O' | 'o' | 'l' | 'I') if !lower_is_ohm(rest) => {
            stray(format!("`{}` begins with a letter that looks like a digit", words(rest)), "type the digit 0 or 1")
        }
        _ => Ok(()),
    }
}

fn lower_is_ohm(rest: &[char]) -> bool {
    words(rest).to_lowercase().starts_with("oh")
}

fn make_figure(chars: &[char], negative: bool, whole: &[char], part: &[char], power: i8) -> Result<Figure, TypedError> {
    let too_many = || {
        TypedError::new(
            TypedErrorKind::TooLong,
            0,
            chars.len(),
            "this has more digits than any meter shows".to_owned(),
            "type the first few digits".to_owned(),
        )
    };
    let text: String = whole.iter().chain(part).skip_while(|c| **c == '0').collect();
    let decimals = i8::try_from(part.len()).ok().filter(|n| *n <= 15).ok_or_else(too_many)?;
    if text.len() > Figure::MOST_DIGITS {
        return Err(too_many());
    }
    // An empty text is zero: every digit was a zero.
    let digits: i64 = if text.is_empty() { 0 } else { text.parse().map_err(|_| too_many())? };
    let signed = if negative { -digits } else { digits };
    Figure::new(signed, power - decimals).ok_or_else(too_many)
}

fn not_a_number(chars: &[char], at: usize) -> TypedError {
    let rest = chars.get(at..).filter(|rest| !rest.is_empty()).unwrap_or(chars);
    let mend = match rest.first() {
        Some('O' | 'o') => "type the digit 0 for a zero, or `OL` for over-range",
        Some('l' | 'I') => "type the digit 1 for a one",
        _ => "type what the meter shows, such as `15.2`, `4.7 k` or `OL`",
    };
    TypedError::new(
        TypedErrorKind::NotANumber,
        at.min(chars.len().saturating_sub(1)),
        rest.len(),
        format!("`{}` does not start with a number", words(rest)),
        mend.to_owned(),
    )
}
