//! The book on SQLite, and fresh randomness for it.
//!
//! One file keeps the log, the sealed records and, beside them in a table of their own, the customers' keys. The
//! contract is [`book::Store`]; this crate runs its suite. Randomness comes from the operating system here, because
//! the engine may not ask for it.
//!
//! Refuses to know where the file belongs (the path is handed in), the clock, and what events mean.

mod open;
mod random;
mod schema;
mod sqlite;

pub use random::{fill, fresh_device, fresh_key, seal};
pub use sqlite::SqliteStore;
