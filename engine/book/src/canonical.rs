//! Canonical JSON: one value, one text.
//!
//! Members sorted by the bytes of their names, members that are null left out, no white space, strings escaped only
//! where JSON demands it, numbers as the shortest decimal that reads back the same.
//! Refuses to know events.

use serde_json::Value;

/// Writes a value in canonical form.
pub(crate) fn canonical_text(value: &Value) -> String {
    let mut text = String::new();
    write_value(value, &mut text);
    text
}

fn write_value(value: &Value, text: &mut String) {
    match value {
        Value::Object(members) => write_members(members, text),
        Value::Array(items) => {
            text.push('[');
            for (at, item) in items.iter().enumerate() {
                if at > 0 {
                    text.push(',');
                }
                write_value(item, text);
            }
            text.push(']');
        }
        // A scalar has only one compact form, and writing one cannot fail.
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => text.push_str(&value.to_string()),
    }
}

fn write_members(members: &serde_json::Map<String, Value>, text: &mut String) {
    // WHY NOT rely on the map's own order: a crate elsewhere may switch on insertion order for the whole program.
    let mut sorted: Vec<(&String, &Value)> = members.iter().filter(|(_, value)| !value.is_null()).collect();
    sorted.sort_by(|a, b| a.0.cmp(b.0));
    text.push('{');
    for (at, (name, value)) in sorted.into_iter().enumerate() {
        if at > 0 {
            text.push(',');
        }
        text.push_str(&Value::String(name.clone()).to_string());
        text.push(':');
        write_value(value, text);
    }
    text.push('}');
}
