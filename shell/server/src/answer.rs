//! What the server answers a device that it knows: plain functions over the store, without the web around them.

mod devices;
mod exchange;

use book::StoreError;
use serde::{Deserialize, Serialize};
use store::{Database, SeenLine, SqlStore};

use crate::who::Who;
pub use devices::{await_owner, pair};

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Data.
    Json(String),
    /// A batch, or a piece of a record.
    Bytes(Vec<u8>),
}

/// Why there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// There is no such path here: the device may be newer.
    NotHere,
    /// What was sent cannot be read; why.
    Unreadable(String),
    /// Its role does not allow it; why.
    NotAllowed(String),
    /// The store failed, or refused.
    Store(StoreError),
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

fn read<'a, T: Deserialize<'a>>(body: &'a [u8]) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|error| Refusal::Unreadable(error.to_string()))
}

fn data(value: &impl Serialize) -> Result<Answer, Refusal> {
    let text = serde_json::to_string(value).map_err(|error| Refusal::Unreadable(error.to_string()))?;
    Ok(Answer::Json(text))
}

/// Answers a question of a device that showed its secret. `path` is below the server's address; `now` in milliseconds since
/// 1970 in UTC.
///
/// # Errors
/// [`Refusal`].
pub fn answer<D: Database>(
    store: &mut SqlStore<D>,
    who: &Who,
    path: &str,
    body: &[u8],
    now: u64,
) -> Result<Answer, Refusal> {
    let mut asked = Asked { store, who, body, now };
    match path.split_once("/1/") {
        Some(("sync", what)) => exchange::told(&mut asked, what),
        Some(("devices", what)) => devices::told(&mut asked, what),
        _ => Err(Refusal::NotHere),
    }
}

/// A question of a known device, with the store it is about.
struct Asked<'a, D> {
    store: &'a mut SqlStore<D>,
    who: &'a Who,
    body: &'a [u8],
    now: u64,
}

impl<D: Database> Asked<'_, D> {
    /// Writes a line of the audit.
    fn note(&mut self, what: &str, about: String) -> Result<(), StoreError> {
        let line = SeenLine { at: self.now, device: Some(self.who.device), what: what.to_owned(), about };
        self.store.note_seen(&line)
    }
}
