//! The memory store passes the suite; the suite itself notices a store that breaks the contract.

use book::suite::{Trial, store_suite};
use book::*;

use crate::story::{KEY, tell};

#[test]
fn the_memory_store_keeps_the_contract() {
    assert_eq!(store_suite(MemoryStore::new), Vec::<String>::new());
}

/// A memory store with one promise broken.
struct Broken {
    inner: MemoryStore,
    forgets_on_reopening: bool,
    keeps_destroyed_keys: bool,
    hides_damage: bool,
}

impl Store for Broken {
    fn append(&mut self, events: &[Event]) -> Result<(), StoreError> {
        let keys: Vec<_> = events.iter().filter_map(key_destroyed_by).collect();
        let held: Vec<_> = keys.iter().map(|key| self.inner.key(*key)).collect();
        self.inner.append(events)?;
        for (key, held) in keys.into_iter().zip(held) {
            if let (true, Ok(KeyHeld::Held(secret))) = (self.keeps_destroyed_keys, held) {
                self.inner = MemoryStore::new();
                self.inner.keep_key(key, &secret)?;
            }
        }
        Ok(())
    }
    fn take_in(&mut self, events: &[Event]) -> Result<usize, StoreError> {
        self.inner.take_in(events)
    }
    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        let mut loaded = self.inner.load_after(seen)?;
        if self.hides_damage {
            loaded.damaged.clear();
        }
        Ok(loaded)
    }
    fn keep_record(&mut self, record: &SealedRecord) -> Result<(), StoreError> {
        self.inner.keep_record(record)
    }
    fn record(&self, id: RecordId) -> Result<Option<SealedRecord>, StoreError> {
        self.inner.record(id)
    }
    fn records(&self) -> Result<Vec<RecordId>, StoreError> {
        self.inner.records()
    }
    fn keep_key(&mut self, id: KeyId, key: &Key) -> Result<(), StoreError> {
        self.inner.keep_key(id, key)
    }
    fn key(&self, id: KeyId) -> Result<KeyHeld, StoreError> {
        self.inner.key(id)
    }
}

impl Trial for Broken {
    fn reopen(mut self) -> Result<Self, StoreError> {
        if self.forgets_on_reopening {
            self.inner = MemoryStore::new();
        }
        Ok(self)
    }
    fn spoil_event(&mut self, id: EventId) -> Result<(), StoreError> {
        Trial::spoil_event(&mut self.inner, id)
    }
    fn spoil_record(&mut self, id: RecordId) -> Result<(), StoreError> {
        Trial::spoil_record(&mut self.inner, id)
    }
}

#[test]
fn the_suite_notices_a_broken_store() {
    let sound = || Broken {
        inner: MemoryStore::new(),
        forgets_on_reopening: false,
        keeps_destroyed_keys: false,
        hides_damage: false,
    };
    assert_eq!(store_suite(sound), Vec::<String>::new());
    let forgets = store_suite(|| Broken { forgets_on_reopening: true, ..sound() });
    assert!(forgets.iter().any(|line| line.starts_with("what_was_appended")), "{forgets:?}");
    let keeps = store_suite(|| Broken { keeps_destroyed_keys: true, ..sound() });
    assert!(keeps.iter().any(|line| line.starts_with("an_event_that_destroys_a_key")), "{keeps:?}");
    let hides = store_suite(|| Broken { hides_damage: true, ..sound() });
    assert!(hides.iter().any(|line| line.starts_with("a_damaged_event")), "{hides:?}");
}

#[test]
fn a_pen_never_uses_a_counter_twice_even_after_damage() {
    let mut store = MemoryStore::new();
    let mut pen = Pen::new(crate::story::PHONE);
    let job = |words: &str| Body::shop(KeyDestroyed { key: KEY, reason: words.to_owned() });
    let events = record(&mut store, &mut pen, &crate::story::at(1), &[job("a"), job("b")]).unwrap();
    store.spoil_event(events[1].id());
    let mut pen = Pen::after(pen.device(), &store.load().unwrap());
    assert_eq!(pen.write(&crate::story::at(2), &job("c")).unwrap().id().counter(), 3);
}

#[test]
fn a_pen_stays_where_it_was_when_the_store_refuses() {
    let mut store = MemoryStore::new();
    let body = |words: &str| Body::shop(KeyDestroyed { key: KEY, reason: words.to_owned() });
    let (mut one, mut other) = (Pen::new(crate::story::PHONE), Pen::new(crate::story::PHONE));
    record(&mut store, &mut one, &crate::story::at(1), &[body("one")]).unwrap();
    let before = other.clone();
    let refused = record(&mut store, &mut other, &crate::story::at(1), &[body("other")]);
    assert!(matches!(refused, Err(RecordError::Store(StoreError::NameTaken(_)))));
    assert_eq!(other, before);
    let mut other = Pen::after(other.device(), &store.load().unwrap());
    record(&mut store, &mut other, &crate::story::at(1), &[body("other")]).unwrap();
    assert_eq!(store.load().unwrap().events.len(), 2);
}

#[test]
fn what_is_held_without_a_gap_stops_before_the_gap() {
    let (events, _) = tell();
    let phone: Vec<Event> = events.iter().filter(|event| event.id().device() == crate::story::PHONE).cloned().collect();
    let gap: Vec<Event> = phone.iter().filter(|event| event.id().counter() != 4).cloned().collect();
    let held = |events: Vec<Event>| Loaded::in_order(events, Vec::new()).held_without_gap();
    assert_eq!(held(gap).of(crate::story::PHONE), 3);
    assert_eq!(held(phone.clone()).of(crate::story::PHONE), phone.len() as u64);
}
