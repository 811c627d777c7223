//! A published figure together with where it is printed and how well that was checked. Knows no figures itself.

/// Says how a figure was checked against what is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Seen {
    /// Read on a page that quotes or reprints the standard.
    SecondHand,
    /// Written down from memory.
    Memory,
    /// Worked out from other figures here.
    Computed,
    /// Common practice of the trade; no standard says it.
    CommonPractice,
}

/// A figure with its unit and its source, so that whatever rests on it can name it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Published {
    /// The figure.
    pub value: f64,
    /// Its unit, as printed.
    pub unit: &'static str,
    /// Standard and clause.
    pub source: &'static str,
    /// How it was checked.
    pub seen: Seen,
}

impl Published {
    pub(crate) const fn new(value: f64, unit: &'static str, source: &'static str, seen: Seen) -> Self {
        Self { value, unit, source, seen }
    }
}
