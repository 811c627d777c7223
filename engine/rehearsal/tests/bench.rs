//! The bench heater, reckoned by hand: ledger, checklist, stop rule, the all-knowing technician.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Seen};
use rehearsal::ledger::{Ledger, REFER_MINUTES};
use rehearsal::{
    Case, Checklist, Complaint, End, Rehearsal, Settings, Strategy, Visit, all_knowing_minutes, confirming_minutes,
};
use repair::{Act, Hands, Prices};
use truth::{DrawSettings, Workshop};

fn bench_heater() -> Machine {
    let read = machine::read(include_str!("bench-heater.toml"));
    read.machine.unwrap_or_else(|| panic!("{:?}", read.diagnostics))
}

/// Prices in whole minutes, so that sums can be followed.
fn prices() -> Prices {
    Prices {
        reading: 1.0,
        set_controls: 0.5,
        lift_lead: 2.0,
        isolate: 10.0,
        energise: 20.0,
        look: 0.25,
        ..Prices::default()
    }
}

fn settings() -> Settings {
    let draw = DrawSettings {
        wrong_terminal: 0.0,
        bad_contact: 0.0,
        bad_part: 0.0,
        false_look: 0.0,
        ..DrawSettings::default()
    };
    Settings { draw, prices: prices(), nodes: 0, ..Settings::default() }
}

const CHECKLIST: &str = r#"
checklist = 1
machine = "bench-heater"

[[complaint]]
id = "no-heat"
say = "no heat"
when = [{ observe = "heat", state = "on", is = ["none", "weak"] }]
start = "fuse"

[[complaint]]
id = "other"
say = "anything else"
when = []
start = "try"

[step.try]
try = "on"
go = [{ observe = "heat", is = ["none", "weak"], to = "fuse" }]
else = "give-up"

[step.fuse]
read = { ohms = ["fuse.1", "fuse.2"], state = "off" }
go = [{ above = 5, to = "fuse-fix" }]
else = "look"

[step.fuse-fix]
repair = "fuse:open"
else = "look"

[step.look]
look = "element"
go = [{ shows = "element:open", to = "element-fix" }]
else = "switch-fix"

[step.element-fix]
repair = "element:open"
else = "switch-fix"

[step.switch-fix]
repair = "switch:c1-open"
else = "give-up"

[step.give-up]
refer = "not found"
"#;

fn ohms(machine: &Machine, a: &str, b: &str, lift: &[&str]) -> Act {
    let probe = Probe::Across(machine.terminal(a).unwrap(), machine.terminal(b).unwrap());
    let lifted = lift.iter().map(|lead| machine.branch(lead).unwrap()).collect();
    let condition = Condition { lifted, ..Condition::isolated(machine.state("on").unwrap()) };
    Act::Read(Reading { quantity: Quantity::Ohms, probe, condition }, Hands::Isolated)
}

/// The customer of this unit says that it does not heat.
fn no_heat(machine: &Machine, faults: &[&str]) -> Case<'static> {
    let machine: &'static Machine = Box::leak(Box::new(machine.clone()));
    let faults: Vec<_> = faults.iter().map(|fault| machine.fault(fault).unwrap()).collect();
    let unit = Workshop::new(machine).unit(1, &settings().draw, &faults);
    let what = machine.observation("heat").unwrap();
    let troubles = vec![Seen { state: machine.state("on").unwrap(), what, value: 0 }];
    let complaint = Complaint { troubles, works: Vec::new(), comes_and_goes: false };
    Case { seed: 1, unit, complaint, planted: None }
}

fn by_checklist(faults: &[&str]) -> Visit {
    let machine = bench_heater();
    let case = no_heat(&machine, faults);
    let predictor = Predictor::new(case.unit.machine(), Meter::ordinary());
    let checklist = Checklist::read(&machine, CHECKLIST).unwrap();
    let rehearsal = Rehearsal::new(&predictor, 1, settings()).unwrap().with_checklist(checklist);
    rehearsal.visit(&case, Strategy::Checklist).unwrap()
}

#[track_caller]
fn same(minutes: f64, reckoned: f64) {
    assert!((minutes - reckoned).abs() < 1e-9, "{minutes} minutes, reckoned {reckoned}");
}

#[test]
fn ledger_counts_what_hands_do() {
    let (machine, prices) = (bench_heater(), prices());
    let mut ledger = Ledger::new(&machine, &prices);
    // Isolate 10, lid 2, set the switch 0.5, read 1.
    ledger.find(&ohms(&machine, "fuse.1", "fuse.2", &[]));
    same(ledger.minutes(), 13.5);
    // Isolated and open still: box 4, set 0.5, lead 2, read 1.
    ledger.find(&ohms(&machine, "element.1", "element.2", &["3"]));
    same(ledger.minutes(), 21.0);
    ledger.find(&Act::Look(machine.part("element").unwrap()));
    same(ledger.minutes(), 21.25);
    // To run, the box goes back on (5) and the lid may stay off; energise 20, the state 1, watch 0.5.
    ledger.run(machine.state("on").unwrap());
    same(ledger.minutes(), 47.75);
    assert!(!ledger.isolated());
    // Isolate 10 and box 4 again; the lid is still off. Fitting the element takes 8.
    let element = machine.repair("element:replace").unwrap();
    same(ledger.start_repair(element), 61.75);
    ledger.finish_repair(element);
    same(ledger.minutes(), 69.75);
    // Box 5, lid 3, energise 20.
    ledger.close_up(false);
    same(ledger.minutes(), 97.75);
    let counts = ledger.counts();
    assert_eq!((counts.readings, counts.looks, counts.tries, counts.covers_off, counts.repairs), (2, 1, 1, 3, 1));
    assert_eq!((counts.supply_and_proving_readings, counts.open_energised_probing), (2, 0));
}

#[test]
fn checklist_finds_the_fuse_in_the_minutes_reckoned_by_hand() {
    let visit = by_checklist(&["fuse:open"]);
    assert_eq!((visit.end, visit.right, visit.needless_parts), (End::Proved, true, 0));
    // Isolate 10, lid 2, read 1: there it starts.
    same(visit.minutes, 13.0);
    // Fit 2, energise 20, run 1.5, the state `off` for 0.5; then to prove isolate 10, the bond 1, each pair of three slots
    // 2; the lid 3, energise 20.
    same(visit.minutes_in_all, 13.0 + 2.0 + 20.0 + 1.5 + 0.5 + 10.0 + 1.0 + 6.0 + 3.0 + 20.0);
    // Proved dead twice, the bond and the three pairs: none of them is a reading to find with.
    assert_eq!((visit.counts.supply_and_proving_readings, visit.counts.readings), (2 + 1 + 3, 1));
}

#[test]
fn wrong_change_is_counted_and_its_minutes_are_on_the_way() {
    let visit = by_checklist(&["2:open"]);
    // The fuse reads sound, the element looks sound, the switch is changed for nothing, then it is given up.
    assert_eq!((visit.end, visit.right, visit.needless_parts, visit.callback), (End::Referred, false, 1, false));
    // Isolate 10, lid 2, read 1, box 4, look 0.25, switch 5; box on 5, energise 20, run 1.5; refer; isolate 10, lid 3,
    // energise 20.
    same(visit.minutes, 48.75 + REFER_MINUTES + 10.0 + 3.0 + 20.0);
    same(visit.minutes_in_all, visit.minutes);
}

#[test]
fn second_fault_is_gone_on_to() {
    let visit = by_checklist(&["fuse:open", "element:open"]);
    assert_eq!((visit.end, visit.right, visit.needless_parts), (End::Proved, true, 0));
    // 13 to the fuse, 2 to fit it, 21.5 to see that it does not heat, isolate 10, box 4, look 0.25.
    same(visit.minutes, 13.0 + 2.0 + 21.5 + 10.0 + 4.0 + 0.25);
}

#[test]
fn all_knowing_goes_straight_to_the_cure() {
    let machine = bench_heater();
    let knowing = |faults: &[&str]| all_knowing_minutes(&no_heat(&machine, faults).unit, &prices());
    same(knowing(&["fuse:open"]), 12.0);
    same(knowing(&["element:open"]), 16.0);
    // Fuse first (fit 2), then the box: 10 + 2 + 2 + 4; the element first would take 10 + 6 + 8.
    same(knowing(&["fuse:open", "element:open"]), 18.0);
    // A lost leg is named without touching a thing.
    same(knowing(&["house:leg1-lost"]), 0.0);
}

#[test]
fn one_who_must_confirm_takes_one_reading_look_or_run_more() {
    let machine = bench_heater();
    let confirming = |faults: &[&str]| confirming_minutes(&no_heat(&machine, faults).unit, &prices());
    // 16 to get to the element, and a look (0.25) is less than the run before it (1.5). A burnt element always shows.
    same(confirming(&["element:open"]), 16.25);
    // A lost leg is seen in a run of 1.5, which is less than isolating to read it.
    same(confirming(&["house:leg1-lost"]), 1.5);
    // Fuse first, blown for all to see: isolate 10, lid 2, look 0.25, fit 2, energise 20, run 1.5, isolate 10, box 4. The
    // element first: 10, 6 in, look 0.25, fit 8, box 5, energise 20, run 1.5, isolate 10.
    same(confirming(&["fuse:open", "element:open"]), 14.25 + 21.5 + 14.0);
}

#[test]
fn checklist_says_everything_that_does_not_fit_at_once() {
    let text = CHECKLIST
        .replace("fuse.2", "fuse.9")
        .replace("to = \"look\"", "to = \"lok\"")
        .replace("else = \"switch-fix\"", "else = \"swich-fix\"")
        .replace("element:open\", to", "element:opn\", to");
    let error = Checklist::read(&bench_heater(), &text).unwrap_err();
    let all = error.to_string();
    for word in ["fuse.9", "swich-fix", "element:opn"] {
        assert!(all.contains(word), "{word} is missing in: {all}");
    }
}
