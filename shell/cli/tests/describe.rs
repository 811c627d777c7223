//! Describing a machine: from a rating plate over a shipped one, checked, and what can be told apart on it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;

fn callwright(folder: &Path, args: &[&str], typed: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_callwright"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(typed.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

fn done(folder: &Path, args: &[&str], typed: &str) -> String {
    let output = callwright(folder, args, typed);
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

fn refused(folder: &Path, args: &[&str]) -> String {
    let output = callwright(folder, args, "");
    assert_eq!(output.status.code(), Some(1), "{args:?}");
    String::from_utf8(output.stderr).unwrap()
}

#[test]
fn a_machine_described_from_its_plate_reads_as_ohms_law_says_and_builds_on_its_base() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    // The elements are asked for in turn: the upper is typed, the lower takes what goes with the plate.
    let plate = ["new", "heater-38", "--based-on", "water-heater-240", "--plate", "watts=3800"];
    done(at, &plate, "3500 W\n\n");
    let report: Value = serde_json::from_str(&done(at, &["check", "heater-38.toml", "--json"], "")).unwrap();
    assert_eq!(report["files"][0]["diagnostics"].as_array().unwrap().len(), 0);
    // Ohm's law: 240 V squared over the watts, a tenth of an ohm for leads and joints.
    for (element, watts) in [("upper-element", 3500.0), ("lower-element", 3800.0)] {
        let (red, black) = (format!("{element}.1"), format!("{element}.2"));
        let args = ["measure", "heater-38.toml", "--isolated", "--ohms", &red, &black, "--json"];
        let read: Value = serde_json::from_str(&done(at, &args, "")).unwrap();
        let ohms = read["value"].as_f64().unwrap();
        assert!((ohms - 240.0 * 240.0 / watts).abs() < 0.3, "{element}: {read}");
    }
    // A file that is there stays, and what would be wrong is not written.
    assert!(refused(at, &plate).contains("is there already"));
    let wrong = refused(at, &["new", "Heater", "--based-on", "water-heater-240", "--ask-nothing"]);
    assert!(wrong.contains("m007-bad-id") && !at.join("Heater.toml").exists(), "{wrong}");
    let wrong = refused(at, &["new", "x", "--based-on", "water-heater-240", "--plate", "volts=lots"]);
    assert!(wrong.contains("no number above 0"), "{wrong}");
    // Two legs give 240 V whatever a plate says.
    let wrong = refused(at, &["new", "x", "--based-on", "water-heater-240", "--plate", "volts=208"]);
    assert!(wrong.contains("two legs") && !at.join("x.toml").exists(), "{wrong}");
    let wrong = refused(at, &["new", "x", "--based-on", "water-heater-240", "--watts", "y=3"]);
    assert!(wrong.contains("there is no heater or lamp `y`"), "{wrong}");
}

#[test]
fn a_file_beside_another_is_built_on_by_its_id() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    done(at, &["new", "mine", "--based-on", "hood-120", "--plate", "watts=250", "--ask-nothing"], "");
    let top = "callwright = 1\n[based_on]\nmachine = \"mine\"\nwithout = [\"part.lamp-2\", \"lead.K8\", \"lead.K10\", \"observe.right\"]\n[machine]\nid = \"one-lamp\"\n";
    std::fs::write(at.join("one-lamp.toml"), top).unwrap();
    assert!(done(at, &["check", "one-lamp.toml"], "").contains("nothing wrong found"));
    std::fs::remove_file(at.join("mine.toml")).unwrap();
    let told = callwright(at, &["check", "one-lamp.toml"], "");
    assert!(String::from_utf8_lossy(&told.stdout).contains("is not at hand"));
}

#[test]
fn duties_tell_what_is_asked_of_work_with_their_sources() {
    let folder = TempDir::new().unwrap();
    let told: Value = serde_json::from_str(&done(folder.path(), &["duties", "microwave-120", "--json"], "")).unwrap();
    let all = told["duties"].as_array().unwrap();
    assert!(
        all.iter().any(|duty| duty["about"] == "high voltage" && duty["source"].as_str().unwrap().contains("1030.10"))
    );
}

#[test]
fn testability_tells_what_nothing_parts_and_what_a_closed_place_costs() {
    let folder = TempDir::new().unwrap();
    let report = |args: &[&str]| -> Value { serde_json::from_str(&done(folder.path(), args, "")).unwrap() };
    let open = report(&["testability", "dryer-timer-240", "--json"]);
    let shut = report(&["testability", "dryer-timer-240", "--closed", "heater-box", "--json"]);
    let groups = |report: &Value| report["twins"].as_array().unwrap().len();
    assert!(groups(&shut) > groups(&open) || shut["twins"].to_string().len() > open["twins"].to_string().len());
    assert!(shut["twins"].to_string().contains("heater:open") && !open["twins"].to_string().contains("heater:open"));
    assert!(refused(folder.path(), &["testability", "dryer-timer-240", "--closed", "cellar"]).contains("`cellar`"));
}

/// The page's own file: taken out of it as a newcomer would, and put through the commands that it names.
#[test]
fn the_page_on_describing_a_machine_ends_in_a_file_that_works() {
    let page = include_str!("../../../docs/describe-a-machine.md");
    let file = page.split("```toml\n").find(|block| block.starts_with("# towel-warmer.toml")).unwrap();
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    std::fs::write(at.join("towel-warmer.toml"), file.split("\n```").next().unwrap()).unwrap();
    assert!(done(at, &["check", "towel-warmer.toml"], "").contains("nothing wrong found"));
    let args = ["measure", "towel-warmer.toml", "--isolated", "--ohms", "heater.1", "heater.2", "--json"];
    let read: Value = serde_json::from_str(&done(at, &args, "")).unwrap();
    // 45 ohms of the cold heater beside 480 of the cold lamp: a tenth of 120 V squared over 3 W.
    let heater = 120.0 * 120.0 / 300.0 * 0.94;
    let lamp = 120.0 * 120.0 / 3.0 * 0.1;
    let expected = heater * lamp / (heater + lamp);
    assert!((read["value"].as_f64().unwrap() - expected).abs() < 0.5, "{expected} {read}");
    assert!(done(at, &["symptoms", "towel-warmer.toml"], "").contains("the rail does not heat"));
    assert!(done(at, &["testability", "towel-warmer.toml"], "").starts_with("towel-warmer: "));
    done(at, &["drawing", "towel-warmer.toml", "--svg", "warmer.svg"], "");
    assert!(std::fs::read_to_string(at.join("warmer.svg")).unwrap().starts_with("<svg"));
    let rehearsed = done(at, &["rehearse", "towel-warmer.toml", "--calls", "4", "--seed", "1", "--json"], "");
    let rehearsed: Value = serde_json::from_str(&rehearsed).unwrap();
    assert!(rehearsed.to_string().contains("towel-warmer"));
}

/// Eight fuses of one weight in a row: the first reading halves what is left, from the terminal block into the string.
#[test]
fn a_string_typed_from_the_sheet_is_searched_by_halves() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    let typed = format!("L1 - {} - heater 1000W - N\n", ["fuse"; 8].join(" - "));
    done(at, &["sheet", "-", "--id", "found"], &typed);
    assert!(done(at, &["check", "found.toml"], "").contains("nothing wrong found"));
    let record = "callwright-call = 1\nmachine = \"found.toml\"\n[[reported]]\nstate = \"on\"\nobserve = \"heater\"\nvalue = \"none\"\n";
    std::fs::write(at.join("call.toml"), record).unwrap();
    let next: Value = serde_json::from_str(&done(at, &["next", "call.toml", "--json"], "")).unwrap();
    let first = &next["steps"][0];
    let fuses: Vec<f64> =
        first["outcomes"].as_array().unwrap().iter().map(|outcome| outcome["probability"].as_f64().unwrap()).collect();
    assert!(fuses.iter().copied().fold(0.0, f64::max) < 0.75, "{first}");
    let wrong = callwright(at, &["sheet", "-", "--id", "x"], "L1 - wibble - N\n");
    assert!(String::from_utf8_lossy(&wrong.stderr).contains("line 1: `wibble` says of no part what it is"));
}

#[test]
fn two_descriptions_are_compared_in_words() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    done(at, &["new", "heater-38", "--based-on", "water-heater-240", "--plate", "watts=3800"], "3500 W\n\n");
    let said = done(at, &["compare", "water-heater-240", "heater-38.toml"], "");
    assert!(said.contains("plate: watts is 4500 in the first, 3800 in the second"), "{said}");
    assert!(said.contains("part upper-element: watts is 4500 in the first, 3500 in the second"), "{said}");
    let report: Value = serde_json::from_str(&done(at, &["compare", "hood-120", "hood-120", "--json"], "")).unwrap();
    assert_eq!(report["differences"], serde_json::json!([]));
    std::fs::write(at.join("broken.toml"), "[machine").unwrap();
    assert!(refused(at, &["compare", "hood-120", "broken.toml"]).contains("`broken.toml` cannot be compared"));
}

#[test]
fn a_machine_off_the_sheet_is_kept_in_the_book_and_a_call_is_begun_on_it() {
    let folder = TempDir::new().unwrap();
    let at = folder.path();
    std::fs::write(at.join("sheet.txt"), "L1 - fuse - switch [heat] - thermostat 250F - heater 1440W - N\n").unwrap();
    let own = |sets: &[&str]| {
        let mut args = vec!["own", "--book", "shop.book"];
        sets.iter().for_each(|set| args.extend(["--set", set]));
        args.push("--json");
        callwright(at, &args, "")
    };
    // Nothing is kept before it has an id, and a mistake is told in words.
    let early = own(&["lines=@sheet.txt", "keep="]);
    assert!(String::from_utf8_lossy(&early.stderr).contains("it has no id yet"), "{early:?}");
    let shown = own(&["id=attic", "lines=L1 - fuse - heater"]);
    assert!(String::from_utf8_lossy(&shown.stdout).contains("To mend"), "{shown:?}");
    let taken = own(&["id=hood-120", "lines=@sheet.txt", "keep="]);
    assert!(String::from_utf8_lossy(&taken.stderr).contains("the id `hood-120` is taken"), "{taken:?}");
    let kept = own(&["id=attic", "title=Heater in the attic", "lines=@sheet.txt", "keep="]);
    assert!(kept.status.success(), "{kept:?}");
    // It is there in the next run, can be opened, and another is laid over it by its plate.
    let opened = own(&["open-attic="]);
    assert!(String::from_utf8_lossy(&opened.stdout).contains("Heater in the attic"), "{opened:?}");
    let laid = own(&["from=attic", "id=attic-small", "watts=1000", "watts-of-heater=1000", "keep="]);
    assert!(laid.status.success(), "{laid:?}");
    // Prices in another money can be exchanged, else no call could be begun on it.
    std::fs::write(
        at.join("whole.toml"),
        "callwright = 1\n[based_on]\nmachine = \"attic\"\n[machine]\nid = \"attic-abroad\"\ncurrency = \"CHF\"\n",
    )
    .unwrap();
    let abroad = own(&["from=text", "lines=@whole.toml", "keep="]);
    assert!(abroad.status.success(), "{abroad:?}");
    let settings = done(at, &["settings", "--book", "shop.book"], "");
    assert!(settings.contains("exchange-CHF"), "{settings}");
    let begun = callwright(at, &["call", "attic-small", "--book", "shop.book"], "");
    let said = String::from_utf8_lossy(&begun.stdout).into_owned() + &String::from_utf8_lossy(&begun.stderr);
    assert!(!said.contains("no shipped machine") && said.contains("?"), "{said}");
}
