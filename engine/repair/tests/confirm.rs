//! A part is read at itself before it is changed.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence, Measured};
use machine::model::{Machine, RepairId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading};
use repair::confirm::confirmation_missing;
use repair::{Act, Bench, Prices};

fn dryer() -> Machine {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/dryer-timer-240.toml");
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn terminal(machine: &Machine, name: &str) -> TerminalId {
    let index = machine.terminals.iter().position(|terminal| terminal.name == name).unwrap();
    TerminalId(u16::try_from(index).unwrap())
}

#[test]
fn an_open_heater_is_owed_a_reading_across_it_and_no_more_once_it_was_read() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let heater = machine.part("heater").unwrap();
    let change = machine.repairs.iter().position(|repair| repair.id == "heater:replace").unwrap();
    let change = RepairId(u16::try_from(change).unwrap());
    belief.take(Evidence::Opinion { part: heater, times: 1e6 });
    let (a, b) = (terminal(&machine, "heater.1"), terminal(&machine, "heater.2"));
    let probe = Probe::Across(a.min(b), a.max(b));
    let across = Reading { quantity: Quantity::Ohms, probe, condition: Condition::isolated(StateId(0)) };
    let (bench, prices) = (Bench::default(), Prices::default());
    let owed = confirmation_missing(&belief, &bench, &prices, change).unwrap();
    assert!(matches!(&owed, Act::Read(reading, _) if reading.probe == probe), "{owed:?}");
    belief.take(Evidence::Read { reading: across, measured: Measured::OverRange });
    assert_eq!(confirmation_missing(&belief, &bench, &prices, change), None);
}
