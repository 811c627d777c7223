//! Plans of access: the least way to a set of places, and the way back. Knows no probabilities and no voltages.
//!
//! The covers of a machine are a graph of alternatives: a place is exposed by one of several sets of covers, a cover
//! comes off after one of several sets of others. [`plan_teardown`] finds the sequence of least minutes, off and on
//! again, walking between the sides of the machine included; [`check_teardown`] judges any plan without knowing how
//! it was made.

mod back;
mod check;
mod exposure;
mod graph;
mod order;
mod plan;
mod search;
mod words;

pub use back::{close_to_run, legal_order, minutes_to_close, must_close_to_run, way_back};
pub use check::{Illegal, check_teardown};
pub use exposure::{Open, can_open, exposed, openable};
pub use plan::{Act, Blocked, FastenerCount, Marginals, Means, Step, Teardown};
pub use search::{marginal_minutes, plan_teardown, plan_teardown_with};

/// Minutes to walk from one side of the machine to another with the tools; common practice, no source.
pub const WALK_MINUTES: f64 = 0.25;
