//! Broken fixtures: each file of `tests/broken` carries at its head the mistakes that the reader must find in it, one a
//! line: `#! CODE LINE:COLUMN message | hint`. Add a file, get a test.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]

use machine::{CODES, Diagnostic, Severity, read};
use std::collections::BTreeSet;
use std::path::PathBuf;

fn fixtures() -> Vec<(PathBuf, String)> {
    let folder = format!("{}/tests/broken", env!("CARGO_MANIFEST_DIR"));
    let mut found: Vec<PathBuf> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    found.sort();
    found.into_iter().map(|path| (path.clone(), std::fs::read_to_string(path).unwrap())).collect()
}

fn as_written(diagnostic: &Diagnostic) -> String {
    let Diagnostic { code, line, column, message, hints, .. } = diagnostic;
    format!("#! {code} {line}:{column} {message} | {}", hints.join(" | "))
}

fn expected(text: &str) -> Vec<&str> {
    text.lines().take_while(|line| line.starts_with("#!")).collect()
}

#[test]
fn every_broken_fixture_gives_the_mistakes_it_carries() {
    let mut wrong = Vec::new();
    for (path, text) in fixtures() {
        let found: Vec<String> = read(&text).diagnostics.iter().map(as_written).collect();
        if found.is_empty() || found != expected(&text) {
            wrong.push(format!("{}\n{}", path.display(), found.join("\n")));
        }
    }
    assert!(wrong.is_empty(), "these give something else than they carry:\n{}", wrong.join("\n"));
}

#[test]
fn an_error_gives_no_machine_and_a_warning_gives_one() {
    for (path, text) in fixtures() {
        let result = read(&text);
        let errors = result.diagnostics.iter().any(|d| d.severity == Severity::Error);
        assert_eq!(result.machine.is_none(), errors, "{}", path.display());
    }
}

#[test]
fn every_code_has_a_broken_fixture() {
    let texts = fixtures();
    let shown: BTreeSet<&str> =
        texts.iter().flat_map(|(_, text)| expected(text)).filter_map(|line| line.split(' ').nth(1)).collect();
    // A text past the limit would be a fixture of a megabyte: `limits.rs` makes it.
    let missing: Vec<&str> =
        CODES.iter().map(|(code, _)| *code).filter(|code| !shown.contains(code) && *code != "m002-too-big").collect();
    assert!(missing.is_empty(), "no fixture shows {missing:?}");
}

#[test]
fn messages_keep_to_the_wording() {
    for (path, text) in fixtures() {
        for found in read(&text).diagnostics {
            let name = path.display();
            for sentence in std::iter::once(&found.message).chain(&found.hints) {
                assert!(!sentence.ends_with('.'), "{name}: `{sentence}` ends with a full stop");
                let first = sentence.chars().next().unwrap();
                assert!(!first.is_uppercase(), "{name}: `{sentence}` starts upper case");
                for word in ["Option<", "Vec<", "f64", "String", "struct", "enum"] {
                    assert!(!sentence.contains(word), "{name}: `{sentence}` names a type");
                }
            }
            assert!(!found.hints.is_empty(), "{name}: no hint");
        }
    }
}

#[test]
fn a_mistake_is_printed_with_its_place_underlined() {
    let (_, text) = fixtures().into_iter().find(|(path, _)| path.ends_with("unknown-part-in-lead.toml")).unwrap();
    let printed = read(&text).diagnostics.first().unwrap().render("warmer.toml", &text);
    let expected = [
        "error[m012-unknown-name]: there is no part `elemet`",
        "  --> warmer.toml:67:7",
        "   |",
        "67 | to = \"elemet.1\"",
        "   |       ^^^^^^",
        "   = did you mean `element`?",
        "",
    ];
    assert_eq!(printed, expected.join("\n"));
}
