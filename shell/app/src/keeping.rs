//! The book in the browser's own database: all or none, strictly durable, damage reported and the rest kept.
//!
//! Keeps the contract of [`book::Store`], only that the browser answers later. One database a book; in it stores of text: events
//! (a checksum before the text), the steps of old closed jobs that are filed away (`filing`), sealed records, the large ones
//! apart, keys, and a few facts of the device. Where words unlock the
//! phone, events and keys are sealed once more under a key of the device's own.

mod filing;

use book::{
    Checksum, Damage, DeviceId, Event, EventId, Key, KeyHeld, KeyId, Loaded, RecordId, SealedRecord, StoreError,
    bytes_from_hex, check_kept, clash_within, key_destroyed_by,
};
use filing::Away;
use indexed_db_futures::database::Database;
use indexed_db_futures::error::Error;
use indexed_db_futures::prelude::{Build, BuildPrimitive, QuerySource};
use indexed_db_futures::transaction::{Transaction, TransactionDurability, TransactionMode, TransactionOptions};
use screens::Durable;
use std::collections::{BTreeMap, BTreeSet};
use sync::{Came, Member, SMALL_RECORD, lock_with_words, open_secret, seal_secret, unlock_with_words};

/// 2 since what is filed away and large records have stores of their own.
const VERSION: u8 = 2;
/// Events from which on their names are asked for together, whatever else is kept: one by one each takes about half a
/// millisecond (docs/benchmarks.md, "In the browser").
const MANY: usize = 500;
pub(crate) const EVENTS: &str = "events";
pub(crate) const RECORDS: &str = "records";
const KEYS: &str = "keys";
const DEVICE: &str = "device";
const FILED: &str = "filed";
/// Records of more than [`SMALL_RECORD`] bytes: photos, loaded one by one where they are looked at.
const LARGE: &str = "large";
const STORES: [&str; 6] = [EVENTS, RECORDS, KEYS, DEVICE, FILED, LARGE];

/// The fact that holds the local key, sealed under the words that unlock.
const UNLOCK: &str = "unlock";
/// The fact that says who this device is at its server.
const MEMBER: &str = "member";
/// How a value begins that is sealed under the local key.
const SEALED: &str = "sealed ";
/// What stands in the place of a key that was destroyed.
const DESTROYED: &str = "destroyed";
/// How the name of several events kept together begins: what a server sends is kept as it came, in one stroke.
const PACK: &str = "pack-";

/// An open book.
#[derive(Debug)]
pub(crate) struct Keeping {
    database: Database,
    /// The key of what is sealed here, once the words were given.
    local: Option<Key>,
}

/// Everything a book holds.
#[derive(Debug, Default)]
pub(crate) struct Held {
    /// Events and damage.
    pub(crate) loaded: Loaded,
    /// Keys of customers.
    pub(crate) keys: Vec<(KeyId, Key)>,
    /// Whole sealed records, without the large ones.
    pub(crate) records: Vec<SealedRecord>,
    /// Names of the large ones.
    pub(crate) large: BTreeSet<RecordId>,
    /// What is filed away and so not among the events.
    pub(crate) away: Away,
    /// The pack that an event came in, by its checksum; one that stands by itself has none.
    packs: BTreeMap<Checksum, String>,
    /// Sealed records and keys that cannot be read, in words.
    pub(crate) unreadable: Vec<String>,
}

impl Held {
    /// Says in words what cannot be read.
    pub(crate) fn damaged(&self) -> Vec<String> {
        self.loaded.damaged.iter().map(ToString::to_string).chain(self.unreadable.iter().cloned()).collect()
    }
}

impl Keeping {
    /// Opens the book of this name, or begins it.
    ///
    /// # Errors
    /// What the browser says.
    pub(crate) async fn open(name: &str) -> Result<Self, String> {
        let open = Database::open(name)
            .with_version(VERSION)
            .with_on_upgrade_needed(|_, database| {
                let here: Vec<String> = database.object_store_names().collect();
                for store in STORES.into_iter().filter(|store| !here.iter().any(|here| here == store)) {
                    database.create_object_store(store).build()?;
                }
                Ok(())
            })
            .await;
        open.map(|database| Self { database, local: None }).map_err(|error| error.to_string())
    }

    /// Throws the book of this name away: only ever the demo's.
    ///
    /// # Errors
    /// What the browser says.
    pub(crate) async fn throw_away(name: &str) -> Result<(), String> {
        let thrown = Database::delete_by_name(name).map_err(|error| error.to_string())?;
        thrown.await.map_err(|error| error.to_string())
    }

    /// Loads everything but what is filed away and the large records; what is damaged is told and the rest is whole.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn load(&self) -> Result<Held, String> {
        let mut held = Held::default();
        let (mut events, mut damaged) = (Vec::new(), Vec::new());
        for (name, kept) in self.all(EVENTS).await? {
            let Some(kept) = self.opened(&name, &kept) else {
                damaged.push(Damage { id: name.parse().ok(), what: "what is sealed of it does not open".to_owned() });
                continue;
            };
            let packed = name.starts_with(PACK);
            for line in kept.split('\n') {
                match if packed { packed_event(line) } else { event_of(&name, line) } {
                    Ok(event) => {
                        if packed {
                            held.packs.insert(event.sum(), name.clone());
                        }
                        events.push(event);
                    }
                    Err(damage) => damaged.push(damage),
                }
            }
        }
        held.loaded = Loaded::in_order(events, damaged);
        held.away = self.away().await?;
        held.loaded.filed = held.away.events.seen();
        for (name, kept) in self.all(RECORDS).await? {
            match record_of(&name, &kept) {
                Some(record) => held.records.push(record),
                None => held.unreadable.push(format!("sealed record `{name}` is damaged")),
            }
        }
        held.large = self.names(LARGE).await?.iter().filter_map(|name| name.parse().ok()).collect();
        for (name, kept) in self.all(KEYS).await?.into_iter().filter(|(_, kept)| kept != DESTROYED) {
            match self.opened(&name, &kept).and_then(|kept| key_of(&name, &kept)) {
                Some(key) => held.keys.push(key),
                None => held.unreadable.push(format!("key `{name}` is damaged")),
            }
        }
        Ok(held)
    }

    /// Makes things durable, all or none. When this is `Ok` they survive a crash.
    ///
    /// # Errors
    /// What the browser says: nothing was kept then.
    pub(crate) async fn keep(&self, durable: &Durable) -> Result<(), String> {
        self.append(durable).await.map_err(|not| not.to_string())
    }

    /// The same, saying why as the contract of a store does.
    ///
    /// # Errors
    /// [`StoreError`]: nothing was kept then.
    pub(crate) async fn append(&self, durable: &Durable) -> Result<(), StoreError> {
        match clash_within(&durable.events) {
            Some(id) => Err(StoreError::NameTaken(id)),
            None => self.write(durable).await.map_err(StoreError::from),
        }
    }

    async fn write(&self, durable: &Durable) -> Result<(), NotKept> {
        let transaction = self.strict()?;
        let names = names_if_many(&transaction, durable.events.len()).await?;
        for event in &durable.events {
            // A name that is taken by another text was written by another pen.
            let free = names.as_ref().is_some_and(|names| !names.contains(&event.id().to_string()));
            if !self.put_event(&transaction, event, free).await? {
                return Err(NotKept::Refused(StoreError::NameTaken(event.id())));
            }
        }
        self.put_sealed(&transaction, &durable.records, &durable.keys, &durable.events).await?;
        Ok(transaction.commit().await?)
    }

    /// Keeps an event under its own name; tells whether it stands there now. Another text of that name stays; what cannot be
    /// opened is no text and is mended. A name that is known to be free is not looked up.
    async fn put_event(&self, transaction: &Transaction<'_>, event: &Event, free: bool) -> Result<bool, NotKept> {
        let store = transaction.object_store(EVENTS)?;
        let name = event.id().to_string();
        let here: Option<String> =
            if free { None } else { store.get::<String, String, _>(name.clone()).primitive()?.await? };
        let here = here.and_then(|here| self.opened(&name, &here));
        if here.is_some_and(|here| here.split(' ').next() != Some(event.sum().to_string().as_str())) {
            return Ok(false);
        }
        store.put(self.sealed(&name, &line_of(event))).with_key(name).await?;
        Ok(true)
    }

    /// Keeps records and keys; an erasure among the events destroys its key in the same breath. What is here already under
    /// the same name stays, a whole copy mends a damaged one, and what differs is refused.
    async fn put_sealed(
        &self,
        transaction: &Transaction<'_>,
        kept_records: &[SealedRecord],
        kept_keys: &[(KeyId, Key)],
        events: &[Event],
    ) -> Result<(), NotKept> {
        for record in kept_records {
            let (name, sum) = (record.id.to_string(), record.sum().to_string());
            for store in [RECORDS, LARGE] {
                let store = transaction.object_store(store)?;
                let here: Option<String> = store.get::<String, String, _>(name.clone()).primitive()?.await?;
                if here.is_some_and(|here| here.split(' ').next() != Some(sum.as_str())) {
                    return Err(NotKept::Refused(StoreError::RecordTaken(record.id)));
                }
            }
            let bytes = base16ct::lower::encode_string(&record.bytes);
            let store = if record.bytes.len() > SMALL_RECORD { LARGE } else { RECORDS };
            transaction.object_store(store)?.put(format!("{sum} {} {bytes}", record.key)).with_key(name).await?;
        }
        let keys = transaction.object_store(KEYS)?;
        for (id, key) in kept_keys {
            let name = id.to_string();
            let here: Option<String> = keys.get::<String, String, _>(name.clone()).primitive()?.await?;
            match here.as_deref() {
                Some(DESTROYED) => return Err(NotKept::Refused(StoreError::KeyDestroyed(*id))),
                Some(here) => match self.opened(&name, here).and_then(|here| key_of(&name, &here)) {
                    Some((_, held)) if held != *key => return Err(NotKept::Refused(StoreError::KeyTaken(*id))),
                    _ => {}
                },
                None => {}
            }
            let kept = self.sealed(&name, &base16ct::lower::encode_string(key.bytes()));
            keys.put(kept).with_key(name).await?;
        }
        for key in events.iter().filter_map(key_destroyed_by) {
            keys.put(DESTROYED.to_owned()).with_key(key.to_string()).await?;
        }
        Ok(())
    }

    /// Makes what came from the server durable, all or none. Events that are here already stay as they are.
    ///
    /// # Errors
    /// What the browser says: nothing was kept then.
    pub(crate) async fn take_in(&self, came: &Came) -> Result<(), String> {
        let write = async {
            let transaction = self.strict()?;
            let names = names_if_many(&transaction, came.events.len()).await?;
            let mut packed: Vec<&Event> = Vec::new();
            for event in &came.events {
                let name = event.id().to_string();
                let is_here = match &names {
                    Some(names) => names.contains(&name),
                    None => {
                        let store = transaction.object_store(EVENTS)?;
                        let here: Option<String> = store.get::<String, String, _>(name).primitive()?.await?;
                        here.is_some()
                    }
                };
                // What is here by itself is mended by a whole copy; another text under its name stands beside it.
                if !is_here || !self.put_event(&transaction, event, false).await? {
                    packed.push(event);
                }
            }
            if let Some(first) = packed.first() {
                let name = format!("{PACK}{}-{}", first.id(), first.sum());
                let lines: Vec<String> = packed.iter().map(|event| line_of(event)).collect();
                let kept = self.sealed(&name, &lines.join("\n"));
                transaction.object_store(EVENTS)?.put(kept).with_key(name).await?;
            }
            self.put_sealed(&transaction, &came.records, &came.keys, &came.events).await?;
            Ok(transaction.commit().await?)
        };
        write.await.map_err(|not: NotKept| StoreError::from(not).to_string())
    }

    /// Gives a key as it is held here.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn key(&self, id: KeyId) -> Result<KeyHeld, String> {
        let name = id.to_string();
        let kept = self.value(KEYS, &name).await?;
        Ok(match kept.as_deref() {
            None => KeyHeld::NotHere,
            Some(DESTROYED) => KeyHeld::Destroyed,
            Some(kept) => match self.opened(&name, kept).and_then(|kept| key_of(&name, &kept)) {
                Some((_, key)) => KeyHeld::Held(key),
                None => KeyHeld::NotHere,
            },
        })
    }

    /// Gives what is kept under a name, as it is.
    pub(crate) async fn value(&self, store: &str, name: &str) -> Result<Option<String>, String> {
        let read = async {
            let transaction = self.database.transaction(store).with_mode(TransactionMode::Readonly).build()?;
            let store = transaction.object_store(store)?;
            store.get::<String, String, _>(name.to_owned()).primitive()?.await
        };
        read.await.map_err(|error: Error| error.to_string())
    }

    /// Puts something under a name, whatever stands there: only for a trial that spoils what is kept.
    pub(crate) async fn overwrite(&self, store: &str, name: &str, kept: &str) -> Result<(), String> {
        let write = async {
            let transaction = self.strict()?;
            transaction.object_store(store)?.put(kept.to_owned()).with_key(name.to_owned()).await?;
            transaction.commit().await
        };
        write.await.map_err(|error: Error| error.to_string())
    }

    /// Tells whether words must be given before keys can be read.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn is_locked(&self) -> Result<bool, String> {
        Ok(self.local.is_none() && self.has_unlock().await?)
    }

    /// Tells whether words are asked for when the app is opened.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn has_unlock(&self) -> Result<bool, String> {
        Ok(self.fact(UNLOCK).await?.is_some())
    }

    /// Tries words; tells whether they were the right ones.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn unlock(&mut self, words: &str) -> Result<bool, String> {
        let kept = self.fact(UNLOCK).await?.unwrap_or_default();
        self.local = unlock_with_words(&kept, words);
        Ok(self.local.is_some())
    }

    /// Asks for these words from now on, or for none: seals everything anew, all or none.
    ///
    /// # Errors
    /// What the browser says: everything is as it was then.
    pub(crate) async fn lock_with(&mut self, words: &str, random: &mut dyn FnMut(&mut [u8])) -> Result<(), String> {
        let member = self.member().await?;
        let mut secrets: Vec<(&str, String, String)> = Vec::new();
        for store in [EVENTS, FILED, KEYS] {
            let kept = self.all(store).await?.into_iter().filter(|(_, kept)| kept != DESTROYED);
            // What does not open stays as it is, to be told as damaged.
            secrets.extend(kept.filter_map(|(name, kept)| Some((store, self.opened(&name, &kept)?, name))));
        }
        let (mut local, mut salt, mut nonce) = ([0; 32], [0; 16], [0; 24]);
        random(&mut local);
        random(&mut salt);
        random(&mut nonce);
        let fresh = Key::from_random(local);
        let lock = if words.is_empty() {
            None
        } else {
            Some(lock_with_words(&fresh, words, salt, nonce).ok_or("these words cannot be used")?)
        };
        let before = std::mem::replace(&mut self.local, lock.is_some().then_some(fresh));
        let write = async {
            let transaction = self.strict()?;
            let device = transaction.object_store(DEVICE)?;
            match &lock {
                Some(lock) => device.put(lock.clone()).with_key(UNLOCK.to_owned()).await.map(|_| ())?,
                None => device.delete(UNLOCK.to_owned()).await?,
            }
            if let Some(member) = &member {
                device.put(self.sealed(MEMBER, &member.to_text())).with_key(MEMBER.to_owned()).await?;
            }
            for (store, plain, name) in &secrets {
                transaction.object_store(store)?.put(self.sealed(name, plain)).with_key(name.clone()).await?;
            }
            transaction.commit().await
        };
        let written: Result<(), Error> = write.await;
        if written.is_err() {
            self.local = before;
        }
        written.map_err(|error| error.to_string())
    }

    /// Gives who this device is at its server; `None` while it has none.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn member(&self) -> Result<Option<Member>, String> {
        let kept = self.fact(MEMBER).await?;
        Ok(kept.and_then(|kept| Member::from_text(&self.opened(MEMBER, &kept)?)))
    }

    /// Keeps who this device is at its server.
    ///
    /// # Errors
    /// What the browser says.
    pub(crate) async fn join(&self, member: &Member) -> Result<(), String> {
        self.note(MEMBER, &self.sealed(MEMBER, &member.to_text())).await
    }

    /// A secret as it is kept: sealed where words unlock it.
    fn sealed(&self, name: &str, secret: &str) -> String {
        let mut nonce = [0; 24];
        crate::browser::random(&mut nonce);
        let sealed = self.local.as_ref().and_then(|local| seal_secret(local, name, secret.as_bytes(), nonce));
        sealed.map_or_else(|| secret.to_owned(), |sealed| format!("{SEALED}{sealed}"))
    }

    /// A secret out of what is kept; `None` while it is locked.
    fn opened(&self, name: &str, kept: &str) -> Option<String> {
        match kept.strip_prefix(SEALED) {
            None => Some(kept.to_owned()),
            Some(sealed) => String::from_utf8(open_secret(self.local.as_ref()?, name, sealed)?).ok(),
        }
    }

    /// Gives the device's name, made on first use.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn device(&self, random: &mut dyn FnMut(&mut [u8])) -> Result<DeviceId, String> {
        if let Some(known) = self.fact("name").await?.and_then(|name| name.parse().ok()) {
            return Ok(known);
        }
        let mut bytes = [0; 16];
        random(&mut bytes);
        let fresh = DeviceId::from_random(bytes);
        self.note("name", &fresh.to_string()).await?;
        Ok(fresh)
    }

    /// Gives a fact of this device.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn fact(&self, name: &str) -> Result<Option<String>, String> {
        self.value(DEVICE, name).await
    }

    /// Keeps a fact of this device.
    ///
    /// # Errors
    /// What the browser says.
    pub(crate) async fn note(&self, name: &str, value: &str) -> Result<(), String> {
        let write = async {
            let transaction = self.strict()?;
            transaction.object_store(DEVICE)?.put(value.to_owned()).with_key(name.to_owned()).await?;
            transaction.commit().await
        };
        write.await.map_err(|error: Error| error.to_string())
    }

    fn strict(&self) -> Result<Transaction<'_>, Error> {
        let mut options = TransactionOptions::new();
        options.set_durability(TransactionDurability::Strict);
        self.database.transaction(STORES).with_mode(TransactionMode::Readwrite).with_options(options).build()
    }

    async fn names(&self, store: &str) -> Result<Vec<String>, String> {
        let read = async {
            let transaction = self.database.transaction(store).with_mode(TransactionMode::Readonly).build()?;
            names_in(&transaction, store).await
        };
        read.await.map_err(|error: Error| error.to_string())
    }

    async fn all(&self, store: &str) -> Result<Vec<(String, String)>, String> {
        let read = async {
            let transaction = self.database.transaction(store).with_mode(TransactionMode::Readonly).build()?;
            let names: Vec<String> = names_in(&transaction, store).await?;
            let store = transaction.object_store(store)?;
            let values: Vec<String> = store.get_all::<String>().primitive()?.await?.collect::<Result<_, _>>()?;
            Ok(names.into_iter().zip(values).collect())
        };
        read.await.map_err(|error: Error| error.to_string())
    }
}

impl Drop for Keeping {
    /// Closes the connection: a database with an open one cannot be thrown away.
    fn drop(&mut self) {
        self.database.clone().close();
    }
}

/// Why something was not kept.
#[derive(Debug)]
enum NotKept {
    /// The contract forbids it.
    Refused(StoreError),
    /// The browser failed.
    Browser(Error),
}

impl<E: Into<Error>> From<E> for NotKept {
    fn from(error: E) -> Self {
        Self::Browser(error.into())
    }
}

impl From<NotKept> for StoreError {
    fn from(not: NotKept) -> Self {
        match not {
            NotKept::Refused(why) => why,
            NotKept::Browser(error) => Self::Failed(error.to_string()),
        }
    }
}

/// An event as it is kept.
fn line_of(event: &Event) -> String {
    format!("{} {}", event.sum(), event.text())
}

fn event_of(name: &str, kept: &str) -> Result<Event, Damage> {
    let id: Option<EventId> = name.parse().ok();
    let damage = |what: &str| Damage { id, what: what.to_owned() };
    let (sum, text) = kept.split_once(' ').ok_or_else(|| damage("it has no checksum"))?;
    let sum: Checksum = sum.parse().map_err(|_| damage("its checksum cannot be read"))?;
    check_kept(id.ok_or_else(|| damage("its name cannot be read"))?, sum, text.as_bytes())
}

/// An event of a pack: its name is in its text.
fn packed_event(line: &str) -> Result<Event, Damage> {
    let damage = |what: &str| Damage { id: None, what: what.to_owned() };
    let (sum, text) = line.split_once(' ').ok_or_else(|| damage("it has no checksum"))?;
    let sum: Checksum = sum.parse().map_err(|_| damage("its checksum cannot be read"))?;
    if Checksum::of(text.as_bytes()) != sum {
        return Err(damage("its text does not match its checksum"));
    }
    Event::read(text).map_err(|error| damage(&error.to_string()))
}

pub(crate) fn record_of(name: &str, kept: &str) -> Option<SealedRecord> {
    let mut words = kept.splitn(3, ' ');
    let (sum, key, bytes) = (words.next()?, words.next()?, words.next()?);
    let id: RecordId = name.parse().ok()?;
    let bytes = base16ct::lower::decode_vec(bytes).ok()?;
    let record = SealedRecord { id, key: key.parse().ok()?, bytes };
    (record.sum().to_string() == sum).then_some(record)
}

fn key_of(name: &str, kept: &str) -> Option<(KeyId, Key)> {
    Some((name.parse().ok()?, Key::from_random(bytes_from_hex(kept)?)))
}

/// Gives the names of all events, where there are so many to be kept that one question for all is quicker than one for each.
async fn names_if_many(transaction: &Transaction<'_>, events: usize) -> Result<Option<BTreeSet<String>>, Error> {
    if events < MANY { Ok(None) } else { names_in(transaction, EVENTS).await.map(Some) }
}

/// Gives the names of everything in a store, in their order.
async fn names_in<C: FromIterator<String>>(transaction: &Transaction<'_>, store: &str) -> Result<C, Error> {
    transaction.object_store(store)?.get_all_keys::<String>().primitive()?.await?.collect()
}
