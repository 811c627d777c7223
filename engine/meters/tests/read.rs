//! The reader of a technician's meters: what it makes of a file, every mistake at once, and the documented example.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use meters::{CODES, Meter, Meters, ORDINARY, Owned, read, write};
use prediction::{Quantity, Shown};

fn file(name: &str) -> String {
    std::fs::read_to_string(format!("{}/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn together(text: &str) -> Meter {
    let read = read(text);
    let said: Vec<String> = read.diagnostics.iter().map(|d| d.render("text", text)).collect();
    read.meters.unwrap_or_else(|| panic!("{}", said.join("\n"))).together()
}

#[test]
fn the_ordinary_file_is_the_ordinary_meter() {
    assert_eq!(together(ORDINARY), Meter::ordinary());
}

#[test]
fn a_van_s_meters_are_one_meter_together() {
    let meter = together(&file("tests/good/van.toml"));
    assert!(meter.takes(Quantity::Volts) && meter.takes(Quantity::Ohms) && meter.takes(Quantity::Amps));
    assert!(meter.functions.capacitance && meter.functions.temperature);
    // The low-impedance setting stands second in the file and is still the one volts are read with.
    assert!(meter.loads());
    // 2.0 % + 3 digits at 240.0 V, 6000 counts of 0.1 V: 4.8 V + 0.3 V.
    assert!((meter.half_width(Quantity::Volts, 240.0) - 5.1).abs() < 1e-9);
    // 0.9 % + 2 digits at 2.400 kohm, a digit being 1 ohm there: 21.6 ohm + 2 ohm.
    assert!((meter.half_width(Quantity::Ohms, 2400.0) - 23.6).abs() < 1e-9);
    // 2.0 % + 5 digits at 22.0 A: 0.44 A + 0.5 A.
    assert!((meter.half_width(Quantity::Amps, 22.0) - 0.94).abs() < 1e-9);
    // 1.9 % + 2 digits at 20.0 uF, a digit being 0.1 uF with 1000 counts: 0.38 uF + 0.2 uF.
    assert!(meter.takes(Quantity::Farads) && (meter.half_width(Quantity::Farads, 20e-6) - 0.58e-6).abs() < 1e-12);
    assert!(meter.lead_shown().abs() < 1e-12);
    assert_eq!(meter.sounds(Shown::Value { value: 24.0, phase_deg: 0.0, sigma: 0.0 }), Some(true));
    assert_eq!(meter.insulation.map(|of| (of.test_volts, of.limit_ohms)), Some((500.0, 1e9)));
}

#[test]
fn what_is_not_in_the_file_is_not_owned() {
    let clamp = "callwright-meters = 1\n[[meter]]\nid = \"c\"\nsay = \"c\"\n[meter.clamp]\npercent = 2\ndigits = 5\n\
                 resolution = 0.1\n";
    let meter = together(clamp);
    assert!(meter.takes(Quantity::Amps) && !meter.takes(Quantity::Ohms) && !meter.takes(Quantity::Volts));
    assert_eq!((meter.insulation, meter.continuity_ohms), (None, None));
}

#[test]
fn every_mistake_is_reported_at_once_with_its_place() {
    let text = file("tests/broken/everything-at-once.toml");
    let read = read(&text);
    assert!(read.meters.is_none());
    let found: Vec<(&str, usize, usize)> = read.diagnostics.iter().map(|d| (d.code, d.line, d.column)).collect();
    let wanted = [
        ("t006-version", 1, 21),
        ("t003-missing-key", 3, 1),
        ("t007-bad-id", 4, 6),
        ("t003-missing-key", 6, 1),
        ("t005-unknown-key", 7, 1),
        ("t004-wrong-value", 8, 10),
        ("t009-out-of-range", 9, 14),
        ("t010-no-function", 12, 1),
        ("t008-duplicate-id", 17, 6),
        ("t004-wrong-value", 19, 8),
        ("t005-unknown-key", 20, 1),
    ];
    assert_eq!(found, wanted);
    let misspelt = &read.diagnostics[4];
    assert_eq!(misspelt.hints, ["did you mean `percent`"]);
    for mistake in &read.diagnostics {
        assert!(!mistake.hints.is_empty() && CODES.iter().any(|(code, _)| *code == mistake.code), "{mistake:?}");
    }
}

#[test]
fn what_is_no_toml_is_said_and_the_rest_is_still_read() {
    let read = read("callwright-meters = 1\n[[meter]\nid = \"x\"\n");
    assert!(read.meters.is_none());
    assert!(read.diagnostics.iter().any(|d| d.code == "t001-not-toml" && d.line == 2), "{:?}", read.diagnostics);
}

#[test]
fn a_text_too_big_or_without_meters_is_refused() {
    let big = " ".repeat(meters::MOST_BYTES + 1);
    assert_eq!(read(&big).diagnostics[0].code, "t002-too-big");
    assert_eq!(read("callwright-meters = 1\nmeter = []\n").diagnostics[0].code, "t002-too-big");
    assert_eq!(read("").diagnostics.len(), 2);
}

#[test]
fn numbers_that_are_none_are_refused() {
    for number in ["nan", "inf", "-inf", "-1", "0x10", "1e300"] {
        let text = ORDINARY.replace("input_ohms = 10e6", &format!("input_ohms = {number}"));
        assert!(read(&text).meters.is_none(), "{number}");
    }
}

#[test]
fn the_documented_example_reads_and_every_key_and_code_is_documented() {
    let doc = file("../../docs/meter-format.md");
    let example = doc.split("```toml\n").nth(1).unwrap().split("```").next().unwrap();
    let meter = together(example);
    assert!(meter.takes(Quantity::Amps) && meter.insulation.is_some());
    for (code, _) in CODES {
        assert!(doc.contains(code), "{code} is not in docs/meter-format.md");
    }
    for key in ["percent", "digits", "resolution", "counts", "input_ohms", "least_volts", "limit_ohms", "test_amps"] {
        assert!(doc.contains(&format!("`{key}`")), "{key} is not in docs/meter-format.md");
    }
}

fn written_and_read(meters: &Meters) -> Meters {
    let text = write(meters);
    let again = read(&text);
    assert!(again.diagnostics.is_empty(), "{text}");
    again.meters.unwrap()
}

#[test]
fn meters_written_as_a_file_read_back_as_the_same_meter() {
    let mut named = read(&file("tests/good/van.toml")).meters.unwrap();
    named.meters[0].say = "the \"old\" one \\ blue\t".to_owned();
    for meters in [read(ORDINARY).meters.unwrap(), named] {
        let again = written_and_read(&meters);
        assert_eq!(again.together(), meters.together());
        assert_eq!(again, meters);
        assert_eq!(write(&again), write(&meters));
    }
}

#[test]
fn a_function_is_taken_in_and_left_out_and_the_others_stay_as_they_are() {
    let ordinary = read(ORDINARY).meters.unwrap();
    for owned in Owned::ALL {
        let mut meters = ordinary.clone();
        assert!(!meters.have(owned), "{}", owned.id());
        meters.take_in(owned);
        meters.take_in(owned);
        assert!(meters.have(owned));
        let mut again = written_and_read(&meters);
        assert_eq!(again.together(), meters.together());
        assert_ne!(again.together(), ordinary.together(), "{}", owned.id());
        again.leave_out(owned);
        assert_eq!(again, ordinary, "{}", owned.id());
    }
    // A meter of his own keeps its other functions, and the id of the new one is not taken twice.
    let mut own = read(&file("tests/good/van.toml")).meters.unwrap();
    own.meters[0].id = "clamp".to_owned();
    own.leave_out(Owned::Clamp);
    assert!(!own.have(Owned::Clamp) && own.together().functions.ohms);
    own.take_in(Owned::Clamp);
    assert!(written_and_read(&own).have(Owned::Clamp));
}
