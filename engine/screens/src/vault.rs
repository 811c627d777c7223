//! Customers' keys and sealed records: those that are durable, and those that are fresh and still owed.

use book::{Content, Key, KeyId, Person, RecordId, SealError, SealedRecord, Signed};
use call::Refused;
use std::collections::BTreeMap;

/// Keys and records held on this device.
#[derive(Debug, Default)]
pub(crate) struct Vault {
    keys: BTreeMap<KeyId, Key>,
    records: BTreeMap<RecordId, SealedRecord>,
    fresh: (Vec<(KeyId, Key)>, Vec<SealedRecord>),
}

impl Vault {
    pub(crate) fn of(keys: Vec<(KeyId, Key)>, records: Vec<SealedRecord>) -> Self {
        let mut vault = Self::default();
        vault.add(keys, records);
        vault
    }

    pub(crate) fn add(&mut self, keys: Vec<(KeyId, Key)>, records: Vec<SealedRecord>) {
        self.keys.extend(keys);
        self.records.extend(records.into_iter().map(|record| (record.id, record)));
    }

    /// Gives what is fresh, to be made durable with the facts that speak of it.
    pub(crate) fn take_fresh(&mut self) -> (Vec<(KeyId, Key)>, Vec<SealedRecord>) {
        std::mem::take(&mut self.fresh)
    }

    pub(crate) fn forget_fresh(&mut self) {
        self.fresh = Default::default();
    }

    /// Opens a customer's details; `None` where key or record is not here.
    pub(crate) fn person(&self, key: KeyId, record: RecordId) -> Option<Person> {
        self.opened(key, record)?.to_person().ok()
    }

    /// Opens who signed; `None` where key or record is not here.
    pub(crate) fn signed(&self, key: KeyId, record: RecordId) -> Option<Signed> {
        self.opened(key, record)?.to_signed().ok()
    }

    fn opened(&self, key: KeyId, record: RecordId) -> Option<Content> {
        let plain = self.records.get(&record)?.open(self.keys.get(&key)?).ok()?;
        Content::from_plain(&plain).ok()
    }

    /// Seals a customer's details under a new key.
    pub(crate) fn new_person(
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

    /// Opens a picture; `None` where key or record is not here.
    pub(crate) fn picture(&self, key: KeyId, record: RecordId) -> Option<Vec<u8>> {
        self.opened(key, record).filter(|content| content.what == Content::JPEG).map(|content| content.bytes)
    }

    /// Seals a customer's details anew under his own key.
    pub(crate) fn seal_person(
        &mut self,
        id: KeyId,
        person: &Person,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<RecordId, Refused> {
        let key = self.key(id)?;
        self.seal(id, &key, &Content::person(person).map_err(|error| refused(&error))?, random)
    }

    /// Forgets a key that was destroyed.
    pub(crate) fn forget_key(&mut self, id: KeyId) {
        self.keys.remove(&id);
    }

    /// Seals a picture under a customer's key.
    pub(crate) fn seal_picture(
        &mut self,
        id: KeyId,
        picture: Vec<u8>,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<RecordId, Refused> {
        let key = self.key(id)?;
        let content = Content::picture(picture)
            .map_err(|_| Refused::new("that is no picture this can keep", "take it again, smaller, as a JPEG"))?;
        self.seal(id, &key, &content, random)
    }

    /// Seals who signed under a customer's key.
    pub(crate) fn seal_signed(
        &mut self,
        id: KeyId,
        signed: &Signed,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<RecordId, Refused> {
        let key = self.key(id)?;
        self.seal(id, &key, &Content::signed(signed), random)
    }

    fn key(&self, id: KeyId) -> Result<Key, Refused> {
        let not_here = || Refused::new("the customer's key is not on this device", "go on where it is");
        self.keys.get(&id).cloned().ok_or_else(not_here)
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
