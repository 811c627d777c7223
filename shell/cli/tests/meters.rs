//! The technician's own meters on the command line: from --meters, from the configuration folder, and what they change.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn file(name: &str) -> String {
    format!("{}/tests/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

/// A folder of this test's own, without a meters file.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn callwright(config: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(args).env("NO_COLOR", "1").env("XDG_CONFIG_HOME", config).output().unwrap()
}

fn json(config: &Path, args: &[&str]) -> Value {
    let output = callwright(config, args);
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

const HEATER: [&str; 7] = ["measure", "dryer-timer-240", "--isolated", "--ohms", "heater.1", "heater.2", "--json"];

#[test]
fn zeroed_leads_take_their_two_tenths_off_what_is_shown() {
    let none = folder("meters-none");
    let low_input = file("meters/low-input");
    let ordinary = json(&none, &HEATER)["value"].as_f64().unwrap();
    let zeroed = json(&none, &[&HEATER[..], &["--meters", &low_input]].concat())["value"].as_f64().unwrap();
    // The ordinary meter's leads show 0.2 ohm.
    assert!((ordinary - zeroed - 0.2).abs() < 1e-9, "{ordinary} {zeroed}");
}

#[test]
fn the_ordinary_file_says_what_no_file_says() {
    let none = folder("meters-none");
    let ordinary = format!("{}/../../meters/ordinary.toml", env!("CARGO_MANIFEST_DIR"));
    assert_eq!(json(&none, &HEATER), json(&none, &[&HEATER[..], &["--meters", &ordinary]].concat()));
}

#[test]
fn the_configuration_folder_s_meters_are_used_and_a_named_file_goes_before_them() {
    let config = folder("meters-configured");
    std::fs::create_dir_all(config.join("callwright")).unwrap();
    std::fs::copy(file("meters/low-input"), config.join("callwright/meters.toml")).unwrap();
    let none = folder("meters-none");
    let configured = json(&config, &HEATER);
    let named = json(&none, &[&HEATER[..], &["--meters", &file("meters/low-input")]].concat());
    assert_eq!(configured, named);
    assert_ne!(configured, json(&none, &HEATER));
    let clamp = json(&config, &[&HEATER[..], &["--meters", &file("meters/clamp-only")]].concat());
    assert_eq!(clamp["owned"], false);
}

#[test]
fn what_no_meter_takes_is_said() {
    let none = folder("meters-none");
    let asked = ["measure", "dryer-timer-240", "--isolated", "--ohms", "heater.1", "heater.2", "--meters"];
    let output = callwright(&none, &[&asked[..], &[&file("meters/clamp-only")]].concat());
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(text.contains("no meter of") && text.contains("takes this"), "{text}");
}

#[test]
fn the_buzzer_keeps_quiet_on_an_open_element() {
    let none = folder("meters-none");
    assert_eq!(json(&none, &HEATER)["buzzer"], true);
    assert_eq!(json(&none, &[&HEATER[..], &["--fault", "heater:open"]].concat())["buzzer"], false);
}

#[test]
fn every_mistake_of_the_file_is_printed_with_its_place() {
    let none = folder("meters-none");
    let mistaken = file("meters/mistaken");
    let output = callwright(&none, &[&HEATER[..], &["--meters", &mistaken]].concat());
    assert_eq!(output.status.code(), Some(1));
    let text = String::from_utf8(output.stderr).unwrap();
    for code in ["t009-out-of-range", "t005-unknown-key", "t003-missing-key", "did you mean `limit_ohms`", ":8:11"] {
        assert!(text.contains(code), "{code} is missing in {text}");
    }
    let output = callwright(&none, &[&HEATER[..], &["--meters", "nowhere.toml"]].concat());
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8(output.stderr).unwrap().contains("there is no file `nowhere.toml`"));
}

/// The kinds of step that `next` proposes.
fn kinds(args: &[&str]) -> Vec<String> {
    let call = file("calls/tumbles-but-cold");
    let next = json(&folder("meters-none"), &[&["next", &call, "--nodes", "2000", "--json"], args].concat());
    next["steps"].as_array().unwrap().iter().map(|step| step["kind"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn next_proposes_only_what_the_meters_can_take() {
    let ordinary = kinds(&[]);
    let reading = |kind: &String| kind.contains("volts") || kind == "ohms";
    assert!(ordinary.iter().any(reading), "{ordinary:?}");
    assert!(!ordinary.iter().any(|kind| kind == "clamp-amps"), "{ordinary:?}");
    let clamp = file("meters/clamp-only");
    let with_clamp = kinds(&["--meters", &clamp]);
    assert!(!with_clamp.iter().any(reading), "{with_clamp:?}");
}

#[test]
fn suspects_and_a_recorded_call_take_the_meters_too() {
    let none = folder("meters-none");
    let (call, low_input) = (file("calls/heater-of-470-ohm"), file("meters/low-input"));
    let ordinary = json(&none, &["suspects", &call, "--json"]);
    let other = json(&none, &["suspects", &call, "--json", "--meters", &low_input]);
    assert_eq!(ordinary["suspects"][0]["faults"], other["suspects"][0]["faults"]);
    // Another accuracy weighs the same reading otherwise.
    assert_ne!(ordinary["suspects"], other["suspects"]);
    let played = json(&none, &["call", "--from", &call, "--json", "--meters", &low_input]);
    assert_eq!(played["suspects"]["suspects"][0]["faults"], other["suspects"][0]["faults"]);
}
