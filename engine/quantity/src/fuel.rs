//! Gas and refrigerant figures a technician meets: pressures, burner input, charge limits, ignitor and flame currents.
//! Knows no procedure: gas and sealed systems are for those licensed for them, and the rating plate decides.

use crate::published::{Published, Seen};

const PIPING: &str = "NFPA 54 / ANSI Z223.1 ch. 8";
const PLATE: &str = "common practice, no source; the plate decides";
const PRACTICE: &str = "common practice, no source";

/// Piping test pressure, at least, and 1.5 times working pressure; air or inert gas, never fuel gas.
pub const PIPING_TEST: Published = Published::new(3.0, "psig", PIPING, Seen::SecondHand);
/// Piping test time of a small or one-family system, at least.
pub const PIPING_TEST_TIME: Published = Published::new(10.0, "min", PIPING, Seen::SecondHand);
/// Test pressure above which appliances are disconnected.
pub const DISCONNECT_ABOVE: Published = Published::new(0.5, "psig", PIPING, Seen::Memory);
/// How a leak is looked for: foaming fluid or a detector.
///
/// SOURCE: NFPA 54 / ANSI Z223.1 ch. 8, read second hand.
pub const LEAK_SEARCH: &str = "never a flame";
/// What is done when one is found (common practice, no source).
pub const LEAK_FOUND: &str = "close, ventilate, no switching, put right before use";
/// Manifold pressure of natural gas ranges and dryers, in w.c.: least and most, usually about 4.
pub const MANIFOLD_NATURAL: [Published; 2] = plate(3.5, 5.0);
/// Manifold pressure of LP, in w.c.: least and most.
pub const MANIFOLD_LP: [Published; 2] = plate(10.0, 11.0);
/// Normal inlet test pressure of natural gas.
pub const INLET_NATURAL: Published = Published::new(7.0, "in w.c.", "ANSI Z21.1 test gases", Seen::Memory);
/// Normal inlet test pressure of propane.
pub const INLET_LP: Published = Published::new(11.0, "in w.c.", "ANSI Z21.1 test gases", Seen::Memory);
/// Carbon monoxide of an oven, air-free, at most.
pub const CARBON_MONOXIDE: Published = Published::new(800.0, "ppm", "ANSI Z21.1", Seen::Memory);
/// One inch of water at 4 °C.
pub const INCH_OF_WATER: Published = Published::new(249.088_91, "Pa", "Pint 0.25.3 inH2O", Seen::Computed);
/// A flat hot-surface ignitor in series with the oven valve, 120 V: current at which the valve opens.
pub const IGNITOR_FLAT: [Published; 2] = practice(3.2, 3.6, "A");
/// The same with a round ignitor.
pub const IGNITOR_ROUND: [Published; 2] = practice(2.5, 3.0, "A");
/// Flame rectification current, at least.
pub const FLAME_CURRENT: Published = Published::new(1.0, "uA DC", PRACTICE, Seen::CommonPractice);
/// Flame rectification current as it often is.
pub const FLAME_CURRENT_USUAL: [Published; 2] = practice(2.0, 6.0, "uA DC");
/// Share of the charge to recover from a small appliance whose compressor works.
pub const RECOVER_RUNNING: Published = Published::new(90.0, "% of charge", "40 CFR 82.156(b)", Seen::SecondHand);
/// Share of the charge to recover where it does not.
pub const RECOVER_DEAD: Published = Published::new(80.0, "% of charge", "40 CFR 82.156(b)", Seen::SecondHand);
/// Or the vacuum to draw to.
pub const RECOVER_VACUUM: Published = Published::new(4.0, "inHg vacuum", "40 CFR 82.156(b)", Seen::Memory);
/// The largest factory charge of a small appliance.
pub const SMALL_APPLIANCE_CHARGE: Published = Published::new(5.0, "lb", "40 CFR 82.152", Seen::Memory);
/// The largest isobutane charge of a household refrigerator.
pub const ISOBUTANE_CHARGE: Published = Published::new(150.0, "g per circuit", "IEC 60335-2-24", Seen::Memory);

const fn plate(least: f64, most: f64) -> [Published; 2] {
    [
        Published::new(least, "in w.c.", PLATE, Seen::CommonPractice),
        Published::new(most, "in w.c.", PLATE, Seen::CommonPractice),
    ]
}

const fn practice(least: f64, most: f64, unit: &'static str) -> [Published; 2] {
    [
        Published::new(least, unit, PRACTICE, Seen::CommonPractice),
        Published::new(most, unit, PRACTICE, Seen::CommonPractice),
    ]
}

/// Gives a burner's input at another manifold pressure: flow through an orifice goes as the square root of pressure.
#[must_use]
pub fn input_at_pressure(input_btu_per_hour: f64, rated_inches: f64, now_inches: f64) -> f64 {
    input_btu_per_hour * (now_inches / rated_inches).sqrt()
}

/// Gives a burner's input, in Btu/h, from one turn of a gas meter dial.
#[must_use]
pub fn input_by_meter(dial_cubic_feet: f64, seconds_a_turn: f64, btu_per_cubic_foot: f64) -> f64 {
    3600.0 * dial_cubic_feet * btu_per_cubic_foot / seconds_a_turn
}
