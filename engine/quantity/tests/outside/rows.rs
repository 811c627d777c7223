//! Reading the rows and comparing an answer with what a row states. Knows no formula.

use quantity::{Published, Seen};
use std::collections::BTreeMap;

/// One row by column name.
pub(crate) struct Row(BTreeMap<String, String>);

/// What the crate says to a row.
pub(crate) enum Answer {
    /// A number in the row's unit.
    Number(f64),
    /// A constant that must agree in value, source and how it was checked.
    Constant(Published),
    /// Words that must stand in the row's `expected` as they are.
    Words(String),
    /// Not for this crate, with the reason.
    Left(&'static str),
}

pub(crate) type Check = fn(&Row) -> Answer;

impl Row {
    pub(crate) fn get(&self, column: &str) -> &str {
        self.0.get(column).unwrap_or_else(|| panic!("no column `{column}`"))
    }

    pub(crate) fn id(&self) -> &str {
        self.get("id")
    }

    /// The part of the id behind a prefix.
    pub(crate) fn rest<'a>(&'a self, prefix: &str) -> &'a str {
        self.id().strip_prefix(prefix).unwrap_or_else(|| panic!("{} lacks {prefix}", self.id()))
    }

    /// The number that follows `mark` in the inputs.
    pub(crate) fn after(&self, mark: &str) -> f64 {
        let inputs = self.get("inputs");
        let (_, tail) = inputs.split_once(mark).unwrap_or_else(|| panic!("{}: no `{mark}`", self.id()));
        leading_number(tail).unwrap_or_else(|| panic!("{}: no number after `{mark}`", self.id()))
    }

    /// The first number in the inputs.
    pub(crate) fn first(&self) -> f64 {
        self.after("")
    }

    fn expected(&self) -> f64 {
        leading_number(self.get("expected")).unwrap_or_else(|| panic!("{}: expects no number", self.id()))
    }

    /// The greatest difference allowed.
    fn margin(&self, expected: f64) -> f64 {
        let tolerance = self.get("tolerance");
        let number = |word| tolerance.strip_prefix(word).and_then(leading_number);
        match (number("rel "), number("abs ")) {
            (Some(share), _) => share * expected.abs(),
            (_, Some(amount)) => amount,
            // `exact`, a limit or a rule: the figure itself, to what a float loses in one multiplication.
            _ => 1e-12 * expected.abs(),
        }
    }

    fn compare(&self, answer: Answer) -> Option<&'static str> {
        match answer {
            Answer::Number(got) => self.compare_number(got),
            Answer::Constant(figure) => {
                self.compare_number(figure.value);
                assert_eq!(figure.source, self.get("source"), "{}", self.id());
                assert_eq!(seen(figure.seen), self.get("seen"), "{}", self.id());
            }
            Answer::Words(words) => assert_eq!(words, self.get("expected"), "{}", self.id()),
            Answer::Left(reason) => return Some(reason),
        }
        None
    }

    fn compare_number(&self, got: f64) {
        let expected = self.expected();
        let off = (got - expected).abs();
        assert!(off <= self.margin(expected), "{}: {got} is not {expected}", self.id());
    }
}

fn seen(seen: Seen) -> &'static str {
    match seen {
        Seen::SecondHand => "seen-secondary",
        Seen::Memory => "memory",
        Seen::Computed => "computed",
        Seen::CommonPractice => "no-source",
    }
}

fn leading_number(text: &str) -> Option<f64> {
    let text = text.trim_start();
    (1..=text.len()).rev().filter_map(|end| text.get(..end)).find_map(|head| head.parse().ok())
}

/// Reads a file of rows.
pub(crate) fn read(text: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let row = |record: csv::StringRecord| Row(head.iter().cloned().zip(record.iter().map(str::to_owned)).collect());
    reader.records().map(|record| row(record.unwrap())).collect()
}

/// Compares every row with the first check whose prefix its id has. Gives how many were compared and which were left.
pub(crate) fn compare(text: &str, checks: &[(&str, Check)]) -> (usize, Vec<String>) {
    let mut compared = 0;
    let mut left = Vec::new();
    let mut used = vec![false; checks.len()];
    for row in read(text) {
        let Some(at) = checks.iter().position(|(prefix, _)| row.id().starts_with(prefix)) else {
            panic!("no check answers {}", row.id());
        };
        used[at] = true;
        match row.compare(checks[at].1(&row)) {
            None => compared += 1,
            Some(_) => left.push(row.id().to_owned()),
        }
    }
    for (at, (prefix, _)) in checks.iter().enumerate() {
        assert!(used[at], "the check for {prefix} has no row");
    }
    (compared, left)
}
