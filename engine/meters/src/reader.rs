//! Walks the spanned tables of a meters file and collects every mistake on the way; it never stops at the first.

mod table;

use crate::MOST_BYTES;
use crate::kit::{Buzzer, Capacitance, Clamp, Insulating, Meters, Ohms, Own, Temperature, Volts};
use machine::Diagnostic;
use prediction::Accuracy;
use table::{Found, Limits, Table, Value};
use toml::de::DeTable;

pub(crate) const NOT_TOML: &str = "t001-not-toml";
pub(crate) const TOO_BIG: &str = "t002-too-big";
pub(crate) const MISSING_KEY: &str = "t003-missing-key";
pub(crate) const WRONG_VALUE: &str = "t004-wrong-value";
pub(crate) const UNKNOWN_KEY: &str = "t005-unknown-key";
pub(crate) const VERSION: &str = "t006-version";
pub(crate) const BAD_ID: &str = "t007-bad-id";
pub(crate) const DUPLICATE_ID: &str = "t008-duplicate-id";
pub(crate) const OUT_OF_RANGE: &str = "t009-out-of-range";
pub(crate) const NO_FUNCTION: &str = "t010-no-function";

/// Meters of one file.
const MOST_METERS: usize = 50;

const PERCENT: Limits = Limits::from(0.0, 50.0);
const DIGITS: Limits = Limits::from(0.0, 1000.0);
const ABOVE_0: Limits = Limits::above(0.0, 1e12);
const COUNTS: Limits = Limits::from(100.0, 1e7);
const INPUT: Limits = Limits::from(100.0, 1e12);
const LIMIT: Limits = Limits::from(100.0, 1e13);
const LEADS: Limits = Limits::above(0.0, 10.0);
const AMPS: Limits = Limits::above(0.0, 1.0);
const TEST_VOLTS: Limits = Limits::from(10.0, 15_000.0);
const THRESHOLD: Limits = Limits::above(0.0, 10_000.0);

/// Reads the text; gives what could be made of it and everything found wrong.
pub(crate) fn read(text: &str) -> (Option<Meters>, Vec<Diagnostic>) {
    let mut found = Found::of(text);
    if text.len() > MOST_BYTES {
        let message = format!("the text has {} bytes, more than {MOST_BYTES}", text.len());
        found.error(TOO_BIG, &(0..0), message, "list your own meters only");
        return (None, found.finish());
    }
    let (root, errors) = DeTable::parse_recoverable(text);
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        let hint = "mend the TOML here; what follows is read as well as it can be";
        found.error(NOT_TOML, &span, error.message().to_lowercase(), hint);
    }
    let mut table = Table::root(root.get_ref());
    version(&mut table, &mut found);
    let meters = list(&mut table, &mut found);
    table.refuse_others(&mut found);
    (meters.map(|meters| Meters { meters }), found.finish())
}

fn version(table: &mut Table<'_, '_>, found: &mut Found<'_>) {
    let Some(value) = table.must("callwright-meters", "= 1", found) else { return };
    if value.get_ref().as_integer().is_none_or(|whole| whole.as_str() != "1") {
        found.error(VERSION, &value.span(), "this version of the meters file is not known here", "version 1 is known");
    }
}

fn list(table: &mut Table<'_, '_>, found: &mut Found<'_>) -> Option<Vec<Own>> {
    let value = table.must("meter", "with `[[meter]]` for each", found)?;
    let Some(array) = value.get_ref().as_array() else {
        found.error(
            WRONG_VALUE,
            &value.span(),
            "`meter` takes a list of tables",
            "write `[[meter]]` with two brackets",
        );
        return None;
    };
    if array.len() > MOST_METERS || array.is_empty() {
        let message = format!("`meter` has {} entries", array.len());
        found.error(TOO_BIG, &value.span(), message, &format!("list 1 to {MOST_METERS} meters"));
    }
    let mut meters: Vec<Own> = Vec::new();
    for entry in array.iter().take(MOST_METERS) {
        if let Some(own) = meter(entry, &meters, found) {
            meters.push(own);
        }
    }
    Some(meters)
}

fn meter(value: &Value<'_>, before: &[Own], found: &mut Found<'_>) -> Option<Own> {
    let mut table = Table::of("meter", value, found)?;
    let id = table.must("id", "= \"...\"", found).and_then(|value| id(value, before, found));
    let say = table.must("say", "= \"...\"", found).and_then(|value| found.text("say", value));
    let volts = table.get("volts").map_or_else(Vec::new, |value| all_volts(value, found));
    let own = Own {
        id: id.unwrap_or_default(),
        say: say.unwrap_or_default(),
        volts,
        ohms: table.get("ohms").and_then(|value| ohms(value, found)),
        clamp: table.get("clamp").and_then(|value| clamp(value, found)),
        capacitance: table.get("capacitance").and_then(|value| {
            function("capacitance", value, found, |table, found| {
                Some(Capacitance { accuracy: accuracy(table, found)? })
            })
        }),
        insulation: table.get("insulation").and_then(|value| insulation(value, found)),
        temperature: table.get("temperature").and_then(|value| {
            function("temperature", value, found, |table, found| {
                Some(Temperature { accuracy: accuracy(table, found)? })
            })
        }),
        continuity: table.get("continuity").and_then(|value| buzzer(value, found)),
    };
    let functions = ["volts", "ohms", "clamp", "capacitance", "insulation", "temperature", "continuity"];
    if !functions.iter().any(|key| table.has(key)) {
        let hint = "add what it can be set to: `[meter.ohms]`, `[meter.clamp]` and so on";
        found.error(NO_FUNCTION, &value.span(), "a meter that can be set to nothing", hint);
    }
    table.refuse_others(found);
    Some(own)
}

fn id(value: &Value<'_>, before: &[Own], found: &mut Found<'_>) -> Option<String> {
    let id = found.text("id", value)?;
    let sign = |sign: char| sign.is_ascii_lowercase() || sign.is_ascii_digit() || sign == '-';
    if id.is_empty() || id.len() > 64 || !id.chars().all(sign) {
        let hint = "use lower-case letters, digits and hyphens, 1 to 64 of them";
        found.error(BAD_ID, &value.span(), format!("`{id}` cannot be used for `id`"), hint);
        return None;
    }
    if before.iter().any(|own| own.id == id) {
        found.error(DUPLICATE_ID, &value.span(), format!("there are two meters `{id}`"), "give this one another id");
        return None;
    }
    Some(id)
}

fn all_volts(value: &Value<'_>, found: &mut Found<'_>) -> Vec<Volts> {
    match value.get_ref().as_array() {
        Some(array) => array.iter().take(MOST_METERS).filter_map(|one| volts(one, found)).collect(),
        None => volts(value, found).into_iter().collect(),
    }
}

/// Reads one function's table whole.
fn function<T>(
    key: &'static str,
    value: &Value<'_>,
    found: &mut Found<'_>,
    read: impl FnOnce(&mut Table<'_, '_>, &mut Found<'_>) -> Option<T>,
) -> Option<T> {
    let mut table = Table::of(key, value, found)?;
    let function = read(&mut table, found);
    table.refuse_others(found);
    function
}

fn accuracy(table: &mut Table<'_, '_>, found: &mut Found<'_>) -> Option<Accuracy> {
    let percent = table.number("percent", PERCENT, found);
    let digits = table.number("digits", DIGITS, found);
    let resolution = table.number("resolution", ABOVE_0, found);
    let counts = table.number_or("counts", COUNTS, found);
    Some(Accuracy { share: percent? / 100.0, digits: digits?, resolution: resolution?, counts })
}

fn volts(value: &Value<'_>, found: &mut Found<'_>) -> Option<Volts> {
    function("volts", value, found, |table, found| {
        let accuracy = accuracy(table, found);
        let input_ohms = table.number("input_ohms", INPUT, found);
        let least_volts = table.number_or("least_volts", ABOVE_0, found);
        Some(Volts { accuracy: accuracy?, input_ohms: input_ohms?, least_volts: least_volts.unwrap_or(0.5) })
    })
}

fn ohms(value: &Value<'_>, found: &mut Found<'_>) -> Option<Ohms> {
    function("ohms", value, found, |table, found| {
        let accuracy = accuracy(table, found);
        let limit_ohms = table.number("limit_ohms", LIMIT, found);
        let test_amps = table.number_or("test_amps", AMPS, found);
        let lead_ohms = table.number_or("lead_ohms", LEADS, found);
        let lead_zeroed = table.get("lead_zeroed").and_then(|value| found.flag("lead_zeroed", value));
        Some(Ohms {
            accuracy: accuracy?,
            limit_ohms: limit_ohms?,
            test_amps: test_amps.unwrap_or(5e-4),
            lead_ohms: lead_ohms.unwrap_or(0.2),
            lead_zeroed: lead_zeroed.unwrap_or(false),
        })
    })
}

fn clamp(value: &Value<'_>, found: &mut Found<'_>) -> Option<Clamp> {
    function("clamp", value, found, |table, found| {
        let accuracy = accuracy(table, found);
        let least_amps = table.number_or("least_amps", ABOVE_0, found);
        Some(Clamp { accuracy: accuracy?, least_amps: least_amps.unwrap_or(0.1) })
    })
}

fn insulation(value: &Value<'_>, found: &mut Found<'_>) -> Option<Insulating> {
    function("insulation", value, found, |table, found| {
        let test_volts = table.number("test_volts", TEST_VOLTS, found);
        let limit_ohms = table.number("limit_ohms", LIMIT, found);
        Some(Insulating { test_volts: test_volts?, limit_ohms: limit_ohms? })
    })
}

fn buzzer(value: &Value<'_>, found: &mut Found<'_>) -> Option<Buzzer> {
    function("continuity", value, found, |table, found| {
        Some(Buzzer { threshold_ohms: table.number("threshold_ohms", THRESHOLD, found)? })
    })
}
