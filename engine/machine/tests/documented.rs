//! The table of part kinds in docs/machine-format.md says the usual weights that the reader gives.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::model::PartKind;
use machine::read;
use regex_lite::Regex;
use std::collections::BTreeMap;

/// Gives the weights that the table states, by kind's word and mode.
fn documented() -> BTreeMap<(String, String), f64> {
    let text = std::fs::read_to_string(format!("{}/../../docs/machine-format.md", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let kinds = text.split("## Part kinds").nth(1).unwrap().split("\n## ").next().unwrap();
    let word = Regex::new("`([a-z-]+)`").unwrap();
    let weight = Regex::new(r"`([A-Za-z0-9-]+)` ([0-9.]+)").unwrap();
    let mut found = BTreeMap::new();
    for line in kinds.lines().filter(|line| line.starts_with("| `")) {
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        for kind in word.captures_iter(cells[1]) {
            for pair in weight.captures_iter(cells[4]) {
                found.insert((kind[1].to_owned(), pair[1].to_owned()), pair[2].parse().unwrap());
            }
        }
    }
    found
}

/// The kind's word as the file writes it.
fn word_of(kind: PartKind) -> String {
    serde_json::to_value(kind).unwrap().as_str().unwrap().to_owned()
}

#[test]
fn usual_weights_are_those_that_the_format_states() {
    let documented = documented();
    let numbered = Regex::new("^([cp])[0-9]+-").unwrap();
    let mut seen = std::collections::BTreeSet::new();
    for name in ["oven", "fan-heater", "gas-boiler"] {
        let path = format!("{}/tests/good/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        let machine = read(&std::fs::read_to_string(path).unwrap()).machine.unwrap();
        let own = ["pilot:dirty", "igniter:weak"];
        for fault in machine.faults.iter().filter(|fault| !own.contains(&fault.id.as_str())) {
            let part = &machine[fault.part];
            if part.installation || part.kind == PartKind::Lead {
                continue;
            }
            let mode = fault.id.split(':').nth(1).unwrap();
            let kind = word_of(part.kind);
            let general = numbered.replace(mode, "${1}N-").into_owned();
            let of_id = format!("ID-{}", mode.rsplit('-').next().unwrap());
            let switch = "switch".to_owned();
            let stated =
                [(&kind, mode), (&kind, general.as_str()), (&kind, of_id.as_str()), (&switch, general.as_str())]
                    .into_iter()
                    .find_map(|(kind, mode)| documented.get(&(kind.clone(), mode.to_owned())))
                    .unwrap_or_else(|| panic!("the format does not state `{}` of a {kind}", fault.id));
            assert!(
                (fault.weight - stated).abs() < 1e-12,
                "{}: {} is stated, {} is given",
                fault.id,
                stated,
                fault.weight
            );
            seen.insert(kind);
        }
    }
    // All kinds of the table are in the three fixtures.
    assert_eq!(seen.len(), 26, "{seen:?}");
}
