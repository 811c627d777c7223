//! The suite of the book, held with SQLite.

use std::cell::Cell;
use std::path::PathBuf;

use book::suite::{Trial, store_suite};
use book::*;
use rusqlite::Connection;
use store::SqliteStore;
use tempfile::TempDir;

use crate::words::{noon, pen, say};

/// A SQLite store that can be spoiled through a second connection.
struct OnTrial {
    store: SqliteStore,
    path: PathBuf,
}

impl OnTrial {
    fn spoil(&self, sql: &str, id: &[u8]) -> Result<(), StoreError> {
        let other = Connection::open(&self.path).unwrap();
        other.execute(sql, [id]).map(|_| ()).map_err(|error| StoreError::Failed(error.to_string()))
    }
}

impl Store for OnTrial {
    fn append(&mut self, events: &[Event]) -> Result<(), StoreError> {
        self.store.append(events)
    }
    fn take_in(&mut self, events: &[Event]) -> Result<usize, StoreError> {
        self.store.take_in(events)
    }
    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        self.store.load_after(seen)
    }
    fn keep_record(&mut self, record: &SealedRecord) -> Result<(), StoreError> {
        self.store.keep_record(record)
    }
    fn record(&self, id: RecordId) -> Result<Option<SealedRecord>, StoreError> {
        self.store.record(id)
    }
    fn records(&self) -> Result<Vec<RecordId>, StoreError> {
        self.store.records()
    }
    fn keep_key(&mut self, id: KeyId, key: &Key) -> Result<(), StoreError> {
        self.store.keep_key(id, key)
    }
    fn key(&self, id: KeyId) -> Result<KeyHeld, StoreError> {
        self.store.key(id)
    }
}

impl Trial for OnTrial {
    fn reopen(self) -> Result<Self, StoreError> {
        let Self { store, path } = self;
        drop(store);
        Ok(Self { store: SqliteStore::open(&path)?, path })
    }
    fn spoil_event(&mut self, id: EventId) -> Result<(), StoreError> {
        let sql = format!("UPDATE event SET text = text || ' ' WHERE device = ?1 AND counter = {}", id.counter());
        self.spoil(&sql, id.device().bytes())
    }
    fn spoil_record(&mut self, id: RecordId) -> Result<(), StoreError> {
        self.spoil("UPDATE record SET bytes = zeroblob(length(bytes)) WHERE id = ?1", id.bytes())
    }
}

#[test]
fn sqlite_keeps_the_contract() {
    let folder = TempDir::new().unwrap();
    let count = Cell::new(0);
    let make = || {
        count.set(count.get() + 1);
        let path = folder.path().join(format!("{}.db", count.get()));
        OnTrial { store: SqliteStore::open(&path).unwrap(), path }
    };
    assert_eq!(store_suite(make), Vec::<String>::new());
    assert!(count.get() > 10);
}

#[test]
fn two_programs_on_one_file_never_write_two_texts_of_one_name() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let (mut one, mut two) = (SqliteStore::open(&path).unwrap(), SqliteStore::open(&path).unwrap());
    let (mut first, mut second) = (pen(&one), pen(&two));
    record(&mut one, &mut first, &noon(), &[say("one")]).unwrap();
    let refused = record(&mut two, &mut second, &noon(), &[say("two")]);
    assert!(matches!(refused, Err(RecordError::Store(StoreError::NameTaken(_)))), "{refused:?}");
    let mut second = pen(&two);
    record(&mut two, &mut second, &noon(), &[say("two")]).unwrap();
    assert_eq!(one.load().unwrap().events.len(), 2);
    assert_eq!(one.load().unwrap(), two.load().unwrap());
}
