//! What the book asks of a database: run, query, all or nothing. Both databases speak these few statements alike.
//!
//! Parameters are written `$1`, `$2`, as PostgreSQL has them. Refuses to know tables.

use book::{DeviceId, Loaded, Seen, StoreError};

/// A value in a row, or for a parameter.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Value {
    /// None.
    Null,
    /// A whole number.
    Int(i64),
    /// Bytes.
    Bytes(Vec<u8>),
    /// A text.
    Text(String),
}

impl Value {
    pub(crate) fn bytes(&self) -> &[u8] {
        match self {
            Self::Bytes(bytes) => bytes,
            Self::Text(text) => text.as_bytes(),
            Self::Null | Self::Int(_) => &[],
        }
    }

    /// Exactly `N` bytes, as names and keys are.
    pub(crate) fn exactly<const N: usize>(&self) -> Option<[u8; N]> {
        self.bytes().try_into().ok()
    }

    /// A number that is never below zero: counters, places, lengths, times.
    pub(crate) fn count(&self) -> Option<u64> {
        if let Self::Int(number) = self { u64::try_from(*number).ok() } else { None }
    }

    pub(crate) fn text(&self) -> &str {
        if let Self::Text(text) = self { text } else { "" }
    }
}

impl From<&[u8]> for Value {
    fn from(bytes: &[u8]) -> Self {
        Self::Bytes(bytes.to_vec())
    }
}

impl<const N: usize> From<&[u8; N]> for Value {
    fn from(bytes: &[u8; N]) -> Self {
        Self::Bytes(bytes.to_vec())
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<Option<DeviceId>> for Value {
    fn from(device: Option<DeviceId>) -> Self {
        device.map_or(Self::Null, |device| device.bytes().into())
    }
}

impl From<u64> for Value {
    /// Counters are at most 2^53 - 1 and times far below, so all of them fit.
    fn from(number: u64) -> Self {
        Self::Int(i64::try_from(number).unwrap_or(i64::MAX))
    }
}

/// A row, column by column.
pub(crate) type Row = Vec<Value>;

/// A database that holds the book's tables.
pub trait Database: Sealed {}

/// What only this crate's two databases can do.
pub trait Sealed {
    /// Runs a statement; gives how many rows it touched.
    #[doc(hidden)]
    fn run(&self, sql: &str, values: &[Value]) -> Result<u64, StoreError>;

    /// Runs a query.
    #[doc(hidden)]
    fn rows(&self, sql: &str, values: &[Value]) -> Result<Vec<Row>, StoreError>;

    /// Begins a change, `alone` where nobody else may write until it ends; keeps it, or gives it up. Only one that was kept
    /// leaves a trace, and it is synced to the disk then.
    #[doc(hidden)]
    fn begin(&self, alone: bool) -> Result<(), StoreError>;
    #[doc(hidden)]
    fn commit(&self) -> Result<(), StoreError>;
    #[doc(hidden)]
    fn roll_back(&self);

    /// Loads the events `seen` does not know; damage is told.
    #[doc(hidden)]
    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError>;

    /// What a column of bytes is called here, and one that is counted up by the database.
    #[doc(hidden)]
    fn words(&self) -> [&'static str; 2];

    /// Sees to it that no destroyed key lingers anywhere.
    #[doc(hidden)]
    fn wipe(&self) -> Result<(), StoreError>;
}

/// Runs `work` in one change; an error leaves no trace of it.
pub(crate) fn change<D: Sealed, T>(
    database: &D,
    alone: bool,
    work: impl FnOnce(&D) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    database.begin(alone)?;
    let made = work(database).and_then(|made| database.commit().map(|()| made));
    if made.is_err() {
        database.roll_back();
    }
    made
}
