//! `callwright practice` from the command line.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use serde_json::Value;
use std::process::{Command, Output};

fn callwright(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_callwright")).args(args).env("NO_COLOR", "1").output().unwrap()
}

#[test]
fn steps_are_played_and_looked_back_on() {
    let lesson = ["practice", "dryer-timer-240", "--seed", "2", "--do", "ohms heater.1 heater.2"];
    let told = callwright(&[&lesson[..], &["--json"]].concat());
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    let told: Value = serde_json::from_slice(&told.stdout).unwrap();
    assert_eq!(told["ended"], false);
    assert_eq!(told["steps"].as_array().unwrap().len(), 1);
    assert_eq!(told["review"]["acts"].as_array().unwrap().len(), 1);
    assert!(told["review"]["all_knowing_minutes"].as_f64().unwrap() > 0.0);

    let words = String::from_utf8(callwright(&lesson).stdout).unwrap();
    assert!(words.contains("the customer says") && words.contains("bits"), "{words}");

    let wrong = callwright(&["practice", "dryer-timer-240", "--do", "look heatre"]);
    assert_eq!(wrong.status.code(), Some(1));
    assert!(String::from_utf8(wrong.stderr).unwrap().contains("did you mean `heater`"));
}
