//! Residual-current devices: what trips one, what does not, and that nothing gets lost between the poles and earth.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use machine::Machine;
use machine::model::{BranchId, FaultId, StateId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Shown};

const KETTLE: &str = include_str!("../../machine/tests/good/guarded-kettle.toml");
const DRYER: &str = include_str!("../../../machines/dryer-timer-240.toml");

fn kettle(changed: &[(&str, &str)]) -> Machine {
    read(KETTLE, changed)
}

fn read(text: &str, changed: &[(&str, &str)]) -> Machine {
    let text = changed.iter().fold(text.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    });
    let read = machine::read(&text);
    assert!(read.diagnostics.is_empty(), "{:?}", read.diagnostics);
    read.machine.unwrap()
}

fn predictor(machine: &Machine) -> Predictor<'_> {
    Predictor::new(machine, Meter::ordinary())
}

fn fault(machine: &Machine, id: &str) -> FaultId {
    FaultId(u16::try_from(machine.faults.iter().position(|f| f.id == id).unwrap()).unwrap())
}

fn trips(machine: &Machine, state: &str, faults: &[FaultId]) -> bool {
    let flag = machine.supply.residual.as_ref().unwrap().flag;
    predictor(machine).settle(machine.state(state).unwrap(), faults).config.stands(flag)
}

/// Real and imaginary part of a branch's current as a clamp would show it.
fn current(predictor: &Predictor<'_>, state: StateId, branch: BranchId, faults: &[FaultId]) -> (f64, f64) {
    let condition = Condition::running(state);
    let reading = Reading { quantity: Quantity::Amps, probe: Probe::Around(branch), condition };
    match predictor.predict(&reading, faults).shown {
        Shown::Value { value, phase_deg, .. } => {
            let angle = phase_deg.to_radians();
            (value * libm::cos(angle), value * libm::sin(angle))
        }
        other => panic!("{other:?}"),
    }
}

fn branches(machine: &Machine, named: impl Fn(&str) -> bool) -> Vec<BranchId> {
    let all = (0..).zip(&machine.branches);
    all.filter(|(_, branch)| named(&branch.name)).map(|(index, _)| BranchId(index)).collect()
}

fn sum(of: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    of.fold((0.0, 0.0), |(re, im), (a, b)| (re + a, im + b))
}

/// By hand, at 120 V and 60 Hz: the element's 120 kohm leak 1.00 mA, other appliances 0.3 mA in phase; the filter of
/// 10 nF 0.45 mA and other appliances 0.8 mA a quarter turn ahead: |1.30 + j 1.25| = 1.81 mA. 40 kohm more leak 3.0 mA:
/// |4.30 + j 1.25| = 4.48 mA, though the figures added without their phases make 5.55.
#[test]
fn leakage_adds_as_phasors_and_not_as_figures() {
    let machine = kettle(&[]);
    let damp = [fault(&machine, "element:damp")];
    assert!(!trips(&machine, "boil", &[]));
    assert!(!trips(&machine, "boil", &damp));
    let poles = machine.supply.residual.as_ref().unwrap().poles.clone();
    let predictor = predictor(&machine);
    let state = machine.state("boil").unwrap();
    for (faults, expected) in [(&[][..], 1.81e-3), (&damp[..], 4.48e-3)] {
        let (re, im) = sum(poles.iter().map(|&pole| current(&predictor, state, pole, faults)));
        let amps = (re * re + im * im).sqrt();
        // The leads and the house take a hundredth of the volts.
        assert!((amps / expected - 1.0).abs() < 0.02, "{amps} is not {expected}");
    }
}

/// 5 mA: a class A device opens between 4 and 6 mA, UL 943 (from memory).
#[test]
fn a_leak_that_one_machine_alone_would_get_away_with_trips_with_what_else_leaks() {
    let alone =
        kettle(&[(", leaks = [{ leg = 1, milliamps = 0.8 }, { leg = 1, milliamps = 0.3, capacitive = false }]", "")]);
    let shared = kettle(&[("milliamps = 0.3", "milliamps = 1.5")]);
    assert!(!trips(&alone, "boil", &[fault(&alone, "element:damp")]));
    assert!(trips(&shared, "boil", &[fault(&shared, "element:damp")]));
    assert!(!trips(&shared, "boil", &[]));
}

/// 30 mA: the usual device of a house after IEC 61008 (from memory).
#[test]
fn a_device_of_thirty_milliamperes_holds_where_one_of_five_trips() {
    let five = kettle(&[("value = 40000", "value = 20000")]);
    let thirty = kettle(&[("value = 40000", "value = 20000"), ("trips_milliamps = 5", "trips_milliamps = 30")]);
    assert!(trips(&five, "boil", &[fault(&five, "element:damp")]));
    assert!(!trips(&thirty, "boil", &[fault(&thirty, "element:damp")]));
    assert!(trips(&thirty, "boil", &[fault(&thirty, "element:grounded")]));
}

#[test]
fn a_tripped_device_leaves_the_machine_dead_and_its_flag_is_seen() {
    let machine = kettle(&[("value = 40000", "value = 20000")]);
    let damp = [fault(&machine, "element:damp")];
    let predictor = predictor(&machine);
    let boil = machine.state("boil").unwrap();
    let said = |faults: &[FaultId]| -> Vec<String> {
        let seen = predictor.observe(boil, faults);
        let say = |s: &prediction::Seen| {
            let of = &machine.observations[s.what.index()];
            format!("{}:{}", of.id, of.values[usize::from(s.value)].id)
        };
        seen.iter().map(say).collect()
    };
    assert_eq!(said(&[]), ["heats:full", "pilot:yes", "breaker:holds", "device:holds"]);
    assert_eq!(said(&damp), ["heats:none", "pilot:no", "breaker:holds", "device:trips"]);
    // The switch parts the leg alone: with it off the element hangs on neutral, and nothing drives the leak.
    assert!(!trips(&machine, "off", &damp));
}

/// Neutral bonded to the frame sends part of the machine's return current by earth: the classic nuisance trip.
#[test]
fn a_bond_of_neutral_to_the_frame_trips_the_device_once_current_flows() {
    let residual = "panel_place = \"panel\"\nresidual = { trips_milliamps = 5 }";
    let machine = read(DRYER, &[("panel_place = \"panel\"", residual)]);
    let strap = [fault(&machine, "block:strap-left")];
    let states: Vec<&str> = machine.states.iter().map(|s| s.id.as_str()).collect();
    assert!(states.iter().all(|state| !trips(&machine, state, &[])), "{states:?}");
    assert!(states.iter().any(|state| trips(&machine, state, &strap)), "{states:?}");
}

/// What the legs and the neutral carry together is what returns by earth: by the ground conductor of the cord and by what
/// else leaks behind the device. For every single fault and every pair, in every state, whether it trips or not.
#[test]
fn current_in_legs_plus_neutral_equals_what_returns_by_earth() {
    let machine = kettle(&[]);
    let predictor = predictor(&machine);
    let poles = machine.supply.residual.as_ref().unwrap().poles.clone();
    let ground = branches(&machine, |name| name == "receptacle:G");
    let behind = branches(&machine, |name| name.starts_with("residual:leak"));
    assert_eq!((poles.len(), ground.len(), behind.len()), (2, 1, 2));
    let ids: Vec<FaultId> = (0..).map(FaultId).take(machine.faults.len()).collect();
    let mut sets: Vec<Vec<FaultId>> = vec![Vec::new()];
    sets.extend(ids.iter().map(|&one| vec![one]));
    sets.extend(
        ids.iter().flat_map(|&one| ids.iter().filter(move |&&other| other > one).map(move |&other| vec![one, other])),
    );
    let (mut tripped, mut leaking) = (0, 0);
    for state in [StateId(0), StateId(1)] {
        for faults in &sets {
            let at = |&branch: &BranchId| current(&predictor, state, branch, faults);
            let through = sum(poles.iter().map(at));
            let (ground, behind) = (sum(ground.iter().map(at)), sum(behind.iter().map(at)));
            // The ground conductor is counted from the panel to the machine.
            let by_earth = (behind.0 - ground.0, behind.1 - ground.1);
            let off = (through.0 - by_earth.0).abs() + (through.1 - by_earth.1).abs();
            assert!(off < 1e-7, "{faults:?}: {through:?} is not {by_earth:?}");
            tripped += usize::from(
                predictor.settle(state, faults).config.stands(machine.supply.residual.as_ref().unwrap().flag),
            );
            leaking += usize::from(through.0.abs() + through.1.abs() > 1e-4);
        }
    }
    assert!(tripped > 50 && leaking > 50, "{tripped} {leaking}");
}
