//! The shop's settings and its van on the command line, in a book of their own.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

fn run(book: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_callwright"));
    command.args(arguments).arg("--book").arg(book).output().unwrap()
}

fn json(book: &Path, arguments: &[&str]) -> Value {
    let output = run(book, &[&["--json"], arguments].concat());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn value(shown: &Value, id: &str) -> String {
    let groups = shown["fields"].as_array().unwrap();
    let fields = groups.iter().flat_map(|group| group["fields"].as_array().unwrap());
    fields.into_iter().find(|field| field["id"] == id).unwrap()["value"].as_str().unwrap().to_owned()
}

#[test]
fn settings_and_counts_stay_in_the_book_and_a_mistake_is_refused_with_its_mend() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book.db");
    assert_eq!(value(&json(&book, &["settings"]), "per-hour"), "120");
    json(&book, &["settings", "--set", "per-hour=132.50", "--set", "clamp=yes"]);
    let meters = folder.path().join("meters.toml");
    std::fs::write(&meters, include_str!("../../../meters/ordinary.toml")).unwrap();
    let shown = json(&book, &["settings", "--set", &format!("meters=@{}", meters.display())]);
    assert_eq!((value(&shown, "per-hour").as_str(), value(&shown, "clamp").as_str()), ("132.50", "no"));
    json(&book, &["van", "--count", "dryer-timer-240/heater=2"]);
    assert_eq!(value(&json(&book, &["van"]), "dryer-timer-240/heater"), "2");
    for (arguments, said) in [
        (["settings", "--set", "per-hour=lots"], "write it as `95`"),
        (["settings", "--set", "nothing"], "write it as `ID=VALUE`"),
        (["settings", "--set", "meters=@/no/such/file"], "cannot read"),
        (["van", "--count", "dryer-timer-240/no-such=1"], "take one that is listed"),
    ] {
        let output = run(&book, &arguments);
        assert_eq!(output.status.code(), Some(1), "{arguments:?}");
        assert!(String::from_utf8_lossy(&output.stderr).contains(said), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let text = String::from_utf8(run(&book, &["settings"]).stdout).unwrap();
    assert!(text.contains("per-hour") && text.contains("132.50"));
}
