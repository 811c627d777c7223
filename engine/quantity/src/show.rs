//! Values and ranges in the trade's units, with the digits a pocket meter would show. Knows no parts and no verdicts.
//!
//! The rule is that of a 2000-count display: as many decimals as keep the figure under 2000 counts, at most two in
//! the base unit and three with a prefix; then zeros at the end go, down to two decimals below 1, one below 100, none
//! above. Kilowatts begin at 10 kW and whole volts at 0.1 V. So 9.6 ohm, 0.30 ohm, 1.078 kohm, 4.7 kohm, 120 V, 10.83 A. Not finite is `OL`.

use crate::unit::Unit;

/// Writes a value given in its base unit, such as `9.6 ohm`, `4.7 kohm`, `120 V`, `3.5 mA`, `77 F`.
///
/// Infinity is over-range, `OL`; not-a-number is `?`.
#[must_use]
pub fn show(value: f64, unit: Unit) -> String {
    if let Some(word) = not_finite(value) {
        return word.to_owned();
    }
    let scale = scale_of(value, unit);
    let places = Places::of(value, scale);
    format!("{} {}", places.write(value), scale.symbol)
}

/// Writes a range given in its base unit, such as `9.6 to 11.2 ohm`, `0.5 ohm to 4.7 kohm`, `1.0 Mohm or more`.
///
/// Both ends share unit and decimals when they lie within a factor of a thousand. A range whose ends read alike is one value.
#[must_use]
pub fn show_range(low: f64, high: f64, unit: Unit) -> String {
    match (not_finite(low), not_finite(high)) {
        (Some(word), _) if !low.is_sign_negative() || low.is_nan() => return word.to_owned(),
        (Some(_), None) => return format!("{} or less", show(high, unit)),
        (_, Some("?")) => return "?".to_owned(),
        (Some(_), Some(word)) => return word.to_owned(),
        (None, Some(_)) => return format!("{} or more", show(low, unit)),
        (None, None) => {}
    }
    let widest = if low.abs() > high.abs() { low } else { high };
    let scale = scale_of(widest, unit);
    let narrow = low.abs().min(high.abs());
    if scale.power > 0 && narrow > 0.0 && narrow * 1000.0 < widest.abs() {
        return format!("{} to {}", show(low, unit), show(high, unit));
    }
    let places = Places::shared(low, high, scale);
    let (first, last) = (places.write(low), places.write(high));
    if first == last {
        return format!("{first} {}", scale.symbol);
    }
    format!("{first} to {last} {}", scale.symbol)
}

fn not_finite(value: f64) -> Option<&'static str> {
    if value.is_nan() {
        return Some("?");
    }
    value.is_infinite().then_some("OL")
}

/// A power of ten and the symbol it is written with.
#[derive(Clone, Copy)]
struct Scale {
    power: i8,
    factor: f64,
    symbol: &'static str,
    most_decimals: usize,
}

/// The scales a computed value is shown in: never milliohms or milliwatts, which no pocket meter resolves.
fn scales(unit: Unit) -> &'static [(i8, f64)] {
    match unit {
        Unit::Ohm => &[(0, 1.0), (3, 1e3), (6, 1e6), (9, 1e9)],
        Unit::Volt => &[(-3, 1e-3), (0, 1.0), (3, 1e3)],
        Unit::Amp => &[(-6, 1e-6), (-3, 1e-3), (0, 1.0)],
        Unit::Watt => &[(0, 1.0), (3, 1e3)],
        Unit::Farad => &[(-12, 1e-12), (-9, 1e-9), (-6, 1e-6)],
        Unit::Hertz => &[(0, 1.0), (3, 1e3)],
        Unit::Celsius | Unit::Fahrenheit | Unit::Minute | Unit::Second => &[(0, 1.0)],
    }
}

fn scale_of(value: f64, unit: Unit) -> Scale {
    let scales = scales(unit);
    let base = scales.iter().find(|(power, _)| *power == 0).or(scales.last());
    let zero = value.abs() < f64::MIN_POSITIVE;
    let fitting = scales.iter().rfind(|(power, factor)| {
        // 999.96 already shows as 1000 of the smaller unit.
        value.abs() >= factor * begins_at(unit, *power) * 0.9999
    });
    let chosen = if zero { base } else { fitting.or(scales.first()) };
    let (power, factor) = chosen.copied().unwrap_or((0, 1.0));
    let symbol = unit.scales().iter().find(|(p, _)| *p == power).map_or("", |(_, symbol)| symbol);
    Scale { power, factor, symbol, most_decimals: most_decimals(unit, power) }
}

/// Where a scale begins, in counts of itself.
fn begins_at(unit: Unit, power: i8) -> f64 {
    match (unit, power) {
        // The rating plate says 2600 W, and a joint drops 0.3 V.
        (Unit::Watt, 3) => 10.0,
        (Unit::Volt, 0) => 0.1,
        _ => 1.0,
    }
}

fn most_decimals(unit: Unit, power: i8) -> usize {
    match unit {
        Unit::Watt | Unit::Minute | Unit::Fahrenheit if power == 0 => 0,
        Unit::Celsius | Unit::Second | Unit::Hertz | Unit::Farad => 1,
        _ if power == 0 => 2,
        _ => 3,
    }
}

/// How many decimals to write.
struct Places {
    factor: f64,
    decimals: usize,
}

impl Places {
    fn of(value: f64, scale: Scale) -> Self {
        Self::shared(value, value, scale)
    }

    fn shared(low: f64, high: f64, scale: Scale) -> Self {
        let (low, high) = (low / scale.factor, high / scale.factor);
        let widest = low.abs().max(high.abs());
        let mut counts = widest;
        let mut decimals = 0;
        while decimals < scale.most_decimals && counts * 10.0 < 1999.5 {
            counts *= 10.0;
            decimals += 1;
        }
        let fewest = fewest_decimals(low.abs().min(high.abs()), widest).min(decimals);
        while decimals > fewest && ends_in_zero(low, decimals) && ends_in_zero(high, decimals) {
            decimals -= 1;
        }
        Self { factor: scale.factor, decimals }
    }

    fn write(&self, value: f64) -> String {
        let text = format!("{:.*}", self.decimals, value / self.factor);
        let nothing = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
        match text.strip_prefix('-') {
            Some(plain) if nothing => plain.to_owned(),
            _ => text,
        }
    }
}

fn fewest_decimals(narrow: f64, widest: f64) -> usize {
    match widest {
        w if w < 0.9995 && w > 0.0 => 2,
        w if w >= 100.0 && narrow >= 100.0 => 0,
        _ => 1,
    }
}

fn ends_in_zero(value: f64, decimals: usize) -> bool {
    format!("{value:.decimals$}").ends_with('0')
}
