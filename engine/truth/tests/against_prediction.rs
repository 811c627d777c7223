//! The slow unit and the fast predictor fight over every single fault and a sample of pairs, in every state: flags,
//! observations and readings. Neither knows the other; the units here are exactly as described.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{BranchId, FaultId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Reading};
use std::path::Path;
use truth::{Dice, Probe, Quantity, Shown, Unit};

fn described(path: &Path) -> Machine {
    let read = machine::read(&std::fs::read_to_string(path).unwrap());
    read.machine.unwrap_or_else(|| panic!("{}: {:?}", path.display(), read.diagnostics))
}

fn fault_ids(machine: &Machine) -> Vec<FaultId> {
    (0..machine.faults.len()).map(|f| FaultId(u16::try_from(f).unwrap())).collect()
}

fn state_ids(machine: &Machine) -> Vec<StateId> {
    (0..machine.states.len()).map(|s| StateId(u16::try_from(s).unwrap())).collect()
}

fn named(machine: &Machine, faults: &[FaultId]) -> String {
    faults.iter().map(|f| machine.faults[f.index()].id.as_str()).collect::<Vec<_>>().join(" + ")
}

/// Compares flags and observations of every state; gives the states that settle the same way.
fn compare_states(machine: &Machine, predictor: &Predictor<'_>, unit: &Unit<'_>, faults: &[FaultId]) {
    for state in state_ids(machine) {
        let name = &machine.states[state.index()].id;
        let settled = predictor.settle(state, faults);
        if !settled.chatters.is_empty() {
            continue;
        }
        let flags: Vec<bool> = (0..machine.flags.len()).map(|f| settled.config.0 >> f & 1 == 1).collect();
        assert_eq!(unit.flags(state), flags, "flags of {} in {name}", named(machine, faults));
        let fast: Vec<_> = predictor.observe(state, faults).into_iter().map(|seen| (seen.what, seen.value)).collect();
        assert_eq!(unit.observe(state), fast, "what {} shows in {name}", named(machine, faults));
    }
}

fn points(machine: &Machine) -> Vec<TerminalId> {
    let ids = (0..machine.terminals.len()).map(|t| TerminalId(u16::try_from(t).unwrap()));
    ids.filter(|t| !machine.terminals[t.index()].hidden).collect()
}

/// Draws one reading of any kind: a voltage running or unplugged, a resistance with or without a lead off, a clamp.
fn any_reading(machine: &Machine, dice: &mut Dice) -> Reading {
    let points = points(machine);
    let state = StateId(u16::try_from(dice.one_of(machine.states.len()).unwrap()).unwrap());
    let mut point = || points[dice.one_of(points.len()).unwrap()];
    let (a, b) = (point(), point());
    let branch = BranchId(u16::try_from(dice.one_of(machine.branches.len()).unwrap()).unwrap());
    let lifted = if dice.chance(0.3) { vec![branch] } else { Vec::new() };
    let across = prediction::Probe::Across(a, b);
    match dice.one_of(4).unwrap() {
        0 => Reading {
            quantity: prediction::Quantity::Amps,
            probe: prediction::Probe::Around(branch),
            condition: Condition::running(state),
        },
        1 => Reading { quantity: prediction::Quantity::Volts, probe: across, condition: Condition::running(state) },
        2 => Reading { quantity: prediction::Quantity::Volts, probe: across, condition: Condition::isolated(state) },
        _ => Reading {
            quantity: prediction::Quantity::Ohms,
            probe: across,
            condition: Condition { lifted, ..Condition::isolated(state) },
        },
    }
}

fn compare_reading(
    machine: &Machine,
    predictor: &Predictor<'_>,
    unit: &mut Unit<'_>,
    faults: &[FaultId],
    reading: &Reading,
) {
    if matches!(reading.probe, prediction::Probe::Across(a, b) if a == b) {
        return;
    }
    if reading.condition.plugged && !predictor.settle(reading.condition.state, faults).chatters.is_empty() {
        return;
    }
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
    let fast = predictor.predict(reading, faults).shown;
    let slow = unit.read(quantity, probe, condition.state, condition.plugged, &condition.lifted);
    let said = || format!("{reading:?} with {}: {slow:?} against {fast:?}", named(machine, faults));
    match (slow, fast) {
        (Shown::OverRange, prediction::Shown::OverRange) => {}
        (Shown::Value(slow), prediction::Shown::Value { value, .. }) => {
            // Both solve the same linear network; a megohm meter behind open circuits costs a few digits.
            assert!((slow - value).abs() <= 1e-6 * value.abs() + 1e-6, "{}", said());
        }
        (Shown::Value(_), prediction::Shown::Ghost { highest }) => {
            let prediction::Probe::Across(a, b) = reading.probe else { panic!("{}", said()) };
            let bound = unit.ghost_bound(a, b, condition.state, condition.plugged);
            let bound = bound.unwrap_or_else(|| panic!("tied: {}", said()));
            assert!((bound - highest).abs() <= 1e-6 * highest + 1e-6, "{bound} {}", said());
        }
        _ => panic!("{}", said()),
    }
}

fn fight(machine: &Machine) {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let mut dice = Dice::of(1, &[99]);
    let singles = std::iter::once(Vec::new()).chain(fault_ids(machine).into_iter().map(|fault| vec![fault]));
    let count = machine.faults.len();
    let mut pair = || {
        let mut faults: Vec<FaultId> =
            (0..2).map(|_| FaultId(u16::try_from(dice.one_of(count).unwrap()).unwrap())).collect();
        faults.sort_unstable();
        faults
    };
    let part = |fault: FaultId| machine.faults[fault.index()].part;
    let pairs: Vec<Vec<FaultId>> = (0..30).map(|_| pair()).filter(|pair| part(pair[0]) != part(pair[1])).collect();
    for faults in singles.chain(pairs) {
        let mut unit = Unit::nominal(machine, &faults);
        compare_states(machine, &predictor, &unit, &faults);
        for _ in 0..8 {
            let reading = any_reading(machine, &mut dice);
            compare_reading(machine, &predictor, &mut unit, &faults, &reading);
        }
    }
}

#[test]
fn every_fault_of_every_shipped_machine_goes_as_predicted() {
    for one in shipped::ALL {
        fight(&one.read().unwrap());
    }
}

#[test]
fn every_build_of_every_shipped_machine_goes_as_predicted() {
    let mut builds = 0;
    for machine in shipped::ALL.iter().map(|one| one.read().unwrap()).filter(|machine| machine.builds.len() > 1) {
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let singles = std::iter::once(Vec::new()).chain(fault_ids(&machine).into_iter().map(|fault| vec![fault]));
        for faults in singles {
            for state in state_ids(&machine) {
                let ways = predictor.ways(state, &faults);
                // The middle size, each build.
                let described = ways.len() / machine.builds.len() / 2 * machine.builds.len();
                for (at, build) in machine.builds.iter().enumerate() {
                    let unit = Unit::nominal(&machine, &faults).built(&build.effects);
                    let seen: Vec<u8> = unit.observe(state).into_iter().map(|(_, value)| value).collect();
                    let (name, faults) = (&machine.states[state.index()].id, named(&machine, &faults));
                    assert_eq!(ways[described + at].values, seen, "{}: {faults} in {name}, build {at}", machine.id);
                    builds += 1;
                }
            }
        }
    }
    assert!(builds > 1000, "{builds}");
}

#[test]
fn every_fault_of_every_good_fixture_goes_as_predicted() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../machine/tests/good");
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|end| end == "toml"));
    paths.sort();
    for path in paths {
        fight(&described(&path));
    }
}
