//! `callwright check`: every mistake of a description, from its text and from simulating it.

use crate::failure::Failure;
use crate::{output, shelf};
use prediction::{Meter, Predictor};
use serde_json::{Value, json};
use std::process::ExitCode;

pub(crate) fn run(files: &[String], as_json: bool) -> Result<ExitCode, Failure> {
    let mut reports = Vec::new();
    let mut clean = true;
    for name in files {
        let (path, text) = shelf::text_of(name)?;
        let (found, said) = check(&path, &text);
        clean &= found.is_empty();
        if !as_json {
            said.iter().for_each(|one| output::line(one));
            if found.is_empty() {
                output::line(&format!("{path}: nothing wrong found"));
            }
        }
        reports.push(json!({ "path": path, "diagnostics": found }));
    }
    if as_json {
        output::json(&json!({ "files": reports }));
    }
    Ok(if clean { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

/// Gives everything found wrong with a description, in words.
pub(crate) fn found(path: &str, text: &str) -> Vec<String> {
    check(path, text).1
}

/// Gives the diagnostics as JSON and as text.
fn check(path: &str, text: &str) -> (Vec<Value>, Vec<String>) {
    let read = machine::read_with(text, &shelf::base_of(path));
    let mut found: Vec<Value> = read
        .diagnostics
        .iter()
        .map(|d| json!({ "code": d.code, "of": d.of, "line": d.line, "column": d.column, "message": d.message, "hints": d.hints }))
        .collect();
    let mut said: Vec<String> = read.diagnostics.iter().map(|d| d.render(path, text)).collect();
    if let Some(machine) = read.machine {
        for trouble in Predictor::new(&machine, Meter::ordinary()).check() {
            let state = &machine.states[trouble.state.index()].id;
            said.push(format!(
                "{path}:{}: {} {}\n  {}",
                trouble.line,
                trouble.code,
                trouble.message,
                trouble.hints.join("\n  ")
            ));
            found.push(json!({
                "code": trouble.code, "line": trouble.line, "column": 1, "state": state,
                "message": trouble.message, "hints": trouble.hints,
            }));
        }
    }
    (found, said)
}
