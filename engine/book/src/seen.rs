//! What a device had seen of the others: a version vector.
//!
//! Refuses to know events. A vector is a claim of knowledge, not of possession: "I hold, or hold something that rests
//! on, your event 12". What a store really holds without a gap is asked from [`crate::Loaded::held_without_gap`].

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::ids::{DeviceId, EventId};

/// Maps each device to the highest counter known of it. A device that is absent counts as 0.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Seen(BTreeMap<DeviceId, u64>);

impl Seen {
    /// Returns the highest counter known of `device`, 0 if none.
    #[must_use]
    pub fn of(&self, device: DeviceId) -> u64 {
        self.0.get(&device).copied().unwrap_or(0)
    }

    /// Raises the entry of the event's device to the event's counter.
    pub fn note(&mut self, id: EventId) {
        let entry = self.0.entry(id.device()).or_insert(0);
        *entry = (*entry).max(id.counter());
    }

    /// Raises every entry to the other's: the least vector that knows what both know.
    pub fn join(&mut self, other: &Self) {
        for (device, counter) in &other.0 {
            let entry = self.0.entry(*device).or_insert(0);
            *entry = (*entry).max(*counter);
        }
    }

    /// Tells whether the event is known.
    #[must_use]
    pub fn knows(&self, id: EventId) -> bool {
        self.of(id.device()) >= id.counter()
    }

    /// Removes a device; an event's own device is never listed in its vector.
    pub fn forget(&mut self, device: DeviceId) {
        self.0.remove(&device);
    }

    /// Iterates over devices and counters in the order of device names.
    pub fn iter(&self) -> impl Iterator<Item = (DeviceId, u64)> + '_ {
        self.0.iter().map(|(device, counter)| (*device, *counter))
    }

    /// Adds the counters up: grows with every event known, which is what [`crate::Rank`] needs.
    #[must_use]
    pub fn weight(&self) -> u128 {
        self.0.values().map(|counter| u128::from(*counter)).sum()
    }
}
