//! The generated JSON Schema takes what the reader takes, and refuses what it refuses. The validator here is the plain
//! definition of the few keywords that the schema uses; a keyword it does not know fails the test.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::{read, schema};
use regex_lite::Regex;
use serde_json::Value;

/// Finds the first place at which the value breaks the schema.
fn breaks(root: &Value, schema: &Value, value: &Value, at: &str) -> Option<String> {
    for (keyword, rule) in schema.as_object().into_iter().flatten() {
        let wrong =
            match keyword.as_str() {
                "$ref" => {
                    let target = root.pointer(rule.as_str().unwrap().trim_start_matches('#')).unwrap();
                    breaks(root, target, value, at)
                }
                "oneOf" | "anyOf" => {
                    let tries: Vec<Option<String>> =
                        rule.as_array().unwrap().iter().map(|one| breaks(root, one, value, at)).collect();
                    let fits = tries.iter().filter(|one| one.is_none()).count();
                    let enough = fits == 1 || (keyword == "anyOf" && fits > 1);
                    (!enough).then(|| {
                        format!("{at}: {fits} alternatives fit: {:?}", tries.iter().flatten().max_by_key(|t| t.len()))
                    })
                }
                "type" => (!is_of_type(rule, value)).then(|| format!("{at}: not of type {rule}")),
                "enum" => (!rule.as_array().unwrap().contains(value)).then(|| format!("{at}: not among {rule}")),
                "const" => (rule != value).then(|| format!("{at}: not {rule}")),
                "pattern" => {
                    let fits = Regex::new(rule.as_str().unwrap()).unwrap().is_match(value.as_str().unwrap_or(""));
                    (!fits).then(|| format!("{at}: does not match {rule}"))
                }
                "minimum" | "maximum" | "exclusiveMinimum" => {
                    beyond(keyword, rule, value).then(|| format!("{at}: {keyword} {rule}"))
                }
                "required" => missing(rule, value).map(|key| format!("{at}: {key} is missing")),
                "items" => value.as_array().into_iter().flatten().find_map(|item| breaks(root, rule, item, at)),
                "properties" => value.as_object().into_iter().flatten().find_map(|(key, item)| {
                    rule.get(key).and_then(|one| breaks(root, one, item, &format!("{at}.{key}")))
                }),
                "additionalProperties" => extra(root, schema, rule, value, at),
                "description" | "title" | "$schema" | "$defs" | "default" | "format" => None,
                other => panic!("the validator does not know `{other}`"),
            };
        if wrong.is_some() {
            return wrong;
        }
    }
    None
}

fn is_of_type(rule: &Value, value: &Value) -> bool {
    let one = |name: &str| match name {
        "object" => value.is_object(),
        "array" => value.is_array(),
        "string" => value.is_string(),
        "number" => value.is_number(),
        "integer" => value.is_i64() || value.is_u64(),
        "boolean" => value.is_boolean(),
        "null" => value.is_null(),
        other => panic!("the validator does not know the type `{other}`"),
    };
    match rule {
        Value::String(name) => one(name),
        Value::Array(names) => names.iter().any(|name| one(name.as_str().unwrap())),
        other => panic!("no type: {other}"),
    }
}

fn beyond(keyword: &str, rule: &Value, value: &Value) -> bool {
    let (Some(limit), Some(number)) = (rule.as_f64(), value.as_f64()) else { return false };
    match keyword {
        "minimum" => number < limit,
        "maximum" => number > limit,
        _ => number <= limit,
    }
}

fn missing(rule: &Value, value: &Value) -> Option<String> {
    let object = value.as_object()?;
    rule.as_array()?.iter().filter_map(Value::as_str).find(|key| !object.contains_key(*key)).map(str::to_owned)
}

fn extra(root: &Value, schema: &Value, rule: &Value, value: &Value, at: &str) -> Option<String> {
    let known = schema.get("properties").and_then(Value::as_object);
    let others = value.as_object()?.iter().filter(|(key, _)| !known.is_some_and(|known| known.contains_key(*key)));
    for (key, item) in others {
        let wrong = match rule {
            Value::Bool(false) => Some(format!("{at}: unknown key {key}")),
            rule => breaks(root, rule, item, &format!("{at}.{key}")),
        };
        if wrong.is_some() {
            return wrong;
        }
    }
    None
}

fn texts(folder: &str) -> Vec<(String, String)> {
    let mut paths: Vec<_> = std::fs::read_dir(format!("{}/{folder}", env!("CARGO_MANIFEST_DIR")))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "toml"))
        .collect();
    paths.sort();
    paths.iter().map(|path| (path.display().to_string(), std::fs::read_to_string(path).unwrap())).collect()
}

#[test]
fn good_fixtures_and_shipped_machines_fit_the_schema() {
    let schema = schema();
    for (name, text) in texts("tests/good").into_iter().chain(texts("../../machines")) {
        let value: Value = toml::from_str(&text).unwrap();
        assert_eq!(breaks(&schema, &schema, &value, ""), None, "{name}");
    }
}

/// Mistakes of a single key or value are the schema's too; names, wiring and the like are only the reader's.
#[test]
fn the_schema_refuses_what_the_reader_refuses_in_single_keys_and_values() {
    let schema = schema();
    let both = ["m003", "m004", "m005", "m007", "m009", "m010", "m011"];
    let mut refused = 0;
    for (name, text) in texts("tests/broken") {
        let Ok(value) = toml::from_str::<Value>(&text) else { continue };
        let found = read(&text).diagnostics;
        let expected = found.iter().any(|d| both.iter().any(|code| d.code.starts_with(code)));
        // A gauge past 40 is a limit of the copper table, not of the key.
        if name.ends_with("gauge-past-forty.toml") {
            continue;
        }
        let wrong = breaks(&schema, &schema, &value, "");
        assert_eq!(wrong.is_some(), expected, "{name}: {wrong:?}");
        refused += usize::from(expected);
    }
    assert!(refused > 15, "only {refused} fixtures are refused by the schema");
}

#[test]
fn every_key_of_the_schema_has_a_description() {
    fn look(at: &str, value: &Value, bare: &mut Vec<String>) {
        for (key, one) in value.get("properties").and_then(Value::as_object).into_iter().flatten() {
            if one.get("description").is_none() && one.get("const").is_none() {
                bare.push(format!("{at}.{key}"));
            }
        }
        match value {
            Value::Object(all) => all.iter().for_each(|(key, one)| look(&format!("{at}.{key}"), one, bare)),
            Value::Array(all) => all.iter().for_each(|one| look(at, one, bare)),
            _ => {}
        }
    }
    let mut bare = Vec::new();
    look("", &schema(), &mut bare);
    assert!(bare.is_empty(), "{bare:?}");
}
