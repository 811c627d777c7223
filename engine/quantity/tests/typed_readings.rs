//! What people type at the meter, and what it must mean.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use quantity::{Figure, Typed, TypedErrorKind, Unit, parse_reading};

fn value(text: &str, expected: Option<Unit>) -> (f64, Unit) {
    match parse_reading(text, expected) {
        Ok(Typed::Value { figure, unit }) => (figure.value(), unit),
        other => panic!("`{text}` gave {other:?}"),
    }
}

fn kind(text: &str, expected: Option<Unit>) -> TypedErrorKind {
    match parse_reading(text, expected) {
        Err(error) => error.kind,
        Ok(typed) => panic!("`{text}` gave {typed:?}"),
    }
}

/// Exact bits: both sides are the nearest float to the same decimal.
fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits()
}

#[test]
fn every_usual_spelling_reads_as_meant() {
    use Unit::{Amp, Celsius, Fahrenheit, Farad, Hertz, Minute, Ohm, Second, Volt, Watt};
    // Text, expected unit, value in the base unit, unit.
    let cases: [(&str, Option<Unit>, f64, Unit); 66] = [
        ("15.2", Some(Ohm), 15.2, Ohm),
        (" 15.2 ", Some(Ohm), 15.2, Ohm),
        ("15,2", Some(Ohm), 15.2, Ohm),
        (".3", Some(Ohm), 0.3, Ohm),
        ("15.", Some(Ohm), 15.0, Ohm),
        ("4k7", None, 4700.0, Ohm),
        ("4k7 ohm", None, 4700.0, Ohm),
        ("4K7", Some(Ohm), 4700.0, Ohm),
        ("1M2", None, 1_200_000.0, Ohm),
        ("470R", None, 470.0, Ohm),
        ("4R7", None, 4.7, Ohm),
        ("R47", None, 0.47, Ohm),
        ("4r7 ohm", Some(Ohm), 4.7, Ohm),
        ("0.3 M", Some(Ohm), 300_000.0, Ohm),
        ("0.3M", None, 300_000.0, Ohm),
        ("1,2k", Some(Ohm), 1200.0, Ohm),
        ("1.2 kohm", None, 1200.0, Ohm),
        ("1.2 KOHM", None, 1200.0, Ohm),
        ("1.2 kΩ", None, 1200.0, Ohm),
        ("1.2 k\u{2126}", None, 1200.0, Ohm),
        ("2 MΩ", None, 2e6, Ohm),
        ("2 megohms", None, 2e6, Ohm),
        ("2 meg", Some(Ohm), 2e6, Ohm),
        ("1.5 Gohm", None, 1.5e9, Ohm),
        ("3 milliohms", Some(Ohm), 0.003, Ohm),
        ("22 ohms", None, 22.0, Ohm),
        ("-0.3", Some(Ohm), -0.3, Ohm),
        ("120 V", Some(Volt), 120.0, Volt),
        ("120v", None, 120.0, Volt),
        ("120 VAC", None, 120.0, Volt),
        ("5 v dc", None, 5.0, Volt),
        ("-0.3", Some(Volt), -0.3, Volt),
        ("\u{2212}0.3 V", None, -0.3, Volt),
        ("+12 V", None, 12.0, Volt),
        ("12 mV", None, 0.012, Volt),
        ("12 m", Some(Volt), 0.012, Volt),
        ("2.1 kV", None, 2100.0, Volt),
        ("22.5 A", None, 22.5, Amp),
        ("22.5 amps", None, 22.5, Amp),
        ("350 mA", None, 0.35, Amp),
        ("350 ma", Some(Amp), 0.35, Amp),
        ("5 uA", None, 5e-6, Amp),
        ("5 µA", None, 5e-6, Amp),
        ("2600 W", None, 2600.0, Watt),
        ("2.6 kW", None, 2600.0, Watt),
        ("45 µF", None, 45e-6, Farad),
        ("45 μF", None, 45e-6, Farad),
        ("45 uf", None, 45e-6, Farad),
        ("45 MFD", None, 45e-6, Farad),
        ("45", Some(Farad), 45e-6, Farad),
        ("4u7", Some(Farad), 4.7e-6, Farad),
        ("470 nF", None, 470e-9, Farad),
        ("100 pF", None, 100e-12, Farad),
        ("60 Hz", None, 60.0, Hertz),
        ("77 F", Some(Celsius), 77.0, Fahrenheit),
        ("77 F", None, 77.0, Fahrenheit),
        ("77 °F", None, 77.0, Fahrenheit),
        ("77 deg", Some(Fahrenheit), 77.0, Fahrenheit),
        ("25 C", None, 25.0, Celsius),
        ("25°C", Some(Fahrenheit), 25.0, Celsius),
        ("-18", Some(Celsius), -18.0, Celsius),
        ("350°", Some(Fahrenheit), 350.0, Fahrenheit),
        ("12 min", None, 12.0, Minute),
        ("12 m", Some(Minute), 12.0, Minute),
        ("30 s", Some(Minute), 30.0, Second),
        ("0", Some(Ohm), 0.0, Ohm),
    ];
    for (text, expected, meant, unit) in cases {
        let (got, got_unit) = value(text, expected);
        assert!(same(got, meant), "`{text}` gave {got}, not {meant}");
        assert_eq!(got_unit, unit, "`{text}`");
    }
}

#[test]
fn over_range_is_a_reading_in_every_spelling() {
    for text in [
        "OL",
        "ol",
        "O.L",
        "O.L.",
        ".OL",
        "0L",
        "0.L",
        "0L.",
        "OL ohm",
        "OL MΩ",
        "O.L M",
        "over",
        "Over range",
        "overload",
        "over-range",
        "inf",
        "infinity",
        "∞",
        "open",
        "open circuit",
        " OL ",
        "-OL",
    ] {
        assert_eq!(parse_reading(text, Some(Unit::Ohm)), Ok(Typed::OverRange), "`{text}`");
    }
}

#[test]
fn open_says_nothing_about_volts() {
    assert_eq!(kind("open", Some(Unit::Volt)), TypedErrorKind::NotANumber);
    assert_eq!(parse_reading("OL", Some(Unit::Volt)), Ok(Typed::OverRange));
}

#[test]
fn blank_is_told_apart_from_zero() {
    assert_eq!(parse_reading("", Some(Unit::Ohm)), Ok(Typed::Blank));
    assert_eq!(parse_reading(" \t ", None), Ok(Typed::Blank));
    assert!(matches!(parse_reading("0", Some(Unit::Ohm)), Ok(Typed::Value { .. })));
}

#[test]
fn what_could_mean_two_things_is_refused_with_both_spelled_out() {
    for (text, expected, one, other) in [
        ("0.3 m", Unit::Ohm, "0.3 Mohm", "0.3 milliohm"),
        ("0.3 mohm", Unit::Ohm, "0.3 Mohm", "0.3 milliohm"),
        ("4m7", Unit::Ohm, "4.7 Mohm", "4.7 milliohm"),
        ("1,200", Unit::Ohm, "1.200", "1200"),
        ("10 F", Unit::Farad, "10 uF", "10 nF"),
        ("10 mF", Unit::Farad, "10 uF", "10 nF"),
        ("0.l", Unit::Ohm, "0.1", "OL"),
        ("70 °", Unit::Ohm, "70 F", "70 C"),
    ] {
        let error = parse_reading(text, Some(expected)).unwrap_err();
        assert_eq!(error.kind, TypedErrorKind::TwoWays, "`{text}`");
        assert!(error.mend.contains(&format!("`{one}`")) && error.mend.contains(&format!("`{other}`")), "{error}");
    }
}

#[test]
fn every_mend_that_names_a_spelling_can_be_typed() {
    for (text, expected) in
        [("0.3 m", Unit::Ohm), ("1,200", Unit::Ohm), ("10 F", Unit::Farad), ("4m7", Unit::Ohm), ("0.l", Unit::Ohm)]
    {
        let error = parse_reading(text, Some(expected)).unwrap_err();
        let spelled: Vec<&str> = error.mend.split('`').skip(1).step_by(2).collect();
        assert_eq!(spelled.len(), 2, "{error}");
        for mend in spelled {
            assert!(parse_reading(mend, Some(expected)).is_ok(), "`{mend}` out of {error}");
        }
    }
}

#[test]
fn errors_point_at_the_characters_at_fault() {
    for (text, expected, column, length) in [
        ("15.2 volt", Unit::Ohm, 6, 4),
        ("15.2 blah", Unit::Ohm, 6, 4),
        ("  15.2 blah", Unit::Ohm, 8, 4),
        ("1O.5", Unit::Ohm, 2, 3),
        ("1 200", Unit::Ohm, 3, 3),
        ("1.2.3", Unit::Ohm, 4, 2),
        ("blah", Unit::Ohm, 1, 4),
        ("-blah", Unit::Volt, 2, 4),
        ("µ", Unit::Ohm, 1, 1),
        ("12 MV", Unit::Volt, 4, 2),
    ] {
        let error = parse_reading(text, Some(expected)).unwrap_err();
        assert_eq!((error.column, error.length), (column, length), "{error}");
        assert_eq!(error.underline().len(), column - 1 + length);
    }
}

#[test]
fn volts_where_ohms_were_asked_for_are_named() {
    let other = TypedErrorKind::OtherUnit { typed: Unit::Volt, expected: Unit::Ohm };
    assert_eq!(kind("120 V", Some(Unit::Ohm)), other);
}

#[test]
fn a_bare_number_needs_to_know_its_unit() {
    let error = parse_reading("15.2", None).unwrap_err();
    assert_eq!(error.kind, TypedErrorKind::NoUnit);
    assert_eq!(error.to_string(), "column 5: `15.2` has no unit; type the unit after it, such as `15.2 ohm`");
}

#[test]
fn r_for_the_point_means_ohms_and_nothing_else() {
    assert_eq!(kind("4R7 k", None), TypedErrorKind::NotAUnit);
    assert_eq!(kind("4R7 V", None), TypedErrorKind::NotAUnit);
    assert_eq!(kind("4R7", Some(Unit::Volt)), TypedErrorKind::OtherUnit { typed: Unit::Ohm, expected: Unit::Volt });
}

#[test]
fn impossible_readings_are_refused_as_warnings() {
    let error = parse_reading("-5 ohm", None).unwrap_err();
    assert_eq!(error.kind, TypedErrorKind::Impossible);
    assert!(error.mend.contains("prove dead"), "{error}");
    assert_eq!(kind("-300 C", None), TypedErrorKind::Impossible);
    assert_eq!(kind("-2 uF", None), TypedErrorKind::Impossible);
    assert_eq!(kind("-2 min", None), TypedErrorKind::Impossible);
}

#[test]
fn too_long_is_refused() {
    assert_eq!(kind(&"1".repeat(16), Some(Unit::Ohm)), TypedErrorKind::TooLong);
    assert_eq!(kind(&"x".repeat(500), Some(Unit::Ohm)), TypedErrorKind::TooLong);
    assert_eq!(kind("0.0000000000000001", Some(Unit::Ohm)), TypedErrorKind::TooLong);
}

#[test]
fn the_last_digit_typed_is_kept() {
    let near = |text: &str, worth: f64| {
        let typed = parse_reading(text, Some(Unit::Ohm)).unwrap();
        assert!(same(typed.last_digit().unwrap(), worth), "`{text}`");
    };
    near("15.2", 0.1);
    near("15.20", 0.01);
    near("0.30 M", 10_000.0);
    near("4k7", 100.0);
}

#[test]
fn fahrenheit_and_seconds_convert() {
    let typed = parse_reading("77 F", Some(Unit::Celsius)).unwrap();
    assert!((typed.value_in(Unit::Celsius).unwrap() - 25.0).abs() < 1e-12);
    let typed = parse_reading("90 s", Some(Unit::Minute)).unwrap();
    assert!((typed.value_in(Unit::Minute).unwrap() - 1.5).abs() < 1e-12);
    assert_eq!(parse_reading("12 V", None).unwrap().value_in(Unit::Ohm), None);
}

#[test]
fn prints_as_it_would_be_typed_again() {
    for (text, expected, printed) in [
        ("4k7", Unit::Ohm, "4.7 kohm"),
        ("0.30 M", Unit::Ohm, "0.30 Mohm"),
        ("0.3M", Unit::Ohm, "0.3 Mohm"),
        ("15.20", Unit::Ohm, "15.20 ohm"),
        ("0L", Unit::Ohm, "OL"),
        ("", Unit::Ohm, ""),
        ("-0.3", Unit::Volt, "-0.3 V"),
        ("1200", Unit::Ohm, "1.200 kohm"),
        ("350 ma", Unit::Amp, "350 mA"),
        ("0.35", Unit::Amp, "0.35 A"),
        ("0.350", Unit::Amp, "350 mA"),
        ("45", Unit::Farad, "45 uF"),
        ("0.0", Unit::Ohm, "0.0 ohm"),
        ("77°F", Unit::Celsius, "77 F"),
    ] {
        assert_eq!(parse_reading(text, Some(expected)).unwrap().to_string(), printed, "`{text}`");
    }
    assert_eq!(format!("{:>8}|", Typed::OverRange), "      OL|");
}

/// A small generator of its own, so that every run types the same things.
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, limit: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 33).unwrap() % limit
    }
}

#[test]
fn no_text_makes_it_panic_and_every_reading_prints_back() {
    let pieces: Vec<&str> =
        "0 1 2 5 7 9 . , - + k K M m u µ n p G R r O L l o ohm Ω \u{2126} V A W F C Hz ° min s mega milli meg \
        over open inf ∞ MFD farad é 日 \u{301} \0 \t \u{a0} \u{202e} ' \" \\ e E"
            .split(' ')
            .chain([" "])
            .collect();
    let mut random = Seeded(0x5eed);
    let mut read = 0;
    for _ in 0..200_000 {
        let text: String = (0..random.below(8)).map(|_| pieces[random.below(pieces.len())]).collect();
        let expected = [None].into_iter().chain(Unit::ALL.map(Some)).nth(random.below(11)).unwrap();
        match parse_reading(&text, expected) {
            Ok(typed) => {
                read += 1;
                let printed = typed.to_string();
                assert_eq!(parse_reading(&printed, None), Ok(typed), "`{text}` printed `{printed}`");
                if let Typed::Value { unit, .. } = typed {
                    assert_eq!(parse_reading(&printed, Some(unit)), Ok(typed), "`{text}` printed `{printed}`");
                }
            }
            Err(error) => {
                let length = text.chars().count();
                assert!(error.column >= 1 && error.column <= length + 1, "`{text}`: {error}");
                assert!(!error.mend.is_empty() && !error.message.is_empty());
            }
        }
    }
    // A grammar that refused everything would pass the checks above.
    assert!(read > 10_000, "only {read} were readable");
}

#[test]
fn any_characters_at_all_are_survived() {
    let mut random = Seeded(7);
    for _ in 0..100_000 {
        let text: String = (0..random.below(12))
            .filter_map(|_| char::from_u32(u32::try_from(random.below(0x11_0000)).unwrap()))
            .collect();
        if let Err(error) = parse_reading(&text, Some(Unit::Ohm)) {
            assert!(error.column >= 1, "`{text}`");
        }
    }
}

#[test]
fn figures_made_by_hand_print_back_too() {
    let mut random = Seeded(11);
    let mut tried = 0;
    for _ in 0..50_000 {
        let digits = i64::try_from(random.below(2_000_000)).unwrap();
        let unit = Unit::ALL[random.below(10)];
        let (least, most) = (unit.scales()[0].0 - 6, unit.scales().last().unwrap().0);
        let power = least + i8::try_from(random.below(usize::try_from(most - least + 1).unwrap())).unwrap();
        let figure = Figure::new(digits, power).unwrap();
        let typed = Typed::Value { figure, unit };
        assert_eq!(parse_reading(&typed.to_string(), None), Ok(typed), "{typed}");
        tried += 1;
    }
    assert_eq!(tried, 50_000);
}
