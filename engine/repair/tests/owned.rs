//! Only readings that the technician's own meters can take are proposed.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use diagnosis::{Assumptions, Belief, Evidence};
use machine::model::{Machine, PartKind, StateId};
use prediction::{Functions, Meter, Predictor, Probe, Quantity, Reading, Seen};
use repair::candidates::candidates;
use repair::{Act, Bench, Prices, advise};
use std::collections::BTreeSet;

fn dryer() -> Machine {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/dryer-timer-240.toml");
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn owning(volts: bool, ohms: bool, clamp: bool) -> Meter {
    let functions = Functions { volts, ohms, clamp, ..Meter::ordinary().functions };
    Meter { functions, ..Meter::ordinary() }
}

fn offered(machine: &Machine, meter: &Meter) -> Vec<Reading> {
    let bench = Bench { trouble: vec![StateId(1)], ..Bench::default() };
    let every = (0..machine.parts.len()).map(|p| machine::model::PartId(u16::try_from(p).unwrap()));
    let suspected: BTreeSet<_> = every.collect();
    let acts = candidates(machine, &bench, meter, &suspected);
    acts.into_iter().filter_map(|act| if let Act::Read(reading, _) = act { Some(reading) } else { None }).collect()
}

fn some(readings: &[Reading], quantity: Quantity) -> bool {
    readings.iter().any(|reading| reading.quantity == quantity)
}

#[test]
fn a_clamp_is_offered_around_heaters_and_motors_only_where_one_is_owned() {
    let machine = dryer();
    assert!(!some(&offered(&machine, &Meter::ordinary()), Quantity::Amps));
    let with_clamp = offered(&machine, &owning(true, true, true));
    let around: BTreeSet<PartKind> = with_clamp
        .iter()
        .filter_map(|reading| match reading.probe {
            Probe::Around(branch) => Some(machine[machine[branch].part].kind),
            Probe::Across(..) => None,
        })
        .collect();
    assert_eq!(around, BTreeSet::from([PartKind::Heater, PartKind::Motor]));
    // Under current, with the trouble showing; never on the isolated machine.
    for reading in with_clamp.iter().filter(|reading| reading.quantity == Quantity::Amps) {
        assert!(reading.condition.plugged && reading.condition.state == StateId(1));
    }
}

#[test]
fn a_clamp_changes_nothing_else_that_is_offered() {
    let machine = dryer();
    let mut with_clamp = offered(&machine, &owning(true, true, true));
    with_clamp.retain(|reading| reading.quantity != Quantity::Amps);
    assert_eq!(with_clamp, offered(&machine, &Meter::ordinary()));
}

#[test]
fn ohms_and_volts_are_offered_only_with_a_meter_for_them() {
    let machine = dryer();
    let volts_only = offered(&machine, &owning(true, false, false));
    assert!(some(&volts_only, Quantity::Volts) && !some(&volts_only, Quantity::Ohms));
    let ohms_only = offered(&machine, &owning(false, true, false));
    assert!(some(&ohms_only, Quantity::Ohms) && !some(&ohms_only, Quantity::Volts));
    assert_eq!(offered(&machine, &owning(false, false, false)), []);
}

/// Every reading that is advised against a dryer that tumbles and stays cold.
fn advised(machine: &Machine, meter: Meter) -> Vec<Quantity> {
    let predictor = Predictor::new(machine, meter);
    let (state, seen) = cold(&predictor);
    let mut belief = Belief::new(&predictor, Assumptions::default());
    belief.take(Evidence::Reported(seen));
    let bench = Bench { trouble: vec![state], ..Bench::default() };
    let steps = advise(&belief, &bench, &Prices::default(), 2000).unwrap();
    steps
        .iter()
        .filter_map(|step| if let Act::Read(reading, _) = &step.act { Some(reading.quantity) } else { None })
        .collect()
}

/// The first state that heats when sound, and no heat there.
fn cold(predictor: &Predictor<'_>) -> (StateId, Seen) {
    let machine = predictor.machine();
    let heats =
        |seen: &Seen| matches!(machine[seen.what].of, machine::model::Observed::Heats { .. }) && seen.value == 2;
    let sound = predictor.state_ids().find_map(|state| predictor.observe(state, &[]).into_iter().find(heats));
    let sound = sound.unwrap();
    (sound.state, Seen { value: 0, ..sound })
}

#[test]
fn with_a_clamp_alone_the_advice_asks_for_no_volts_and_no_ohms() {
    let machine = dryer();
    let ordinary = advised(&machine, Meter::ordinary());
    assert!(!ordinary.is_empty() && !ordinary.contains(&Quantity::Amps), "{ordinary:?}");
    let clamp = advised(&machine, owning(false, false, true));
    assert!(clamp.iter().all(|quantity| *quantity == Quantity::Amps), "{clamp:?}");
}

#[test]
fn a_capacitance_is_offered_across_capacitors_with_a_lead_lifted_only_where_a_meter_takes_it() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../machine/tests/good/oven.toml");
    let oven = machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap();
    assert!(!some(&offered(&oven, &Meter::ordinary()), Quantity::Farads));
    let functions = Functions { capacitance: true, ..Meter::ordinary().functions };
    let all = offered(&oven, &Meter { functions, ..Meter::ordinary() });
    let farads: Vec<&Reading> = all.iter().filter(|reading| reading.quantity == Quantity::Farads).collect();
    let capacitors = oven.parts.iter().filter(|part| part.kind == PartKind::Capacitor).count();
    assert!(capacitors > 0 && farads.len() == capacitors, "{} of {capacitors}", farads.len());
    for reading in farads {
        let Probe::Across(a, b) = reading.probe else { panic!("a clamp tells no capacitance") };
        assert_eq!(oven[oven[a].part].kind, PartKind::Capacitor);
        assert_eq!(oven[a].part, oven[b].part);
        assert!(!reading.condition.plugged && !reading.condition.lifted.is_empty());
        // It tells a weak one from a sound one.
        let weak = oven.faults.iter().position(|f| f.part == oven[a].part && f.id.ends_with(":weak")).unwrap();
        let weak = [machine::model::FaultId(u16::try_from(weak).unwrap())];
        let predictor = Predictor::new(&oven, Meter::ordinary());
        let (meter, shown) = (predictor.meter(), |faults: &[_]| predictor.predict(reading, faults));
        let (sound, weak) =
            (shown(&[]).interval(Quantity::Farads, meter), shown(&weak).interval(Quantity::Farads, meter));
        assert!(weak.1 < sound.0, "{weak:?} {sound:?}");
    }
}
