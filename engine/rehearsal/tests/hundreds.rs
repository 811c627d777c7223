//! Three hundred calls by the tool, two thirds of them on the bench heater: it is right, its needless parts stay few, and
//! it never probes by hand in a live machine.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use prediction::{Meter, Predictor};
use rehearsal::{Measures, Rehearsal, Settings, Strategy, Visit};

/// Few states for a decision, so that the calls are through soon in an unoptimised build.
const NODES: usize = 20;

fn read(path: &str) -> Machine {
    let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn played(path: &str, calls: usize) -> Vec<Visit> {
    let machine = read(path);
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 1, Settings { nodes: NODES, ..Settings::default() }).unwrap();
    let visit = |call| rehearsal.visit(&rehearsal.case(rehearsal.call_seed(call)), Strategy::Tool).unwrap();
    (0..calls).map(visit).collect()
}

#[test]
fn tool_finds_the_fault_in_300_calls_and_its_needless_parts_stay_few() {
    let mut visits = played("tests/bench-heater.toml", 220);
    visits.extend(played("../../machines/dryer-timer-240.toml", 50));
    visits.extend(played("../../machines/range-control-240.toml", 30));
    let told = Measures::of(&visits);
    assert!(told.first_visit_fix >= 0.97, "{told:?}");
    assert!(told.needless_parts_per_100 <= 3.0, "{told:?}");
    let probed: u32 = visits.iter().map(|visit| visit.counts.open_energised_probing).sum();
    assert_eq!((visits.len(), probed), (300, 0));
}
