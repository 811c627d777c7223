//! Suspects, likelihoods, belief, and reasons in words. Knows no prices and no plans.
//!
//! [`Belief`] weighs every suspect of [`suspects`] by the evidence of [`evidence`]: what was reported and watched, read
//! and looked at, and what was changed. [`certify()`] makes certificates of strong claims;
//! [`reasons`] says which evidence spoke for or against a suspect, [`unexplained`] what is said where none explains it.

pub mod belief;
pub mod certify;
pub mod edits;
pub mod evidence;
pub mod intermittent;
pub mod likelihood;
pub mod reasons;
pub mod showing;
pub mod suspects;
pub mod unexplained;
pub mod words;

pub use belief::{BEAM, Belief, Confirm, ReadsAs, Widened};
pub use certify::{Certified, NotCertified, certify, given};
pub use evidence::{Evidence, Measured};
pub use showing::{Phase, Stirred};
pub use suspects::{Assumptions, Suspect};
