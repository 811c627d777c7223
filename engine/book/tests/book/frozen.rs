//! Books of each version fold to their recorded state for ever.
//!
//! Each `v*.book` in `tests/frozen` stands beside the state it folded to when it was frozen. Neither is ever changed.
//! A later version may add members to the state; every recorded one must still be there with its value.

use std::collections::BTreeMap;
use std::path::PathBuf;

use book::{fold_book, read_book_file, write_book_file};
use serde_json::Value;

fn folder() -> PathBuf {
    PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/frozen"))
}

fn state(text: &str) -> Value {
    let loaded = read_book_file(text).unwrap();
    assert_eq!(loaded.damaged, []);
    let book = fold_book(&loaded.events);
    let summaries: BTreeMap<_, _> = book.jobs.iter().map(|(id, job)| (id, job.summary())).collect();
    serde_json::json!({ "book": book, "summaries": summaries })
}

/// Says where `now` lacks something recorded or has another value for it.
fn differs(recorded: &Value, now: &Value, place: &str) -> Option<String> {
    match (recorded, now) {
        (Value::Object(recorded), Value::Object(now)) => recorded.iter().find_map(|(name, value)| {
            let place = format!("{place}.{name}");
            now.get(name).map_or_else(|| Some(format!("{place} is gone")), |now| differs(value, now, &place))
        }),
        (Value::Array(recorded), Value::Array(now)) if recorded.len() == now.len() => {
            let mut pairs = recorded.iter().zip(now).enumerate();
            pairs.find_map(|(at, (recorded, now))| differs(recorded, now, &format!("{place}[{at}]")))
        }
        _ if recorded == now => None,
        _ => Some(format!("{place} was {recorded} and is {now}")),
    }
}

#[test]
fn frozen_books_fold_to_their_recorded_state() {
    let mut found = 0;
    for entry in std::fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|extension| extension == "book") {
            found += 1;
            let recorded: Value =
                serde_json::from_str(&std::fs::read_to_string(path.with_extension("json")).unwrap()).unwrap();
            let now = state(&std::fs::read_to_string(&path).unwrap());
            assert_eq!(differs(&recorded, &now, ""), None, "{}", path.display());
        }
    }
    assert!(found >= 1);
}

#[test]
fn a_changed_value_a_missing_member_and_a_longer_list_are_noticed() {
    let recorded = serde_json::json!({"a": [1, {"b": null}]});
    assert_eq!(differs(&recorded, &serde_json::json!({"a": [1, {"b": null, "c": 2}], "d": 3}), ""), None);
    for now in ["{\"a\":[1,{}]}", "{\"a\":[1,{\"b\":0}]}", "{\"a\":[1,{\"b\":null},2]}", "{}"] {
        assert!(differs(&recorded, &serde_json::from_str(now).unwrap(), "").is_some(), "{now}");
    }
}

#[test]
#[ignore = "freezes the book of a new version under a new name; never run against existing files"]
fn freeze_a_new_book() {
    let text = write_book_file(&crate::story::tell().0);
    let write = |name: &str, text: &str| {
        let mut file = std::fs::OpenOptions::new().write(true).create_new(true).open(folder().join(name)).unwrap();
        std::io::Write::write_all(&mut file, text.as_bytes()).unwrap();
    };
    write("v1-habits.json", &format!("{:#}\n", state(&text)));
    write("v1-habits.book", &text);
}
