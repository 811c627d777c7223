//! The abstract planner: which action next, when all that is left is prices and probabilities.
//!
//! A problem is a list of hypotheses (sets of abstract faults), covers, modes, tests, repairs and perhaps an exit.
//! The planner proposes the next action with the exact expected cost of a plan that begins with it. It is pure and
//! deterministic, and it refuses to know circuits, machines, trades, clocks and threads.
//!
//! The mathematics, once: a state is (weights, open covers, mode, tests used, repairs tried). An action costs its
//! set-up from that state plus its own price and leads to several states with known probabilities. A *policy* names an
//! action for every state; its expected cost is the sum over its tree. *Rollout* takes the action that is best when a
//! fixed base policy is followed afterwards, and is never worse than that base policy.
//! SOURCE: Tu and Pattipati, IEEE T-SMC-A 33(1), 2003 (rollout); Heckerman, Breese, Rommelse, CACM 38(3), 1995.

mod base;
pub mod bounds;
mod certified;
mod core;
mod error;
pub mod exact;
mod flip;
mod planner;
mod problem;
mod rank;
mod rollout;
mod run;
mod situation;
mod state;

pub use base::{BasePolicy, Ordering, Rule};
pub use certified::Certified;
pub use error::{Place, ProblemError};
pub use flip::Flip;
pub use planner::{Planner, Progress, Proposal, Settings};
pub use problem::{Check, Group, Hypothesis, MOST_ACTIONS, Problem, ProblemParts, Repair, Test};
pub use situation::{Action, Branch, Outcome, Situation, Step};
