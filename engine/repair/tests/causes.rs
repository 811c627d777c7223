//! What brought about a fault is looked for before the machine is handed back, as long as the evidence has not excluded it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence};
use machine::model::{FaultId, Machine, RepairId};
use prediction::{Meter, Predictor};
use repair::causes::{Causes, of_mended};
use repair::{Act, Bench, Prices};

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

fn share(belief: &Belief<'_, '_>, fault: FaultId) -> f64 {
    belief.shares().iter().filter(|(suspect, _)| suspect.0.contains(&fault)).map(|(_, share)| share).sum()
}

#[test]
fn ice_that_was_thawed_off_leaves_its_cause_to_be_read() {
    let machine = described("refrigerator-timer-120");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let (mut bench, prices) = (Bench::default(), Prices::default());
    assert_eq!(of_mended(&belief, &bench, &prices), Causes::Settled);
    let iced = machine.faults.iter().find(|fault| fault.id == "evaporator:blocked").unwrap();
    belief.take(Evidence::Opinion { part: iced.part, times: 1e6 });
    mend(&mut belief, &mut bench, (&machine[iced.repair].id, "cooling"));
    // Everything runs as it should, and would ice up again within the week: the heater is open.
    let owed = of_mended(&belief, &bench, &prices);
    let Causes::Owed { act: Act::Look(part), cause, .. } = owed else { unreachable!("{owed:?}") };
    assert_eq!(machine[cause].id, "defrost-heater:open");
    belief.take(Evidence::Looked { part, damage: true });
    bench.looked.insert(part);
    assert_eq!(of_mended(&belief, &bench, &prices), Causes::LeftOpen);
    mend(&mut belief, &mut bench, ("defrost-heater:replace", "cooling"));
    assert_ne!(of_mended(&belief, &bench, &prices), Causes::LeftOpen);
}

#[test]
fn a_cause_that_the_run_excludes_is_not_looked_for() {
    let machine = described("dryer-timer-240");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut belief = Belief::new(&predictor, Assumptions::default());
    let (mut bench, prices) = (Bench::default(), Prices::default());
    let fuse = machine.part("thermal-fuse").unwrap();
    let vent = machine.faults.iter().position(|fault| fault.id == "vent:blocked").unwrap();
    let vent = FaultId(u16::try_from(vent).unwrap());
    belief.take(Evidence::Opinion { part: fuse, times: 1e6 });
    assert!(share(&belief, vent) > 0.02);
    mend(&mut belief, &mut bench, ("thermal-fuse:replace", "heat"));
    // Air blows strongly, so the vent is free.
    assert!(share(&belief, vent) < 0.02);
    let owed = of_mended(&belief, &bench, &prices);
    assert!(!matches!(owed, Causes::Owed { cause, .. } if cause == vent), "{owed:?}");
}
