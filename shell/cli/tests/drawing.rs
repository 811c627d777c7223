//! `callwright drawing` as a script sees it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn callwright(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_callwright")).arg("drawing").args(args).env("NO_COLOR", "1").output().unwrap()
}

fn text(args: &[&str]) -> String {
    let output = callwright(args);
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn scene(args: &[&str]) -> Value {
    serde_json::from_str(&text(&[args, &["--json"]].concat())).unwrap()
}

fn complaint(args: &[&str]) -> String {
    let output = callwright(args);
    assert_eq!(output.status.code(), Some(1), "{args:?}");
    String::from_utf8(output.stderr).unwrap()
}

fn symbol<'a>(scene: &'a Value, branch: &str) -> &'a Value {
    let symbols = scene["symbols"].as_array().unwrap();
    symbols.iter().find(|symbol| symbol["branches"].as_array().unwrap().iter().any(|name| name == branch)).unwrap()
}

const HEAT: [&str; 3] = ["dryer-timer-240", "--state", "heat"];

#[test]
fn without_a_state_contacts_stand_at_rest() {
    let scene = scene(&["dryer-timer-240"]);
    assert_eq!(symbol(&scene, "timer:c1")["closed"], false);
    assert_eq!(symbol(&scene, "temperature:c1")["closed"], true);
    assert!(symbol(&scene, "heater:a")["amps"].is_null());
    assert_eq!(scene["terminals"].as_array().unwrap().iter().filter(|dot| dot["live"] == true).count(), 0);
}

#[test]
fn state_closes_contacts_and_drives_current_through_the_heater() {
    let scene = scene(&HEAT);
    for closed in ["timer:c1", "motor:c1", "cycling", "door:c1"] {
        assert_eq!(symbol(&scene, closed)["closed"], true, "{closed}");
    }
    for open in ["door:c2", "temperature:c2", "start:c1"] {
        assert_eq!(symbol(&scene, open)["closed"], false, "{open}");
    }
    // 5300 W at 240 V are 22.1 A by hand; the wiring takes a little.
    let amps = symbol(&scene, "heater:a")["amps"].as_f64().unwrap();
    assert!((amps - 22.0).abs() < 0.7, "{amps} A");
    assert!(symbol(&scene, "lamp")["amps"].is_null());
}

#[test]
fn fault_changes_what_is_shown() {
    let open = scene(&[&HEAT[..], &["--fault", "heater:open"]].concat());
    assert!(symbol(&open, "heater:a")["amps"].is_null());
    let welded = scene(&["dryer-timer-240", "--state", "off", "--fault", "timer:c1-welded"]);
    assert_eq!(symbol(&welded, "timer:c1")["closed"], true);
    let labels = open["labels"].as_array().unwrap();
    assert!(labels.iter().any(|label| label["text"].as_str().unwrap().starts_with("With: heating element")));
}

#[test]
fn list_says_every_rung_with_contacts_current_and_volts() {
    let list = text(&[&HEAT[..], &["--text", "--live"]].concat());
    assert!(list.contains("Rung 1, from "), "{list}");
    assert!(list.contains("heating element, 1 ("), "{list}");
    assert!(list.contains("lead R7, red-white (R/W), heating element 2 ("), "{list}");
    assert!(list.contains(", closed, carries "), "{list}");
    assert!(list.contains("may be live"), "{list}");
    assert!(list.contains("drum belt, driven by idler pulley"), "{list}");
}

#[test]
fn svg_is_written_to_the_file_in_the_size_of_the_page() {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join("drawing.svg");
    let name = file.to_str().unwrap();
    assert!(text(&["range-control-240", "--svg", name, "--paper", "a4", "--live"]).is_empty());
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.starts_with("<svg ") && svg.ends_with("</svg>\n") && svg.contains("mm\""), "{}", svg.len());
    let head = svg.split_once('>').unwrap().0;
    let sizes: Vec<f64> =
        head.split('"').filter_map(|word| word.strip_suffix("mm")).map(|size| size.parse().unwrap()).collect();
    assert!(sizes[0] <= 297.0 && sizes[1] <= 210.0, "{sizes:?}");
}

#[test]
fn only_folds_the_rest_away() {
    let folded = scene(&["dryer-timer-240", "--only", "lamp"]);
    assert!(folded["folded"].as_array().unwrap().iter().any(|part| part == "heater"));
    let whole = scene(&["dryer-timer-240"]);
    assert!(whole["folded"].as_array().unwrap().is_empty());
    assert!(folded["symbols"].as_array().unwrap().len() < whole["symbols"].as_array().unwrap().len());
}

#[test]
fn mistakes_say_the_mend() {
    assert!(complaint(&["dryer-timer-240", "--only", "heatr"]).contains("did you mean `heater`"));
    assert!(complaint(&["dryer-timer-240", "--state", "heats"]).contains("did you mean `heat`"));
    assert_eq!(callwright(&["dryer-timer-240", "--svg", "/nowhere/at/all.svg"]).status.code(), Some(2));
}
