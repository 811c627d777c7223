//! A zoned time, kept for people to read.
//!
//! Refuses to know the clock and the table of time zones. It has no order on purpose: nothing in the book may be
//! sorted by it.

use core::fmt;
use core::str::FromStr;
use std::sync::Arc;

use serde::{Deserialize, Deserializer, Serialize};

/// A moment with its offset and zone as text of RFC 9557, such as `2026-03-02T09:15:00+01:00[Europe/Berlin]`.
///
/// The offset may be `Z`; the zone in brackets may be left out. The text is kept as it was written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct ZonedTime(Arc<str>);

/// Says that a text is not a moment with an offset.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadTime(String);

impl fmt::Display for BadTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a time with its offset; write it as `2026-03-02T09:15:00+01:00[Europe/Berlin]`", self.0)
    }
}

impl core::error::Error for BadTime {}

impl ZonedTime {
    /// Returns the text as written.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Returns date and time as the clock on the wall showed them.
    #[must_use]
    pub fn on_the_wall(&self) -> Option<jiff::civil::DateTime> {
        let pieces = jiff::fmt::temporal::Pieces::parse(&*self.0).ok()?;
        Some(pieces.date().to_datetime(pieces.time()?))
    }

    /// Returns the same time on the wall so many days later, with the same offset and no zone; `None` beyond the calendar.
    #[must_use]
    pub fn days_later(&self, days: u32) -> Option<Self> {
        let date = self.on_the_wall()?.date().checked_add(jiff::Span::new().try_days(i64::from(days)).ok()?).ok()?;
        let rest = self.0.split('[').next()?.get(10..)?;
        format!("{date}{rest}").parse().ok()
    }

    /// Returns the moment, for reminders and durations shown to a person; never for order.
    #[must_use]
    pub fn moment(&self) -> Option<jiff::Timestamp> {
        self.0.parse().ok()
    }
}

impl fmt::Display for ZonedTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for ZonedTime {
    type Err = BadTime;

    fn from_str(text: &str) -> Result<Self, BadTime> {
        let time = Self(text.into());
        if time.moment().is_some() && time.on_the_wall().is_some() { Ok(time) } else { Err(BadTime(text.to_owned())) }
    }
}

impl<'de> Deserialize<'de> for ZonedTime {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}
