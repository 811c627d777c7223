//! Customers' keys and sealed records: those that are durable, and those that are fresh and still owed.

use book::{Content, Key, KeyId, Person, RecordId, SealError, SealedRecord, Signed};
use call::Refused;
use std::collections::BTreeMap;

/// Keys and records held on this device.
#[derive(Debug, Default)]
pub(super) struct Vault {
    keys: BTreeMap<KeyId, Key>,
    records: BTreeMap<RecordId, SealedRecord>,
    fresh: (Vec<(KeyId, Key)>, Vec<SealedRecord>),
}

impl Vault {
    pub(super) fn of(keys: Vec<(KeyId, Key)>, records: Vec<SealedRecord>) -> Self {
        let mut vault = Self::default();
        vault.add(keys, records);
        vault
    }

    pub(super) fn add(&mut self, keys: Vec<(KeyId, Key)>, records: Vec<SealedRecord>) {
        self.keys.extend(keys);
        self.records.extend(records.into_iter().map(|record| (record.id, record)));
    }

    /// Gives what is fresh, to be made durable with the facts that speak of it.
    pub(super) fn take_fresh(&mut self) -> (Vec<(KeyId, Key)>, Vec<SealedRecord>) {
        std::mem::take(&mut self.fresh)
    }

    pub(super) fn forget_fresh(&mut self) {
        self.fresh = Default::default();
    }

    /// Opens a customer's details; `None` where key or record is not here.
    pub(super) fn person(&self, key: KeyId, record: RecordId) -> Option<Person> {
        self.opened(key, record)?.to_person().ok()
    }

    /// Opens who signed; `None` where key or record is not here.
    pub(super) fn signed(&self, key: KeyId, record: RecordId) -> Option<Signed> {
        self.opened(key, record)?.to_signed().ok()
    }

    fn opened(&self, key: KeyId, record: RecordId) -> Option<Content> {
        let plain = self.records.get(&record)?.open(self.keys.get(&key)?).ok()?;
        Content::from_plain(&plain).ok()
    }

    /// Seals a customer's details under a new key.
    pub(super) fn new_person(
        &mut self,
        person: &Person,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<(KeyId, RecordId), Refused> {
        let id = KeyId::from_random(bytes(random));
        let key = Key::from_random(bytes(random));
        let content = Content::person(person).map_err(|error| refused(&error))?;
        let record = self.seal(id, &key, &content, random)?;
        self.fresh.0.push((id, key));
        Ok((id, record))
    }

    /// Seals who signed under a customer's key.
    pub(super) fn seal_signed(
        &mut self,
        id: KeyId,
        signed: &Signed,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<RecordId, Refused> {
        let not_here = || Refused::new("the customer's key is not on this device", "go on where it is");
        let key = self.keys.get(&id).cloned().ok_or_else(not_here)?;
        self.seal(id, &key, &Content::signed(signed), random)
    }

    fn seal(
        &mut self,
        id: KeyId,
        key: &Key,
        content: &Content,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<RecordId, Refused> {
        let record = RecordId::from_random(bytes(random));
        let sealed = SealedRecord::seal(record, id, key, bytes(random), &content.to_plain());
        self.fresh.1.push(sealed.map_err(|error| refused(&error))?);
        Ok(record)
    }
}

fn refused(error: &SealError) -> Refused {
    Refused::new(error.to_string(), "write less")
}

fn bytes<const N: usize>(random: &mut dyn FnMut(&mut [u8])) -> [u8; N] {
    let mut bytes = [0; N];
    random(&mut bytes);
    bytes
}
