//! What of a closed job need not be held in mind: the steps of its visits.
//!
//! A shop asks day by day what was found, charged and paid, and which part went in; the readings on the way there it asks when
//! it looks back. So a small device holds the steps of its latest closed jobs and files those of earlier ones away: kept whole,
//! read again when somebody asks. A fold over what is held says the same of every job but for its steps.
//!
//! Refuses to know where anything is filed.

use crate::event::{Body, Event, Rank};
use crate::facts::call::CallFact;
use crate::facts::job::JobFact;
use crate::fold::{Standing, fold_book};
use crate::ids::JobId;
use std::collections::{BTreeMap, BTreeSet};

/// Which jobs are to be filed away, and which to be brought back.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Filing {
    /// Closed jobs with steps that are held, the earliest first.
    pub away: Vec<JobId>,
    /// Jobs with steps filed away that are closed no longer.
    pub back: Vec<JobId>,
}

/// Tells whether a fact is held when its job is long closed. What another version wrote is: nobody knows who asks for it.
#[must_use]
pub const fn stays(body: &Body) -> bool {
    match body {
        Body::Shop(_) | Body::Undo { .. } | Body::NotUnderstood { .. } => true,
        Body::Job { fact, .. } => !matches!(fact, JobFact::PhotoTaken(_) | JobFact::NoteTaken(_)),
        Body::Call { fact, .. } => matches!(fact, CallFact::PartChanged(_) | CallFact::CallEnded(_)),
    }
}

/// Says what is to be filed away out of the events that are held, and what is to be brought back of the jobs that were filed.
/// The latest `whole` closed jobs are held whole: somebody may still talk about them. Of the others a job is filed only if each
/// of its steps `may` be.
#[must_use]
pub fn filing(held: &[Event], filed: &BTreeSet<JobId>, whole: usize, may: impl Fn(&Event) -> bool) -> Filing {
    let book = fold_book(held);
    let is_closed = |job: &JobId| book.jobs.get(job).is_some_and(|job| job.standing() == Standing::Closed);
    // By the last of its facts that stay, so that the order is the same before and after.
    let mut latest: BTreeMap<JobId, Rank> = BTreeMap::new();
    let mut steps: BTreeMap<JobId, bool> = BTreeMap::new();
    for event in held {
        let Some(job) = event.body().scope().job else { continue };
        if stays(event.body()) {
            let rank = latest.entry(job).or_insert_with(|| event.rank());
            *rank = (*rank).max(event.rank());
        } else {
            *steps.entry(job).or_insert(true) &= may(event);
        }
    }
    let mut closed: Vec<(Rank, JobId)> =
        latest.iter().filter(|(job, _)| is_closed(job)).map(|(job, rank)| (*rank, *job)).collect();
    closed.sort_unstable();
    let old = closed.iter().take(closed.len().saturating_sub(whole));
    Filing {
        away: old.map(|(_, job)| *job).filter(|job| steps.get(job) == Some(&true)).collect(),
        back: filed.iter().filter(|job| !is_closed(job)).copied().collect(),
    }
}
