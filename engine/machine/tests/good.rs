//! The good fixtures read clean.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use machine::{Machine, read};

fn fixture(name: &str) -> Machine {
    let path = format!("{}/tests/good/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    read(&std::fs::read_to_string(path).unwrap()).machine.unwrap()
}

/// Reads every description of a folder and fails with everything found wrong, printed.
fn reads_clean(folder: &str) {
    let mut count = 0;
    for entry in std::fs::read_dir(format!("{}/{folder}", env!("CARGO_MANIFEST_DIR"))).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "toml") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let result = read(&text);
        let name = path.display().to_string();
        let found: Vec<String> = result.diagnostics.iter().map(|d| d.render(&name, &text)).collect();
        assert!(found.is_empty(), "{}", found.join("\n"));
        assert!(result.machine.is_some(), "{name} gave no machine");
        count += 1;
    }
    assert!(count >= 2, "{folder} has descriptions");
}

#[test]
fn good_fixtures_read_clean() {
    reads_clean("tests/good");
}

/// Counted by hand from the file: 5 parts of the supply, 8 of its own, 11 leads. Branches: 1 source, 1 load, 1 neutral,
/// 1 pole, 3 x (feeder, plug, cord); 2 contacts, thermostat, cut-off, 2 + 1 heater lengths, winding, lamp; 11 leads.
#[test]
fn fan_heater_lowers_to_the_counts_reckoned_by_hand() {
    let machine = fixture("fan-heater");
    assert_eq!(machine.parts.len(), 24);
    assert_eq!(machine.branches.len(), 4 + 9 + 9 + 11);
    assert_eq!(machine.flags.len(), 2);
    assert_eq!(machine.states.len(), 3);
}
