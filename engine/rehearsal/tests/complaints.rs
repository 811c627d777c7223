//! What customers say, on drawn dryers and ranges.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where something is not as it should be")]

use machine::Machine;
use prediction::Seen;
use rehearsal::{Complaint, Saying, complaint};
use truth::{DrawSettings, Workshop};

fn shipped(name: &str) -> Machine {
    let path = format!("{}/../../machines/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

fn truthful() -> Saying {
    Saying { wrong: 0.0, second: 1.0, works: 1.0, ..Saying::default() }
}

fn said(machine: &Machine, fault: &str, saying: &Saying) -> Complaint {
    let fault = machine.fault(fault).unwrap();
    complaint(&Workshop::new(machine).unit(1, &DrawSettings::default(), &[fault]), 1, saying)
}

fn seen(machine: &Machine, observation: &str, state: &str, value: &str) -> Seen {
    let what = machine.observation(observation).unwrap();
    let values = &machine.observations[what.index()].values;
    let value = values.iter().position(|v| v.id == value).unwrap();
    Seen { state: machine.state(state).unwrap(), what, value: u8::try_from(value).unwrap() }
}

#[test]
fn open_element_is_told_as_no_heat_with_the_drum_turning() {
    let dryer = shipped("dryer-timer-240");
    let complaint = said(&dryer, "heater:open", &truthful());
    let troubles = [seen(&dryer, "heats", "heat", "none"), seen(&dryer, "load", "dry", "never")];
    assert_eq!(complaint.troubles, troubles);
    assert!(complaint.works.contains(&seen(&dryer, "drum", "heat", "yes")), "{complaint:?}");
}

#[test]
fn dead_control_is_told_as_dark_from_the_start() {
    let range = shipped("range-control-240");
    let complaint = said(&range, "control:dead", &truthful());
    assert_eq!(complaint.troubles[0], seen(&range, "bake", "bake", "none"));
    assert!(complaint.troubles.contains(&seen(&range, "display", "off", "dark")), "{complaint:?}");
}

#[test]
fn wrong_customers_still_name_a_trouble_first() {
    let dryer = shipped("dryer-timer-240");
    let always_wrong = Saying { wrong: 1.0, ..truthful() };
    for fault in ["heater:open", "belt:broken", "lamp:open", "thermal-fuse:open"] {
        let wrong = said(&dryer, fault, &always_wrong);
        let right = said(&dryer, fault, &truthful());
        let first = wrong.troubles[0];
        let sound = Workshop::new(&dryer).unit(1, &DrawSettings::default(), &[]).sound_in(first.state);
        assert!(!sound.contains(&(first.what, first.value)), "{fault}: {wrong:?}");
        assert_ne!(wrong.works, right.works, "{fault}");
    }
}

#[test]
fn breaker_that_holds_is_not_spoken_of() {
    let range = shipped("range-control-240");
    let trips = range.observation("trips").unwrap();
    let complaint = said(&range, "bake:open", &truthful());
    assert!(!complaint.works.is_empty() && complaint.works.iter().all(|s| s.what != trips), "{complaint:?}");
}
