//! The shape of a call's record, as the TOML parser fills it; every name keeps its place.

use machine::{Diagnostic, Severity};
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// A word with its place.
pub(super) type Word = Spanned<String>;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Form {
    #[serde(rename = "callwright-call")]
    pub(super) version: Spanned<i64>,
    pub(super) machine: Word,
    #[serde(default)]
    pub(super) appliance: ApplianceForm,
    /// The customer says whether the trouble comes and goes.
    pub(super) comes_and_goes: Option<bool>,
    #[serde(default)]
    pub(super) reported: Vec<Reported>,
    #[serde(default)]
    pub(super) found: Vec<Found>,
    #[serde(default)]
    pub(super) bench: BenchForm,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct ApplianceForm {
    pub(super) age_years: Option<f64>,
    pub(super) touched: Option<Word>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reported {
    pub(super) state: Word,
    pub(super) observe: Word,
    pub(super) value: Word,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Found {
    pub(super) volts: Option<Spanned<Vec<Word>>>,
    pub(super) ohms: Option<Spanned<Vec<Word>>>,
    pub(super) farads: Option<Spanned<Vec<Word>>>,
    pub(super) amps: Option<Word>,
    pub(super) temperature: Option<Word>,
    pub(super) after: Option<Spanned<f64>>,
    pub(super) state: Option<Word>,
    pub(super) isolated: Option<bool>,
    #[serde(default)]
    pub(super) lifted: Vec<Word>,
    pub(super) shows: Option<Word>,
    pub(super) look: Option<Word>,
    #[serde(default)]
    pub(super) damage: bool,
    pub(super) r#try: Option<Word>,
    #[serde(default)]
    pub(super) seen: BTreeMap<String, Word>,
    pub(super) repaired: Option<Word>,
    /// A variant, and the way in which the unit has it.
    pub(super) unit: Option<Word>,
    pub(super) way: Option<Word>,
    pub(super) opinion: Option<Word>,
    pub(super) times: Option<Spanned<f64>>,
    /// Part that was moved to make a fault show.
    pub(super) moved: Option<Word>,
    /// It was run until warm to make a fault show.
    #[serde(default)]
    pub(super) warmed: bool,
    /// Another visit begins.
    #[serde(default)]
    pub(super) again: bool,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BenchForm {
    #[serde(default)]
    pub(super) open: Vec<Word>,
    #[serde(default)]
    pub(super) isolated: bool,
    #[serde(default)]
    pub(super) out_of_reach: Vec<Word>,
    #[serde(default)]
    pub(super) not_on_van: Vec<Word>,
}

/// Longest record that is read, bytes.
const LONGEST: usize = 1 << 20;

/// Parses the text; the first thing that is no record at all ends it.
pub(super) fn parse(text: &str) -> Result<Form, Diagnostic> {
    if text.len() > LONGEST {
        return Err(diagnostic(text, "c001-too-big", 0..0, "the record is longer than 1 MiB".to_owned(), vec![]));
    }
    let form: Form = toml::from_str(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let hint = "docs/call-format.md shows every key".to_owned();
        diagnostic(text, "c002-not-a-record", span, error.message().to_lowercase(), vec![hint])
    })?;
    if *form.version.get_ref() == 1 {
        Ok(form)
    } else {
        let message = format!("version {} of the record is not known here", form.version.get_ref());
        Err(diagnostic(text, "c003-version", form.version.span(), message, vec!["version 1 is known".to_owned()]))
    }
}

/// Gives the name of the machine that a record is about.
///
/// # Errors
/// What keeps the text from being a record at all.
pub fn machine_of(text: &str) -> Result<String, Diagnostic> {
    Ok(parse(text)?.machine.into_inner())
}

/// Makes a diagnostic for a span of the text.
pub(super) fn diagnostic(
    text: &str,
    code: &'static str,
    span: std::ops::Range<usize>,
    message: String,
    hints: Vec<String>,
) -> Diagnostic {
    let before = text.get(..span.start).unwrap_or_default();
    let line = before.matches('\n').count() + 1;
    let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
    Diagnostic { code, severity: Severity::Error, message, of: None, line, column, span, hints }
}
