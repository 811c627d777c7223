//! The width of a current through a weak capacitor against drawn units: its reactance goes with one over the capacitance
//! that is left, and so does the spread of the reactance.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{BranchId, FaultId};
use prediction::{Condition, Meter, Predictor, Reading};
use truth::{DrawSettings, MeterKind, Probe, Quantity, Shown, Workshop};

/// Units drawn.
const DRAWS: u32 = 2000;
/// Share of a standard normal's variance that is left when it is cut at two sigmas:
/// 1 - 2 z f(z) / (2 F(z) - 1) at z = 2, f and F being its density and distribution (any table of the normal).
const CUT_AT_TWO: f64 = 0.773_741;
/// Variance that truth's meter adds, as a share of the figure squared: 0.2 % one sigma.
const OWN_NOISE: f64 = 0.002 * 0.002;

/// The kettle with a capacitor in the place of its lamp, itself within next to nothing.
fn machine() -> Machine {
    let text = include_str!("../../machine/tests/good/guarded-kettle.toml");
    let lamp = "kind = \"lamp\"\nname = \"pilot lamp\"\nplace = \"base\"\nwatts = 1\nvolts = 120";
    let pilot = "[[observe]]\nid = \"pilot\"\nwhat = \"lights\"\npart = \"lamp\"\n";
    assert!(text.contains(lamp) && text.contains(pilot));
    let capacitor = "kind = \"capacitor\"\nplace = \"base\"\nmicrofarads = 20\ntolerance = 0.0001";
    let read = machine::read(&text.replace(lamp, capacitor).replace(pilot, ""));
    read.machine.unwrap_or_else(|| panic!("{:?}", read.diagnostics))
}

#[test]
fn width_of_the_current_through_a_weak_capacitor_is_that_of_drawn_units() {
    let machine = machine();
    let meter = MeterKind { accuracy: 0.0, lead_ohms: 0.0, volts_floor: 0.0, amps_floor: 0.0, ..MeterKind::ordinary() };
    let settings = DrawSettings { wrong_terminal: 0.0, bad_contact: 0.0, meter, ..DrawSettings::default() };
    let weak = machine.faults.iter().position(|fault| fault.id == "lamp:weak").unwrap();
    let weak = [FaultId(u16::try_from(weak).unwrap())];
    let lead = machine.branches.iter().position(|branch| branch.name == "5").unwrap();
    let lead = BranchId(u16::try_from(lead).unwrap());
    let state = machine.state("boil").unwrap();
    let probe = prediction::Probe::Around(lead);
    let reading = Reading { quantity: prediction::Quantity::Amps, probe, condition: Condition::running(state) };
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let prediction::Shown::Value { value, sigma, .. } = predictor.predict(&reading, &weak).shown else { panic!() };
    // By hand: 120 V x 2 pi x 60 Hz x 8 microfarads, what is left of 20; the element takes 2 % of the volts on the way.
    assert!((value / 0.3619 - 1.0).abs() < 0.03, "{value}");
    // By hand: 5 % one sigma of what is left, and 2.5 % of the supply.
    assert!((sigma / value / 0.0559 - 1.0).abs() < 0.02, "{}", sigma / value);
    let workshop = Workshop::new(&machine);
    let shown = |seed| match workshop.unit(seed, &settings, &weak).read(
        Quantity::Amps,
        Probe::Around(lead),
        state,
        true,
        &[],
    ) {
        Shown::Value(value) => value,
        Shown::OverRange => panic!("over range with seed {seed}"),
    };
    let values: Vec<f64> = (0..u64::from(DRAWS)).map(shown).collect();
    let mean = values.iter().sum::<f64>() / f64::from(DRAWS);
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    let variance = squares / (f64::from(DRAWS) - 1.0);
    let wanted = CUT_AT_TWO * sigma * sigma + OWN_NOISE * value * value;
    // One sigma of a variance from so many draws is this share of it at most; four of them.
    let own_error = 4.0 * (2.0 / f64::from(DRAWS)).sqrt();
    assert!((variance / wanted - 1.0).abs() < own_error, "{variance} is not {wanted}");
}
