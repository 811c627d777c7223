//! The shop's server: the app's folder, the exchange of books, who may do what.
//!
//! [`answer()`] is what a device that showed its secret is told; `web` is the gate around it (host and origin, limits, headers);
//! `serve` listens, with TLS wherever it is not this machine's own address. A server holds nothing but open connections:
//! the book, the devices and the audit are rows of its database, so several may stand before one.
//!
//! Refuses to open what devices sealed: it holds customers' keys only as they wrapped them.

mod answer;
mod crowd;
mod pool;
mod serve;
mod web;
mod who;

pub use answer::{Answer, Refusal, answer, await_owner, pair};
pub use serve::{Book, Listen, NotServing, Tls, serve};
pub use web::{Stand, now};
pub use who::{Role, Who, hash_of, known};

/// Says something to who runs the server.
pub(crate) fn say(line: &str) {
    use std::io::Write;
    // Where even that cannot be written there is nobody to tell.
    drop(writeln!(std::io::stderr(), "callwright: {line}"));
}
