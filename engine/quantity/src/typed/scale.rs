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

/// What stands behind a number, and what it is needed for to judge it.
pub(super) struct Behind<'a> {
    /// The text itself, no blanks in front.
    pub(super) rest: &'a [char],
    /// Its column from 0.
    pub(super) at: usize,
    /// The number before it, to spell out a mend.
    pub(super) number: &'a str,
    /// The unit that was asked for.
    pub(super) expected: Option<Unit>,
}

impl Behind<'_> {
    /// Reads the prefix and the unit.
    pub(super) fn read(&self) -> Result<Scale, TypedError> {
        let scale = self.read_any()?;
        match self.expected {
            Some(unit) if !unit.same_kind(scale.unit) => Err(self.other_unit(scale.unit, unit)),
            _ => Ok(scale),
        }
    }

    fn read_any(&self) -> Result<Scale, TypedError> {
        let text = lower(self.rest);
        // A degree sign says only that a temperature follows, or that the expected one is meant.
        for sign in ["°", "º", "˚", "degrees", "deg"] {
            if let Some(letters) = text.strip_prefix(sign) {
                return self.degrees(letters.trim());
            }
        }
        match (text.as_str(), unit_named(&text)) {
            ("", _) => self.bare(),
            // On American capacitors MFD has always meant microfarads.
            ("mfd", _) => Ok(Scale { power: -6, unit: Unit::Farad }),
            // A lone F is Fahrenheit: no capacitor of the trade holds a whole farad.
            ("f", _) if self.expected != Some(Unit::Farad) => Ok(Scale { power: 0, unit: Unit::Fahrenheit }),
            ("m", _) if self.expected.is_some_and(|unit| unit.same_kind(Unit::Minute)) => {
                Ok(Scale { power: 0, unit: Unit::Minute })
            }
            (_, Some(Unit::Farad)) => Err(self.which_farad()),
            (_, Some(unit)) => Ok(Scale { power: 0, unit }),
            (_, None) => self.with_prefix(&text),
        }
    }

    fn bare(&self) -> Result<Scale, TypedError> {
        let number = self.number;
        match self.expected {
            Some(Unit::Farad) => Ok(Scale { power: -6, unit: Unit::Farad }),
            Some(unit) => Ok(Scale { power: 0, unit }),
            None => Err(TypedError::new(
                TypedErrorKind::NoUnit,
                self.at,
                1,
                format!("`{number}` has no unit"),
                format!("type the unit after it, such as `{number} ohm`"),
            )),
        }
    }

    fn degrees(&self, letters: &str) -> Result<Scale, TypedError> {
        match letters {
            "c" | "celsius" => Ok(Scale { power: 0, unit: Unit::Celsius }),
            "f" | "fahrenheit" => Ok(Scale { power: 0, unit: Unit::Fahrenheit }),
            "" if matches!(self.expected, Some(Unit::Celsius | Unit::Fahrenheit)) => self.bare(),
            "" => Err(self.either("F", "C")),
            _ => Err(self.not_a_unit()),
        }
    }

    fn with_prefix(&self, text: &str) -> Result<Scale, TypedError> {
        let spelled = SPELLED.iter().find_map(|&(word, power)| Some((power, text.strip_prefix(word)?)));
        let letter = || Some((prefix_power(*self.rest.first()?)?, text.get(text.chars().next()?.len_utf8()..)?));
        let (power, tail) = spelled.or_else(letter).ok_or_else(|| self.not_a_unit())?;
        let unit = match (tail.trim_start(), self.expected) {
            ("", Some(unit)) => unit,
            ("", None) if power > 0 => Unit::Ohm,
            ("", None) => return Err(self.not_a_unit()),
            (name, _) => unit_named(name).ok_or_else(|| self.not_a_unit())?,
        };
        match (unit, power) {
            (Unit::Ohm, -3) if spelled.is_none() => Err(self.either("Mohm", "milliohm")),
            (Unit::Farad, -3 | 6) if spelled.is_none() => Err(self.which_farad()),
            _ if unit.scales().iter().any(|&(p, _)| p == power) => Ok(Scale { power, unit }),
            _ => Err(self.not_in_use(unit)),
        }
    }

    fn either(&self, one: &str, other: &str) -> TypedError {
        let number = self.number;
        two_ways(self.at, self.rest, &format!("{number} {one}"), &format!("{number} {other}"))
    }

    /// Whole farads, millifarads and megafarads are all slips of the shift key.
    fn which_farad(&self) -> TypedError {
        self.either("uF", "nF")
    }

    fn fault(&self, kind: TypedErrorKind, what: &str, mend: String) -> TypedError {
        TypedError::new(kind, self.at, self.rest.len(), format!("`{}` is {what}", words(self.rest)), mend)
    }

    pub(super) fn not_a_unit(&self) -> TypedError {
        let mend = "type the number and one unit: ohm, kohm, Mohm, V, mV, A, mA, W, uF, Hz, F, C, min or s";
        self.fault(TypedErrorKind::NotAUnit, "not a unit", mend.to_owned())
    }

    fn not_in_use(&self, unit: Unit) -> TypedError {
        let usual: Vec<&str> = unit.scales().iter().map(|&(_, symbol)| symbol).collect();
        let mend = format!("use one of {}", usual.join(", "));
        self.fault(TypedErrorKind::NotAUnit, "not a scale any meter shows", mend)
    }

    fn other_unit(&self, typed: Unit, expected: Unit) -> TypedError {
        let what = format!("{}, but this reading is in {}", typed.plural(), expected.plural());
        let mend = format!("check the meter's dial, then type the reading in {}", expected.plural());
        self.fault(TypedErrorKind::OtherUnit { typed, expected }, &what, mend)
    }
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

/// Lower case, which also makes the two ohm signs one.
fn lower(chars: &[char]) -> String {
    chars.iter().flat_map(|c| c.to_lowercase()).collect()
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
