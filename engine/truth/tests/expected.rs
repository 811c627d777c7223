//! What a unit exactly as described is expected to show, width and all, is what the fast predictor says; so is what two
//! faults of one branch show.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Reading};
use truth::{Asked, Dice, Expected, Probe, Quantity, Unit};

const DRYER: &str = include_str!("../../../machines/dryer-timer-240.toml");
const RANGE: &str = include_str!("../../../machines/range-control-240.toml");
const OVEN: &str = include_str!("../../machine/tests/good/oven.toml");

fn described(text: &str) -> Machine {
    machine::read(text).machine.unwrap()
}

fn branches(machine: &Machine, fault: FaultId) -> Vec<BranchId> {
    let set = machine.faults[fault.index()].effects.iter().filter_map(|effect| match *effect {
        Effect::Open(branch) | Effect::Ohms(branch, _) | Effect::Scale(branch, _) => Some(branch),
        _ => None,
    });
    set.collect()
}

/// Every single fault, and every pair of two parts that sets one branch twice.
fn suspects(machine: &Machine) -> Vec<Vec<FaultId>> {
    let ids: Vec<FaultId> = (0..).map(FaultId).take(machine.faults.len()).collect();
    let mut list: Vec<Vec<FaultId>> = ids.iter().map(|&fault| vec![fault]).collect();
    for &one in &ids {
        let beside = ids.iter().filter(|&&other| {
            let parts = machine.faults[one.index()].part != machine.faults[other.index()].part;
            one < other && parts && branches(machine, one).iter().any(|b| branches(machine, other).contains(b))
        });
        list.extend(beside.map(|&other| vec![one, other]));
    }
    list
}

/// Draws the same reading for the predictor and for the unit.
fn drawn(machine: &Machine, dice: &mut Dice) -> (Reading, Asked) {
    let points: Vec<u16> = (0..).take(machine.terminals.len()).collect();
    let mut any = |of: usize| u16::try_from(dice.one_of(of).unwrap()).unwrap();
    let (a, b) = (TerminalId(points[usize::from(any(points.len()))]), TerminalId(any(points.len())));
    let (around, state) = (BranchId(any(machine.branches.len())), StateId(any(machine.states.len())));
    let (fast, slow, plugged) = match any(4) {
        0 => (prediction::Quantity::Amps, Quantity::Amps, true),
        1 => (prediction::Quantity::Volts, Quantity::Volts, true),
        _ => (prediction::Quantity::Ohms, Quantity::Ohms, false),
    };
    let (probe_fast, probe) = match slow {
        Quantity::Amps => (prediction::Probe::Around(around), Probe::Around(around)),
        _ => (prediction::Probe::Across(a, b), Probe::Across(a, b)),
    };
    let condition = Condition { plugged, ..Condition::isolated(state) };
    let asked = Asked { quantity: slow, probe, state, plugged, lifted: Vec::new() };
    (Reading { quantity: fast, probe: probe_fast, condition }, asked)
}

fn agree(machine: &Machine, seed: u64) -> usize {
    let meter = Meter::ordinary();
    let predictor = Predictor::new(machine, meter);
    let mut dice = Dice::of(seed, &[5]);
    let mut figures = 0;
    for faults in suspects(machine) {
        let unit = Unit::nominal(machine, &faults);
        for _ in 0..6 {
            let (reading, asked) = drawn(machine, &mut dice);
            let leads = if asked.quantity == Quantity::Ohms { meter.lead_shown() } else { 0.0 };
            let chatters = reading.condition.plugged && !predictor.settle(asked.state, &faults).chatters.is_empty();
            let expected = unit.expect(&asked, meter.volts_input_ohms).unwrap();
            let said = || {
                let names: Vec<&str> = faults.iter().map(|f| machine.faults[f.index()].id.as_str()).collect();
                format!("{names:?} at {reading:?}: {expected:?}, {:?}", predictor.predict(&reading, &faults))
            };
            match (expected, predictor.predict(&reading, &faults).shown) {
                _ if chatters => {}
                (Expected::Figure { value, sigma: wide }, prediction::Shown::Value { value: fast, sigma, .. }) => {
                    // Both are linear algebra of one network; a small difference of large figures costs some digits.
                    let close = |a: f64, b: f64| (a - b).abs() <= 1e-5 * a.abs().max(b.abs()) + 1e-6;
                    assert!(close(value + leads, fast) && close(wide, sigma), "{}", said());
                    figures += 1;
                }
                (Expected::Figure { value, .. }, prediction::Shown::OverRange) => {
                    assert!(value + leads > 0.999 * meter.ohms_limit, "{}", said());
                }
                (Expected::Apart { .. }, prediction::Shown::OverRange) => {}
                (Expected::Apart { highest_volts }, prediction::Shown::Ghost { highest }) => {
                    assert!((highest_volts - highest).abs() <= 1e-6 * highest + 1e-6, "{}", said());
                }
                _ => panic!("{}", said()),
            }
        }
    }
    figures
}

#[test]
fn figures_and_widths_are_the_predictors_on_the_dryer() {
    assert!(agree(&described(DRYER), 1) > 100);
}

#[test]
fn figures_and_widths_are_the_predictors_on_the_range() {
    assert!(agree(&described(RANGE), 2) > 100);
}

#[test]
fn figures_and_widths_are_the_predictors_on_the_oven() {
    assert!(agree(&described(OVEN), 3) > 100);
}

#[test]
fn a_broken_conductor_with_a_burnt_screw_conducts_no_more() {
    let machine = described(DRYER);
    let faults = ["cord:x-open", "block:l1-burnt"].map(|id| machine.fault(id).unwrap());
    let shared = branches(&machine, faults[0]);
    assert_eq!(shared, branches(&machine, faults[1]), "both are faults of one branch");
    let heat = machine.state("heat").unwrap();
    let drum = machine.observation("drum").unwrap();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    for faults in [faults, [faults[1], faults[0]]] {
        let seen = predictor.observe(heat, &faults);
        assert_eq!(seen.iter().find(|seen| seen.what == drum).unwrap().value, 0, "the drum stands still");
    }
}

#[test]
fn a_weak_capacitor_is_as_wide_as_its_own_reactance_is_unsure() {
    // The current of a capacitor alone on a source is as unsure as its capacitance: 5 % at one sigma, whatever is left of
    // it. In the oven's fan a winding lies in series, so that the capacitor's share is less, but never nothing.
    let machine = described(OVEN);
    let weak = machine.fault("cap:weak").unwrap();
    let branch = branches(&machine, weak)[0];
    let Effect::Scale(_, factor) = machine.faults[weak.index()].effects[0] else {
        panic!("a weak capacitor is scaled")
    };
    assert!(factor < 0.9, "so weak that its reactance and the sound one's are told apart");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let unit = Unit::nominal(&machine, &[weak]);
    let mut wide = 0;
    for state in (0..).map(StateId).take(machine.states.len()) {
        let reading = Reading {
            quantity: prediction::Quantity::Amps,
            probe: prediction::Probe::Around(branch),
            condition: Condition::running(state),
        };
        let asked =
            Asked { quantity: Quantity::Amps, probe: Probe::Around(branch), state, plugged: true, lifted: Vec::new() };
        let prediction::Shown::Value { sigma, .. } = predictor.predict(&reading, &[weak]).shown else { continue };
        let Some(Expected::Figure { sigma: expected, .. }) = unit.expect(&asked, 1e7) else { panic!("no figure") };
        assert!((sigma - expected).abs() <= 1e-6 * expected + 1e-9, "{sigma} is not {expected}");
        wide += usize::from(expected > 1e-3);
    }
    assert!(wide > 0);
}
