//! The book's tests: sealing, reading, folding, laws, the store suite, and frozen books.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of a test fails the test by stopping it")]

mod folding;
mod frozen;
mod laws;
mod reading;
mod sealing;
mod stores;
mod story;
