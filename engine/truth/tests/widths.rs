//! The width that the predictor gives a reading against Monte Carlo: units drawn within tolerance by the separate truth
//! and solved afresh. The predictor goes by first derivatives, so that no more than the draw's own error may part them.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{BranchId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Reading};
use std::path::Path;
use truth::{Dice, DrawSettings, MeterKind, Probe, Quantity, Shown, Workshop};

/// Units drawn for each reading.
const DRAWS: u32 = 1500;
/// Readings of each kind and machine.
const READINGS: usize = 8;
/// Share of a standard normal's variance that is left when it is cut at two sigmas:
/// 1 - 2 z f(z) / (2 F(z) - 1) at z = 2, f and F being its density and distribution (any table of the normal).
const CUT_AT_TWO: f64 = 0.773_741;
/// The same at three sigmas.
const CUT_AT_THREE: f64 = 0.973_337;
/// What truth's meter adds to each figure, one sigma, as a share of it.
const OWN_NOISE: f64 = 0.002;

/// Draws as the workshop does, but for the meter: it errs by its noise alone, and nobody slips.
fn careful() -> DrawSettings {
    let meter = MeterKind { accuracy: 0.0, lead_ohms: 0.0, volts_floor: 0.0, amps_floor: 0.0, ..MeterKind::ordinary() };
    DrawSettings { wrong_terminal: 0.0, bad_contact: 0.0, room_kelvins: 0.0, meter, ..DrawSettings::default() }
}

/// Reads without lead resistance, so that both sides read the machine alone.
fn without_leads() -> Meter {
    Meter { lead_ohms: 0.0, ..Meter::ordinary() }
}

fn asked(machine: &Machine, quantity: prediction::Quantity, dice: &mut Dice) -> Reading {
    let points: Vec<TerminalId> = (0..machine.terminals.len())
        .map(|t| TerminalId(u16::try_from(t).unwrap()))
        .filter(|t| !machine.terminals[t.index()].hidden)
        .collect();
    let state = StateId(u16::try_from(dice.one_of(machine.states.len()).unwrap()).unwrap());
    let mut point = || points[dice.one_of(points.len()).unwrap()];
    let across = prediction::Probe::Across(point(), point());
    let branch = BranchId(u16::try_from(dice.one_of(machine.branches.len()).unwrap()).unwrap());
    let (probe, condition) = match quantity {
        prediction::Quantity::Ohms | prediction::Quantity::Farads => (across, Condition::isolated(state)),
        prediction::Quantity::Volts => (across, Condition::running(state)),
        prediction::Quantity::Amps => (prediction::Probe::Around(branch), Condition::running(state)),
    };
    Reading { quantity, probe, condition }
}

/// Gives readings that have a width worth the name: well above the meter's own noise, well below the figure.
fn worth_drawing(predictor: &Predictor<'_>, quantity: prediction::Quantity) -> Vec<(Reading, f64, f64)> {
    let mut dice = Dice::of(7, &[quantity as u64]);
    let mut found: Vec<(Reading, f64, f64)> = Vec::new();
    for _ in 0..20_000 {
        let reading = asked(predictor.machine(), quantity, &mut dice);
        if let prediction::Shown::Value { value, sigma, .. } = predictor.predict(&reading, &[]).shown
            && (0.003..0.1).contains(&(sigma / value))
            // Not the same network read twice from other ends.
            && !found.iter().any(|(_, known, _)| (known / value - 1.0).abs() < 1e-6)
        {
            found.push((reading, value, sigma));
        }
        if found.len() == READINGS {
            break;
        }
    }
    found
}

/// Gives mean and variance of what drawn units show.
fn drawn(workshop: &Workshop<'_>, reading: &Reading) -> (f64, f64) {
    let quantity = match reading.quantity {
        prediction::Quantity::Volts => Quantity::Volts,
        prediction::Quantity::Ohms => Quantity::Ohms,
        prediction::Quantity::Amps => Quantity::Amps,
        prediction::Quantity::Farads => Quantity::Farads,
    };
    let probe = match reading.probe {
        prediction::Probe::Across(a, b) => Probe::Across(a, b),
        prediction::Probe::Around(branch) => Probe::Around(branch),
    };
    let condition = &reading.condition;
    let shown = |seed| {
        let mut unit = workshop.unit(seed, &careful(), &[]);
        match unit.read(quantity, probe, condition.state, condition.plugged, &condition.lifted) {
            Shown::Value(value) => value,
            Shown::OverRange => panic!("{reading:?} is over range with seed {seed}"),
        }
    };
    let values: Vec<f64> = (0..u64::from(DRAWS)).map(shown).collect();
    let mean = values.iter().sum::<f64>() / f64::from(DRAWS);
    let squares: f64 = values.iter().map(|value| (value - mean) * (value - mean)).sum();
    (mean, squares / (f64::from(DRAWS) - 1.0))
}

fn compare(name: &str, quantity: prediction::Quantity) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../machines").join(name);
    let machine = machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap();
    let (predictor, workshop) = (Predictor::new(&machine, without_leads()), Workshop::new(&machine));
    let readings = worth_drawing(&predictor, quantity);
    assert!(readings.len() >= 4, "{name}: only {} readings of {quantity:?} have a width", readings.len());
    for (reading, value, sigma) in readings {
        let (mean, variance) = drawn(&workshop, &reading);
        let noise = OWN_NOISE * value;
        let wanted = CUT_AT_TWO * sigma * sigma + CUT_AT_THREE * noise * noise;
        // One sigma of a variance from so many draws is this share of it at most (a cut normal has thin tails).
        let own_error = (2.0 / f64::from(DRAWS)).sqrt();
        let off = variance / wanted - 1.0;
        assert!(off.abs() <= 4.5 * own_error, "{name} {reading:?}: variance off by {off:.3} with {value} +- {sigma}");
        // The mean moves by curvature alone: a share of a sigma.
        let apart = (mean - value).abs() / sigma;
        assert!(apart <= 0.15, "{name} {reading:?}: mean {mean} against {value}, {apart:.2} sigmas apart");
    }
}

#[test]
fn widths_of_ohms_are_those_of_drawn_units() {
    for machine in ["dryer-timer-240.toml", "range-control-240.toml"] {
        compare(machine, prediction::Quantity::Ohms);
    }
}

#[test]
fn widths_of_volts_are_those_of_drawn_units() {
    for machine in ["dryer-timer-240.toml", "range-control-240.toml"] {
        compare(machine, prediction::Quantity::Volts);
    }
}

#[test]
fn widths_of_amperes_are_those_of_drawn_units() {
    for machine in ["dryer-timer-240.toml", "range-control-240.toml"] {
        compare(machine, prediction::Quantity::Amps);
    }
}
