//! Suspects, likelihoods, belief, and reasons in words. Knows no prices and no plans.
//!
//! [`Belief`] weighs every suspect of [`suspects`] by the evidence of [`evidence`]: what was reported and watched, read
//! and looked at, and what was changed. [`reasons`] says which evidence spoke for or against a suspect.

pub mod belief;
pub mod evidence;
pub mod intermittent;
pub mod likelihood;
pub mod reasons;
pub mod showing;
pub mod suspects;
pub mod words;

pub use belief::{BEAM, Belief, Widened};
pub use evidence::{Evidence, Measured};
pub use showing::{Phase, Stirred};
pub use suspects::{Assumptions, Suspect};
