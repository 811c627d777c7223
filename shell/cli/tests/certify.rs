//! Certificates from the command line: made, verified, and refused when they were meddled with.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn callwright(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_callwright")).args(args).env("NO_COLOR", "1").output().unwrap()
}

fn call_file(name: &str) -> String {
    format!("{}/tests/calls/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

fn scratch(name: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).join(name)
}

fn object(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn a_certificate_is_made_verified_and_refused_once_it_was_meddled_with() {
    let (call, file) = (call_file("heater-reads-open"), scratch("heater.json"));
    let file = file.to_str().unwrap();
    let made = callwright(&["certify", &call, "--to", file, "--json"]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let made = object(&made);
    let claim = &made["certificate"]["claim"];
    assert_eq!(claim["repair"], "heater:replace");
    let (bound, belief) = (claim["needed_at_least"].as_f64().unwrap(), made["belief"]["needed"].as_f64().unwrap());
    assert!(bound > 0.9 && bound <= belief && belief - bound < 1e-3, "{bound} of {belief}");
    // The dryer has more than a hundred faults, so that thousands of pairs stand against the claim.
    assert!(made["checked"]["singles_solved"].as_u64().unwrap() > 100);
    assert!(made["checked"]["pairs_solved"].as_u64().unwrap() > 4000);

    let verified = callwright(&["verify", file, "--call", &call]);
    let said = String::from_utf8(verified.stdout).unwrap();
    assert!(verified.status.success() && said.contains("replace the heating element"), "{said}");
    assert!(said.lines().any(|line| line.starts_with("checked: ") && line.contains(" pairs excluded")), "{said}");

    let mut meddled: Value = serde_json::from_str(&std::fs::read_to_string(file).unwrap()).unwrap();
    meddled["given"]["assumed"]["slip"] = Value::from(0.0002);
    let meddled_file = scratch("meddled.json");
    std::fs::write(&meddled_file, meddled.to_string()).unwrap();
    let refused = callwright(&["verify", meddled_file.to_str().unwrap(), "--json"]);
    assert_eq!(refused.status.code(), Some(1));
    let refused = object(&refused);
    assert_eq!(refused["holds"], false);
    assert!(refused["why"].as_str().unwrap().contains("`assumed.slip` as 0.0002"), "{refused}");

    // The same certificate held against a call in which the meter showed something else.
    let other = callwright(&["verify", file, "--call", &call_file("heater-of-470-ohm")]);
    assert_eq!(other.status.code(), Some(1));
    assert!(String::from_utf8(other.stderr).unwrap().contains("evidence"));
}

#[test]
fn what_is_no_certificate_and_what_is_no_repair_is_said() {
    let refused = callwright(&["verify", &call_file("heater-reads-open")]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(String::from_utf8(refused.stderr).unwrap().contains("cannot be read"));
    let unknown = callwright(&["certify", &call_file("heater-reads-open"), "--repair", "heater:replac"]);
    assert_eq!(unknown.status.code(), Some(1));
    assert!(String::from_utf8(unknown.stderr).unwrap().contains("did you mean `heater:replace`"));
}
