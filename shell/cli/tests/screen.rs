//! `callwright screen`: the app's screens from the command line.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use serde_json::Value;
use std::fs;
use std::process::{Command, Output};

fn screen(touches: &str, more: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("touches");
    fs::write(&file, touches).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(["screen", "--demo", "--touches"]).arg(file).args(more).env("NO_COLOR", "1").output().unwrap()
}

#[test]
fn touches_lead_from_screen_to_screen_as_in_the_app() {
    let shown = |touches: &str| -> Value { serde_json::from_slice(&screen(touches, &["--json"]).stdout).unwrap() };
    let first = shown("");
    assert_eq!(first["place"], "call");
    assert_eq!(first["undo"], false);
    let next = shown("\"take-offered\"\n\"take-offered\"\n");
    assert_ne!(next["say"], first["say"]);
    assert_eq!(next["top"]["who"], "Ada Example");
    let probed =
        shown("\"take-offered\"\n{\"sheet\":\"drawing\"}\n{\"probe\":\"heater.1\"}\n{\"probe\":\"heater.2\"}\n");
    assert!(probed["drawing"]["svg"].as_str().unwrap().contains("<svg"));
    assert!(!probed["drawing"]["rulers"][0]["hills"].as_array().unwrap().is_empty());
    let words = String::from_utf8(screen("\"take-offered\"\n", &[]).stdout).unwrap();
    assert!(words.contains("demo: "), "{words}");
}

#[test]
fn a_touch_that_is_none_is_said_with_its_line_and_its_mend() {
    let wrong = screen("\"take-offered\"\n{\"answr\":\"15.2\"}\n", &[]);
    assert_eq!(wrong.status.code(), Some(1));
    let said = String::from_utf8(wrong.stderr).unwrap();
    assert!(said.contains(":2:") && said.contains("answr") && said.contains("take-offered"), "{said}");
}
