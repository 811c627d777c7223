//! The book of a call on disk: where it is, its pen, the customer's keys, the clock. Decides nothing about the call.

use crate::clock;
use crate::failure::Failure;
use book::{
    Body, Content, Event, Job, JobId, Key, KeyHeld, KeyId, Pen, Person, RecordError, RecordId, Scope, SealedRecord,
    ShopFact, Signed, Store, StoreError, fold_job, record,
};
use call::{Unfinished, Waiting, events_of, unfinished, waiting};
use screens::Durable;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use store::{SqliteStore, fresh_key, seal};
use sync::Came;

/// Customers' keys and sealed records.
pub(crate) type Held = (Vec<(KeyId, Key)>, Vec<SealedRecord>);

/// An open book.
#[derive(Debug)]
pub(crate) struct Keep {
    store: SqliteStore,
    pen: Pen,
    events: Vec<Event>,
    /// Where it is.
    pub(crate) path: PathBuf,
    /// Damaged events, in words.
    pub(crate) damaged: Vec<String>,
}

impl Keep {
    /// Opens the shop's own book.
    pub(crate) fn own(path: Option<&Path>) -> Result<Self, Failure> {
        match path {
            Some(path) => Self::open(path),
            None => Self::open(&folder("XDG_DATA_HOME", ".local/share")?.join("book.db")),
        }
    }

    /// Opens the demo's book: the one that was broken off, else a fresh one. A book that is named is never emptied.
    pub(crate) fn demo(path: Option<&Path>, seed: u64) -> Result<Self, Failure> {
        if let Some(path) = path {
            return Self::open(path);
        }
        let path = folder("XDG_STATE_HOME", ".local/state")?.join(format!("demo-{seed}.db"));
        let old = Self::open(&path)?;
        if old.unfinished().is_some() {
            return Ok(old);
        }
        drop(old);
        for end in ["", "-wal", "-shm"] {
            let mut name = path.clone().into_os_string();
            name.push(end);
            match std::fs::remove_file(&name) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(trouble(&path, &error)),
                _ => {}
            }
        }
        Self::open(&path)
    }

    fn open(path: &Path) -> Result<Self, Failure> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|error| trouble(folder, &error))?;
        }
        let store = SqliteStore::open(path).map_err(|error| of_store(&error))?;
        if store.is_depot().map_err(|error| of_store(&error))? {
            let say = format!("`{}` is a server's book; work in a book of your own and pair it", path.display());
            return Err(Failure::Input(say));
        }
        let loaded = store.load().map_err(|error| of_store(&error))?;
        let pen = Pen::after(store.device().map_err(|error| of_store(&error))?, &loaded);
        let damaged = loaded.damaged.iter().map(ToString::to_string).collect();
        Ok(Self { store, pen, events: loaded.events, path: path.to_owned(), damaged })
    }

    /// Gives the pen that writes next.
    pub(crate) fn pen(&self) -> Pen {
        self.pen.clone()
    }

    /// Gives the customers' keys and sealed records that are held here.
    pub(crate) fn held(&self) -> Result<Held, Failure> {
        let mut keys = Vec::new();
        for event in &self.events {
            let Body::Shop(ShopFact::CustomerAdded(added)) = event.body() else { continue };
            if let KeyHeld::Held(key) = self.store.key(added.key).map_err(|error| of_store(&error))? {
                keys.push((added.key, key));
            }
        }
        let mut records = Vec::new();
        for id in self.store.records().map_err(|error| of_store(&error))? {
            records.extend(self.store.record(id).map_err(|error| of_store(&error))?);
        }
        Ok((keys, records))
    }

    /// Makes durable what this book's own pen wrote elsewhere: first what the events speak of, then they.
    pub(crate) fn append(&mut self, owed: &Durable) -> Result<(), Failure> {
        let Durable { keys, records, events } = owed;
        for (id, key) in keys {
            self.store.keep_key(*id, key).map_err(|error| of_store(&error))?;
        }
        for record in records {
            self.store.keep_record(record).map_err(|error| of_store(&error))?;
        }
        self.store.append(events).map_err(|error| of_store(&error))?;
        events.iter().for_each(|event| self.pen.note(event));
        self.events.extend(events.iter().cloned());
        Ok(())
    }

    /// Takes in what another device wrote, with the keys and records it speaks of.
    pub(crate) fn take_in(&mut self, held: &Durable) -> Result<(), Failure> {
        for (id, key) in &held.keys {
            self.store.keep_key(*id, key).map_err(|error| of_store(&error))?;
        }
        for record in &held.records {
            self.store.keep_record(record).map_err(|error| of_store(&error))?;
        }
        self.store.take_in(&held.events).map_err(|error| of_store(&error))?;
        held.events.iter().for_each(|event| self.pen.note(event));
        self.events.extend(held.events.iter().cloned());
        Ok(())
    }

    /// Makes durable what came from the server. A key whose customer was erased meanwhile is not kept.
    pub(crate) fn take_in_from_server(&mut self, came: Came) -> Result<(), Failure> {
        let Came { events, keys, records } = came;
        for (id, key) in &keys {
            match self.store.keep_key(*id, key) {
                Ok(()) | Err(StoreError::KeyDestroyed(_)) => {}
                Err(error) => return Err(of_store(&error)),
            }
        }
        self.take_in(&Durable { keys: Vec::new(), records, events })
    }

    /// Gives a fact of this device, kept beside the book.
    pub(crate) fn fact(&self, name: &str) -> Result<Option<String>, Failure> {
        self.store.fact(name).map_err(|error| of_store(&error))
    }

    /// Keeps a fact of this device beside the book.
    pub(crate) fn note(&mut self, name: &str, value: &str) -> Result<(), Failure> {
        self.store.note(name, value).map_err(|error| of_store(&error))
    }

    /// Copies a book, a device's or a server's, into another file; gives how many events it holds.
    pub(crate) fn back_up(path: Option<&Path>, to: &Path) -> Result<usize, Failure> {
        let own = || folder("XDG_DATA_HOME", ".local/share").map(|folder| folder.join("book.db"));
        let path = path.map_or_else(own, |path| Ok(path.to_owned()))?;
        let store = SqliteStore::open(&path).map_err(|error| of_store(&error))?;
        store.back_up(to).map_err(|error| of_store(&error))?;
        let copy = SqliteStore::open(to).and_then(|copy| copy.load()).map_err(|error| of_store(&error))?;
        match copy.damaged.first() {
            Some(damage) => Err(Failure::SetUp(format!("the copy holds what is damaged in the book: {damage}"))),
            None => Ok(copy.events.len()),
        }
    }

    /// Gives every event.
    pub(crate) fn events(&self) -> &[Event] {
        &self.events
    }

    /// Gives the call to go on with.
    pub(crate) fn unfinished(&self) -> Option<Unfinished> {
        unfinished(&self.events, self.pen.device())
    }

    /// Lists the jobs that wait for another visit, the latest first.
    pub(crate) fn waiting(&self) -> Vec<Waiting> {
        waiting(&self.events)
    }

    /// Says whose job it is, where his record can be opened.
    pub(crate) fn name_of(&self, events: &[Event]) -> Option<String> {
        let added = events.iter().find_map(|event| match event.body() {
            Body::Shop(ShopFact::CustomerAdded(added)) => Some((added.key, added.record)),
            _ => None,
        })?;
        self.person(added.0, added.1).map(|person| person.name).filter(|name| !name.is_empty())
    }

    /// Makes facts durable; only then do they count.
    pub(crate) fn record(&mut self, bodies: &[Body]) -> Result<Vec<Event>, Failure> {
        let events = record(&mut self.store, &mut self.pen, &clock::now()?, bodies).map_err(|error| match error {
            RecordError::Store(error) => of_store(&error),
            RecordError::Write(error) => Failure::Bug(format!("a fact cannot be written: {error}")),
        })?;
        self.events.extend(events.iter().cloned());
        Ok(events)
    }

    /// Takes events back and gives what is left of the job.
    pub(crate) fn undo(&mut self, ids: &[book::EventId], job: JobId) -> Result<Vec<Event>, Failure> {
        let scope = Scope { job: Some(job), call: None };
        let bodies: Vec<Body> = ids.iter().map(|id| Body::undo(scope, *id, None)).collect();
        self.record(&bodies)?;
        Ok(events_of(&self.events, job))
    }

    /// Counts what the book holds of a job.
    pub(crate) fn facts_of(&self, job: JobId) -> usize {
        events_of(&self.events, job).len()
    }

    /// Folds a job.
    pub(crate) fn job(&self, job: JobId) -> Option<Job> {
        fold_job(&self.events, job)
    }

    /// Seals a customer's details under a new key.
    pub(crate) fn new_person(&mut self, person: &Person) -> Result<(KeyId, RecordId), Failure> {
        let (id, key) = fresh_key().map_err(|error| of_store(&error))?;
        self.store.keep_key(id, &key).map_err(|error| of_store(&error))?;
        let content = Content::person(person).map_err(|error| Failure::Bug(error.to_string()))?;
        Ok((id, self.seal(id, &key, &content)?))
    }

    /// Seals words under a customer's key.
    pub(crate) fn seal_words(&mut self, id: KeyId, words: &str) -> Result<RecordId, Failure> {
        match self.store.key(id).map_err(|error| of_store(&error))? {
            KeyHeld::Held(key) => self.seal(id, &key, &Content::text(words)),
            KeyHeld::Destroyed => {
                Err(Failure::Input("this customer was erased; nothing more can be recorded of him".to_owned()))
            }
            KeyHeld::NotHere => {
                Err(Failure::SetUp("the customer's key is not on this device; go on where it is".to_owned()))
            }
        }
    }

    fn seal(&mut self, id: KeyId, key: &Key, content: &Content) -> Result<RecordId, Failure> {
        let sealed = seal(id, key, content).map_err(|error| of_store(&error))?;
        self.store.keep_record(&sealed).map_err(|error| of_store(&error))?;
        Ok(sealed.id)
    }

    /// Opens who signed; leaves out what cannot be opened here.
    pub(crate) fn signed(&self, key: KeyId, records: impl Iterator<Item = RecordId>) -> BTreeMap<RecordId, Signed> {
        records.filter_map(|record| Some((record, self.opened(key, record)?.to_signed().ok()?))).collect()
    }

    /// Opens a customer's details; `None` where key or record is not here.
    pub(crate) fn person(&self, key: KeyId, record: RecordId) -> Option<Person> {
        self.opened(key, record)?.to_person().ok()
    }

    fn opened(&self, key: KeyId, record: RecordId) -> Option<Content> {
        let KeyHeld::Held(key) = self.store.key(key).ok()? else { return None };
        let sealed = self.store.record(record).ok()??;
        Content::from_plain(&sealed.open(&key).ok()?).ok()
    }
}

fn of_store(error: &StoreError) -> Failure {
    match error {
        StoreError::NotABook(_) | StoreError::Newer { .. } => Failure::Input(error.to_string()),
        _ => Failure::SetUp(error.to_string()),
    }
}

fn trouble(path: &Path, error: &std::io::Error) -> Failure {
    Failure::SetUp(format!("`{}` cannot be used: {error}; name another place with --book", path.display()))
}

/// The folder of this program under one of the places for such files, else under the home folder, else the temporary one.
fn folder(variable: &str, under_home: &str) -> Result<PathBuf, Failure> {
    let named = std::env::var_os(variable).map(PathBuf::from).filter(|path| path.is_absolute());
    let home = || std::env::home_dir().map(|home| home.join(under_home));
    let place = named.or_else(home).unwrap_or_else(std::env::temp_dir);
    Ok(place.join("callwright"))
}
