//! Pairs of faults answered without a solution of their own are what their own solutions say: low-rank and fresh.

use crate::predictor::Predictor;
use crate::reading::{Condition, Probe, Quantity, Reading, Shown};
use crate::settle::{Size, effects_of, hold, magnitude};
use crate::wiring::{changes, net, network, node_of};
use crate::{Config, Meter};
use circuit::{Change, Complex64, Law, Port};
use machine::Machine;
use machine::model::{BranchId, FaultId, PartKind, StateId, TerminalId};

const DRYER: &str = include_str!("../../../../machines/dryer-timer-240.toml");
const RANGE: &str = include_str!("../../../../machines/range-control-240.toml");
const CONTROL: &str = include_str!("../../../../machines/dryer-control-240.toml");
const GAS_OVEN: &str = include_str!("../../../../machines/oven-gas-120.toml");
const GAS_RANGE: &str = include_str!("../../../../machines/range-gas-120.toml");

fn machine(text: &str) -> Machine {
    machine::read(text).machine.unwrap()
}

/// A machine and the one it builds on.
fn laid_over(text: &str, base: &str) -> Machine {
    machine::read_with(text, &|_: &str| Some(base.to_owned())).machine.unwrap()
}

/// Every pair of faults of two parts, and every single fault.
fn sets(machine: &Machine) -> Vec<Vec<FaultId>> {
    let ids: Vec<FaultId> = (0..).map(FaultId).take(machine.faults.len()).collect();
    let mut sets: Vec<Vec<FaultId>> = ids.iter().map(|&fault| vec![fault]).collect();
    for (index, &one) in ids.iter().enumerate() {
        sets.extend(ids[index + 1..].iter().map(|&other| vec![one, other]));
    }
    sets
}

fn for_itself(machine: &Machine) -> Predictor<'_> {
    let mut predictor = Predictor::new(machine, Meter::ordinary());
    predictor.each_for_itself = true;
    predictor
}

fn near(a: f64, b: f64) -> bool {
    a.total_cmp(&b).is_eq() || (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
}

/// Compares every set's rest and ways with its own, in some states; gives how many were answered for themselves.
fn compare_runs(machine: &Machine, states: &[&str]) -> (usize, usize) {
    let (short, own) = (Predictor::new(machine, Meter::ordinary()), for_itself(machine));
    let (mut all, mut solved) = (0, 0);
    for state in states.iter().map(|id| machine.state(id).unwrap()) {
        for faults in sets(machine) {
            let said = || format!("{faults:?} in {state:?}");
            all += 1;
            solved += usize::from(short.seen_in_run(state, &faults).is_none());
            for size in Size::of(machine, &faults) {
                let (one, other) = (short.settle_sized(state, &faults, size), own.settle_sized(state, &faults, size));
                assert_eq!(one, other, "{}", said());
            }
            let (one, other) = (short.ways(state, &faults), own.ways(state, &faults));
            assert_eq!(one.len(), other.len(), "{}", said());
            for (one, other) in one.iter().zip(other.iter()) {
                assert!(near(one.share, other.share) && one.values == other.values, "{}", said());
                for (one, other) in one.close_to.iter().zip(&other.close_to) {
                    let same = match (one, other) {
                        (Some((a, x)), Some((b, y))) => a == b && near(*x, *y),
                        (None, None) => true,
                        // On the very edge of what is close, rounding decides; the chance is nothing there.
                        (Some((_, x)), None) | (None, Some((_, x))) => *x <= 1e-9,
                    };
                    assert!(same, "{}: {one:?} and {other:?}", said());
                }
            }
        }
    }
    (all, solved)
}

#[test]
fn every_pair_goes_as_its_own_solution_says() {
    for (text, states) in [(DRYER, ["heat", "off", "ready", "low-heat"]), (RANGE, ["bake", "off", "lf", "broil"])] {
        let (all, solved) = compare_runs(&machine(text), &states);
        assert!(solved * 3 < all, "{solved} of {all}");
    }
}

/// Readings of each kind in a state, at the block and around the first machine part of a kind.
fn readings(machine: &Machine, state: StateId, kind: PartKind) -> Vec<Reading> {
    let of_kind = |branch: &machine::model::Branch| machine.parts[branch.part.index()].kind == kind;
    let around = BranchId(u16::try_from(machine.branches.iter().position(of_kind).unwrap()).unwrap());
    let load = &machine.branches[around.index()];
    let block: Vec<TerminalId> = machine.supply.block.iter().map(|(_, terminal)| *terminal).collect();
    let lifted = Condition { lifted: vec![machine.leads_at(load.from)[0]], ..Condition::isolated(state) };
    let (running, isolated) = (Condition::running(state), Condition::isolated(state));
    let (volts, ohms, frame) = (Quantity::Volts, Quantity::Ohms, machine.supply.frame);
    let reading = |quantity, a, b, condition: &Condition| Reading {
        quantity,
        probe: Probe::Across(a, b),
        condition: condition.clone(),
    };
    vec![
        reading(volts, block[0], block[1], &running),
        reading(volts, load.from, load.to, &running),
        reading(volts, load.to, frame, &running),
        reading(volts, block[0], block[1], &isolated),
        reading(ohms, block[0], block[1], &isolated),
        reading(ohms, load.from, load.to, &isolated),
        reading(ohms, load.from, load.to, &lifted),
        reading(ohms, load.from, frame, &lifted),
        Reading { quantity: Quantity::Amps, probe: Probe::Around(around), condition: running },
    ]
}

fn same_shown(one: Shown, other: Shown) -> bool {
    match (one, other) {
        (Shown::OverRange, Shown::OverRange) => true,
        (Shown::Ghost { highest: a }, Shown::Ghost { highest: b }) => near(a, b),
        (Shown::Value { value: a, sigma: x, .. }, Shown::Value { value: b, sigma: y, .. }) => near(a, b) && near(x, y),
        _ => false,
    }
}

/// Gives the sets of faults that some reading of a state was worked out for, of all.
fn compare_readings(machine: &Machine, state: &str, kind: PartKind) -> (usize, usize) {
    let (short, own) = (Predictor::new(machine, Meter::ordinary()), for_itself(machine));
    let state = machine.state(state).unwrap();
    let (mut all, mut solved) = (0, 0);
    for (turn, reading) in readings(machine, state, kind).into_iter().enumerate() {
        for (at, faults) in sets(machine).into_iter().enumerate() {
            let said = || format!("{faults:?} at {reading:?}");
            all += 1;
            solved += usize::from(short.seen_in_reading(&reading, &faults).is_none());
            let (one, other) = (short.predict_ways(&reading, &faults), own.predict_ways(&reading, &faults));
            // Where nothing of the build shows, one prediction may stand for all.
            assert!(machine.builds.len() > 1 || one.len() == other.len(), "{}", said());
            let count = one.len().max(other.len());
            for (one, other) in one.iter().cycle().zip(other.iter().cycle()).take(count) {
                assert!(same_shown(one.shown, other.shown), "{}: {one:?} and {other:?}", said());
            }
            // A factorisation of its own takes a hundred times as long: every pair has its turn in some reading.
            if at % FRESH == turn % FRESH {
                let (one, other) = (short.predict(&reading, &faults).shown, fresh(&own, &reading, &faults));
                let same = match (one, other) {
                    (Shown::Value { value, .. }, Some(other)) => near(value, other),
                    (Shown::Value { .. }, None) => false,
                    (Shown::OverRange | Shown::Ghost { .. }, other) => other.is_none(),
                };
                assert!(same, "{}: {one:?} and {other:?}", said());
            }
        }
    }
    (all, solved)
}

/// One in so many sets is solved afresh for each reading.
const FRESH: usize = 5;

/// Gives what the meter shows by a factorisation of the faulted network; `None` for over-range and across islands.
fn fresh(own: &Predictor<'_>, reading: &Reading, faults: &[FaultId]) -> Option<f64> {
    let (machine, meter, condition) = (own.machine(), own.meter(), &reading.condition);
    let effects = effects_of(machine, faults, Size::DESCRIBED);
    let direct = reading.quantity == Quantity::Ohms;
    let config =
        if condition.plugged { own.settle(condition.state, faults).config } else { hold(&effects, Config::default()) };
    let base = own.base((condition.state, false, condition.plugged, direct, config)).unwrap();
    let mut network = network(machine, &base.setting, config);
    for change in changes(machine, &effects, &base.setting, config) {
        match change {
            Change::Law(branch, law) => network.set_law(branch, law).unwrap(),
            Change::Bridge { a, b, impedance } => _ = network.add(a, b, Law::Impedance(impedance)),
        }
    }
    condition.lifted.iter().for_each(|&lead| network.set_law(net(lead), Law::Open).unwrap());
    let solved = network.solve().unwrap();
    let Probe::Across(a, b) = reading.probe else {
        let Probe::Around(branch) = reading.probe else { return None };
        return Some(magnitude(solved.current(net(branch))));
    };
    match solved.port(node_of(machine, a), node_of(machine, b)) {
        Port::Floating { .. } => None,
        Port::Tied { source_impedance, .. } if direct => {
            let ohms = source_impedance.re.max(0.0) + meter.lead_shown();
            (ohms <= meter.ohms_limit).then_some(ohms)
        }
        Port::Tied { open_volts, source_impedance } => {
            let input = Complex64::new(meter.volts_input_ohms, 0.0);
            Some(magnitude(open_volts * (input / (input + source_impedance))))
        }
    }
}

#[test]
fn every_pair_reads_as_its_own_solutions_say() {
    for (text, state) in [(DRYER, "heat"), (RANGE, "bake")] {
        let (all, solved) = compare_readings(&machine(text), state, PartKind::Heater);
        assert!(solved * 3 < all, "{solved} of {all}");
    }
}

/// What is idle is so in every build, and where a control feels the work of other parts.
#[test]
fn every_pair_goes_and_reads_so_in_every_build_and_where_a_control_feels() {
    let (dryer, range) = (laid_over(CONTROL, DRYER), laid_over(GAS_RANGE, GAS_OVEN));
    assert!(dryer.builds.len() > 1);
    for (machine, states) in [(&dryer, ["heat"]), (&range, ["steady"])] {
        let (all, solved) = compare_runs(machine, &states);
        assert!(solved < all, "{solved} of {all}");
    }
    let (all, solved) = compare_readings(&dryer, "heat", PartKind::Heater);
    assert!(solved < all, "{solved} of {all}");
}
