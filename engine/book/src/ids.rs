//! Names of things in the book: devices, events, and what events open.
//!
//! Refuses to know what the named things are. Text forms are part of the format and never change.

use core::fmt;
use core::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// The highest counter an event may carry: 2^53 - 1, the highest integer every JSON reader keeps exactly.
pub const HIGHEST_COUNTER: u64 = (1 << 53) - 1;

/// Says that a text is not the name it should be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadName {
    text: String,
    wanted: &'static str,
}

impl fmt::Display for BadName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not {}", self.text, self.wanted)
    }
}

impl core::error::Error for BadName {}

macro_rules! text_serde {
    ($name:ident) => {
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}({self})", stringify!($name))
            }
        }
    };
}

/// Reads exactly `N` bytes from lower-case hexadecimal text.
#[must_use]
pub fn bytes_from_hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let mut bytes = [0; N];
    (text.len() == 2 * N).then_some(())?;
    base16ct::lower::decode(text, &mut bytes).ok()?;
    Some(bytes)
}

macro_rules! random_id {
    ($(#[$meta:meta])* $name:ident, $wanted:literal) => {
        $(#[$meta])*
        ///
        /// Sixteen random bytes, handed in; written as 32 lower-case hexadecimal digits.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name([u8; 16]);

        impl $name {
            /// Takes sixteen random bytes as the name.
            #[must_use]
            pub const fn from_random(bytes: [u8; 16]) -> Self {
                Self(bytes)
            }

            /// Returns the sixteen bytes.
            #[must_use]
            pub const fn bytes(&self) -> &[u8; 16] {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&base16ct::lower::encode_string(&self.0))
            }
        }

        impl FromStr for $name {
            type Err = BadName;

            fn from_str(text: &str) -> Result<Self, BadName> {
                bytes_from_hex(text).map(Self).ok_or_else(|| BadName { text: text.to_owned(), wanted: $wanted })
            }
        }

        text_serde!($name);
    };
}

random_id!(
    /// Names a device that writes events. A device restored from an old copy takes a new one.
    DeviceId,
    "a device name of 32 hexadecimal digits"
);
random_id!(
    /// Names a sealed record.
    RecordId,
    "a record name of 32 hexadecimal digits"
);
random_id!(
    /// Names the key of one customer's sealed records. It is not the key.
    KeyId,
    "a key name of 32 hexadecimal digits"
);

/// Names an event: the device that wrote it and that device's counter, from 1 up. Written `device-counter`.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EventId {
    device: DeviceId,
    counter: u64,
}

impl EventId {
    /// Names event `counter` of `device`; `None` unless the counter is within 1 and [`HIGHEST_COUNTER`].
    #[must_use]
    pub const fn new(device: DeviceId, counter: u64) -> Option<Self> {
        if counter >= 1 && counter <= HIGHEST_COUNTER { Some(Self { device, counter }) } else { None }
    }

    /// Returns the device that wrote it.
    #[must_use]
    pub const fn device(&self) -> DeviceId {
        self.device
    }

    /// Returns its place among the events of its device, from 1 up.
    #[must_use]
    pub const fn counter(&self) -> u64 {
        self.counter
    }
}

impl fmt::Display for EventId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.device, self.counter)
    }
}

impl FromStr for EventId {
    type Err = BadName;

    fn from_str(text: &str) -> Result<Self, BadName> {
        event_id_from_text(text)
            .ok_or_else(|| BadName { text: text.to_owned(), wanted: "an event name such as `device-12`" })
    }
}

/// Reads `device-counter`; refuses a sign, a leading zero, and a counter out of range: one event, one name.
fn event_id_from_text(text: &str) -> Option<EventId> {
    let (device, digits) = text.split_once('-')?;
    let plain = digits.bytes().all(|b| b.is_ascii_digit()) && !digits.starts_with('0');
    plain.then_some(())?;
    EventId::new(device.parse().ok()?, digits.parse().ok()?)
}

text_serde!(EventId);

macro_rules! opened_by_event {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        ///
        /// Its name is the name of the event that opened it, so no two devices can give the same one.
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub EventId);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)
            }
        }

        impl FromStr for $name {
            type Err = BadName;

            fn from_str(text: &str) -> Result<Self, BadName> {
                text.parse().map(Self)
            }
        }

        impl From<EventId> for $name {
            fn from(id: EventId) -> Self {
                Self(id)
            }
        }

        text_serde!($name);
    };
}

opened_by_event!(
    /// Names a customer.
    CustomerId
);
opened_by_event!(
    /// Names a customer's own appliance.
    ApplianceId
);
opened_by_event!(
    /// Names a job: one customer's trouble, from intake to closed.
    JobId
);
opened_by_event!(
    /// Names a call: one visit of a job.
    CallId
);
