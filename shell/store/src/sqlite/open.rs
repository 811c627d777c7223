//! Opening a book file: what it is, how it is kept safe, who may read it.
//!
//! Refuses to touch a file that is not a book, and one made by a newer program.

use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::path::Path;
use std::time::Duration;

use book::StoreError;
use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::schema::{self, Found, SCHEMA_VERSION};
use crate::random::fresh_device;

/// How long to wait for another program that is writing.
const PATIENCE: Duration = Duration::from_secs(10);

pub(super) fn open(path: &Path) -> Result<Connection, StoreError> {
    make_private_file(path, false)?;
    // WHY NOT let SQLite make the file: it would be readable by everybody, and keys are in it.
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags).map_err(|error| in_words(path, &error))?;
    connection.busy_timeout(PATIENCE).map_err(|error| in_words(path, &error))?;
    match schema::look(&connection).map_err(|error| in_words(path, &error))? {
        Found::Other => return Err(StoreError::NotABook(path.display().to_string())),
        Found::Book(found) if found > SCHEMA_VERSION => {
            return Err(StoreError::Newer { found, known: SCHEMA_VERSION });
        }
        Found::Book(_) => keep_safe(&connection).map_err(|error| in_words(path, &error))?,
        Found::Empty => {
            keep_safe(&connection).map_err(|error| in_words(path, &error))?;
            schema::create(&mut connection, fresh_device()?)?;
        }
    }
    Ok(connection)
}

/// Makes an empty file that only its owner reads, if there is none; refuses one that is there where it must be `new`.
pub(super) fn make_private_file(path: &Path, new: bool) -> Result<(), StoreError> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    match options.open(path) {
        Ok(_) => Ok(()),
        Err(error) if error.kind() == ErrorKind::AlreadyExists && !new => Ok(()),
        Err(error) => Err(StoreError::Failed(format!("`{}`: {error}; make its folder first", path.display()))),
    }
}

/// Sets what makes `Ok` mean "on the disk" and "gone" mean gone.
fn keep_safe(connection: &Connection) -> rusqlite::Result<()> {
    // The write-ahead log with a full sync: a commit is on the disk before the call returns.
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "fullfsync", "ON")?;
    connection.pragma_update(None, "checkpoint_fullfsync", "ON")?;
    // Deleted keys are overwritten, not only forgotten.
    connection.pragma_update(None, "secure_delete", "ON")?;
    wipe_log(connection)
}

/// Moves the write-ahead log into the file and cuts it, so that no destroyed key lingers there.
///
/// While another program reads the log this does nothing; it is done again whenever the book is opened.
pub(super) fn wipe_log(connection: &Connection) -> rusqlite::Result<()> {
    match connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(())) {
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) => Ok(()),
        done => done,
    }
}

/// Says what SQLite says in the words of the contract.
pub(super) fn in_words(path: &Path, error: &rusqlite::Error) -> StoreError {
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => StoreError::NotABook(path.display().to_string()),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            StoreError::Failed("another program is writing to the book; close it or try again".to_owned())
        }
        Some(ErrorCode::DiskFull) => StoreError::Failed("the disk is full; make room and try again".to_owned()),
        Some(ErrorCode::ReadOnly) => StoreError::Failed(format!("`{}` may not be written to", path.display())),
        _ => StoreError::Failed(error.to_string()),
    }
}
