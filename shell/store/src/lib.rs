//! The book on SQLite and on PostgreSQL, and fresh randomness for it.
//!
//! A database keeps the log, the sealed records and, beside them in a table of their own, the customers' keys. The contract
//! is [`book::Store`], written once for both ([`SqlStore`]); this crate runs its suite on each. Randomness comes from the
//! operating system here, because the engine may not ask for it.
//!
//! Refuses to know where the book belongs (path and address are handed in), the clock, and what events mean.

mod depot;
mod kept;
mod postgres;
mod random;
mod sql;
mod sqlite;
mod trust;

pub use depot::{Awaited, Paired, SeenLine};
pub use kept::SqlStore;
pub use postgres::{Postgres, PostgresStore};
pub use random::{fill, fresh_device, fresh_key, seal};
pub use sql::Database;
pub use sqlite::{Sqlite, SqliteStore};
pub use trust::trusting;
