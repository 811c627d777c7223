//! Descriptions that read clean and are wrong all the same: each file says in its first line what simulating it must
//! find. Add a file, get a test.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a test may fail loudly")]

use prediction::{Meter, Predictor};
use std::path::Path;

#[test]
fn every_broken_description_is_found_out_by_simulation() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/broken");
    let mut files: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(files.len() >= 2);
    for path in files {
        let text = std::fs::read_to_string(&path).unwrap();
        let expected = text.lines().next().unwrap().strip_prefix("#! ").unwrap();
        let (code, rest) = expected.split_once(' ').unwrap();
        let (state, message) = rest.split_once(' ').unwrap();
        let beside = |id: &str| std::fs::read_to_string(folder.join(format!("{id}.toml"))).ok();
        let read = machine::read_with(&text, &beside);
        assert!(read.diagnostics.is_empty(), "{}: {:?}", path.display(), read.diagnostics);
        let machine = read.machine.unwrap();
        let troubles = Predictor::new(&machine, Meter::ordinary()).check();
        let found =
            troubles.iter().find(|t| t.code == code).unwrap_or_else(|| panic!("{}: {troubles:?}", path.display()));
        assert_eq!(machine.states[found.state.index()].id, state);
        assert_eq!(found.message, message);
        assert!(!found.hints.is_empty());
    }
}
