//! The SQLite store's tests: the suite, kills, torn files, what a file is, and keys that are gone.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of a test fails the test by stopping it")]

mod contract;
mod files;
mod keys;
mod kill;
mod reach;
mod torn;
mod words;
