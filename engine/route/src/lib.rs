//! The day: in which order to make the calls, and how sure each promised window is.
//!
//! [`fleet`] hands the search to a routing library, with minutes taken as sure; [`spread`] has minutes as distributions;
//! [`day`] weighs what the search found with them and gives the order that is best in expectation. Places are numbers here.

pub mod day;
pub mod fleet;
pub mod place;
pub mod spread;

pub use day::{Day, Plan, Stop, Visit, Weights, order_of, plan, walk};
pub use place::{Point, minutes_between};
pub use spread::Spread;

/// Says that a day cannot be planned as it is handed in; in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoPlan(pub String);

impl std::fmt::Display for NoPlan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for NoPlan {}
