//! One description laid over another.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use machine::{Machine, ReadMachine, read, read_with};

fn base() -> String {
    std::fs::read_to_string(format!("{}/tests/good/fan-heater.toml", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

/// Reads a text that may build on the fan heater, or on others by id.
fn laid(text: &str, others: &[(&str, &str)]) -> ReadMachine {
    read_with(text, &|id| {
        let other = others.iter().find(|(known, _)| *known == id).map(|(_, text)| (*text).to_owned());
        other.or_else(|| (id == "fan-heater").then(base))
    })
}

fn machine(text: &str) -> Machine {
    let read = laid(text, &[]);
    assert!(read.diagnostics.is_empty(), "{:#?}", read.diagnostics);
    read.machine.unwrap()
}

const HEAD: &str = "callwright = 1\n[based_on]\nmachine = \"fan-heater\"\n";

#[test]
fn what_is_laid_over_a_description_is_read_as_if_it_stood_in_it() {
    let over = "without = [\"part.pilot\", \"lead.10\", \"lead.11\", \"observe.lamp\"]\n\
        [machine]\nid = \"small\"\n[[part]]\nid = \"element-low\"\nwatts = 500\n";
    let laid = machine(&format!("{HEAD}{over}"));
    assert_eq!(laid.based_on.as_deref(), Some("fan-heater"));
    // The same, written into the text by hand.
    let by_hand = base().replace("id = \"fan-heater\"", "id = \"small\"").replace("watts = 700", "watts = 500");
    let cut = |text: &str, path: &str| {
        let (section, id) = path.split_once('.').unwrap();
        let (before, rest) = text.split_once(&format!("[[{section}]]\nid = \"{id}\"")).unwrap();
        let after = rest.split_once("\n[[").map_or(String::new(), |(_, after)| format!("[[{after}"));
        format!("{before}{after}")
    };
    let by_hand = ["part.pilot", "lead.10", "lead.11", "observe.lamp"].iter().fold(by_hand, |text, id| cut(&text, id));
    let whole = Machine { based_on: laid.based_on.clone(), ..read(&by_hand).machine.unwrap() };
    let without_lines = |machine: &Machine| {
        let text = format!("{machine:#?}");
        text.lines().filter(|line| !line.trim_start().starts_with("line: ")).collect::<Vec<_>>().join("\n")
    };
    assert_eq!(without_lines(&laid), without_lines(&whole));
    assert_ne!(without_lines(&laid), without_lines(&read(&base()).machine.unwrap()));
}

#[test]
fn a_mistake_in_the_base_is_told_with_its_own_line() {
    let wrong = base().replace("watts = ", "wats = ");
    let line = wrong.lines().position(|line| line.starts_with("wats = ")).unwrap() + 1;
    let found = laid("callwright = 1\n[based_on]\nmachine = \"wrong\"\n[machine]\nid = \"x\"\n", &[("wrong", &wrong)]);
    let first = found.diagnostics.iter().find(|d| d.message.contains("`wats`")).unwrap();
    assert_eq!((first.of.as_deref(), first.line), (Some("wrong"), line));
    assert!(first.render("x.toml", "").contains(&format!("--> wrong:{line}:1")));
    assert!(found.machine.is_none());
}

#[test]
fn a_mistake_above_the_base_is_told_with_its_own_line() {
    let found = laid(&format!("{HEAD}without = [\"lead.nowhere\"]\n[[part]]\nid = \"element-low\"\nwats = 5\n"), &[]);
    let told: Vec<(Option<&str>, usize)> = found.diagnostics.iter().map(|d| (d.of.as_deref(), d.line)).collect();
    assert_eq!(told, [(None, 4), (None, 7)]);
    assert!(found.diagnostics[0].message.contains("has no `lead.nowhere`"));
}

#[test]
fn a_ring_of_descriptions_is_refused() {
    let ring = |of: &str| format!("callwright = 1\n[based_on]\nmachine = \"{of}\"\n[machine]\nid = \"x\"\n");
    let found = laid(&ring("a"), &[("a", &ring("b")), ("b", &ring("a"))]);
    assert_eq!(found.diagnostics.len(), 1, "{:#?}", found.diagnostics);
    assert!(found.diagnostics[0].message.contains("in a ring"));
}

#[test]
fn a_description_builds_on_one_that_builds_on_another() {
    let middle = format!("{HEAD}[machine]\nid = \"middle\"\n[plate]\nwatts = 900\n");
    let top = "callwright = 1\n[based_on]\nmachine = \"middle\"\n[machine]\nid = \"top\"\n";
    let read = laid(top, &[("middle", &middle)]);
    assert!(read.diagnostics.is_empty(), "{:#?}", read.diagnostics);
    let machine = read.machine.unwrap();
    assert_eq!((machine.id.as_str(), machine.based_on.as_deref()), ("top", Some("middle")));
    assert!((machine.plate_watts - 900.0).abs() < 1e-12);
}
