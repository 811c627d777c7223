//! The app's screens, without a browser.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a test may fail loudly")]

mod call;
mod counter;
mod lesson;
mod shell;
mod shop;
mod study;
