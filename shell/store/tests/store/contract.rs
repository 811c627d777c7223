//! The suite of the book, held with SQLite and with PostgreSQL.

use std::cell::Cell;
use std::path::PathBuf;

use book::suite::{Trial, store_suite};
use book::*;
use rusqlite::Connection;
use store::{Database, Postgres, PostgresStore, SqlStore, Sqlite, SqliteStore};
use tempfile::TempDir;

use crate::words::{noon, pen, say};

/// Where a store is, so that it can be opened again and spoiled through a second connection.
trait Place {
    type Of: Database;
    fn open(&self) -> Result<SqlStore<Self::Of>, StoreError>;
    fn spoil_event(&self, id: EventId);
    fn spoil_record(&self, id: RecordId);
}

impl Place for PathBuf {
    type Of = Sqlite;
    fn open(&self) -> Result<SqliteStore, StoreError> {
        SqliteStore::open(self)
    }
    fn spoil_event(&self, id: EventId) {
        let sql = format!("UPDATE event SET text = text || ' ' WHERE device = ?1 AND counter = {}", id.counter());
        Connection::open(self).unwrap().execute(&sql, [id.device().bytes()]).unwrap();
    }
    fn spoil_record(&self, id: RecordId) {
        let sql = "UPDATE record SET bytes = zeroblob(length(bytes)) WHERE id = ?1";
        Connection::open(self).unwrap().execute(sql, [id.bytes()]).unwrap();
    }
}

/// A schema of the database that `make test` starts.
struct Schema(String);

impl Schema {
    fn run(&self, sql: &str, id: &[u8]) {
        let mut client = postgres::Client::connect(&address(), postgres::NoTls).unwrap();
        client.batch_execute(&format!("SET search_path TO {}", self.0)).unwrap();
        client.execute(sql, &[&id]).unwrap();
    }
}

fn address() -> String {
    std::env::var("CALLWRIGHT_POSTGRES").unwrap()
}

impl Place for Schema {
    type Of = Postgres;
    fn open(&self) -> Result<PostgresStore, StoreError> {
        PostgresStore::open_schema(&address(), &self.0)
    }
    fn spoil_event(&self, id: EventId) {
        let sql = format!("UPDATE event SET text = text || ' ' WHERE device = $1 AND counter = {}", id.counter());
        self.run(&sql, id.device().bytes());
    }
    fn spoil_record(&self, id: RecordId) {
        self.run("UPDATE record SET bytes = '\\x00' WHERE id = $1", id.bytes());
    }
}

/// A store on trial at its place.
struct OnTrial<P: Place> {
    store: SqlStore<P::Of>,
    place: P,
}

impl<P: Place> OnTrial<P> {
    fn at(place: P) -> Self {
        Self { store: place.open().unwrap(), place }
    }
}

impl<P: Place> Store for OnTrial<P> {
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

impl<P: Place> Trial for OnTrial<P> {
    fn reopen(self) -> Result<Self, StoreError> {
        let Self { store, place } = self;
        drop(store);
        Ok(Self { store: place.open()?, place })
    }
    fn spoil_event(&mut self, id: EventId) -> Result<(), StoreError> {
        self.place.spoil_event(id);
        Ok(())
    }
    fn spoil_record(&mut self, id: RecordId) -> Result<(), StoreError> {
        self.place.spoil_record(id);
        Ok(())
    }
}

#[test]
#[ignore = "needs PostgreSQL; make test brings it"]
fn postgresql_keeps_the_contract() {
    let count = Cell::new(0);
    let make = || {
        count.set(count.get() + 1);
        OnTrial::at(Schema(format!("contract_{}", count.get())))
    };
    assert_eq!(store_suite(make), Vec::<String>::new());
    assert!(count.get() > 10);
}

/// Texts written by two programs at once under one name: one is refused, whichever came second.
#[test]
#[ignore = "needs PostgreSQL; make test brings it"]
fn two_programs_on_one_database_never_write_two_texts_of_one_name() {
    let place = Schema("two_programs".to_owned());
    drop(place.open().unwrap());
    let threads: Vec<_> = (0..4)
        .map(|at| {
            std::thread::spawn(move || {
                let mut store = Schema("two_programs".to_owned()).open().unwrap();
                let mut written = 0;
                for turn in 0..30 {
                    let mut writer = Pen::after(store.device().unwrap(), &store.load().unwrap());
                    match record(&mut store, &mut writer, &noon(), &[say(&format!("{at} {turn}"))]) {
                        Ok(_) => written += 1,
                        Err(RecordError::Store(StoreError::NameTaken(_))) => {}
                        Err(error) => panic!("{error}"),
                    }
                }
                written
            })
        })
        .collect();
    let written: usize = threads.into_iter().map(|thread| thread.join().unwrap()).sum();
    let events = place.open().unwrap().load().unwrap().events;
    assert_eq!(events.len(), written);
    assert_eq!(fold_book(&events).clashes, []);
}

#[test]
fn sqlite_keeps_the_contract() {
    let folder = TempDir::new().unwrap();
    let count = Cell::new(0);
    let make = || {
        count.set(count.get() + 1);
        OnTrial::at(folder.path().join(format!("{}.db", count.get())))
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
