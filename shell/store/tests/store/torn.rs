//! Files that were damaged from outside: a byte, a page, a tail. The rest of the book is kept and the damage named.

use std::fs;
use std::path::{Path, PathBuf};

use book::*;
use store::SqliteStore;
use tempfile::TempDir;

use crate::words::{noon, pen, say};

const COUNT: usize = 300;
/// SQLite's page size when nothing else is asked. SOURCE: https://www.sqlite.org/pragma.html#pragma_page_size
const PAGE: usize = 4096;

fn words(at: usize) -> String {
    format!("number {at:04} {}", "y".repeat(at * 31 % 900))
}

/// A closed book of many events, and what is in it.
fn written(folder: &TempDir) -> (PathBuf, Vec<Event>) {
    let path = folder.path().join("book.db");
    let mut store = SqliteStore::open(&path).unwrap();
    let mut writer = pen(&store);
    for at in 0..COUNT {
        record(&mut store, &mut writer, &noon(), &[say(&words(at))]).unwrap();
    }
    let events = store.load().unwrap().events;
    assert_eq!(events.len(), COUNT);
    (path, events)
}

fn place_of(bytes: &[u8], words: &str) -> usize {
    bytes.windows(words.len()).position(|window| window == words.as_bytes()).unwrap()
}

/// Every event is either whole and as it was, or named as damaged; returns how many are damaged.
fn accounted_for(path: &Path, events: &[Event]) -> usize {
    let loaded = SqliteStore::open(path).unwrap().load().unwrap();
    let damaged: Vec<EventId> = loaded.damaged.iter().filter_map(|damage| damage.id).collect();
    let whole: Vec<&Event> = events.iter().filter(|event| !damaged.contains(&event.id())).collect();
    assert_eq!(loaded.events.iter().collect::<Vec<_>>(), whole);
    assert_eq!(damaged.len(), events.len() - whole.len());
    damaged.len()
}

#[test]
fn one_changed_byte_costs_one_event() {
    let folder = TempDir::new().unwrap();
    let (path, events) = written(&folder);
    let mut bytes = fs::read(&path).unwrap();
    let place = place_of(&bytes, "number 0123");
    bytes[place] = b'N';
    fs::write(&path, bytes).unwrap();
    assert_eq!(accounted_for(&path, &events), 1);
    let loaded = SqliteStore::open(&path).unwrap().load().unwrap();
    assert_eq!(loaded.damaged[0].id, Some(events[123].id()));
}

#[test]
fn a_torn_page_costs_only_the_events_on_it() {
    let folder = TempDir::new().unwrap();
    let (path, events) = written(&folder);
    let mut bytes = fs::read(&path).unwrap();
    let page = place_of(&bytes, "number 0123") / PAGE * PAGE;
    bytes[page..page + PAGE].fill(0xff);
    fs::write(&path, bytes).unwrap();
    let damaged = accounted_for(&path, &events);
    assert!((1..40).contains(&damaged), "{damaged}");
}

#[test]
fn a_torn_event_is_mended_by_a_whole_copy_from_elsewhere() {
    let folder = TempDir::new().unwrap();
    let (path, events) = written(&folder);
    let mut bytes = fs::read(&path).unwrap();
    let place = place_of(&bytes, "number 0200");
    bytes[place] = 0xff;
    fs::write(&path, bytes).unwrap();
    let mut store = SqliteStore::open(&path).unwrap();
    let held = store.load().unwrap();
    let lacking = held.held_without_gap();
    assert_eq!(lacking.of(events[0].id().device()), 200);
    let copy: Vec<Event> = events.iter().filter(|event| !lacking.knows(event.id())).cloned().collect();
    assert_eq!(store.take_in(&copy).unwrap(), 1);
    assert_eq!(store.load().unwrap(), Loaded::in_order(events, Vec::new()));
}

#[test]
fn writing_goes_on_after_damage_under_a_new_counter() {
    let folder = TempDir::new().unwrap();
    let (path, events) = written(&folder);
    let mut bytes = fs::read(&path).unwrap();
    let place = place_of(&bytes, "number 0299");
    bytes[place] = 0xff;
    fs::write(&path, bytes).unwrap();
    let mut store = SqliteStore::open(&path).unwrap();
    let mut writer = pen(&store);
    let next = record(&mut store, &mut writer, &noon(), &[say("next")]).unwrap();
    assert_eq!(next[0].id().counter(), u64::try_from(events.len()).unwrap() + 1);
}

#[test]
fn a_file_cut_short_never_passes_for_whole() {
    let folder = TempDir::new().unwrap();
    let (path, events) = written(&folder);
    let bytes = fs::read(&path).unwrap();
    for pages in [1, 3, 10] {
        fs::write(&path, &bytes[..bytes.len() - pages * PAGE]).unwrap();
        match SqliteStore::open(&path).and_then(|store| store.load()) {
            Ok(loaded) => {
                assert!(!loaded.damaged.is_empty(), "{pages} pages");
                assert!(loaded.events.iter().all(|event| events.contains(event)));
            }
            Err(error) => assert!(matches!(error, StoreError::Failed(_)), "{error:?}"),
        }
    }
}
