//! The contract of [`Store`] as a test that every store runs.
//!
//! It is data: each [`Case`] is a talk of questions and the only right answers. [`store_suite`] holds the talks with a
//! store that answers at once; one that answers later (in a browser) can hold the same talks its own way.
//!
//! Refuses to know any store, and to stop at the first mistake.

mod cases;

use crate::event::Event;
use crate::ids::{EventId, KeyId, RecordId};
use crate::sealed::{Key, SealedRecord};
use crate::seen::Seen;
use crate::store::{KeyHeld, Loaded, Store, StoreError};

pub use cases::cases;

/// What a store is asked.
#[derive(Debug, Clone)]
pub enum Ask {
    /// [`Store::append`].
    Append(Vec<Event>),
    /// [`Store::take_in`].
    TakeIn(Vec<Event>),
    /// [`Store::load`].
    Load,
    /// [`Store::load_after`].
    LoadAfter(Seen),
    /// [`Store::keep_record`].
    KeepRecord(SealedRecord),
    /// [`Store::record`].
    Record(RecordId),
    /// [`Store::records`].
    Records,
    /// [`Store::keep_key`].
    KeepKey(KeyId, Key),
    /// [`Store::key`].
    Key(KeyId),
    /// [`Trial::spoil_event`].
    SpoilEvent(EventId),
    /// [`Trial::spoil_record`].
    SpoilRecord(RecordId),
    /// [`Trial::reopen`].
    Reopen,
}

/// What it must answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// Done.
    Done,
    /// Taken in, so many of them new or mending.
    New(usize),
    /// These events in this order, and damage to these.
    Loaded(Vec<Event>, Vec<Option<EventId>>),
    /// This record.
    Record(Option<SealedRecord>),
    /// These records.
    Records(Vec<RecordId>),
    /// This key.
    Key(KeyHeld),
    /// Refused for this reason.
    Refused(StoreError),
}

/// One talk, named by the sentence it proves.
#[derive(Debug, Clone)]
pub struct Case {
    /// The sentence.
    pub name: &'static str,
    /// Questions with their answers, in order.
    pub turns: Vec<(Ask, Answer)>,
}

/// A store on trial: it can be closed and opened again, and spoiled behind its own back.
pub trait Trial: Store + Sized {
    /// Closes the store and opens it again on the same place.
    ///
    /// # Errors
    /// Only if the place fails.
    fn reopen(self) -> Result<Self, StoreError>;

    /// Changes the kept bytes of an event, leaving name and checksum.
    ///
    /// # Errors
    /// Only if the place fails.
    fn spoil_event(&mut self, id: EventId) -> Result<(), StoreError>;

    /// Changes the kept bytes of a sealed record, leaving name and checksum.
    ///
    /// # Errors
    /// Only if the place fails.
    fn spoil_record(&mut self, id: RecordId) -> Result<(), StoreError>;
}

/// Holds every talk with a fresh store each and lists where an answer was not the right one. Empty is good.
pub fn store_suite<S: Trial>(make: impl Fn() -> S) -> Vec<String> {
    match cases() {
        Ok(cases) => cases.iter().filter_map(|case| hold(case, make())).collect(),
        Err(error) => vec![format!("the suite itself could not be written: {error}")],
    }
}

fn hold<S: Trial>(case: &Case, mut store: S) -> Option<String> {
    for (turn, (ask, right)) in case.turns.iter().enumerate() {
        let answer = if matches!(ask, Ask::Reopen) {
            match store.reopen() {
                Ok(reopened) => store = reopened,
                Err(error) => return Some(format!("{}: turn {turn}: does not reopen: {error}", case.name)),
            }
            Answer::Done
        } else {
            answer(&mut store, ask)
        };
        if answer != *right {
            return Some(format!("{}: turn {turn}: {ask:?} answered {answer:?}, not {right:?}", case.name));
        }
    }
    None
}

fn answer<S: Trial>(store: &mut S, ask: &Ask) -> Answer {
    let done = |()| Answer::Done;
    let loaded = |loaded: Loaded| {
        let damaged = loaded.damaged.iter().map(|damage| damage.id).collect();
        Answer::Loaded(loaded.events, damaged)
    };
    let answer = match ask {
        Ask::Append(events) => store.append(events).map(done),
        Ask::TakeIn(events) => store.take_in(events).map(Answer::New),
        Ask::Load => store.load().map(loaded),
        Ask::LoadAfter(seen) => store.load_after(seen).map(loaded),
        Ask::KeepRecord(record) => store.keep_record(record).map(done),
        Ask::Record(id) => store.record(*id).map(Answer::Record),
        Ask::Records => store.records().map(Answer::Records),
        Ask::KeepKey(id, key) => store.keep_key(*id, key).map(done),
        Ask::Key(id) => store.key(*id).map(Answer::Key),
        Ask::SpoilEvent(id) => store.spoil_event(*id).map(done),
        Ask::SpoilRecord(id) => store.spoil_record(*id).map(done),
        Ask::Reopen => Ok(Answer::Done),
    };
    answer.unwrap_or_else(Answer::Refused)
}

impl Trial for crate::MemoryStore {
    fn reopen(self) -> Result<Self, StoreError> {
        Ok(self)
    }

    fn spoil_event(&mut self, id: EventId) -> Result<(), StoreError> {
        Self::spoil_event(self, id);
        Ok(())
    }

    fn spoil_record(&mut self, id: RecordId) -> Result<(), StoreError> {
        Self::spoil_record(self, id);
        Ok(())
    }
}
