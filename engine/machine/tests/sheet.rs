//! The loose string: what one reads off the sheet with a finger becomes a description that reads clean.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::model::PartKind;
use machine::sheet::{Mains, Sheet, from_sheet};
use machine::{Machine, read};

fn sheet() -> Sheet {
    Sheet { id: "mine".to_owned(), title: "A \"found\" machine".to_owned(), mains: Mains::Legs120 }
}

fn machine(text: &str) -> Machine {
    let written = from_sheet(&sheet(), text).unwrap();
    let read = read(&written);
    let found: Vec<String> = read.diagnostics.iter().map(|d| d.render("mine", &written)).collect();
    assert!(found.is_empty(), "{}\n{written}", found.join("\n"));
    read.machine.unwrap()
}

fn ends(machine: &Machine, lead: &str) -> [String; 2] {
    let part = machine.parts.iter().position(|part| part.id == lead).unwrap();
    let branch = machine.branches.iter().find(|branch| branch.part.index() == part).unwrap();
    [branch.from, branch.to].map(|end| machine[end].name.clone())
}

#[test]
fn one_line_from_leg_to_leg_is_a_machine() {
    let machine = machine("L1 - fuse - thermostat 250F - heater 5400W - L2\n");
    assert_eq!((machine.id.as_str(), machine.title.as_str()), ("mine", "A \"found\" machine"));
    assert!((machine.plate_volts - 240.0).abs() < 1e-9);
    let own: Vec<(&str, PartKind)> = machine
        .parts
        .iter()
        .filter(|part| !part.installation && part.kind != PartKind::Lead)
        .map(|part| (part.id.as_str(), part.kind))
        .collect();
    assert_eq!(own, [("fuse", PartKind::Fuse), ("thermostat", PartKind::Thermostat), ("heater", PartKind::Heater)]);
    assert_eq!(ends(&machine, "S1"), ["block.L1", "fuse.1"]);
    assert_eq!(ends(&machine, "S4"), ["heater.2", "block.L2"]);
    assert_eq!(machine.states.iter().map(|state| state.id.as_str()).collect::<Vec<_>>(), ["off", "on"]);
}

#[test]
fn branches_states_colours_and_the_sheets_own_abbreviations_are_taken() {
    let machine = machine(
        "# the sheet behind the console\n\
         L1 – BK – timer sw [heat, cool] – @a – RD/WH – hi limit – elem 5.2 kW – L2\n\
         @a – Y – door sw – mtr 4 ohm – N   # 120 V\n\
         L1 - lamp sw [heat] - LT 25 W - N\n",
    );
    let color = |id: &str| machine.parts.iter().find(|part| part.id == id).unwrap().color.clone();
    assert_eq!(color("S1").as_deref(), Some("black"));
    assert_eq!(color("S2").as_deref(), Some("red-white"));
    assert_eq!(ends(&machine, "S5"), ["timer-sw.2", "door-sw.1"]);
    assert_eq!(color("S5").as_deref(), Some("yellow"));
    let state = |id: &str| machine.states.iter().find(|state| state.id == id).unwrap();
    assert_eq!(machine.states.len(), 3);
    assert!(state("cool").positions.iter().any(|(_, position)| position == "cool"));
    let kind = |id: &str| machine.parts.iter().find(|part| part.id == id).unwrap().kind;
    assert_eq!((kind("elem"), kind("mtr"), kind("lt")), (PartKind::Heater, PartKind::Motor, PartKind::Lamp));
}

#[test]
fn a_part_named_twice_is_two_parts() {
    let machine = machine("L - switch - element 800W - N\nL - switch - element 600W - N");
    let has = |id: &str| machine.parts.iter().any(|part| part.id == id);
    assert!(has("element") && has("element-2") && has("switch-2"));
}

#[test]
fn what_cannot_be_read_is_told_with_its_line_and_a_mend() {
    let told = |text: &str| from_sheet(&sheet(), text).unwrap_err();
    let nothing = told("# only a remark\n");
    assert!(nothing.message.contains("nothing is on the sheet"), "{nothing}");
    for (text, line, message) in [
        ("L1 - fuse - N\nL1 fuse heater N", 2, "goes through no part"),
        ("@b - lamp - N", 1, "no conductor and no point that was passed"),
        ("L1 - wibble 5W - N", 1, "says of no part what it is"),
        ("L1 - switch [heat - N", 1, "opens a bracket"),
        ("L1 - fuse - @a - lamp - N\nL1 - fuse - @a - lamp - N", 2, "passed twice"),
        ("L1 - heater [heat] - N", 1, "is no switch"),
        ("L1 - fuse - nowhere", 1, "no conductor and no point"),
    ] {
        let found = told(text);
        assert_eq!(found.line, line, "{found}");
        assert!(found.message.contains(message) && !found.mend.is_empty(), "{found}");
    }
}

#[test]
fn a_sheet_for_one_line_of_230_volts_has_no_second_leg() {
    let mains = Sheet { mains: Mains::Line230, ..sheet() };
    let written = from_sheet(&mains, "L - BN - fuse - heater 2kW - BU - N\n").unwrap();
    let machine = read(&written).machine.unwrap();
    assert!((machine.plate_volts - 230.0).abs() < 1e-9 && (machine.hertz - 50.0).abs() < 1e-9);
    let pieces = machine.branches.iter().filter(|branch| branch.name.starts_with("heater"));
    let ohms: f64 =
        pieces.map(|piece| if let machine::model::Law::Resistance(of) = &piece.law { of.hot_ohms } else { 0.0 }).sum();
    // Ohm's law: 230 V squared over 2000 W.
    assert!((ohms - 26.45).abs() < 0.01, "{ohms}");
    let wrong = from_sheet(&mains, "L1 - fuse - heater 2kW - L2\n").unwrap_err();
    assert!(wrong.message.contains("one line"), "{wrong}");
}
