//! Whole rehearsals: the same seed gives the same report, remembered decisions change nothing, nobody beats the one who
//! knows, and the shipped checklists can be followed.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use prediction::{Meter, Predictor};
use rehearsal::{Checklist, Rehearsal, Settings, Strategy, all_knowing_minutes, confirming_minutes, gather, rehearse};

fn bench_heater() -> Machine {
    machine::read(include_str!("bench-heater.toml")).machine.unwrap()
}

fn shipped(name: &str) -> Machine {
    let path = format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn quick() -> Settings {
    Settings { nodes: 0, ..Settings::default() }
}

#[test]
fn same_seed_gives_the_same_report_and_another_seed_another() {
    let machine = bench_heater();
    let report = |seed| rehearse(&machine, 8, seed, &quick()).unwrap();
    assert_eq!(report(1), report(1));
    assert_ne!(report(1).tool, report(2).tool);
}

#[test]
fn remembered_decisions_change_no_visit() {
    let machine = bench_heater();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let with = Rehearsal::new(&predictor, 3, quick()).unwrap();
    let without = Rehearsal::new(&predictor, 3, Settings { remember: false, ..quick() }).unwrap();
    for call in 0..12 {
        let case = with.case(with.call_seed(call));
        for strategy in [Strategy::Tool, Strategy::ValueOfInformation] {
            assert_eq!(with.visit(&case, strategy).unwrap(), without.visit(&case, strategy).unwrap());
        }
    }
}

#[test]
fn nobody_beats_the_one_who_knows() {
    let machine = bench_heater();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 5, quick()).unwrap();
    let mut right = 0;
    for call in 0..24 {
        let case = rehearsal.case(rehearsal.call_seed(call));
        let called_for = case.called_for();
        let least = all_knowing_minutes(&called_for, &quick().prices);
        assert!(confirming_minutes(&called_for, &quick().prices) >= least, "confirming costs something");
        for strategy in Strategy::ALL.into_iter().filter(|&strategy| strategy != Strategy::Checklist) {
            let visit = rehearsal.visit(&case, strategy).unwrap();
            if visit.right {
                right += 1;
                assert!(visit.minutes >= least - 1e-9, "{visit:?} beats {least}");
            }
        }
    }
    assert!(right > 60, "only {right} of 120 visits were right");
}

#[test]
fn checklist_of_the_dryer_is_followed_and_beats_nobody_who_knows() {
    let machine = shipped("dryer-timer-240");
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 7, quick()).unwrap();
    for call in 0..6 {
        let case = rehearsal.case(rehearsal.call_seed(call));
        let visit = rehearsal.visit(&case, Strategy::Checklist).unwrap();
        let called_for = case.called_for();
        let least = all_knowing_minutes(&called_for, &quick().prices);
        assert!(!visit.right || visit.minutes >= least - 1e-9, "{visit:?} beats {least}");
        assert!(visit.minutes_in_all >= visit.minutes);
    }
}

#[test]
fn shipped_checklists_name_only_what_their_machines_have() {
    for name in ["dryer-timer-240", "range-control-240"] {
        let path = format!("{}/checklists/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let read = Checklist::read(&shipped(name), &std::fs::read_to_string(path).unwrap());
        assert!(read.is_ok(), "{}", read.unwrap_err());
    }
}

#[test]
fn tool_takes_two_calls_on_the_dryer() {
    let machine = shipped("dryer-timer-240");
    let report = rehearse(&machine, 2, 11, &quick()).unwrap();
    assert_eq!((report.calls, report.machine.as_str()), (2, "dryer-timer-240"));
    assert!(
        report.all_knowing_minutes <= report.tool.minutes_in_all
            && report.tool.minutes_to_find <= report.tool.minutes
            && report.tool.minutes <= report.tool.minutes_in_all
    );
    assert!(report.rivals.checklist.is_some());
}

#[test]
fn trace_tells_the_same_visit() {
    let machine = bench_heater();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 9, quick()).unwrap();
    let case = rehearsal.case(rehearsal.call_seed(0));
    let (visit, trace) = rehearsal.trace(&case, Strategy::Tool).unwrap();
    assert_eq!(visit, rehearsal.visit(&case, Strategy::Tool).unwrap());
    assert!(!trace.lines.is_empty() && !trace.truth.is_empty());
}

#[test]
fn every_step_states_beliefs_and_not_only_sure_ones() {
    let report = rehearse(&bench_heater(), 24, 1, &quick()).unwrap();
    let unsure = |told: &rehearsal::Calibration| told.bins[..9].iter().map(|bin| bin.count).sum::<usize>();
    assert!(unsure(&report.calibration_of_leading) > 10, "{:?}", report.calibration_of_leading);
    assert!(report.calibration_of_leading.count > report.calibration.count);
    assert!(report.calibration_of_suspects.count > report.calibration_of_leading.count);
    assert!(report.calibration_of_suspects.bins[0].count > 0, "{:?}", report.calibration_of_suspects);
}

#[test]
fn weights_known_change_the_beliefs_and_not_the_calls() {
    let machine = bench_heater();
    let told = |weights_known| {
        let settings = Settings { weights_known, ..quick() };
        gather(&machine, 8, 2, &settings, &[Strategy::Tool], &mut |_| ()).unwrap()
    };
    let (usual, known) = (told(false), told(true));
    assert_eq!(usual.all_knowing, known.all_knowing);
    assert_ne!(usual.report().calibration_of_leading, known.report().calibration_of_leading);
    assert_eq!(usual.lost_against(&usual), (0.0, 0.0));
}

#[test]
fn report_has_its_keys_in_json() {
    let report = rehearse(&bench_heater(), 2, 1, &quick()).unwrap();
    let json = serde_json::to_value(&report).unwrap();
    for key in [
        "calls",
        "first_visit_fix",
        "needless_parts_per_100",
        "minutes_to_find",
        "minutes",
        "minutes_in_all",
        "open_energised_probing",
        "supply_and_proving_readings",
        "all_knowing_minutes",
        "confirming_minutes",
        "minutes_over_all_knowing",
        "minutes_over_confirming",
        "completed_from_van",
        "proved_dead",
        "planted",
        "planted_found",
        "planted_handed_on",
        "planted_not_decided",
        "planted_untold",
        "planted_missed",
        "hands_judged",
        "violations",
    ] {
        assert!(json[key].is_number(), "{key} in {json}");
    }
    for rival in ["value_of_information", "likeliest_part_first", "information", "information_per_minute"] {
        assert!(json["rivals"][rival]["minutes"].is_number() && json["rivals"][rival]["minutes_error"].is_number());
        assert!(json["paired"][rival]["minutes_more"].is_number(), "{rival}");
    }
    assert!(json["calibration"]["brier"].is_number());
    assert_eq!(json["calibration"]["bins"].as_array().unwrap().len(), 10);
    assert!(json["rivals"]["checklist"].is_null(), "no checklist is shipped for the bench heater");
}
