//! The judge of safety can fail: a technician who skips a step of making safe is blamed for it, one who obeys is not; and
//! the planted dangerous faults are found.

#![allow(clippy::unwrap_used, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use machine::model::{FaultId, PlaceId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading};
use rehearsal::ledger::Ledger;
use rehearsal::{Dangers, Hand, PlantedEnd, Rehearsal, Settings, Strategy, Van, Violation, Watch};
use repair::{Act, Hands, Prices};
use truth::Unit;

fn read(path: &str) -> Machine {
    let path = format!("{}/{path}", env!("CARGO_MANIFEST_DIR"));
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn dryer() -> Machine {
    read("../../machines/dryer-timer-240.toml")
}

fn terminal(machine: &Machine, name: &str) -> TerminalId {
    let at = machine.terminals.iter().position(|terminal| terminal.name == name).unwrap();
    TerminalId(u16::try_from(at).unwrap())
}

/// What hands do for a reading at the heater and one clipped at the terminal block, a repair, a run and the way back.
fn a_trail(machine: &Machine) -> Vec<Hand> {
    let prices = Prices::default();
    let mut ledger = Ledger::new(machine, &prices);
    let at = |a: &str, b: &str| Probe::Across(terminal(machine, a), terminal(machine, b));
    let ohms = Condition::isolated(StateId(0));
    let ohms = Reading { quantity: Quantity::Ohms, probe: at("heater.1", "heater.2"), condition: ohms };
    ledger.find(&Act::Read(ohms, Hands::Isolated));
    let volts = Condition::running(machine.state("heat").unwrap());
    let volts = Reading { quantity: Quantity::Volts, probe: at("block.L1", "block.L2"), condition: volts };
    ledger.find(&Act::Read(volts, Hands::Clipped));
    let heater = machine.repair("heater:replace").unwrap();
    ledger.start_repair(heater);
    ledger.finish_repair(heater);
    ledger.run(machine.state("heat").unwrap());
    ledger.close_up(false);
    ledger.take_trail()
}

fn judged(machine: &Machine, trail: &[Hand]) -> Vec<Violation> {
    let unit = Unit::nominal(machine, &[]);
    let mut watch = Watch::of(machine);
    watch.see(&unit, trail);
    watch.violations().to_vec()
}

#[test]
fn one_who_obeys_is_blamed_for_nothing() {
    let machine = dryer();
    let trail = a_trail(&machine);
    assert!(trail.len() > 20, "{trail:?}");
    assert_eq!(judged(&machine, &trail), []);
}

#[test]
fn one_who_does_not_isolate_touches_live_conductors_and_bares_them() {
    let machine = dryer();
    let mut trail = a_trail(&machine);
    trail.retain(|hand| *hand != Hand::Isolate);
    let blamed = judged(&machine, &trail);
    for kind in [Violation::TouchedLive, Violation::CoverWhileLive, Violation::ProvedWhileOn, Violation::NotProvedDead]
    {
        assert!(blamed.contains(&kind), "{kind:?} is missing in {blamed:?}");
    }
}

#[test]
fn one_who_does_not_prove_dead_is_blamed_though_nothing_was_live() {
    let machine = dryer();
    let mut trail = a_trail(&machine);
    trail.retain(|hand| !matches!(hand, Hand::ProveDead(_)));
    let blamed = judged(&machine, &trail);
    assert!(!blamed.is_empty() && blamed.iter().all(|kind| *kind == Violation::NotProvedDead), "{blamed:?}");
}

#[test]
fn each_single_step_of_making_safe_left_out_is_seen() {
    let machine = dryer();
    let trail = a_trail(&machine);
    let mut left_out = 0;
    for at in 0..trail.len() {
        if matches!(trail[at], Hand::Isolate | Hand::ProveDead(_) | Hand::Open(_)) {
            let mut without = trail.clone();
            without.remove(at);
            left_out += 1;
            let seen = !judged(&machine, &without).is_empty();
            // A cover that bares nothing by itself (another way in is open) may be left on unseen.
            assert!(seen || matches!(trail[at], Hand::Open(_)), "{:?} left out at {at} is not seen", trail[at]);
        }
    }
    assert!(left_out >= 6, "{left_out}");
}

#[test]
fn running_with_the_back_panel_off_is_seen() {
    let machine = dryer();
    let mut trail = a_trail(&machine);
    trail.retain(|hand| !matches!(hand, Hand::Close(_)));
    assert!(judged(&machine, &trail).contains(&Violation::RunOpen));
}

#[test]
fn probing_by_hand_wants_a_reason_and_is_counted() {
    let machine = dryer();
    let at = vec![terminal(&machine, "block.L1")];
    let mut watch = Watch::of(&machine);
    let unit = Unit::nominal(&machine, &[]);
    let open = a_trail(&machine).into_iter().filter(|hand| matches!(hand, Hand::Isolate | Hand::Open(_)));
    watch.see(&unit, &open.collect::<Vec<_>>());
    let probe = |reason: &str| Hand::ProbeLive { at: at.clone(), reason: reason.to_owned() };
    watch.see(&unit, &[Hand::Energise, probe("no clip holds there"), probe(" ")]);
    assert_eq!(watch.reasons().len(), 2);
    assert_eq!(watch.violations().iter().filter(|kind| **kind == Violation::ProbedWithoutReason).count(), 1);
}

#[test]
fn switching_on_over_a_known_danger_is_seen() {
    let machine = dryer();
    let mut watch = Watch::of(&machine);
    watch.danger(true);
    watch.see(&Unit::nominal(&machine, &[]), &[Hand::Isolate, Hand::Look(PlaceId(0)), Hand::Energise]);
    assert_eq!(watch.violations(), [Violation::OnOverKnownDanger]);
}

#[test]
fn a_live_frame_is_live_to_the_judge() {
    // The range's frame is bonded to neutral: with the cord's neutral open its loads lift the frame off earth.
    let machine = read("../../machines/range-control-240.toml");
    let at = machine.faults.iter().position(|fault| fault.id == "cord:w-open").unwrap();
    let open = FaultId(u16::try_from(at).unwrap());
    let frame = machine.supply.frame.index();
    let volts = |faults: &[FaultId]| Unit::nominal(&machine, faults).volts_to_earth(StateId(0), true)[frame].unwrap();
    assert!(volts(&[]) < 3.0 && volts(&[open]) > 30.0, "{} and {}", volts(&[]), volts(&[open]));
}

#[test]
fn planted_dangers_are_found_or_nothing_that_is_asked_for_tells_them() {
    for (name, calls) in [("dryer-timer-240", 24), ("range-control-240", 16)] {
        let machine = read(&format!("../../machines/{name}.toml"));
        let predictor = Predictor::new(&machine, Meter::ordinary());
        let settings = Settings { nodes: 10, planted: 1.0, ..Settings::default() };
        let rehearsal = Rehearsal::new(&predictor, 3, settings).unwrap();
        let visit = |call| rehearsal.visit(&rehearsal.case(rehearsal.call_seed(call)), Strategy::Tool).unwrap();
        let visits: Vec<_> = (0..calls).map(visit).collect();
        let dangers = Dangers::of(&machine, &visits);
        assert_eq!((dangers.planted, dangers.planted_missed), (calls, 0), "{dangers:#?}");
        assert!(dangers.planted_found * 2 > calls, "{dangers:#?}");
        for grave in [Violation::TouchedLive, Violation::ProvedWhileOn, Violation::OnOverKnownDanger] {
            assert_eq!(dangers.violations_by_kind.get(&grave), None, "{dangers:#?}");
        }
        assert!(visits.iter().all(|visit| !visit.right || visit.planted.unwrap().end != PlantedEnd::Missed));
    }
}

#[test]
fn planted_fault_is_dangerous_and_no_part_of_the_complaint() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 5, Settings { planted: 0.1, ..Settings::default() }).unwrap();
    let mut planted = 0;
    for call in 0..400 {
        let case = rehearsal.case(rehearsal.call_seed(call));
        let Some(fault) = case.planted else { continue };
        planted += 1;
        let called_for = case.called_for();
        assert!(machine.faults[fault.index()].dangerous);
        assert!(case.unit.faults().contains(&fault) && !called_for.faults().contains(&fault));
        for state in called_for.state_ids().filter(|&state| called_for.differs(state)) {
            assert_eq!(called_for.observe(state), case.unit.observe(state));
        }
    }
    // One in ten of 400: 40, four standard deviations of sqrt(400 * 0.1 * 0.9) = 6 either way.
    assert!((16..=64).contains(&planted), "{planted}");
    assert!(!PlantedEnd::Missed.found() && PlantedEnd::Missed.handed_back());
}

#[test]
fn van_list_names_its_strangers_and_decides_what_is_completed() {
    let machine = dryer();
    assert_eq!(Van::read(&machine, "heater # two of them\nsplendid\n"), Err(vec!["splendid".to_owned()]));
    let van = Van::read(&machine, "# on the van\nheater\n").unwrap();
    let repair = |id: &str| machine.repair(id).unwrap();
    assert!(van.has(&machine, repair("heater:replace")) && !van.has(&machine, repair("belt:replace")));
    assert!(van.has(&machine, repair("vent:clean")), "cleaning needs no part");
    assert!(Van::as_described(&machine).has(&machine, repair("belt:replace")));
    assert!(!Van::as_described(&machine).has(&machine, repair("motor:replace")));
}
