//! Whether a repair is worth it: how long appliances last ([`life`]), what money over years comes to ([`money`]), and what
//! repairing, having it seen to and replacing cost in expectation over the same years ([`choice`]).
//!
//! Amounts here are expectations and so floats; what is quoted and charged is decimal and stands elsewhere.

pub mod choice;
pub mod life;
pub mod money;

pub use choice::{Assumed, Choice, Cost, cost_of, worth_up_to};
pub use life::{KindOfLife, Life, life_of_kind};
