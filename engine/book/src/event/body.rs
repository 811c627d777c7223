//! What an event says, and what it says it about.
//!
//! Refuses to know the bytes: `envelope` reads and writes them.

use serde::{Deserialize, Serialize};

use crate::facts::call::CallFact;
use crate::facts::job::JobFact;
use crate::facts::shop::ShopFact;
use crate::ids::{CallId, EventId, JobId};

/// The job and the visit an event belongs to, if any.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Scope {
    /// The job.
    pub job: Option<JobId>,
    /// The visit.
    pub call: Option<CallId>,
}

/// An earlier event was a mistake and no longer counts. It stays in the log.
///
/// To correct an event, undo it and record it anew. An undo can itself be undone; the destruction of a key cannot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Undone {
    /// The event that no longer counts.
    pub event: EventId,
    /// Why, in words without names.
    pub why: Option<String>,
}

/// What an event says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Body {
    /// Something about customers and appliances, or a job is opened.
    Shop(ShopFact),
    /// Something about a job, perhaps said during a visit.
    Job {
        /// The job.
        job: JobId,
        /// The visit during which it was said, if any.
        call: Option<CallId>,
        /// What is said.
        fact: JobFact,
    },
    /// Something of a visit.
    Call {
        /// The job.
        job: JobId,
        /// The visit.
        call: CallId,
        /// What is said.
        fact: CallFact,
    },
    /// An earlier event no longer counts.
    Undo {
        /// Where the undone event belongs.
        scope: Scope,
        /// What is undone.
        undone: Undone,
    },
    /// Written by another version; kept whole and skipped by folds.
    NotUnderstood {
        /// Its kind.
        kind: String,
        /// Where it belongs, as far as that could be read.
        scope: Scope,
        /// Why it could not be understood.
        why: String,
    },
}

impl Body {
    /// The kind name of an undo in the format.
    pub(crate) const UNDONE: &'static str = "undone";

    /// Says something about customers and appliances, or opens a job.
    #[must_use]
    pub fn shop(fact: impl Into<ShopFact>) -> Self {
        Self::Shop(fact.into())
    }

    /// Says something about a job between visits.
    #[must_use]
    pub fn job(job: JobId, fact: impl Into<JobFact>) -> Self {
        Self::Job { job, call: None, fact: fact.into() }
    }

    /// Says something about a job during a visit.
    #[must_use]
    pub fn job_on_call(job: JobId, call: CallId, fact: impl Into<JobFact>) -> Self {
        Self::Job { job, call: Some(call), fact: fact.into() }
    }

    /// Says something of a visit.
    #[must_use]
    pub fn call(job: JobId, call: CallId, fact: impl Into<CallFact>) -> Self {
        Self::Call { job, call, fact: fact.into() }
    }

    /// Undoes an event that belongs to `scope`.
    #[must_use]
    pub fn undo(scope: Scope, event: EventId, why: Option<String>) -> Self {
        Self::Undo { scope, undone: Undone { event, why } }
    }

    /// Returns the kind name in the format.
    #[must_use]
    pub fn kind(&self) -> &str {
        match self {
            Self::Shop(fact) => fact.kind(),
            Self::Job { fact, .. } => fact.kind(),
            Self::Call { fact, .. } => fact.kind(),
            Self::Undo { .. } => Self::UNDONE,
            Self::NotUnderstood { kind, .. } => kind,
        }
    }

    /// Returns the job and visit it belongs to. The event that opens a job belongs to none yet.
    #[must_use]
    pub const fn scope(&self) -> Scope {
        match self {
            Self::Shop(_) => Scope { job: None, call: None },
            Self::Job { job, call, .. } => Scope { job: Some(*job), call: *call },
            Self::Call { job, call, .. } => Scope { job: Some(*job), call: Some(*call) },
            Self::Undo { scope, .. } | Self::NotUnderstood { scope, .. } => *scope,
        }
    }
}
