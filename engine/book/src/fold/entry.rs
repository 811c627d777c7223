//! A fact in its place: which event said it, when, during which visit.
//!
//! Refuses to know the order; the fold keeps entries in it.

use serde::{Deserialize, Serialize};

use crate::event::Event;
use crate::facts::call::CallFact;
use crate::facts::job::JobFact;
use crate::ids::{CallId, EventId};
use crate::time::ZonedTime;

/// A fact with the event that said it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry<T> {
    /// The event.
    pub event: EventId,
    /// The visit during which it was said, if any.
    pub call: Option<CallId>,
    /// When, for display.
    pub at: ZonedTime,
    /// What was said.
    pub fact: T,
}

impl<T> Entry<T> {
    pub(super) fn of(event: &Event, fact: T) -> Self {
        Self { event: event.id(), call: event.body().scope().call, at: event.at().clone(), fact }
    }
}

/// A fact about a job, of either sort.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Fact {
    /// About the job as a whole.
    Job(JobFact),
    /// Of a visit.
    Call(CallFact),
}

impl From<JobFact> for Fact {
    fn from(fact: JobFact) -> Self {
        Self::Job(fact)
    }
}

impl From<CallFact> for Fact {
    fn from(fact: CallFact) -> Self {
        Self::Call(fact)
    }
}

/// One kind of fact about a job, so that a list of mixed facts can be asked for it.
pub trait FactKind: Sized {
    /// Returns the fact if it is of this kind.
    fn of(fact: &Fact) -> Option<&Self>;
}
