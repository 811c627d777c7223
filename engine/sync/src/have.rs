//! What a copy of the book holds, small enough to be sent: for each device up to which counter, and a digest of that.
//!
//! A counter alone would hide two texts of one name (two programs once held the same pen): both copies would claim the same
//! counter and never exchange them. The digest tells that they differ. Refuses to know stores and wires.

use crate::filed::Filed;
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
    filed: Filed,
    have: Have,
}

impl Holding {
    /// Takes up the names of some events, beside those that are filed away.
    #[must_use]
    pub fn of<'a>(filed: Filed, events: impl IntoIterator<Item = &'a Event>) -> Self {
        let names: BTreeSet<_> = events.into_iter().map(|event| (event.id(), event.sum())).collect();
        let devices: BTreeSet<DeviceId> = names.iter().map(|(id, _)| id.device()).chain(filed.devices()).collect();
        let mut holding = Self { names, filed, have: Have::default() };
        devices.into_iter().for_each(|device| holding.go_on(device));
        holding
    }

    /// Takes the name of an event that is held from now on; tells whether it was new.
    ///
    /// A name that is filed away is taken for the event that is filed: only one who holds everything tells two texts of one
    /// name apart.
    pub fn take(&mut self, id: EventId, sum: Checksum) -> bool {
        if self.filed.has(id) || !self.names.insert((id, sum)) {
            return false;
        }
        let mut held = self.have.of_device(id.device());
        if id.counter() <= held.counter {
            held.digest.add(sum);
            self.have.set(id.device(), held);
        } else if id.counter() == held.counter + 1 {
            self.go_on(id.device());
        }
        true
    }

    /// Counts what of a device is here without a gap, from where the count stands.
    fn go_on(&mut self, device: DeviceId) {
        let mut held = self.have.of_device(device);
        if held.counter == 0 {
            held.digest = self.filed.digest_of(device);
        }
        loop {
            let next = held.counter + 1;
            let filed = self.filed.run_over(device, next);
            let end = filed.unwrap_or(next);
            let (Some(first), Some(last)) = (EventId::new(device, next), EventId::new(device, end)) else { break };
            let mut here = false;
            let (first, last) = ((first, Checksum::from_bytes([0; 32])), (last, Checksum::from_bytes([255; 32])));
            for (_, sum) in self.names.range(first..=last) {
                held.digest.add(*sum);
                here = true;
            }
            if !here && filed.is_none() {
                break;
            }
            held.counter = end;
        }
        if held.counter > 0 {
            self.have.set(device, held);
        }
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
        Holding::of(Filed::default(), events).have
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
