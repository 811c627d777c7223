//! One table of the text with the keys that were asked for, and the list of what is wrong. Knows no meters.

use super::{MISSING_KEY, OUT_OF_RANGE, UNKNOWN_KEY, WRONG_VALUE};
use machine::{Diagnostic, Severity};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

pub(crate) type Value<'i> = Spanned<DeValue<'i>>;

/// Mistakes after which the reader keeps quiet.
const MOST_MISTAKES: usize = 100;
/// Characters of a message: a word of the file may be as long as the file.
const LONGEST_MESSAGE: usize = 400;
/// Bytes of a key for which a near one is looked up.
const LONGEST_GUESSED: usize = 100;

/// What was found wrong in one text.
#[derive(Debug)]
pub(crate) struct Found<'t> {
    text: &'t str,
    mistakes: Vec<Diagnostic>,
}

impl<'t> Found<'t> {
    pub(crate) fn of(text: &'t str) -> Self {
        Self { text, mistakes: Vec::new() }
    }

    /// Gives everything found, in the order of the text.
    pub(crate) fn finish(mut self) -> Vec<Diagnostic> {
        self.mistakes.sort_by(|a, b| (a.span.start, a.code).cmp(&(b.span.start, b.code)));
        self.mistakes
    }

    pub(crate) fn error(&mut self, code: &'static str, span: &Range<usize>, message: impl Into<String>, hint: &str) {
        if self.mistakes.len() >= MOST_MISTAKES {
            return;
        }
        let before = self.text.get(..span.start).unwrap_or_default();
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        let message: String = message.into().chars().take(LONGEST_MESSAGE).collect();
        let hints = vec![hint.to_owned()];
        let severity = Severity::Error;
        self.mistakes.push(Diagnostic { code, severity, message, of: None, line, column, span: span.clone(), hints });
    }

    /// Reads text in quotes.
    pub(crate) fn text(&mut self, key: &str, value: &Value<'_>) -> Option<String> {
        let text = value.get_ref().as_str().filter(|text| !text.trim().is_empty() && text.len() <= 200);
        if text.is_none() {
            self.error(WRONG_VALUE, &value.span(), format!("`{key}` takes text in quotes"), "write up to 200 letters");
        }
        text.map(str::to_owned)
    }

    /// Reads `true` or `false`.
    pub(crate) fn flag(&mut self, key: &str, value: &Value<'_>) -> Option<bool> {
        let flag = value.get_ref().as_bool();
        if flag.is_none() {
            let message = format!("`{key}` takes `true` or `false`");
            self.error(WRONG_VALUE, &value.span(), message, "write it without quotes");
        }
        flag
    }
}

/// Limits of a number, in the key's own unit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Limits {
    least: f64,
    above: bool,
    most: f64,
}

impl Limits {
    pub(crate) const fn from(least: f64, most: f64) -> Self {
        Self { least, above: false, most }
    }

    pub(crate) const fn above(least: f64, most: f64) -> Self {
        Self { least, above: true, most }
    }

    fn holds(self, number: f64) -> bool {
        number <= self.most && if self.above { number > self.least } else { number >= self.least }
    }

    fn in_words(self) -> String {
        let least = if self.above { "above" } else { "from" };
        format!("write a number {least} {} up to {}", self.least, self.most)
    }
}

/// One table, and which keys were asked for.
#[derive(Debug)]
pub(crate) struct Table<'v, 'i> {
    table: &'v DeTable<'i>,
    span: Range<usize>,
    name: &'static str,
    known: Vec<&'static str>,
}

impl<'v, 'i> Table<'v, 'i> {
    pub(crate) fn root(table: &'v DeTable<'i>) -> Self {
        Self { table, span: 0..0, name: "the file", known: Vec::new() }
    }

    /// Takes a value as a table; complains if it is none.
    pub(crate) fn of(name: &'static str, value: &'v Value<'i>, found: &mut Found<'_>) -> Option<Self> {
        let table = value.get_ref().as_table();
        if table.is_none() {
            let message = format!("`{name}` takes a table");
            found.error(WRONG_VALUE, &value.span(), message, "write its keys below a heading in square brackets");
        }
        Some(Self { table: table?, span: value.span(), name, known: Vec::new() })
    }

    /// Gives the value of a key that may be left out.
    pub(crate) fn get(&mut self, key: &'static str) -> Option<&'v Value<'i>> {
        self.known.push(key);
        self.table.get(key)
    }

    /// Says whether a key is given, rightly or not.
    pub(crate) fn has(&self, key: &str) -> bool {
        self.table.get(key).is_some()
    }

    /// Gives the value of a key that must be given.
    pub(crate) fn must(&mut self, key: &'static str, mend: &str, found: &mut Found<'_>) -> Option<&'v Value<'i>> {
        let value = self.get(key);
        if value.is_none() {
            let message = format!("`{key}` is missing in {}", self.label());
            found.error(MISSING_KEY, &self.span, message, &format!("add `{key}` {mend}"));
        }
        value
    }

    /// Reads a number that must be given.
    pub(crate) fn number(&mut self, key: &'static str, limits: Limits, found: &mut Found<'_>) -> Option<f64> {
        let value = self.must(key, "and a number", found)?;
        number(key, value, limits, found)
    }

    /// Reads a number that may be left out.
    pub(crate) fn number_or(&mut self, key: &'static str, limits: Limits, found: &mut Found<'_>) -> Option<f64> {
        let value = self.get(key)?;
        number(key, value, limits, found)
    }

    /// Complains about every key that was not asked for.
    pub(crate) fn refuse_others(&self, found: &mut Found<'_>) {
        for (key, _) in self.table {
            let word: &str = key.get_ref();
            if self.known.contains(&word) {
                continue;
            }
            let near = self.known.iter().map(|known| (likeness(known, word), *known));
            let near = near.filter(|(likeness, _)| *likeness > 0.8).max_by(|a, b| a.0.total_cmp(&b.0));
            let hint = match near {
                Some((_, known)) => format!("did you mean `{known}`"),
                None => format!("known here: {}", self.known.join(", ")),
            };
            found.error(UNKNOWN_KEY, &key.span(), format!("{} has no key `{word}`", self.label()), &hint);
        }
    }

    fn label(&self) -> String {
        if self.span.is_empty() { self.name.to_owned() } else { format!("`{}`", self.name) }
    }
}

fn likeness(known: &str, word: &str) -> f64 {
    if word.len() > LONGEST_GUESSED { 0.0 } else { strsim::jaro_winkler(known, word) }
}

fn number(key: &str, value: &Value<'_>, limits: Limits, found: &mut Found<'_>) -> Option<f64> {
    let number = match value.get_ref() {
        DeValue::Integer(whole) if whole.radix() == 10 => whole.as_str().parse::<f64>().ok(),
        DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
        _ => None,
    };
    let Some(number) = number else {
        let message = format!("`{key}` takes a number without quotes");
        found.error(WRONG_VALUE, &value.span(), message, "write digits, such as `0.1` or `10e6`");
        return None;
    };
    if !limits.holds(number) {
        found.error(OUT_OF_RANGE, &value.span(), format!("`{key}` cannot be {number}"), &limits.in_words());
        return None;
    }
    Some(number)
}
