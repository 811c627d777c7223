//! `callwright rehearse` as a script sees it.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use serde_json::Value;
use std::process::{Command, Output};

const BENCH: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../engine/rehearsal/tests/bench-heater.toml");

fn rehearse(args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(["rehearse", BENCH, "--calls", "6"]).args(args).env("NO_COLOR", "1").output().unwrap()
}

fn json(args: &[&str]) -> Value {
    let output = rehearse(&[args, &["--json"]].concat());
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn van(name: &str, text: &str) -> String {
    let path = std::env::temp_dir().join(format!("callwright-van-{}-{name}", std::process::id()));
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn danger_counts_and_paired_differences_stand_in_the_json() {
    let told = json(&["--planted", "1"]);
    let planted = told["planted"].as_u64().unwrap();
    assert!(planted > 0 && told["planted_found"].as_u64().unwrap() <= planted);
    assert_eq!((&told["violations"], &told["violations_share_at_most"]), (&Value::from(0), &Value::from(0.5)));
    assert!(told["hands_judged"].as_u64().unwrap() > 50);
    let paired = &told["paired"]["likeliest_part_first"];
    let more = told["rivals"]["likeliest_part_first"]["minutes"].as_f64().unwrap() - told["minutes"].as_f64().unwrap();
    assert!((paired["minutes_more"].as_f64().unwrap() - more).abs() < 1e-9 && paired["minutes_more_error"].is_number());
    assert_eq!(json(&["--planted", "0"])["planted"], 0);
}

#[test]
fn empty_van_completes_no_call_that_takes_a_part() {
    let (all, none) = (van("all", "element\nfuse\nswitch\ncord # and plug\n"), van("none", "# nothing\n"));
    let completed = |van: &str| json(&["--planted", "0", "--van", van])["completed_from_van"].as_f64().unwrap();
    assert!(completed(&none) < completed(&all));
}

#[test]
fn strange_part_on_the_van_and_a_share_over_one_are_refused() {
    let refused = |args: &[&str]| {
        let output = rehearse(args);
        assert_eq!(output.status.code(), Some(1), "{args:?}");
        String::from_utf8(output.stderr).unwrap()
    };
    assert!(refused(&["--van", &van("strange", "elephant\n")]).contains("`elephant`"));
    assert!(refused(&["--planted", "2"]).contains("`2`"));
}
