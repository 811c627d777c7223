//! The book on SQLite.
