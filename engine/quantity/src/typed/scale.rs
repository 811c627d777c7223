//! Prefixes and units as people spell them, and how a figure is written back. Knows no sentence around them.

use super::error::{TypedError, TypedErrorKind, two_ways, words};
use crate::figure::Figure;
use crate::unit::Unit;

/// The prefix and unit after a number.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub(super) power: i8,
    pub(super) unit: Unit,
}

/// Spellings of whole units, lower case.
const UNITS: [(&str, Unit); 37] = [
    ("ohm", Unit::Ohm),
    ("ohms", Unit::Ohm),
    ("ω", Unit::Ohm),
    ("r", Unit::Ohm),
    ("v", Unit::Volt),
    ("vac", Unit::Volt),
    ("vdc", Unit::Volt),
    ("v ac", Unit::Volt),
    ("v dc", Unit::Volt),
    ("volt", Unit::Volt),
    ("volts", Unit::Volt),
    ("a", Unit::Amp),
    ("amp", Unit::Amp),
    ("amps", Unit::Amp),
    ("ampere", Unit::Amp),
    ("amperes", Unit::Amp),
    ("w", Unit::Watt),
    ("watt", Unit::Watt),
    ("watts", Unit::Watt),
    ("hz", Unit::Hertz),
    ("hertz", Unit::Hertz),
    ("c", Unit::Celsius),
    ("celsius", Unit::Celsius),
    ("fahrenheit", Unit::Fahrenheit),
    ("min", Unit::Minute),
    ("mins", Unit::Minute),
    ("minute", Unit::Minute),
    ("minutes", Unit::Minute),
    ("s", Unit::Second),
    ("sec", Unit::Second),
    ("secs", Unit::Second),
    ("second", Unit::Second),
    ("seconds", Unit::Second),
    ("fd", Unit::Farad),
    ("farad", Unit::Farad),
    ("farads", Unit::Farad),
    ("f", Unit::Farad),
];

/// Prefixes spelled out; these are never ambiguous. The longer of two comes first.
const SPELLED: [(&str, i8); 9] = [
    ("pico", -12),
    ("nano", -9),
    ("micro", -6),
    ("milli", -3),
    ("kilo", 3),
    ("kil", 3),
    ("mega", 6),
    ("meg", 6),
    ("giga", 9),
];

/// The powers of ten each unit is read in.
fn allows(unit: Unit, power: i8) -> bool {
    unit.scales().iter().any(|&(p, _)| p == power)
}

/// Reads everything after the number; `at` is its column from 0, `number` the text before it.
pub(super) fn read_scale(rest: &[char], at: usize, number: &str, expected: Option<Unit>) -> Result<Scale, TypedError> {
    let scale = read_plain(rest, at, number, expected)?;
    match expected {
        Some(unit) if !unit.same_kind(scale.unit) => Err(other_unit(rest, at, scale.unit, unit)),
        _ => Ok(scale),
    }
}

fn read_plain(rest: &[char], at: usize, number: &str, expected: Option<Unit>) -> Result<Scale, TypedError> {
    if rest.is_empty() {
        return bare(at, number, expected);
    }
    let text = lower(rest);
    // A degree sign says only that a temperature follows, or that the expected one is meant.
    for sign in ["°", "º", "˚", "degrees", "deg"] {
        if let Some(letters) = text.strip_prefix(sign) {
            return degrees(rest, letters.trim(), at, number, expected);
        }
    }
    if text == "mfd" {
        // On American capacitors MFD has always meant microfarads.
        return Ok(Scale { power: -6, unit: Unit::Farad });
    }
    if text == "f" {
        return bare_f(rest, at, number, expected);
    }
    if text == "m" && expected.is_some_and(|unit| unit.same_kind(Unit::Minute)) {
        return Ok(Scale { power: 0, unit: Unit::Minute });
    }
    match unit_named(&text) {
        Some(Unit::Farad) => return Err(which_farad(rest, at, number)),
        Some(unit) => return Ok(Scale { power: 0, unit }),
        None => {}
    }
    for (word, power) in SPELLED {
        if let Some(tail) = text.strip_prefix(word) {
            return with_prefix(rest, at, number, power, tail, true, expected);
        }
    }
    let Some(power) = rest.first().and_then(|c| prefix_power(*c)) else { return Err(not_a_unit(rest, at)) };
    let tail = lower(rest.get(1..).unwrap_or_default());
    with_prefix(rest, at, number, power, &tail, false, expected)
}

fn bare(at: usize, number: &str, expected: Option<Unit>) -> Result<Scale, TypedError> {
    match expected {
        Some(Unit::Farad) => Ok(Scale { power: -6, unit: Unit::Farad }),
        Some(unit) => Ok(Scale { power: 0, unit }),
        None => Err(TypedError::new(
            TypedErrorKind::NoUnit,
            at,
            1,
            format!("`{number}` has no unit"),
            format!("type the unit after it, such as `{number} ohm`"),
        )),
    }
}

fn degrees(rest: &[char], letters: &str, at: usize, number: &str, expected: Option<Unit>) -> Result<Scale, TypedError> {
    match letters {
        "c" | "celsius" => Ok(Scale { power: 0, unit: Unit::Celsius }),
        "f" | "fahrenheit" => Ok(Scale { power: 0, unit: Unit::Fahrenheit }),
        "" if matches!(expected, Some(Unit::Celsius | Unit::Fahrenheit)) => bare(at, number, expected),
        "" => Err(two_ways(at, rest, &format!("{number} F"), &format!("{number} C"))),
        _ => Err(not_a_unit(rest, at)),
    }
}

/// A lone F is Fahrenheit: no capacitor of the trade holds a whole farad.
fn bare_f(rest: &[char], at: usize, number: &str, expected: Option<Unit>) -> Result<Scale, TypedError> {
    if expected == Some(Unit::Farad) {
        return Err(which_farad(rest, at, number));
    }
    Ok(Scale { power: 0, unit: Unit::Fahrenheit })
}

/// Whole farads, millifarads and megafarads are all slips of the shift key.
fn which_farad(rest: &[char], at: usize, number: &str) -> TypedError {
    two_ways(at, rest, &format!("{number} uF"), &format!("{number} nF"))
}

fn with_prefix(
    rest: &[char],
    at: usize,
    number: &str,
    power: i8,
    tail: &str,
    spelled: bool,
    expected: Option<Unit>,
) -> Result<Scale, TypedError> {
    let tail = tail.trim_start();
    let unit = match (tail, expected) {
        ("", Some(unit)) => unit,
        ("", None) if power > 0 => Unit::Ohm,
        ("", None) => return Err(not_a_unit(rest, at)),
        (name, _) => unit_named(name).ok_or_else(|| not_a_unit(rest, at))?,
    };
    if unit == Unit::Ohm && power == -3 && !spelled {
        return Err(two_ways(at, rest, &format!("{number} Mohm"), &format!("{number} milliohm")));
    }
    if unit == Unit::Farad && (power == -3 || power == 6) && !spelled {
        return Err(which_farad(rest, at, number));
    }
    if !allows(unit, power) {
        return Err(not_in_use(rest, at, unit));
    }
    Ok(Scale { power, unit })
}

/// The power of a one-letter prefix. Case tells milli from mega and nothing else.
pub(super) fn prefix_power(letter: char) -> Option<i8> {
    Some(match letter {
        'p' | 'P' => -12,
        'n' | 'N' => -9,
        'u' | 'U' | 'µ' | 'μ' => -6,
        'm' => -3,
        'k' | 'K' => 3,
        'M' => 6,
        'g' | 'G' => 9,
        _ => return None,
    })
}

fn unit_named(lower: &str) -> Option<Unit> {
    UNITS.iter().find(|(name, _)| *name == lower).map(|&(_, unit)| unit)
}

/// Lower case, with the two ohm signs made one.
fn lower(chars: &[char]) -> String {
    chars.iter().flat_map(|c| c.to_lowercase()).collect()
}

fn not_a_unit(rest: &[char], at: usize) -> TypedError {
    TypedError::new(
        TypedErrorKind::NotAUnit,
        at,
        rest.len(),
        format!("`{}` is not a unit", words(rest)),
        "type the number and one unit: ohm, kohm, Mohm, V, mV, A, mA, W, uF, Hz, F, C, min or s".to_owned(),
    )
}

fn not_in_use(rest: &[char], at: usize, unit: Unit) -> TypedError {
    let usual: Vec<&str> = unit.scales().iter().map(|&(_, symbol)| symbol).collect();
    TypedError::new(
        TypedErrorKind::NotAUnit,
        at,
        rest.len(),
        format!("`{}` is not a scale any meter shows", words(rest)),
        format!("use one of {}", usual.join(", ")),
    )
}

fn other_unit(rest: &[char], at: usize, typed: Unit, expected: Unit) -> TypedError {
    TypedError::new(
        TypedErrorKind::OtherUnit { typed, expected },
        at,
        rest.len(),
        format!("`{}` is {}, but this reading is in {}", words(rest), typed.plural(), expected.plural()),
        format!("check the meter's dial, then type the reading in {}", expected.plural()),
    )
}

/// Writes a figure in the largest scale that keeps a digit before the point and adds none behind.
pub(super) fn write_figure(figure: Figure, unit: Unit) -> String {
    let scales = unit.scales();
    let no_false_zeros = |&&(power, _): &&(i8, &str)| power >= figure.power();
    let smallest = scales.iter().find(no_false_zeros);
    let largest = scales.iter().filter(no_false_zeros).rfind(|&&(power, _)| power <= figure.leading_power());
    // A figure read here always has a scale at or above its last digit; a made one may not, and is padded.
    let Some(&(power, symbol)) = largest.or(smallest).or(scales.last()) else { return String::new() };
    format!("{} {symbol}", figure.text(power))
}
