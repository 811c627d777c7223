//! Events as text: round trips, what is unknown, what is refused.

use book::*;

use crate::story::{self, PHONE, tell};

fn text(kind: &str, rest: &str) -> String {
    format!(
        r#"{{"at":"2026-03-02T09:15:00+01:00[Europe/Berlin]","id":"{PHONE}-3","kind":"{kind}","seen":{{}},"v":1{rest}}}"#
    )
}

#[test]
fn every_kind_written_reads_back_as_itself() {
    let (events, _) = tell();
    for event in &events {
        let again = Event::read(event.text()).unwrap();
        assert_eq!(again.body(), event.body());
        assert_eq!(again.sum(), Checksum::of(event.text().as_bytes()));
    }
}

#[test]
fn the_story_and_so_the_frozen_book_holds_every_kind() {
    let (events, _) = tell();
    for kind in [ShopFact::KINDS, JobFact::KINDS, CallFact::KINDS].concat() {
        assert!(events.iter().any(|event| event.body().kind() == kind), "{kind}");
    }
}

#[test]
fn the_names_of_units_in_version_1_are_these() {
    let units = [
        (Unit::Ohm, "ohm"),
        (Unit::Siemens, "siemens"),
        (Unit::Volt, "volt"),
        (Unit::Ampere, "ampere"),
        (Unit::Watt, "watt"),
        (Unit::VoltAmpere, "volt_ampere"),
        (Unit::Joule, "joule"),
        (Unit::Hertz, "hertz"),
        (Unit::Farad, "farad"),
        (Unit::Henry, "henry"),
        (Unit::Second, "second"),
        (Unit::Kelvin, "kelvin"),
        (Unit::DegreeCelsius, "degree_celsius"),
        (Unit::Pascal, "pascal"),
        (Unit::Metre, "metre"),
        (Unit::SquareMetre, "square_metre"),
        (Unit::CubicMetre, "cubic_metre"),
        (Unit::CubicMetrePerSecond, "cubic_metre_per_second"),
        (Unit::MetrePerSecond, "metre_per_second"),
        (Unit::Kilogram, "kilogram"),
        (Unit::Newton, "newton"),
        (Unit::NewtonMetre, "newton_metre"),
        (Unit::RevolutionPerMinute, "revolution_per_minute"),
        (Unit::PartPerMillion, "part_per_million"),
        (Unit::Percent, "percent"),
        (Unit::Count, "count"),
    ];
    for (unit, name) in units {
        assert_eq!(serde_json::to_value(unit).unwrap(), name);
    }
}

#[test]
fn the_text_of_version_1_is_this() {
    let job = JobId(EventId::new(PHONE, 1).unwrap());
    let mut pen = Pen::new(PHONE);
    let quote = EventId::new(PHONE, 9).unwrap();
    let fact = ApprovalRecorded { quote, decision: Decision::Declined, signature: Signature::NobodyThere };
    let event = pen.write(&story::at(0), &Body::job(job, fact)).unwrap();
    let device = "a1".repeat(16);
    let wanted = format!(
        concat!(
            r#"{{"at":"2026-03-02T08:00:00+01:00[Europe/Berlin]","#,
            r#""body":{{"decision":"declined","quote":"{device}-9","signature":"nobody_there"}},"#,
            r#""id":"{device}-1","job":"{device}-1","kind":"approval_recorded","seen":{{}},"v":1}}"#
        ),
        device = device
    );
    assert_eq!(event.text(), wanted);
}

#[test]
fn canonical_text_is_sorted_and_has_no_null_and_no_space() {
    let (events, _) = tell();
    for event in events.iter().filter(|event| !matches!(event.body(), Body::NotUnderstood { .. })) {
        let value: serde_json::Value = serde_json::from_str(event.text()).unwrap();
        // This build keeps members of a value sorted, so printing it is the plainest reference for the writer.
        assert_eq!(value.to_string(), event.text());
        assert!(!event.text().contains("null"));
    }
}

#[test]
fn an_unknown_kind_is_kept_byte_for_byte() {
    let odd = text("tea_drunk", r#",  "body":{"b":1e2, "a":[1.50]},"zzz":null"#);
    let event = Event::read(&odd).unwrap();
    assert_eq!(event.text(), odd);
    assert!(matches!(event.body(), Body::NotUnderstood { kind, .. } if kind == "tea_drunk"));
}

#[test]
fn an_unknown_field_is_kept_and_the_rest_understood() {
    let odd = text("job_closed", &format!(r#","job":"{PHONE}-1","mood":"good","body":{{"why":"done","new":7}}"#));
    let event = Event::read(&odd).unwrap();
    assert_eq!(event.text(), odd);
    let Body::Job { fact: JobFact::JobClosed(fact), .. } = event.body() else { panic!("{:?}", event.body()) };
    assert_eq!(fact.why.as_deref(), Some("done"));
}

#[test]
fn an_unknown_value_in_a_known_kind_is_kept_and_not_guessed() {
    let odd = text("call_ended", &format!(r#","job":"{PHONE}-1","call":"{PHONE}-2","body":{{"end":"flooded"}}"#));
    let event = Event::read(&odd).unwrap();
    let Body::NotUnderstood { kind, scope, why } = event.body() else { panic!("{:?}", event.body()) };
    assert_eq!(kind, "call_ended");
    assert!(scope.job.is_some() && scope.call.is_some());
    assert!(why.contains("flooded"), "{why}");
}

#[test]
fn a_fact_of_a_visit_without_its_visit_is_not_understood() {
    let event = Event::read(&text("stage_entered", r#","body":{"stage":"find"}"#)).unwrap();
    assert!(matches!(event.body(), Body::NotUnderstood { .. }));
}

#[test]
fn a_newer_version_is_held_and_ordered_though_not_understood() {
    let newer = text("job_closed", r#","seen2":1"#).replace(r#""v":1"#, r#""v":2"#);
    let event = Event::read(&newer).unwrap();
    let Body::NotUnderstood { why, .. } = event.body() else { panic!("{:?}", event.body()) };
    assert!(why.contains("version 2"), "{why}");
    assert_eq!(event.id().counter(), 3);
    assert_eq!(event.text(), newer);
}

#[test]
fn what_is_not_understood_cannot_be_written_anew() {
    let event = Event::read(&text("tea_drunk", r#","body":{}"#)).unwrap();
    assert_eq!(Pen::new(PHONE).write(event.at(), event.body()), Err(WriteError::NotUnderstood));
}

#[test]
fn text_without_a_name_a_time_or_a_vector_is_no_event() {
    let good = text("job_closed", "");
    assert!(Event::read(&good).is_ok());
    let spoilt = [
        good.replace("-3", "-03"),
        good.replace("-3\"", "-0\""),
        good.replace("-3\"", "-9007199254740992\""),
        good.replace("a1a1", "A1A1"),
        good.replace("+01:00[Europe/Berlin]", ""),
        good.replace(r#""seen":{},"#, ""),
        good.replace(r#""seen":{}"#, &format!(r#""seen":{{"{PHONE}":9007199254740992}}"#)),
        good.replace(r#","v":1"#, ""),
        good.replace('}', ""),
        String::new(),
    ];
    for text in spoilt {
        assert!(Event::read(&text).is_err(), "{text}");
    }
}

#[test]
fn numbers_keep_every_bit_and_refuse_what_is_not_finite() {
    for number in [0.1 + 0.2, 1.0 / 3.0, 4.35e-12, 1e300, 5e-324, 123_456_789.123_456_78, -0.0] {
        let text = serde_json::to_string(&Number::new(number).unwrap()).unwrap();
        let back: Number = serde_json::from_str(&text).unwrap();
        assert_eq!(back.get().to_bits(), (number + 0.0).to_bits(), "{text}");
    }
    assert!(Number::new(f64::NAN).is_none() && Number::new(f64::INFINITY).is_none());
}

#[test]
fn money_is_text_and_keeps_its_decimals() {
    let text = serde_json::to_string(&story::money("19.90")).unwrap();
    assert_eq!(text, r#"{"amount":"19.90","currency":"USD"}"#);
    assert!(serde_json::from_str::<Money>(r#"{"amount":"19.90","currency":"usd"}"#).is_err());
}

#[test]
fn a_time_needs_its_offset_and_keeps_its_zone() {
    let time: ZonedTime = "2026-03-02T09:15:00+01:00[Europe/Berlin]".parse().unwrap();
    assert_eq!(time.to_string(), "2026-03-02T09:15:00+01:00[Europe/Berlin]");
    assert_eq!(time.on_the_wall().unwrap().hour(), 9);
    // 2026-03-02T08:15:00Z by hand: one hour ahead of it.
    assert_eq!(time.moment().unwrap().to_string(), "2026-03-02T08:15:00Z");
    for bad in ["2026-03-02T09:15:00", "2026-03-02", "yesterday", "2026-13-02T09:15:00Z", ""] {
        assert!(bad.parse::<ZonedTime>().is_err(), "{bad}");
    }
}

#[test]
fn a_kind_name_is_its_structs_name_and_no_name_is_used_twice() {
    let mut kinds: Vec<&str> = [ShopFact::KINDS, JobFact::KINDS, CallFact::KINDS].concat();
    kinds.push("undone");
    let count = kinds.len();
    kinds.sort_unstable();
    kinds.dedup();
    assert_eq!(kinds.len(), count);
    // A folded fact prints the same kind name as the event it came from.
    let (events, job) = tell();
    let job = fold_job(&events, job).unwrap();
    for entry in &job.timeline {
        let value = serde_json::to_value(&entry.fact).unwrap();
        let event = events.iter().find(|event| event.id() == entry.event).unwrap();
        assert_eq!(value["kind"], event.body().kind());
    }
}

#[test]
fn a_book_file_reads_back_and_reports_damaged_lines() {
    let (events, _) = tell();
    let file = write_book_file(&events);
    let loaded = read_book_file(&file).unwrap();
    assert_eq!(loaded, Loaded::in_order(events.clone(), Vec::new()));
    let spoilt = file.replacen("since Sunday", "since Monday", 1);
    let loaded = read_book_file(&spoilt).unwrap();
    assert_eq!(loaded.events.len(), events.len() - 1);
    assert_eq!(loaded.damaged.len(), 1);
    assert!(loaded.damaged[0].what.starts_with("line 4: "), "{:?}", loaded.damaged);
    let torn: String = file.chars().take(file.chars().count() - 40).collect();
    assert_eq!(read_book_file(&torn).unwrap().events.len(), events.len() - 1);
    assert!(matches!(read_book_file("dear diary"), Err(StoreError::NotABook(_))));
    assert!(matches!(read_book_file("callwright book 2\n"), Err(StoreError::Newer { found: 2, known: 1 })));
}
