//! The tables, their version, and the marks by which a file is known as a book.
//!
//! Refuses to know what is in the rows.

use book::{DeviceId, StoreError};
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};

/// The highest version of the tables this program reads and the one it makes.
pub(super) const SCHEMA_VERSION: u32 = 1;

/// `CWBK` in the file's head, as SQLite's application id.
const APPLICATION_ID: i64 = 0x4357_424b;

/// The name index lists every event by itself, so that a torn page of texts still tells whose they were.
const TABLES: &str = "
    CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT;
    CREATE TABLE event (
        arrival INTEGER PRIMARY KEY,
        device BLOB NOT NULL,
        counter INTEGER NOT NULL,
        sum BLOB NOT NULL,
        text TEXT NOT NULL
    ) STRICT;
    CREATE UNIQUE INDEX event_name ON event (device, counter, sum);
    CREATE TABLE record (
        id BLOB PRIMARY KEY,
        key BLOB NOT NULL,
        sum BLOB NOT NULL,
        bytes BLOB NOT NULL
    ) STRICT;
    -- A key without a secret was destroyed.
    CREATE TABLE key (id BLOB PRIMARY KEY, secret BLOB) STRICT;
";

/// What a file is.
pub(super) enum Found {
    /// Nothing is in it yet.
    Empty,
    /// A book of this version of the tables.
    Book(u32),
    /// Something else.
    Other,
}

/// Looks at a file without changing it.
pub(super) fn look(connection: &Connection) -> rusqlite::Result<Found> {
    let mark: i64 = connection.query_row("PRAGMA application_id", [], |row| row.get(0))?;
    let tables: i64 = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    if mark != APPLICATION_ID {
        return Ok(if mark == 0 && tables == 0 { Found::Empty } else { Found::Other });
    }
    let version: Option<String> = about(connection, "schema_version")?;
    Ok(version.and_then(|text| text.parse().ok()).map_or(Found::Other, Found::Book))
}

/// Reads one entry of the file about itself.
fn about(connection: &Connection, name: &str) -> rusqlite::Result<Option<String>> {
    connection.query_row("SELECT value FROM about WHERE name = ?1", [name], |row| row.get(0)).optional()
}

/// Writes one entry of the file about itself.
fn set_about(connection: &Connection, name: &str, value: &str) -> rusqlite::Result<()> {
    let sql = "INSERT INTO about (name, value) VALUES (?1, ?2) ON CONFLICT (name) DO UPDATE SET value = ?2";
    connection.execute(sql, [name, value]).map(|_| ())
}

/// Makes the tables unless another program just did, all or nothing.
pub(super) fn create(connection: &mut Connection, device: DeviceId) -> Result<(), StoreError> {
    let failed = |error: rusqlite::Error| StoreError::Failed(error.to_string());
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(failed)?;
    if matches!(look(&transaction).map_err(failed)?, Found::Empty) {
        transaction.execute_batch(TABLES).map_err(failed)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID).map_err(failed)?;
        set_about(&transaction, "schema_version", &SCHEMA_VERSION.to_string()).map_err(failed)?;
        set_about(&transaction, "device", &device.to_string()).map_err(failed)?;
    }
    transaction.commit().map_err(failed)
}
