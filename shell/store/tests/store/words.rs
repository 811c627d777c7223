//! Small events for the tests here.

use book::{Body, EventId, JobClosed, JobId, Pen, ZonedTime};
use store::SqliteStore;

pub(crate) fn noon() -> ZonedTime {
    "2026-03-02T12:00:00+01:00[Europe/Berlin]".parse().unwrap()
}

/// A body that carries some words.
pub(crate) fn say(words: &str) -> Body {
    let job = JobId(EventId::new(book::DeviceId::from_random([1; 16]), 1).unwrap());
    Body::job(job, JobClosed { why: Some(words.to_owned()) })
}

/// The pen of the device whose file this is.
pub(crate) fn pen(store: &SqliteStore) -> Pen {
    Pen::after(store.device().unwrap(), &book::Store::load(store).unwrap())
}
