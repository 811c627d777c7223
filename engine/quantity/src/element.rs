//! Heating elements and rated power: hot and cold resistance, power on another supply, what the rating plate permits.
//! Knows no circuit: the voltage given is the one across the element.

use crate::quantities::{Amps, Celsius, Interval, Ohms, Volts, Watts};

/// Gives the running resistance of an element that draws `power` at `volts`; both positive.
///
/// SOURCE: Ohm's law, R = V² / P.
#[must_use]
pub fn hot_resistance(power: Watts, volts: Volts) -> Ohms {
    Ohms(volts.0 * volts.0 / power.0)
}

/// Gives the current of a resistive load that draws `power` at `volts`.
#[must_use]
pub fn running_current(power: Watts, volts: Volts) -> Amps {
    Amps(power.0 / volts.0)
}

/// Gives the power of an element on another supply than it is rated for, its resistance unchanged.
#[must_use]
pub fn power_on_supply(rated: Watts, rated_at: Volts, supply: Volts) -> Watts {
    let ratio = supply.0 / rated_at.0;
    Watts(rated.0 * ratio * ratio)
}

/// Names what kind of load a rated input belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Load {
    /// A heating appliance, or one that combines heat with a motor.
    Heating,
    /// A motor-operated appliance.
    Motor,
}

/// Gives the power a sound appliance may draw at rated voltage and running temperature, in watts.
///
/// Where the clause sets no lower limit the range begins at zero.
/// SOURCE: IEC 60335-1:2010 cl. 10.1 Table 1 (read in a national adoption).
#[must_use]
pub fn permitted_input(load: Load, rated: Watts) -> Interval {
    let watts = rated.0;
    let (low, high) = match load {
        _ if watts <= 25.0 => (0.0, 1.2 * watts),
        Load::Heating if watts <= 200.0 => (0.9 * watts, 1.1 * watts),
        Load::Heating => (0.9 * watts, (1.05 * watts).max(watts + 20.0)),
        Load::Motor if watts <= 300.0 => (0.0, 1.2 * watts),
        Load::Motor => (0.0, (1.15 * watts).max(watts + 60.0)),
    };
    Interval::ordered(low, high)
}

/// Gives the power a household electric range may draw in the United States.
///
/// SOURCE: UL 858, power input test, -10 % to +5 % (from memory, clause number not recalled).
#[must_use]
pub fn permitted_range_input(rated: Watts) -> Interval {
    Interval::ordered(0.9 * rated.0, 1.05 * rated.0)
}

/// Gives the running resistance, in ohms, that keeps an element within its permitted input.
///
/// The upper end is infinite where no lower input is set.
#[must_use]
pub fn permitted_resistance(load: Load, rated: Watts, volts: Volts) -> Interval {
    let input = permitted_input(load, rated);
    let ohms = |watts: f64| hot_resistance(Watts(watts), volts).0;
    Interval::ordered(ohms(input.high()), ohms(input.low()))
}

/// Resistance of 80/20 nickel-chromium at a temperature over that at 20 °C.
///
/// SOURCE: GB/T 1234 resistance-temperature correction table, row Cr20Ni80 (read on a page that reprints it).
const NICKEL_CHROMIUM: [(f64, f64); 13] = [
    (20.0, 1.0),
    (100.0, 1.006),
    (200.0, 1.012),
    (300.0, 1.018),
    (400.0, 1.025),
    (500.0, 1.026),
    (600.0, 1.018),
    (700.0, 1.010),
    (800.0, 1.008),
    (900.0, 1.010),
    (1000.0, 1.014),
    (1100.0, 1.021),
    (1200.0, 1.025),
];

/// How far a real 80/20 element may stray from [`nickel_chromium_factor`]: other published tables run up to 1.07.
pub const NICKEL_CHROMIUM_SPREAD: f64 = 0.04;

/// Gives the resistance of 80/20 nickel-chromium over its resistance at 20 °C.
///
/// *Approximate because* the table is in steps of 100 °C: straight lines between, the nearest row outside 20 to 1200 °C.
#[must_use]
pub fn nickel_chromium_factor(at: Celsius) -> f64 {
    between(&NICKEL_CHROMIUM, at)
}

/// Resistance of iron-chromium-aluminium (22 % Cr, 5.8 % Al) at a temperature over that at 20 °C.
///
/// SOURCE: the temperature factors that makers of the wire print, from memory.
const IRON_CHROMIUM_ALUMINIUM: [(f64, f64); 8] = [
    (20.0, 1.0),
    (400.0, 1.0),
    (500.0, 1.01),
    (600.0, 1.02),
    (700.0, 1.02),
    (800.0, 1.03),
    (1000.0, 1.04),
    (1200.0, 1.04),
];

/// Gives the resistance of iron-chromium-aluminium over its resistance at 20 °C.
///
/// *Approximate because* of straight lines between the rows; the nearest row outside 20 to 1200 °C.
#[must_use]
pub fn iron_chromium_aluminium_factor(at: Celsius) -> f64 {
    between(&IRON_CHROMIUM_ALUMINIUM, at)
}

/// Reads a table by straight lines; the nearest row outside it.
fn between(table: &[(f64, f64)], at: Celsius) -> f64 {
    let (Some(first), Some(last)) = (table.first(), table.last()) else { return 1.0 };
    let t = at.0.clamp(first.0, last.0);
    let found = table.windows(2).find_map(|pair| match *pair {
        [(t0, f0), (t1, f1)] if t <= t1 => Some(f0 + (f1 - f0) * (t - t0) / (t1 - t0)),
        _ => None,
    });
    found.unwrap_or(last.1)
}

/// Gives the resistance at 20 °C of an 80/20 element from its running resistance and temperature.
#[must_use]
pub fn cold_resistance(hot: Ohms, running: Celsius) -> Ohms {
    Ohms(hot.0 / nickel_chromium_factor(running))
}
