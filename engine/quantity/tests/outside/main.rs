//! Every formula and constant of the crate against published figures and figures worked out apart from it.
//!
//! The rows drive the test: one that no check answers fails, and so does a check that loses its rows.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

mod resistance;
mod rows;
mod safety;
mod sensors;
mod supply;
