//! Holds every reading of the reference circuits, through low-rank changes and through fresh solutions.
//!
//! SOURCE: ngspice 39, see tests/reference/README.md.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail by panicking")]

#[path = "../examples/reference_circuit/folder.rs"]
mod folder;
#[path = "../examples/reference_circuit/readings.rs"]
mod readings;
#[path = "../examples/reference_circuit/rows.rs"]
mod rows;
#[path = "../examples/reference_circuit/sense.rs"]
mod sense;

use std::path::{Path, PathBuf};

use folder::Folder;
use readings::Way;

const CIRCUITS: [(&str, usize); 4] = [("dry1", 2648), ("frg1", 2603), ("lad1", 1857), ("ovn1", 3036)];

fn dir(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(name)
}

fn records(text: &[u8]) -> Vec<csv::StringRecord> {
    csv::ReaderBuilder::new().has_headers(false).from_reader(text).records().map(Result::unwrap).collect()
}

fn number(field: &str) -> Option<f64> {
    (!field.is_empty()).then(|| field.parse().unwrap())
}

/// Compares a row: names equal, over range equal, value within 0.1 % and 6 mV, 0.1 mA or 2 mohm, phase within
/// 0.1 degree.
fn compare(got: &csv::StringRecord, want: &csv::StringRecord) {
    for column in [0, 1, 2, 3, 4, 5, 8] {
        assert_eq!(&got[column], &want[column], "in {want:?}");
    }
    let floor = match &want[4] {
        "V" => 6e-3,
        "I" => 1e-4,
        _ => 2e-3,
    };
    assert_eq!(&got[9] == "OL", &want[9] == "OL", "got {got:?}, want {want:?}");
    if &want[9] != "OL" {
        let (got_value, value) = (number(&got[6]).unwrap(), number(&want[6]).unwrap());
        assert!((got_value - value).abs() <= floor + 1e-3 * value.abs(), "got {got:?}, want {want:?}");
    }
    match (number(&got[7]), number(&want[7])) {
        (Some(got_phase), Some(phase)) => {
            let off = (got_phase - phase).abs();
            assert!(off.min(360.0 - off) <= 0.1, "got {got:?}, want {want:?}");
        }
        (got_phase, phase) => assert_eq!(got_phase, phase, "got {got:?}, want {want:?}"),
    }
}

fn hold(way: Way) {
    for (name, count) in CIRCUITS {
        let readings = readings::all(&Folder::read(&dir(name)).unwrap(), way).unwrap();
        let got = records(rows::print(&readings).as_bytes());
        let want = records(&std::fs::read(dir(name).join("readings.csv")).unwrap());
        assert_eq!(want.len(), count + 1);
        assert_eq!(got.len(), want.len(), "{name}");
        assert_eq!(got[0], want[0]);
        got.iter().zip(&want).skip(1).for_each(|(got, want)| compare(got, want));
    }
}

#[test]
fn low_rank_changes_give_the_reference_readings() {
    hold(Way::LowRank);
}

#[test]
fn fresh_solutions_give_the_reference_readings() {
    hold(Way::Fresh);
}

/// Copies a reference folder without its readings, lets a file be spoilt, and gives the message.
fn spoilt(case: &str, file: &str, spoil: impl Fn(&str) -> String) -> String {
    let target = Path::new(env!("CARGO_TARGET_TMPDIR")).join(case);
    std::fs::create_dir_all(&target).unwrap();
    for name in ["elements.csv", "states.csv", "faults.csv", "probes.csv"] {
        let text = std::fs::read_to_string(dir("lad1").join(name)).unwrap();
        std::fs::write(target.join(name), if name == file { spoil(&text) } else { text }).unwrap();
    }
    let result = Folder::read(&target).and_then(|folder| readings::all(&folder, Way::LowRank));
    let message = result.err().map(|mistake| mistake.to_string()).unwrap_or_default();
    message.strip_prefix(&target.display().to_string()).unwrap_or(&message).to_owned()
}

#[test]
fn number_that_is_none_is_named_with_file_and_line() {
    let message =
        spoilt("no-number", "elements.csv", |text| text.replacen("RS1,R,n1,n2,0.01", "RS1,R,n1,n2,10 mohm", 1));
    assert!(message.starts_with("/elements.csv:10: `10 mohm` in column `base_value`"), "{message}");
}

#[test]
fn unknown_element_is_named_with_file_and_line() {
    let message = spoilt("no-element", "faults.csv", |text| text.replacen(",RF1,", ",RF9,", 1));
    assert!(message.starts_with("/faults.csv:2: no element `RF9`"), "{message}");
}

#[test]
fn unknown_node_of_a_probe_is_named_with_file_and_line() {
    let message = spoilt("no-node", "probes.csv", |text| text.replacen("L-N_hi,V,L,N,", "L-N_hi,V,L,M,", 1));
    assert!(message.starts_with("/probes.csv:2: no element in `elements.csv` has a node `M`"), "{message}");
}

#[test]
fn loop_of_wires_is_named_with_its_elements() {
    let message = spoilt("loop", "elements.csv", |text| text.replacen("RPL1,R,X,L,0.01", "RPL1,R,x1,X,0", 1));
    assert!(message.starts_with("/elements.csv:4: `VA_L`, `RPL1` form a loop"), "{message}");
}

#[test]
fn missing_column_is_named() {
    let message = spoilt("no-column", "states.csv", |text| text.replacen("analysis,state,", "analysis,position,", 1));
    assert!(message.starts_with("/states.csv:1: no column `state`"), "{message}");
}

#[test]
fn numbers_print_as_the_reference_prints_them() {
    // Computed by hand from the rules of C's %g.
    for (value, text) in
        [(0.0, "0"), (120.0, "120"), (1e12, "1e+12"), (3.392_92e-6, "3.39292e-06"), (0.000_123_4, "0.0001234")]
    {
        assert_eq!(rows::significant(value, 7), text);
    }
}
