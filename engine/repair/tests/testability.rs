//! What can be told apart on the dryer, with its places open and with one closed.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use machine::Machine;
use machine::model::{PlaceId, TerminalId};
use prediction::{Meter, Predictor, Probe};
use repair::testability::{Testability, testability};
use std::collections::BTreeSet;

fn dryer() -> Machine {
    machine::read(include_str!("../../../machines/dryer-timer-240.toml")).machine.unwrap()
}

fn points_at(machine: &Machine, place: &str) -> BTreeSet<TerminalId> {
    let place = PlaceId(machine.access.places.iter().position(|p| p.id == place).unwrap().try_into().unwrap());
    (0..).map(TerminalId).zip(&machine.terminals).filter(|(_, t)| t.place == place).map(|(id, _)| id).collect()
}

fn together(machine: &Machine, found: &Testability, ids: [&str; 2]) -> bool {
    let has = |group: &repair::testability::Twins, id: &str| group.faults.iter().any(|f| machine[*f].id == id);
    found.twins.iter().any(|group| ids.iter().all(|id| has(group, id)))
}

#[test]
fn no_meter_tells_a_seized_drum_from_a_seized_motor_and_every_lead_of_the_heat_is_told_from_the_heater() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let found = testability(&predictor, &BTreeSet::new());
    assert_eq!(found.faults, machine.faults.len());
    assert!(together(&machine, &found, ["motor:seized", "drum:seized"]), "{found:#?}");
    assert!(!together(&machine, &found, ["heater:open", "R6:open"]));
    assert!(!together(&machine, &found, ["heater:open", "high-limit:stuck-open"]));
    // With nothing lost between them no point parts what only looks apart.
    let seized = found.twins.iter().find(|g| g.faults.iter().any(|f| machine[*f].id == "drum:seized")).unwrap();
    assert!(seized.added.is_none() && seized.look > 0.5);
    let silent: Vec<&str> = found.silent.iter().map(|f| machine[*f].id.as_str()).collect();
    assert!(silent.contains(&"high-limit:welded") && !silent.contains(&"heater:grounded"), "{silent:?}");
}

#[test]
fn with_the_heater_box_closed_its_parts_are_one_and_a_point_inside_parts_them() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let closed = points_at(&machine, "heater-box");
    let found = testability(&predictor, &closed);
    assert!(together(&machine, &found, ["heater:open", "high-limit:stuck-open"]), "{found:#?}");
    let group = found.twins.iter().find(|g| g.faults.iter().any(|f| machine[*f].id == "heater:open")).unwrap();
    let Probe::Across(a, b) = group.added.as_ref().unwrap().probe else { unreachable!() };
    assert!(closed.contains(&a) || closed.contains(&b));
    assert!(!group.added.as_ref().unwrap().condition.plugged);
}
