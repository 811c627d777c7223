//! The contract of the book kept by SQLite.
//!
//! INVARIANT: every change is one transaction that is synced before the call returns, so what was answered with `Ok`
//! survives a crash, and what was not leaves no half.
//!
//! Refuses to judge events: it looks only at the one kind that destroys a key.

mod load;

use std::path::{Path, PathBuf};

use book::{
    DeviceId, Event, Key, KeyHeld, KeyId, Loaded, RecordId, SealedRecord, Seen, Store, StoreError, clash_within,
    key_destroyed_by,
};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior, params};

use crate::open::{in_words, open, wipe_log};
use crate::random::fresh_device;
use crate::schema;

/// The book in one SQLite file.
#[derive(Debug)]
pub struct SqliteStore {
    connection: Connection,
    path: PathBuf,
}

impl SqliteStore {
    /// Opens a book file, and makes it if there is none.
    ///
    /// # Errors
    /// [`StoreError::NotABook`] if the file is something else, [`StoreError::Newer`] if a newer program made it; the
    /// file is not touched then. [`StoreError::Failed`] if its folder is missing or it cannot be read or written.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        Ok(Self { connection: open(path)?, path: path.to_owned() })
    }

    /// Returns the name under which events are written into this file.
    ///
    /// # Errors
    /// Only if the file fails.
    pub fn device(&self) -> Result<DeviceId, StoreError> {
        let text = schema::about(&self.connection, "device").map_err(|error| self.words(&error))?;
        let device = text.and_then(|text| text.parse().ok());
        device.ok_or_else(|| StoreError::Failed("the book has lost the name of this device; give it a new one".into()))
    }

    /// Gives this file a new name to write under: needed when it is a copy of one that is still written to.
    ///
    /// # Errors
    /// Only if the file fails.
    pub fn take_new_name(&mut self) -> Result<DeviceId, StoreError> {
        let device = fresh_device()?;
        let done = schema::set_about(&self.connection, "device", &device.to_string());
        done.map(|()| device).map_err(|error| self.words(&error))
    }

    /// Tells how far a commit is synced, as SQLite numbers it: 2 is in full.
    ///
    /// # Errors
    /// Only if the file fails.
    pub fn synchronous(&self) -> Result<u32, StoreError> {
        let level = self.connection.query_row("PRAGMA synchronous", [], |row| row.get(0));
        level.map_err(|error| self.words(&error))
    }

    fn words(&self, error: &rusqlite::Error) -> StoreError {
        in_words(&self.path, error)
    }

    /// Runs `work` in one transaction that holds the right to write from its start; `Err` leaves no trace.
    fn change<T>(&mut self, work: impl FnOnce(&Transaction<'_>) -> Result<T, Refused>) -> Result<T, StoreError> {
        let path = &self.path;
        let done = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(Refused::from);
        let done = done.and_then(|transaction| {
            let made = work(&transaction)?;
            transaction.commit()?;
            Ok(made)
        });
        done.map_err(|refused| match refused {
            Refused::ByRule(error) => error,
            Refused::BySqlite(error) => in_words(path, &error),
        })
    }

    /// Keeps events that were checked, and wipes the log if a key went with them.
    fn keep_all(&mut self, events: &[Event], check: bool) -> Result<usize, StoreError> {
        let new = self.change(|transaction| {
            let mut new = 0;
            for event in events {
                if check && has_other_text(transaction, event)? {
                    return Err(StoreError::NameTaken(event.id()).into());
                }
                new += usize::from(keep(transaction, event)?);
            }
            Ok(new)
        })?;
        if events.iter().any(|event| key_destroyed_by(event).is_some()) {
            wipe_log(&self.connection).map_err(|error| self.words(&error))?;
        }
        Ok(new)
    }
}

/// Why a change was given up.
enum Refused {
    ByRule(StoreError),
    BySqlite(rusqlite::Error),
}

impl From<StoreError> for Refused {
    fn from(error: StoreError) -> Self {
        Self::ByRule(error)
    }
}

impl From<rusqlite::Error> for Refused {
    fn from(error: rusqlite::Error) -> Self {
        Self::BySqlite(error)
    }
}

fn has_other_text(transaction: &Transaction<'_>, event: &Event) -> rusqlite::Result<bool> {
    let sql = "SELECT EXISTS (SELECT 1 FROM event WHERE device = ?1 AND counter = ?2 AND sum <> ?3)";
    let id = event.id();
    let mut statement = transaction.prepare_cached(sql)?;
    statement.query_row(params![id.device().bytes(), counter(event), event.sum().bytes()], |row| row.get(0))
}

/// Keeps one event; tells whether it was new or mended a damaged one.
fn keep(transaction: &Transaction<'_>, event: &Event) -> rusqlite::Result<bool> {
    if let Some(key) = key_destroyed_by(event) {
        let sql = "INSERT INTO key (id, secret) VALUES (?1, NULL) ON CONFLICT (id) DO UPDATE SET secret = NULL";
        transaction.execute(sql, [key.bytes()])?;
    }
    let sql = "INSERT INTO event (device, counter, sum, text) VALUES (?1, ?2, ?3, ?4)
               ON CONFLICT (device, counter, sum) DO UPDATE SET text = ?4 WHERE text <> ?4";
    let mut statement = transaction.prepare_cached(sql)?;
    let id = event.id();
    let rows = statement.execute(params![id.device().bytes(), counter(event), event.sum().bytes(), event.text()])?;
    Ok(rows > 0)
}

/// A counter is at most 2^53 - 1, so it always fits.
fn counter(event: &Event) -> i64 {
    i64::try_from(event.id().counter()).unwrap_or(i64::MAX)
}

fn record_from(id: RecordId, row: &Row<'_>) -> rusqlite::Result<(SealedRecord, [u8; 32])> {
    let record = SealedRecord { id, key: KeyId::from_random(row.get("key")?), bytes: row.get("bytes")? };
    Ok((record, row.get("sum")?))
}

impl Store for SqliteStore {
    fn append(&mut self, events: &[Event]) -> Result<(), StoreError> {
        match clash_within(events) {
            Some(id) => Err(StoreError::NameTaken(id)),
            None => self.keep_all(events, true).map(|_| ()),
        }
    }

    fn take_in(&mut self, events: &[Event]) -> Result<usize, StoreError> {
        self.keep_all(events, false)
    }

    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        load::load_after(&self.connection, seen).map_err(|error| self.words(&error))
    }

    fn keep_record(&mut self, record: &SealedRecord) -> Result<(), StoreError> {
        let sum = record.sum();
        self.change(|transaction| {
            let sql = "INSERT INTO record (id, key, sum, bytes) VALUES (?1, ?2, ?3, ?4)
                       ON CONFLICT (id) DO UPDATE SET key = ?2, bytes = ?4 WHERE sum = ?3";
            let values = params![record.id.bytes(), record.key.bytes(), sum.bytes(), record.bytes];
            match transaction.execute(sql, values)? {
                0 => Err(StoreError::RecordTaken(record.id).into()),
                _ => Ok(()),
            }
        })
    }

    fn record(&self, id: RecordId) -> Result<Option<SealedRecord>, StoreError> {
        let sql = "SELECT key, sum, bytes FROM record WHERE id = ?1";
        let found = self.connection.query_row(sql, [id.bytes()], |row| record_from(id, row)).optional();
        match found.map_err(|error| self.words(&error))? {
            Some((record, sum)) if *record.sum().bytes() != sum => Err(StoreError::RecordDamaged(id)),
            found => Ok(found.map(|(record, _)| record)),
        }
    }

    fn records(&self) -> Result<Vec<RecordId>, StoreError> {
        let list = || {
            let mut statement = self.connection.prepare_cached("SELECT id FROM record ORDER BY id")?;
            let ids = statement.query_map([], |row| row.get(0).map(RecordId::from_random))?;
            ids.collect::<rusqlite::Result<Vec<_>>>()
        };
        list().map_err(|error| self.words(&error))
    }

    fn keep_key(&mut self, id: KeyId, key: &Key) -> Result<(), StoreError> {
        self.change(|transaction| match secret(transaction, id)? {
            None => {
                transaction
                    .execute("INSERT INTO key (id, secret) VALUES (?1, ?2)", params![id.bytes(), key.bytes()])?;
                Ok(())
            }
            Some(None) => Err(StoreError::KeyDestroyed(id).into()),
            Some(Some(kept)) if kept == *key => Ok(()),
            Some(Some(_)) => Err(StoreError::KeyTaken(id).into()),
        })
    }

    fn key(&self, id: KeyId) -> Result<KeyHeld, StoreError> {
        Ok(match secret(&self.connection, id).map_err(|error| self.words(&error))? {
            None => KeyHeld::NotHere,
            Some(None) => KeyHeld::Destroyed,
            Some(Some(key)) => KeyHeld::Held(key),
        })
    }
}

/// Fetches a key's row: `None` if there is none, `Some(None)` if the key was destroyed.
fn secret(connection: &Connection, id: KeyId) -> rusqlite::Result<Option<Option<Key>>> {
    let mut statement = connection.prepare_cached("SELECT secret FROM key WHERE id = ?1")?;
    let row = statement.query_row([id.bytes()], |row| row.get::<_, Option<[u8; 32]>>(0)).optional()?;
    Ok(row.map(|secret| secret.map(Key::from_random)))
}
