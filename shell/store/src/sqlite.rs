//! The book in one SQLite file.
//!
//! Refuses to know tables beyond how they are read when a page is torn.

mod load;
mod open;
mod schema;

use std::path::{Path, PathBuf};

use book::{Loaded, Seen, StoreError};
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, ToSql, params_from_iter};

use crate::kept::SqlStore;
use crate::sql::{Database, Row, Sealed, Value};
use open::{in_words, wipe_log};

/// One SQLite file.
#[derive(Debug)]
pub struct Sqlite {
    connection: Connection,
    path: PathBuf,
}

/// The book in one SQLite file.
pub type SqliteStore = SqlStore<Sqlite>;

impl SqlStore<Sqlite> {
    /// Opens a book file, and makes it if there is none.
    ///
    /// # Errors
    /// [`StoreError::NotABook`] if the file is something else, [`StoreError::Newer`] if a newer program made it; the
    /// file is not touched then. [`StoreError::Failed`] if its folder is missing or it cannot be read or written.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Ok(Self { database: Sqlite { connection: open::open(path)?, path: path.to_owned() } })
    }

    /// Tells how far a commit is synced, as SQLite numbers it: 2 is in full.
    ///
    /// # Errors
    /// Only if the file fails.
    pub fn synchronous(&self) -> Result<u32, StoreError> {
        let level = self.database.connection.query_row("PRAGMA synchronous", [], |row| row.get(0));
        level.map_err(|error| self.database.words(&error))
    }

    /// Copies the whole book, as it is at one moment, into another file while this one goes on being written.
    ///
    /// SOURCE: <https://www.sqlite.org/lang_vacuum.html#vacuuminto>: the copy is consistent and holds no deleted content.
    ///
    /// # Errors
    /// If the other file is there already or cannot be written.
    pub fn back_up(&self, to: &Path) -> Result<(), StoreError> {
        open::make_private_file(to, true)?;
        let named = to.display().to_string();
        self.database.connection.execute("VACUUM INTO ?1", [named]).map_err(|error| self.database.words(&error))?;
        let synced = std::fs::File::open(to).and_then(|file| file.sync_all());
        synced.map_err(|error| StoreError::Failed(format!("`{}`: {error}", to.display())))
    }
}

impl Sqlite {
    fn words(&self, error: &rusqlite::Error) -> StoreError {
        in_words(&self.path, error)
    }
}

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Self::Null => ValueRef::Null,
            Self::Int(number) => ValueRef::Integer(*number),
            Self::Bytes(bytes) => ValueRef::Blob(bytes),
            Self::Text(text) => ValueRef::Text(text.as_bytes()),
        }))
    }
}

/// Parameters by number, as SQLite writes them.
fn numbered(sql: &str) -> String {
    sql.replace('$', "?")
}

fn value(of: ValueRef<'_>) -> Value {
    match of {
        ValueRef::Null | ValueRef::Real(_) => Value::Null,
        ValueRef::Integer(number) => Value::Int(number),
        // A text that damage made no text of is told by its checksum.
        ValueRef::Text(text) => {
            String::from_utf8(text.to_vec()).map_or_else(|bad| Value::Bytes(bad.into_bytes()), Value::Text)
        }
        ValueRef::Blob(bytes) => Value::Bytes(bytes.to_vec()),
    }
}

impl Database for Sqlite {}

impl Sealed for Sqlite {
    fn run(&self, sql: &str, values: &[Value]) -> Result<u64, StoreError> {
        let run = || self.connection.prepare_cached(&numbered(sql))?.execute(params_from_iter(values));
        run().map(|rows| u64::try_from(rows).unwrap_or(u64::MAX)).map_err(|error| self.words(&error))
    }

    fn rows(&self, sql: &str, values: &[Value]) -> Result<Vec<Row>, StoreError> {
        let read = || {
            let mut statement = self.connection.prepare_cached(&numbered(sql))?;
            let columns = statement.column_count();
            let mut rows = statement.query(params_from_iter(values))?;
            let mut read = Vec::new();
            while let Some(row) = rows.next()? {
                read.push((0..columns).map(|at| row.get_ref(at).map(value)).collect::<rusqlite::Result<Row>>()?);
            }
            Ok(read)
        };
        read().map_err(|error: rusqlite::Error| self.words(&error))
    }

    /// Every change holds the right to write from its start: SQLite has one writer anyway, and this one never fails half-way.
    fn begin(&self, _alone: bool) -> Result<(), StoreError> {
        self.connection.execute_batch("BEGIN IMMEDIATE").map_err(|error| self.words(&error))
    }

    fn commit(&self) -> Result<(), StoreError> {
        self.connection.execute_batch("COMMIT").map_err(|error| self.words(&error))
    }

    fn roll_back(&self) {
        // What failed may have been given up by SQLite itself already.
        drop(self.connection.execute_batch("ROLLBACK"));
    }

    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        load::load_after(&self.connection, seen).map_err(|error| self.words(&error))
    }

    fn words(&self) -> [&'static str; 2] {
        ["BLOB", "INTEGER"]
    }

    fn wipe(&self) -> Result<(), StoreError> {
        wipe_log(&self.connection).map_err(|error| self.words(&error))
    }
}
