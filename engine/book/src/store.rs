//! The contract every store of the book keeps.
//!
//! Refuses to know how: memory, SQLite, a browser or a server. [`crate::suite`] is the contract as a test.

use core::fmt;

use crate::event::{Body, Checksum, Event};
use crate::facts::shop::ShopFact;
use crate::ids::{EventId, KeyId, RecordId};
use crate::sealed::{Key, SealedRecord};
use crate::seen::Seen;

/// An event whose bytes no longer are what was written. The rest of the book is not touched by it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Damage {
    /// The event's name, as far as it can be told.
    pub id: Option<EventId>,
    /// What is wrong with it, in words.
    pub what: String,
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.id {
            Some(id) => write!(f, "event `{id}` is damaged: {}", self.what),
            None => write!(f, "an event is damaged: {}", self.what),
        }
    }
}

/// What a store holds.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Loaded {
    /// The whole events, each once, in the order of [`Event::rank`].
    pub events: Vec<Event>,
    /// The damaged ones.
    pub damaged: Vec<Damage>,
    /// The highest counters of events that are kept and were not loaded: filed away. None of them may be written anew.
    pub filed: Seen,
}

impl Loaded {
    /// Puts the events in order and drops repetitions.
    #[must_use]
    pub fn in_order(mut events: Vec<Event>, damaged: Vec<Damage>) -> Self {
        events.sort_by_cached_key(Event::rank);
        events.dedup();
        Self { events, damaged, filed: Seen::default() }
    }

    /// Returns, for each device, up to which counter every event is whole and here: what need not be sent again.
    #[must_use]
    pub fn held_without_gap(&self) -> Seen {
        let mut ids: Vec<EventId> = self.events.iter().map(Event::id).collect();
        ids.sort_unstable();
        let mut held = Seen::default();
        for id in ids {
            if held.of(id.device()) + 1 == id.counter() {
                held.note(id);
            }
        }
        held
    }
}

/// Checks a kept event against its name and checksum.
///
/// # Errors
/// Says what is damaged.
pub fn check_kept(id: EventId, sum: Checksum, text: &[u8]) -> Result<Event, Damage> {
    let damage = |what: String| Damage { id: Some(id), what };
    if Checksum::of(text) != sum {
        return Err(damage("its text does not match its checksum".to_owned()));
    }
    let text = core::str::from_utf8(text).map_err(|error| damage(error.to_string()))?;
    let event = Event::read(text).map_err(|error| damage(error.to_string()))?;
    if event.id() != id {
        return Err(damage(format!("its text says it is `{}`", event.id())));
    }
    Ok(event)
}

/// Finds a name that two different texts in one batch claim.
#[must_use]
pub fn clash_within(events: &[Event]) -> Option<EventId> {
    let mut names: Vec<(EventId, Checksum)> = events.iter().map(|event| (event.id(), event.sum())).collect();
    names.sort_unstable();
    names.dedup();
    names.windows(2).find_map(|pair| match pair {
        [(one, _), (other, _)] if one == other => Some(*one),
        _ => None,
    })
}

/// Returns the key an event destroys.
#[must_use]
pub fn key_destroyed_by(event: &Event) -> Option<KeyId> {
    match event.body() {
        Body::Shop(ShopFact::KeyDestroyed(fact)) => Some(fact.key),
        Body::Shop(_) | Body::Job { .. } | Body::Call { .. } | Body::Undo { .. } | Body::NotUnderstood { .. } => None,
    }
}

/// A key as a store knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyHeld {
    /// It is here.
    Held(Key),
    /// It was destroyed and can never come back.
    Destroyed,
    /// It was never here.
    NotHere,
}

/// Says why a store did not do what was asked. Nothing was changed then.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum StoreError {
    /// Another event already has this name.
    NameTaken(EventId),
    /// Another sealed record already has this name.
    RecordTaken(RecordId),
    /// Another key already has this name.
    KeyTaken(KeyId),
    /// The key was destroyed.
    KeyDestroyed(KeyId),
    /// The sealed record is damaged.
    RecordDamaged(RecordId),
    /// The book was written by a newer program.
    Newer {
        /// The version found.
        found: u32,
        /// The highest version this program can read.
        known: u32,
    },
    /// The file is not a book.
    NotABook(String),
    /// The place where the book is kept failed.
    Failed(String),
}

impl fmt::Display for StoreError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NameTaken(id) => write!(
                f,
                "event `{id}` is in the book with another text; another program wrote to it, so load it again and repeat"
            ),
            Self::RecordTaken(id) => write!(f, "sealed record `{id}` is in the book with other bytes"),
            Self::KeyTaken(id) => write!(f, "key `{id}` is in the book and is another one"),
            Self::KeyDestroyed(id) => write!(f, "key `{id}` was destroyed when its customer was erased"),
            Self::RecordDamaged(id) => write!(f, "sealed record `{id}` is damaged; fetch it from another device"),
            Self::Newer { found, known } => write!(
                f,
                "this book has version {found} and this program reads up to {known}; use the newer program that wrote it"
            ),
            Self::NotABook(what) => write!(f, "`{what}` is not a book of this program; name another file"),
            Self::Failed(why) => write!(f, "the book could not be read or written: {why}"),
        }
    }
}

impl core::error::Error for StoreError {}

/// A place that keeps the book.
///
/// When a call returns `Ok`, its effect survives a crash of the program and of the machine.
pub trait Store {
    /// Appends events this device wrote, all or none. An event that is here already is passed over.
    ///
    /// # Errors
    /// [`StoreError::NameTaken`] if another text has the name of one of them: another program holds the same pen.
    fn append(&mut self, events: &[Event]) -> Result<(), StoreError>;

    /// Takes in events that other devices wrote, all or none, and returns how many were new or mended a damaged one.
    ///
    /// Two texts of one name are both kept: a fold reports them.
    ///
    /// # Errors
    /// Only if the place fails.
    fn take_in(&mut self, events: &[Event]) -> Result<usize, StoreError>;

    /// Loads everything. Damage is reported and the rest is returned.
    ///
    /// # Errors
    /// Only if the place fails.
    fn load(&self) -> Result<Loaded, StoreError> {
        self.load_after(&Seen::default())
    }

    /// Loads the events `seen` does not know, by device and counter.
    ///
    /// # Errors
    /// Only if the place fails.
    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError>;

    /// Keeps a sealed record. The same record again is passed over; a whole one mends a damaged one.
    ///
    /// # Errors
    /// [`StoreError::RecordTaken`] if its name is in use for other bytes.
    fn keep_record(&mut self, record: &SealedRecord) -> Result<(), StoreError>;

    /// Fetches a sealed record; `None` if it is not here.
    ///
    /// # Errors
    /// [`StoreError::RecordDamaged`] if its bytes are not what was kept.
    fn record(&self, id: RecordId) -> Result<Option<SealedRecord>, StoreError>;

    /// Lists the names of the sealed records, in order.
    ///
    /// # Errors
    /// Only if the place fails.
    fn records(&self) -> Result<Vec<RecordId>, StoreError>;

    /// Keeps a key.
    ///
    /// # Errors
    /// [`StoreError::KeyDestroyed`] if an event has destroyed it, [`StoreError::KeyTaken`] if another has its name.
    fn keep_key(&mut self, id: KeyId, key: &Key) -> Result<(), StoreError>;

    /// Fetches a key. There is no way to remove one but an event that destroys it, which [`Store::append`] and
    /// [`Store::take_in`] obey in the same stroke.
    ///
    /// # Errors
    /// Only if the place fails.
    fn key(&self, id: KeyId) -> Result<KeyHeld, StoreError>;
}
