//! `callwright compare`: in which parts, leads and values two descriptions differ.

use crate::failure::Failure;
use crate::{output, shelf};
use machine::compare::{Difference, WrongText, compare};
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(one: &str, other: &str, as_json: bool) -> Result<ExitCode, Failure> {
    let (one, other) = (shelf::text_of(one)?, shelf::text_of(other)?);
    let bases = (shelf::base_of(&one.0), shelf::base_of(&other.0));
    let found = compare((&one.1, &bases.0), (&other.1, &bases.1)).map_err(|wrong| {
        let ((file, text), all) = match wrong {
            WrongText::One(all) => (&one, all),
            WrongText::Other(all) => (&other, all),
        };
        let all: Vec<String> = all.iter().map(|diagnostic| diagnostic.render(file, text)).collect();
        Failure::Input(format!("`{file}` cannot be compared:\n{}", all.join("\n")))
    })?;
    if as_json {
        output::json(&json!({ "one": one.0, "other": other.0, "differences": found }));
        return Ok(ExitCode::SUCCESS);
    }
    match found.len() {
        0 => output::line(&format!("{} and {} describe the same machine", one.0, other.0)),
        count => output::line(&format!("{} and {} differ in {count} things:", one.0, other.0)),
    }
    found.iter().for_each(|difference| output::line(&format!("  {}", in_words(difference))));
    Ok(ExitCode::SUCCESS)
}

fn in_words(difference: &Difference) -> String {
    let Difference { section, id, key, one, other } = difference;
    let thing = id.as_ref().map_or_else(|| section.clone(), |id| format!("{section} {id}"));
    let what = if key.is_empty() { thing } else { format!("{thing}: {key}") };
    match (one, other) {
        (Some(one), Some(other)) => format!("{what} is {one} in the first, {other} in the second"),
        (Some(one), None) => format!("{what} is in the first alone ({one})"),
        (None, Some(other)) => format!("{what} is in the second alone ({other})"),
        (None, None) => what,
    }
}
