//! What a copy of the book holds, small enough to be sent: for each device up to which counter, and a digest of that.
//!
//! A counter alone would hide two texts of one name (two programs once held the same pen): both copies would claim the same
//! counter and never exchange them. The digest tells that they differ. Refuses to know stores and wires.

use book::{Checksum, DeviceId, Event, EventId, bytes_from_hex};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The exclusive or of the checksums of some events: the same set, the same digest, in whatever order they came.
///
/// Who may write the events chooses their checksums, so that a digest proves nothing against a paired device that forges
/// its own; it cannot then make another device lose an event, only fail to receive the forger's own twins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Digest([u8; 32]);

impl Digest {
    /// Takes bytes that were kept.
    #[must_use]
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// Returns the bytes, to be kept.
    #[must_use]
    pub const fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Adds a checksum that is not in it.
    pub fn add(&mut self, sum: Checksum) {
        self.0.iter_mut().zip(sum.bytes()).for_each(|(kept, byte)| *kept ^= byte);
    }
}

impl Serialize for Digest {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&base16ct::lower::encode_string(&self.0))
    }
}

impl<'de> Deserialize<'de> for Digest {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        bytes_from_hex(&text).map(Self).ok_or_else(|| serde::de::Error::custom("not 64 hexadecimal digits"))
    }
}

/// What is held of one device's events.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Held {
    /// Every event from 1 up to this counter is here.
    pub counter: u64,
    /// Of every text under one of those names.
    pub digest: Digest,
}

/// The names of what a copy holds, and what they come to, kept up to date one by one.
#[derive(Clone, Debug, Default)]
pub struct Holding {
    names: BTreeSet<(EventId, Checksum)>,
    have: Have,
}

impl Holding {
    /// Takes the name of an event that is held from now on; tells whether it was new.
    pub fn take(&mut self, id: EventId, sum: Checksum) -> bool {
        if !self.names.insert((id, sum)) {
            return false;
        }
        let mut held = self.have.of_device(id.device());
        if id.counter() <= held.counter {
            held.digest.add(sum);
        } else if id.counter() == held.counter + 1 {
            held.digest.add(sum);
            held.counter = id.counter();
            // What waited behind a gap that this one closes.
            let after = self.names.range((id, Checksum::from_bytes([255; 32]))..);
            for (next, sum) in after.filter(|(next, _)| *next != id) {
                if next.device() != id.device() || next.counter() > held.counter + 1 {
                    break;
                }
                held.digest.add(*sum);
                held.counter = next.counter();
            }
        }
        if held.counter > 0 {
            self.have.set(id.device(), held);
        }
        true
    }

    /// Returns what they come to.
    #[must_use]
    pub const fn have(&self) -> &Have {
        &self.have
    }
}

/// What a copy holds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Have(BTreeMap<DeviceId, Held>);

impl Have {
    /// Reckons what some events come to.
    #[must_use]
    pub fn of<'a>(events: impl IntoIterator<Item = &'a Event>) -> Self {
        let mut holding = Holding::default();
        for event in events {
            holding.take(event.id(), event.sum());
        }
        holding.have
    }

    /// Returns what is held of a device.
    #[must_use]
    pub fn of_device(&self, device: DeviceId) -> Held {
        self.0.get(&device).copied().unwrap_or_default()
    }

    /// Sets what is held of a device.
    pub fn set(&mut self, device: DeviceId, held: Held) {
        self.0.insert(device, held);
    }

    /// Iterates over devices in the order of their names.
    pub fn iter(&self) -> impl Iterator<Item = (DeviceId, Held)> + '_ {
        self.0.iter().map(|(device, held)| (*device, *held))
    }

    /// Gives what this copy owes another that has `theirs`: for each device, after which counter.
    ///
    /// Where the counters agree and the digests do not, everything of that device is owed, from the start. Where the other
    /// has more, nothing is: once it has been received the two are compared again.
    #[must_use]
    pub fn owes(&self, theirs: &Self) -> BTreeMap<DeviceId, u64> {
        let owed = self.0.iter().filter_map(|(device, mine)| {
            let other = theirs.of_device(*device);
            let after = match mine.counter.cmp(&other.counter) {
                std::cmp::Ordering::Greater => other.counter,
                std::cmp::Ordering::Equal if mine.digest != other.digest => 0,
                std::cmp::Ordering::Equal | std::cmp::Ordering::Less => return None,
            };
            Some((*device, after))
        });
        owed.collect()
    }
}
