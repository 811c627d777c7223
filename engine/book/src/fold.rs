//! State out of events: a pure fold, the same on every device.
//!
//! Events are taken in the order of [`Event::rank`], each once; what is undone and what is not understood does not
//! count but is listed. An event whose opener is missing (damaged, or not yet received) still counts: its job is
//! shown with what is there.
//!
//! Refuses to know the engine: results of computations come out as they were shown.

mod book;
mod entry;
mod job;
mod standing;
mod undo;
mod writers;

use crate::event::Event;
use crate::ids::JobId;

pub use book::{Appliance, Book, Customer};
pub use entry::{Entry, Fact, FactKind};
pub use job::{Call, Hazard, Job, ScrewsMissing};
pub use standing::{Approval, Standing, Summary};
pub use writers::Writers;

/// Folds everything into the state of the shop's book.
///
/// Order and repetition of `events` do not matter.
#[must_use]
pub fn fold_book(events: &[Event]) -> Book {
    let events = in_order(events);
    let undone = undo::undone_among(&events);
    let mut book = Book::default();
    for event in &events {
        book.take(event, &undone);
    }
    book.clashes = clashes_among(&events);
    book
}

/// Folds one job out of the events; `None` if no event speaks of it.
#[must_use]
pub fn fold_job(events: &[Event], job: JobId) -> Option<Job> {
    let events = in_order(events);
    let undone = undo::undone_among(&events);
    let mut book = Book::default();
    for event in events.iter().filter(|event| speaks_of(event, job)) {
        book.take(event, &undone);
    }
    book.jobs.remove(&job)
}

fn speaks_of(event: &Event, job: JobId) -> bool {
    event.body().scope().job == Some(job) || event.id() == job.0
}

/// Sorts by rank and drops repetitions.
fn in_order(events: &[Event]) -> Vec<&Event> {
    let mut sorted: Vec<&Event> = events.iter().collect();
    sorted.sort_by_cached_key(|event| event.rank());
    sorted.dedup();
    sorted
}

/// Lists names that two different texts claim: two devices hold the same pen.
fn clashes_among(sorted: &[&Event]) -> Vec<crate::ids::EventId> {
    let mut ids: Vec<_> = sorted.iter().map(|event| event.id()).collect();
    ids.sort_unstable();
    let mut twice: Vec<_> = ids.iter().zip(ids.iter().skip(1)).filter(|(a, b)| a == b).map(|(a, _)| *a).collect();
    twice.dedup();
    twice
}
