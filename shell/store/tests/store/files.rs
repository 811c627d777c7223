//! What a file is: new, a book, a newer book, something else; and the names of devices.

use std::fs;

use book::*;
use rusqlite::Connection;
use store::SqliteStore;
use tempfile::TempDir;

use crate::words::{noon, pen, say};

#[test]
fn a_newer_book_is_refused_in_words_and_not_touched() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    drop(SqliteStore::open(&path).unwrap());
    let other = Connection::open(&path).unwrap();
    other.execute("UPDATE about SET value = '2' WHERE name = 'schema_version'", []).unwrap();
    drop(other);
    let before = fs::read(&path).unwrap();
    let error = SqliteStore::open(&path).unwrap_err();
    assert_eq!(error, StoreError::Newer { found: 2, known: 1 });
    assert_eq!(
        error.to_string(),
        "this book has version 2 and this program reads up to 1; use the newer program that wrote it"
    );
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_file_that_is_no_book_is_refused_and_not_touched() {
    let folder = TempDir::new().unwrap();
    let (text, database) = (folder.path().join("letter.txt"), folder.path().join("other.db"));
    fs::write(&text, "Dear Sir, ".repeat(500)).unwrap();
    Connection::open(&database).unwrap().execute_batch("CREATE TABLE stamp (id INTEGER)").unwrap();
    for path in [text, database] {
        let before = fs::read(&path).unwrap();
        let error = SqliteStore::open(&path).unwrap_err();
        assert_eq!(error, StoreError::NotABook(path.display().to_string()));
        assert_eq!(fs::read(&path).unwrap(), before);
    }
}

#[test]
fn a_missing_folder_is_named_with_a_hint() {
    let folder = TempDir::new().unwrap();
    let error = SqliteStore::open(&folder.path().join("nowhere/book.db")).unwrap_err().to_string();
    assert!(error.contains("nowhere") && error.contains("make its folder first"), "{error}");
}

#[test]
fn an_empty_file_becomes_a_book() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    fs::write(&path, "").unwrap();
    assert_eq!(SqliteStore::open(&path).unwrap().load().unwrap(), Loaded::default());
}

#[test]
fn a_commit_is_synced_in_full() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let mut store = SqliteStore::open(&path).unwrap();
    let mut writer = pen(&store);
    record(&mut store, &mut writer, &noon(), &[say("one")]).unwrap();
    // The journal's mode is written in the file; a second connection tells it.
    let other = Connection::open(&path).unwrap();
    let mode: String = other.query_row("PRAGMA journal_mode", [], |row| row.get(0)).unwrap();
    assert_eq!(mode, "wal");
    // SOURCE: https://www.sqlite.org/pragma.html#pragma_synchronous, FULL is 2.
    assert_eq!(store.synchronous().unwrap(), 2);
}

#[cfg(unix)]
#[test]
fn only_its_owner_may_read_a_new_book() {
    use std::os::unix::fs::PermissionsExt;
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let _store = SqliteStore::open(&path).unwrap();
    for name in ["book.db", "book.db-wal"] {
        let mode = fs::metadata(folder.path().join(name)).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "{name}");
    }
}

#[test]
fn a_file_keeps_its_device_and_a_copy_can_take_a_new_name() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let mut store = SqliteStore::open(&path).unwrap();
    let first = store.device().unwrap();
    drop(store);
    store = SqliteStore::open(&path).unwrap();
    assert_eq!(store.device().unwrap(), first);
    let second = store.take_new_name().unwrap();
    assert_ne!(second, first);
    assert_eq!(SqliteStore::open(&path).unwrap().device().unwrap(), second);
}

#[test]
fn two_new_books_have_two_devices() {
    let folder = TempDir::new().unwrap();
    let device = |name: &str| SqliteStore::open(&folder.path().join(name)).unwrap().device().unwrap();
    assert_ne!(device("one.db"), device("two.db"));
}
