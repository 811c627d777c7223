//! Every description in the folder is shipped, under its own id, reads clean, and stands up to being simulated.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use prediction::{Meter, Predictor};
use std::collections::BTreeSet;

#[test]
fn every_description_in_the_folder_is_shipped_under_its_own_id() {
    let folder = format!("{}/../../machines", env!("CARGO_MANIFEST_DIR"));
    let files: BTreeSet<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
        .collect();
    let ids: BTreeSet<String> = shipped::ALL.iter().map(|one| one.id.to_owned()).collect();
    assert_eq!(files, ids);
    assert_eq!(ids.len(), shipped::ALL.len());
}

#[test]
fn shipped_machines_read_clean_and_stand_up_to_being_simulated() {
    for one in shipped::ALL {
        let read = shipped::read(one.text);
        let found: Vec<String> = read.diagnostics.iter().map(|d| d.render(one.id, one.text)).collect();
        assert!(found.is_empty(), "{}", found.join("\n"));
        let machine = read.machine.unwrap();
        assert_eq!((machine.id.as_str(), machine.title), (one.id, one.title()));
        let trouble = Predictor::new(&one.read().unwrap(), Meter::ordinary()).check();
        assert!(trouble.is_empty(), "{}: {trouble:#?}", one.id);
    }
}

#[test]
fn a_version_of_a_machine_is_told_by_all_that_it_builds_on() {
    let over = "callwright = 1\n[based_on]\nmachine = \"dryer-timer-240\"\n[machine]\nid = \"x\"\n";
    let whole = machine::with_bases(over, shipped::BASES);
    assert!(whole.starts_with(over) && whole.contains(shipped::find("dryer-timer-240").unwrap().text));
    let alone = shipped::find("dryer-timer-240").unwrap();
    assert_eq!(alone.whole(), alone.text);
}
