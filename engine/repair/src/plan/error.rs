//! What can be wrong with a problem or a situation handed to the planner. It knows no text format.

use std::fmt;

/// Names the place an error speaks of, by position in the lists of the problem.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// A hypothesis.
    Hypothesis(usize),
    /// A cover.
    Group(usize),
    /// A mode, as a row of the table of switching costs.
    Mode(usize),
    /// A test.
    Test(usize),
    /// A repair.
    Repair(usize),
    /// The exit.
    Exit,
    /// The current situation.
    Situation,
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Hypothesis(i) => write!(f, "hypothesis {i}"),
            Self::Group(i) => write!(f, "cover {i}"),
            Self::Mode(i) => write!(f, "mode {i}"),
            Self::Test(i) => write!(f, "test {i}"),
            Self::Repair(i) => write!(f, "repair {i}"),
            Self::Exit => write!(f, "exit"),
            Self::Situation => write!(f, "situation"),
        }
    }
}

/// Says why a problem or a situation cannot be planned, and where.
#[derive(Debug, Clone, PartialEq)]
pub enum ProblemError {
    /// There is nothing to find.
    NoHypotheses,
    /// A list is longer than the planner's fixed tables.
    TooMany {
        /// What there is too much of.
        what: &'static str,
        /// How many there are.
        count: usize,
        /// How many are possible.
        most: usize,
    },
    /// A price is negative or not a number.
    BadCost {
        /// Where.
        place: Place,
        /// The price as given.
        cost: f64,
    },
    /// A weight or probability is outside its range or not a number.
    BadProbability {
        /// Where.
        place: Place,
        /// The number as given.
        value: f64,
    },
    /// Probabilities that should add up to one do not.
    BadSum {
        /// Where.
        place: Place,
        /// For a test, the hypothesis whose row it is.
        row: Option<usize>,
        /// What they add up to.
        sum: f64,
    },
    /// A list has the wrong length.
    BadLength {
        /// Where.
        place: Place,
        /// Length found.
        found: usize,
        /// Length needed.
        needed: usize,
    },
    /// Something points at an entry that is not there.
    NoSuch {
        /// Where.
        place: Place,
        /// What it points at.
        what: &'static str,
        /// The position it gives.
        index: usize,
    },
    /// A hypothesis or a repair names no fault.
    NoFaults(Place),
    /// Two hypotheses are the same set of faults.
    Repeated {
        /// The later one.
        place: Place,
        /// The earlier one.
        earlier: usize,
    },
    /// A cover needs itself open first, directly or round a loop.
    Loop(Place),
    /// A repair leaves a set of faults that is no hypothesis.
    NoRemainder {
        /// The repair.
        repair: usize,
        /// The hypothesis it acts on.
        hypothesis: usize,
        /// The faults that remain.
        remainder: Vec<usize>,
    },
    /// A hypothesis can neither be mended for sure nor left.
    NoWayOut {
        /// The hypothesis.
        hypothesis: usize,
        /// The fault that no sure repair fixes.
        fault: usize,
    },
    /// All weights are zero.
    NoWeight(Place),
    /// An action is not possible in this situation.
    NotPossible,
}

impl fmt::Display for ProblemError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoHypotheses => write!(f, "no hypotheses; give at least one set of faults"),
            Self::TooMany { what, count, most } => {
                write!(f, "{count} {what}, but at most {most} can be planned; keep those that matter most")
            }
            Self::BadCost { place, cost } => {
                write!(f, "{place}: cost `{cost}` is not a price; give a number from 0 up")
            }
            Self::BadProbability { place, value } => {
                write!(f, "{place}: `{value}` is not a probability; give a number from 0 to 1")
            }
            Self::BadSum { place, row: Some(row), sum } => {
                write!(f, "{place}: outcomes for hypothesis {row} add up to `{sum}`; make them add up to 1")
            }
            Self::BadSum { place, row: None, sum } => write!(f, "{place}: adds up to `{sum}`; make it add up to 1"),
            Self::BadLength { place, found, needed } => {
                write!(f, "{place}: {found} entries where {needed} are needed; give one for each")
            }
            Self::NoSuch { place, what, index } => {
                write!(f, "{place}: there is no {what} {index}; count from 0 and check the list")
            }
            Self::NoFaults(place) => write!(f, "{place}: names no fault; give at least one"),
            Self::Repeated { place, earlier } => {
                write!(f, "{place}: same faults as hypothesis {earlier}; merge the two and add their weights")
            }
            Self::Loop(place) => write!(f, "{place}: needs itself open first; break the loop of covers"),
            Self::NoRemainder { repair, hypothesis, remainder } => write!(
                f,
                "repair {repair}: leaves faults {remainder:?} of hypothesis {hypothesis}, which is no hypothesis; \
                 list it, with weight 0 if need be"
            ),
            Self::NoWayOut { hypothesis, fault } => write!(
                f,
                "hypothesis {hypothesis}: no sure repair fixes fault {fault} and there is no exit; add one or the other"
            ),
            Self::NoWeight(place) => write!(f, "{place}: all weights are 0; give one hypothesis some weight"),
            Self::NotPossible => write!(f, "this action is not possible now; take one from the proposals"),
        }
    }
}

impl std::error::Error for ProblemError {}
