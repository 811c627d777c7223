//! An event: one line of canonical JSON, and what it says.
//!
//! INVARIANT: the text is the event. It is made once by the device that writes it and never made anew; what this
//! version understands of it is beside it. So nothing a newer version added is lost on the way through an older one.
//!
//! Refuses to know the clock: the zoned time is handed in and takes no part in order.

mod body;
mod envelope;

use core::fmt;
use core::str::FromStr;
use std::sync::Arc;

use sha2::{Digest, Sha256};

pub use body::{Body, Scope, Undone};

use crate::ids::{DeviceId, EventId, bytes_from_hex};
use crate::seen::Seen;
use crate::time::ZonedTime;

/// The version of the format this crate writes. It reads every version up to it, and keeps newer ones.
pub const FORMAT_VERSION: u32 = 1;

/// SHA-256 of an event's text or of a sealed record, written as 64 lower-case hexadecimal digits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Checksum([u8; 32]);

impl Checksum {
    /// Computes the checksum of some bytes.
    #[must_use]
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// Takes a checksum that was kept.
    #[must_use]
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Returns its bytes.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Display for Checksum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&base16ct::lower::encode_string(&self.0))
    }
}

impl fmt::Debug for Checksum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Checksum({self})")
    }
}

impl FromStr for Checksum {
    type Err = ReadError;

    fn from_str(text: &str) -> Result<Self, ReadError> {
        bytes_from_hex(text).map(Self).ok_or_else(|| ReadError(format!("`{text}` is not a checksum")))
    }
}

/// Says why a text is no event at all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReadError(String);

impl fmt::Display for ReadError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl core::error::Error for ReadError {}

/// Says why an event cannot be written.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum WriteError {
    /// Something of another version cannot be written by this one; it can only be passed on.
    NotUnderstood,
    /// The device has used up its counters.
    CountersUsedUp,
    /// The text does not read back as what was to be written.
    DoesNotReadBack(String),
}

impl fmt::Display for WriteError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotUnderstood => f.write_str("an event of another version can be passed on but not written"),
            Self::CountersUsedUp => f.write_str("this device has written all the events it can; give it a new name"),
            Self::DoesNotReadBack(why) => write!(f, "the event would not read back as written: {why}"),
        }
    }
}

impl core::error::Error for WriteError {}

/// The place of an event in the one order that every fold uses.
///
/// The weight is the event's own counter plus the counters it had seen of other devices. An event that was held when
/// another was written has a smaller or equal counter in every place of the vector and a smaller one in at least one,
/// so its weight is smaller: cause comes before effect. Events that knew nothing of each other may tie in weight and
/// go by device, counter and, should two devices ever share a name, checksum.
///
/// WHY NOT a topological sort with ties by device: there the order of two old events can change when a third comes
/// in. Here it depends on the two events alone, so a store can sort by it and a late event never reorders the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rank {
    weight: u128,
    device: DeviceId,
    counter: u64,
    sum: Checksum,
}

/// One thing recorded by one device. See the crate's head. Shared: a clone costs nothing.
#[derive(Debug, Clone)]
pub struct Event(Arc<Written>);

#[derive(Debug)]
struct Written {
    text: String,
    sum: Checksum,
    id: EventId,
    seen: Seen,
    at: ZonedTime,
    body: Body,
}

impl PartialEq for Event {
    fn eq(&self, other: &Self) -> bool {
        self.0.text == other.0.text
    }
}

impl Eq for Event {}

impl Event {
    /// Writes a new event. Devices use [`crate::Pen`], which keeps counter and vector right.
    ///
    /// # Errors
    /// Refuses what this version does not understand.
    pub fn write(id: EventId, seen: &Seen, at: &ZonedTime, body: &Body) -> Result<Self, WriteError> {
        let text = envelope::text_of(id, seen, at, body)?;
        let event = Self::read(&text).map_err(|error| WriteError::DoesNotReadBack(error.to_string()))?;
        if event.id() == id && event.at() == at && event.body() == body {
            Ok(event)
        } else {
            Err(WriteError::DoesNotReadBack(format!("`{}`", body.kind())))
        }
    }

    /// Reads an event from its text and keeps the text as it is.
    ///
    /// A kind, a field or a version that is not known is no error: the body is then [`Body::NotUnderstood`].
    ///
    /// # Errors
    /// Refuses text that has no readable name, vector, time or kind.
    pub fn read(text: &str) -> Result<Self, ReadError> {
        let envelope::Parsed { id, seen, at, body } = envelope::parse(text).map_err(ReadError)?;
        let sum = Checksum::of(text.as_bytes());
        Ok(Self(Arc::new(Written { text: text.to_owned(), sum, id, seen, at, body })))
    }

    /// Returns the text, byte for byte as its device wrote it.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.0.text
    }

    /// Returns the checksum of the text.
    #[must_use]
    pub fn sum(&self) -> Checksum {
        self.0.sum
    }

    /// Returns the event's name.
    #[must_use]
    pub fn id(&self) -> EventId {
        self.0.id
    }

    /// Returns what its device had seen of other devices.
    #[must_use]
    pub fn seen(&self) -> &Seen {
        &self.0.seen
    }

    /// Returns the zoned time, for display.
    #[must_use]
    pub fn at(&self) -> &ZonedTime {
        &self.0.at
    }

    /// Returns what it says.
    #[must_use]
    pub fn body(&self) -> &Body {
        &self.0.body
    }

    /// Returns its place in the order of folds.
    #[must_use]
    pub fn rank(&self) -> Rank {
        Rank {
            weight: u128::from(self.0.id.counter()) + self.0.seen.weight(),
            device: self.0.id.device(),
            counter: self.0.id.counter(),
            sum: self.0.sum,
        }
    }
}
