//! Keys: fresh ones, and that a destroyed one is nowhere in the files.

use std::fs;
use std::path::Path;

use book::*;
use store::{SqliteStore, fresh_key, seal};
use tempfile::TempDir;

use crate::words::{noon, pen, say};

fn anywhere_in(folder: &Path, wanted: &[u8]) -> bool {
    fs::read_dir(folder).unwrap().any(|entry| {
        let bytes = fs::read(entry.unwrap().path()).unwrap();
        bytes.windows(wanted.len()).any(|window| window == wanted)
    })
}

#[test]
fn a_destroyed_key_is_nowhere_in_the_files_and_its_record_stays_shut() {
    let folder = TempDir::new().unwrap();
    let mut store = SqliteStore::open(&folder.path().join("book.db")).unwrap();
    let (id, key) = fresh_key().unwrap();
    let person = Person { name: "A. Person".to_owned(), ..Person::default() };
    let sealed = seal(id, &key, &Content::person(&person).unwrap()).unwrap();
    store.keep_key(id, &key).unwrap();
    store.keep_record(&sealed).unwrap();
    let mut writer = pen(&store);
    let added = Body::shop(CustomerAdded { key: id, record: sealed.id, listed: false });
    record(&mut store, &mut writer, &noon(), &[added, say("work")]).unwrap();
    assert!(anywhere_in(folder.path(), key.bytes()));
    assert!(!anywhere_in(folder.path(), b"A. Person"));

    let gone = Body::shop(KeyDestroyed { key: id, reason: "asked".to_owned() });
    record(&mut store, &mut writer, &noon(), &[gone]).unwrap();
    assert!(!anywhere_in(folder.path(), key.bytes()));
    assert_eq!(store.key(id).unwrap(), KeyHeld::Destroyed);
    let kept = store.record(sealed.id).unwrap().unwrap();
    let (_, other) = fresh_key().unwrap();
    assert_eq!(kept.open(&other), Err(SealError::DoesNotOpen));
    let book = fold_book(&store.load().unwrap().events);
    assert!(book.customers.values().all(|customer| customer.erased));
    assert_eq!(book.jobs.len(), 1);
}

#[test]
fn a_key_opens_what_it_sealed_after_reopening() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("book.db");
    let (id, key) = fresh_key().unwrap();
    let sealed = seal(id, &key, &Content::text("mind the dog")).unwrap();
    let mut store = SqliteStore::open(&path).unwrap();
    store.keep_key(id, &key).unwrap();
    store.keep_record(&sealed).unwrap();
    drop(store);
    let store = SqliteStore::open(&path).unwrap();
    let KeyHeld::Held(key) = store.key(id).unwrap() else { panic!("the key is gone") };
    let plain = store.record(sealed.id).unwrap().unwrap().open(&key).unwrap();
    assert_eq!(Content::from_plain(&plain).unwrap(), Content::text("mind the dog"));
}

#[test]
fn the_same_content_sealed_twice_differs_in_name_and_nonce() {
    let (id, key) = fresh_key().unwrap();
    let (one, two) = (seal(id, &key, &Content::text("a")).unwrap(), seal(id, &key, &Content::text("a")).unwrap());
    assert_ne!(one.id, two.id);
    assert_ne!(one.bytes[1..25], two.bytes[1..25]);
}
