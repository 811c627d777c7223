//! The pen of one device: it gives each new event the next counter and the right vector.
//!
//! Refuses to know where events are kept, except to take them up after a load.

use core::fmt;

use crate::event::{Body, Event, WriteError};
use crate::ids::{DeviceId, EventId};
use crate::seen::Seen;
use crate::store::{Loaded, Store, StoreError};
use crate::time::ZonedTime;

/// Writes the events of one device.
///
/// INVARIANT: the vector joins everything any held event knew, so an event's [`crate::Rank`] is above that of every
/// event held when it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pen {
    device: DeviceId,
    seen: Seen,
}

impl Pen {
    /// Takes up the pen of a device that has written nothing yet.
    #[must_use]
    pub fn new(device: DeviceId) -> Self {
        Self { device, seen: Seen::default() }
    }

    /// Takes up the pen after everything a store holds.
    ///
    /// Counters of damaged events count as used: writing another event under one would make two of one name.
    #[must_use]
    pub fn after(device: DeviceId, loaded: &Loaded) -> Self {
        let mut pen = Self::new(device);
        loaded.events.iter().for_each(|event| pen.note(event));
        loaded.damaged.iter().filter_map(|damage| damage.id).for_each(|id| pen.seen.note(id));
        pen.seen.join(&loaded.filed);
        pen
    }

    /// Returns the device.
    #[must_use]
    pub const fn device(&self) -> DeviceId {
        self.device
    }

    /// Takes note of an event now held.
    pub fn note(&mut self, event: &Event) {
        self.seen.join(event.seen());
        self.seen.note(event.id());
    }

    /// Writes the next event. It counts as held from now on, so it must be appended or the pen thrown away.
    ///
    /// # Errors
    /// As [`Event::write`], and when the counters are used up.
    pub fn write(&mut self, at: &ZonedTime, body: &Body) -> Result<Event, WriteError> {
        let next = EventId::new(self.device, self.seen.of(self.device) + 1).ok_or(WriteError::CountersUsedUp)?;
        let event = Event::write(next, &self.seen, at, body)?;
        self.note(&event);
        Ok(event)
    }
}

/// Says why something could not be recorded.
#[derive(Debug)]
pub enum RecordError {
    /// It could not be written as an event.
    Write(WriteError),
    /// The store did not take it.
    Store(StoreError),
}

impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Write(error) => fmt::Display::fmt(error, f),
            Self::Store(error) => fmt::Display::fmt(error, f),
        }
    }
}

impl core::error::Error for RecordError {}

/// Writes events and appends them, all or none. The pen moves on only if the store has them.
///
/// # Errors
/// What [`Pen::write`] and [`Store::append`] refuse; nothing is recorded then.
pub fn record(
    store: &mut impl Store,
    pen: &mut Pen,
    at: &ZonedTime,
    bodies: &[Body],
) -> Result<Vec<Event>, RecordError> {
    let mut next = pen.clone();
    let written: Result<Vec<Event>, WriteError> = bodies.iter().map(|body| next.write(at, body)).collect();
    let events = written.map_err(RecordError::Write)?;
    store.append(&events).map_err(RecordError::Store)?;
    *pen = next;
    Ok(events)
}
