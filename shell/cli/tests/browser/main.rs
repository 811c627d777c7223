//! The app in a real Chromium: what only a browser can prove. They need the built app, Chromium and its driver, so they run
//! only when asked for: `make test` does, after it has built the app.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test may fail loudly")]

mod call;
mod driver;
mod grown;
mod keeping;
mod looks;
mod shop;
mod site;
mod two_phones;
mod whole;
