//! A thermometer in a zone, as a script asks for it and writes it down.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::process::{Command, Output};

fn callwright(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_callwright")).args(args).env("NO_COLOR", "1").output().unwrap()
}

fn measure(more: &[&str]) -> Output {
    let asked = ["measure", "range-control-240", "--state", "preheat", "--temperature", "oven"];
    callwright(&[&asked[..], more].concat())
}

/// Writes a call's record with what stands in its `[[found]]` and weighs it.
fn suspects(name: &str, found: &str) -> Output {
    let path = format!("{}/{name}.toml", env!("CARGO_TARGET_TMPDIR"));
    let reported = "[[reported]]\nstate = \"preheat\"\nobserve = \"oven\"\nvalue = \"slow\"\n";
    let head = "callwright-call = 1\nmachine = \"range-control-240\"\n";
    std::fs::write(&path, format!("{head}{reported}[[found]]\n{found}\n")).unwrap();
    callwright(&["suspects", &path, "--top", "200", "--json"])
}

fn share(output: &Output, fault: &str) -> f64 {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    let suspects = told["suspects"].as_array().unwrap();
    let of = suspects.iter().find(|s| s["faults"].as_array().unwrap().iter().eq([fault]));
    of.map_or(0.0, |s| s["probability"].as_f64().unwrap())
}

fn complaint(output: &Output) -> String {
    assert_eq!(output.status.code(), Some(1));
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[test]
fn measure_gives_the_temperature_after_so_many_minutes() {
    let json = |more: &[&str]| -> Value { serde_json::from_slice(&measure(more).stdout).unwrap() };
    let sound = json(&["--after", "5", "--json"]);
    let dead = json(&["--after", "5", "--fault", "bake:open", "--json"]);
    assert_eq!(dead["unit"], "celsius");
    assert!(dead["value"].as_f64().unwrap() + 20.0 < sound["value"].as_f64().unwrap(), "{dead}, {sound}");
    assert_eq!((&dead["low"], &dead["high"]), (&sound["low"], &sound["high"]));
    let text = String::from_utf8(measure(&["--after", "5"]).stdout).unwrap();
    assert!(text.contains("the thermometer in the oven 5 min after the start"), "{text}");
}

#[test]
fn temperature_in_the_record_of_a_call_moves_the_suspects() {
    let dead = suspects("dead", "temperature = \"oven\"\nstate = \"preheat\"\nafter = 10\nshows = \"284F\"");
    let low = suspects("low", "temperature = \"oven\"\nstate = \"preheat\"\nafter = 10\nshows = \"186\"");
    assert!(share(&dead, "bake:open") > 8.0 * share(&low, "bake:open"));
    assert!(share(&low, "house:two-of-three") > 20.0 * share(&dead, "house:two-of-three"));
}

#[test]
fn mistakes_in_a_temperature_say_the_mend() {
    let said = |found: &str| complaint(&suspects("mistaken", found));
    assert!(said("temperature = \"oven\"\nshows = \"90\"").contains("add `after = 6`"));
    let rest = "state = \"preheat\"\nafter = 5\n";
    assert!(said(&format!("temperature = \"ovn\"\n{rest}shows = \"90\"")).contains("did you mean `oven`"));
    assert!(said(&format!("temperature = \"oven\"\n{rest}shows = \"hot\"")).contains("142C"));
    let early = "temperature = \"oven\"\nstate = \"preheat\"\nafter = -5.0\nshows = \"90\"";
    assert!(said(early).contains("give minutes from 0 to 1440"));
    let out = complaint(&measure(&["--after=-1"]));
    assert!(out.contains("give minutes from 0 to 1440"), "{out}");
}
