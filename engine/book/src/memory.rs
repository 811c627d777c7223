//! The book kept in memory: for tests, for practice, and as the plainest reading of the contract.
//!
//! Refuses to survive the program.

use std::collections::{BTreeMap, BTreeSet};

use crate::event::{Checksum, Event};
use crate::ids::{EventId, KeyId, RecordId};
use crate::sealed::{Key, SealedRecord};
use crate::seen::Seen;
use crate::store::{KeyHeld, Loaded, Store, StoreError, check_kept, clash_within, key_destroyed_by};

/// A store in memory.
#[derive(Debug, Clone, Default)]
pub struct MemoryStore {
    events: BTreeMap<(EventId, Checksum), Vec<u8>>,
    records: BTreeMap<RecordId, (Checksum, SealedRecord)>,
    keys: BTreeMap<KeyId, Key>,
    destroyed: BTreeSet<KeyId>,
}

impl MemoryStore {
    /// Opens an empty store.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Spoils one byte of every text kept under a name, as a failing disk would.
    pub fn spoil_event(&mut self, id: EventId) {
        let texts = self.events.iter_mut().filter(|((kept, _), _)| *kept == id);
        texts.filter_map(|(_, text)| text.last_mut()).for_each(|byte| *byte ^= 1);
    }

    /// Spoils one byte of a sealed record, as a failing disk would.
    pub fn spoil_record(&mut self, id: RecordId) {
        let bytes = self.records.get_mut(&id).and_then(|(_, record)| record.bytes.last_mut());
        bytes.into_iter().for_each(|byte| *byte ^= 1);
    }

    fn keep(&mut self, event: &Event) -> bool {
        if let Some(key) = key_destroyed_by(event) {
            self.keys.remove(&key);
            self.destroyed.insert(key);
        }
        let text = event.text().as_bytes();
        let before = self.events.insert((event.id(), event.sum()), text.to_vec());
        before.is_none_or(|before| before != text)
    }

    fn has_other_text(&self, event: &Event) -> bool {
        let mut sums = self.events.keys().filter(|(id, _)| *id == event.id());
        sums.any(|(_, sum)| *sum != event.sum())
    }
}

impl Store for MemoryStore {
    fn append(&mut self, events: &[Event]) -> Result<(), StoreError> {
        let taken = events.iter().find(|event| self.has_other_text(event)).map(Event::id);
        if let Some(id) = taken.or_else(|| clash_within(events)) {
            return Err(StoreError::NameTaken(id));
        }
        self.take_in(events).map(|_| ())
    }

    fn take_in(&mut self, events: &[Event]) -> Result<usize, StoreError> {
        Ok(events.iter().filter(|event| self.keep(event)).count())
    }

    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        let (mut events, mut damaged) = (Vec::new(), Vec::new());
        for ((id, sum), text) in self.events.iter().filter(|((id, _), _)| !seen.knows(*id)) {
            match check_kept(*id, *sum, text) {
                Ok(event) => events.push(event),
                Err(damage) => damaged.push(damage),
            }
        }
        Ok(Loaded::in_order(events, damaged))
    }

    fn keep_record(&mut self, record: &SealedRecord) -> Result<(), StoreError> {
        let sum = record.sum();
        match self.records.get(&record.id) {
            Some((kept, _)) if *kept != sum => Err(StoreError::RecordTaken(record.id)),
            Some(_) | None => {
                self.records.insert(record.id, (sum, record.clone()));
                Ok(())
            }
        }
    }

    fn record(&self, id: RecordId) -> Result<Option<SealedRecord>, StoreError> {
        match self.records.get(&id) {
            Some((sum, record)) if *sum == record.sum() => Ok(Some(record.clone())),
            Some(_) => Err(StoreError::RecordDamaged(id)),
            None => Ok(None),
        }
    }

    fn records(&self) -> Result<Vec<RecordId>, StoreError> {
        Ok(self.records.keys().copied().collect())
    }

    fn keep_key(&mut self, id: KeyId, key: &Key) -> Result<(), StoreError> {
        if self.destroyed.contains(&id) {
            return Err(StoreError::KeyDestroyed(id));
        }
        match self.keys.get(&id) {
            Some(kept) if kept != key => Err(StoreError::KeyTaken(id)),
            Some(_) | None => {
                self.keys.insert(id, key.clone());
                Ok(())
            }
        }
    }

    fn key(&self, id: KeyId) -> Result<KeyHeld, StoreError> {
        Ok(match self.keys.get(&id) {
            Some(key) => KeyHeld::Held(key.clone()),
            None if self.destroyed.contains(&id) => KeyHeld::Destroyed,
            None => KeyHeld::NotHere,
        })
    }
}
