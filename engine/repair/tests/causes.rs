//! What brought about a fault is looked for before the machine is handed back, as long as the evidence has not excluded it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence};
use machine::model::{Machine, RepairId};
use prediction::{Meter, Predictor};
use repair::{Act, Bench, Prices, causes};

fn described(id: &str) -> Machine {
    let path = format!("{}/../../machines/{id}.toml", env!("CARGO_MANIFEST_DIR"));
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn repair(machine: &Machine, id: &str) -> RepairId {
    let index = machine.repairs.iter().position(|repair| repair.id == id).unwrap();
    RepairId(u16::try_from(index).unwrap())
}

/// Takes in a repair after which the state in which the trouble showed goes as on a sound machine.
fn mend(belief: &mut Belief<'_, '_>, bench: &mut Bench, (id, state): (&str, &str)) {
    let (machine, predictor) = (belief.machine(), belief.predictor());
    let (repair, state) = (repair(machine, id), machine.state(state).unwrap());
    belief.take(Evidence::Repaired(repair));
    bench.repaired.push(repair);
    predictor.observe(state, &[]).into_iter().for_each(|seen| belief.take(Evidence::Watched(seen)));
}

#[test]
fn ice_that_was_thawed_off_leaves_its_cause_to_be_read() {
    let machine = described("refrigerator-timer-120");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let (mut bench, prices) = (Bench::default(), Prices::default());
    assert_eq!(causes::owed(&belief, &bench, &prices), None);
    let iced = machine.faults.iter().find(|fault| fault.id == "evaporator:blocked").unwrap();
    belief.take(Evidence::Opinion { part: iced.part, times: 1e6 });
    mend(&mut belief, &mut bench, (&machine[iced.repair].id, "cooling"));
    // Everything runs as it should, and would ice up again within the week: the heater is open.
    let (act, cause) = causes::owed(&belief, &bench, &prices).unwrap();
    assert_eq!(machine[cause].id, "defrost-heater:open");
    assert!(!causes::left_open(&belief, &bench, &prices));
    let Act::Look(part) = act else { unreachable!("{act:?}") };
    belief.take(Evidence::Looked { part, damage: true });
    bench.looked.insert(part);
    assert!(causes::left_open(&belief, &bench, &prices));
    assert_eq!(causes::owed(&belief, &bench, &prices), None);
    mend(&mut belief, &mut bench, ("defrost-heater:replace", "cooling"));
    assert!(!causes::left_open(&belief, &bench, &prices));
}

#[test]
fn a_cause_that_the_run_excludes_is_not_looked_for() {
    let machine = described("dryer-timer-240");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let (mut bench, prices) = (Bench::default(), Prices::default());
    let fuse = machine.part("thermal-fuse").unwrap();
    let vent = machine.faults.iter().position(|fault| fault.id == "vent:blocked").unwrap();
    let vent = machine::model::FaultId(u16::try_from(vent).unwrap());
    belief.take(Evidence::Opinion { part: fuse, times: 1e6 });
    assert!(causes::share(&belief, vent) > 0.02);
    mend(&mut belief, &mut bench, ("thermal-fuse:replace", "heat"));
    // Air blows strongly, so the vent is free.
    assert!(causes::share(&belief, vent) < 0.02);
    assert!(causes::owed(&belief, &bench, &prices).is_none_or(|(_, cause)| cause != vent));
}
