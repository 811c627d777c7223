//! How a job stands, in one glance: what a list of jobs and a closing check need.
//!
//! Refuses to know why; the timeline says that.

use serde::{Deserialize, Serialize};

use super::job::Job;
use crate::facts::call::{End, Stage};
use crate::facts::job::{ApprovalRecorded, Decision, Outcome, QuoteGiven};
use crate::ids::EventId;

/// How a job stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It is open.
    Open,
    /// A visit is under way.
    UnderWay,
    /// It waits for a part.
    AwaitingPart,
    /// A first visit is promised.
    Promised,
    /// It waits for a proof that was deferred. Closing does not end this.
    AwaitingProof,
    /// It is closed.
    Closed,
    /// It was opened by mistake.
    Undone,
}

/// What the customer decided about the latest quote.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Approval {
    /// No quote was given.
    NoQuote,
    /// The latest quote is not answered. An answer to an earlier one does not count for it.
    Waiting {
        /// The quote.
        quote: EventId,
    },
    /// Approved.
    Approved {
        /// The quote.
        quote: EventId,
    },
    /// Declined.
    Declined {
        /// The quote.
        quote: EventId,
    },
}

/// A job in one glance.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Summary {
    /// How it stands.
    pub standing: Standing,
    /// Stage of the latest visit.
    pub stage: Option<Stage>,
    /// Approval.
    pub approval: Approval,
    /// Events of hazards that are not cleared.
    pub hazards_open: Vec<EventId>,
    /// Whether one of them is dangerous: then leaving it as it is may not be offered.
    pub dangerous: bool,
    /// Proofs that hold.
    pub passed: Vec<String>,
    /// Proofs that do not hold.
    pub failed: Vec<String>,
    /// Proofs the instrument at hand could not decide.
    pub not_decided: Vec<String>,
    /// Proofs that have to wait.
    pub deferred: Vec<String>,
    /// How each visit ended, in order.
    pub ends: Vec<End>,
}

impl Job {
    /// Tells how the job stands.
    #[must_use]
    pub fn standing(&self) -> Standing {
        let waits_for_proof = self.proofs.values().any(|entry| is_deferred(&entry.fact.outcome));
        let under_way = self.calls.iter().any(|call| call.stage.is_some() && call.ended.is_none());
        let last_end = self.calls.iter().rev().find_map(|call| call.ended.as_ref());
        let waits_for_part = last_end.is_some_and(|ended| matches!(ended.fact.end, End::AwaitingPart { .. }));
        let promised = last_end.is_some_and(|ended| ended.fact.end == End::VisitPromised);
        if self.opening_undone {
            Standing::Undone
        } else if self.closed.is_some() && !waits_for_proof {
            Standing::Closed
        } else if under_way && self.closed.is_none() {
            Standing::UnderWay
        } else if waits_for_proof {
            Standing::AwaitingProof
        } else if waits_for_part {
            Standing::AwaitingPart
        } else if promised {
            Standing::Promised
        } else {
            Standing::Open
        }
    }

    /// Tells what the customer decided about the latest quote.
    #[must_use]
    pub fn approval(&self) -> Approval {
        let Some(quote) = self.all::<QuoteGiven>().last().map(|(entry, _)| entry.event) else {
            return Approval::NoQuote;
        };
        let answers = self.all::<ApprovalRecorded>().filter(|(_, fact)| fact.quote == quote);
        match answers.last().map(|(_, fact)| fact.decision) {
            None => Approval::Waiting { quote },
            Some(Decision::Approved) => Approval::Approved { quote },
            Some(Decision::Declined) => Approval::Declined { quote },
        }
    }

    /// Sums the job up.
    #[must_use]
    pub fn summary(&self) -> Summary {
        let proofs = |wanted: fn(&Outcome) -> bool| {
            let matching = self.proofs.iter().filter(|(_, entry)| wanted(&entry.fact.outcome));
            matching.map(|(proof, _)| proof.clone()).collect()
        };
        Summary {
            standing: self.standing(),
            stage: self.calls.last().and_then(|call| call.stage),
            approval: self.approval(),
            hazards_open: self.hazards_open().map(|hazard| hazard.found.event).collect(),
            dangerous: self.hazards_open().any(|hazard| hazard.found.fact.dangerous),
            passed: proofs(|outcome| matches!(outcome, Outcome::Passed)),
            failed: proofs(|outcome| matches!(outcome, Outcome::Failed)),
            not_decided: proofs(|outcome| matches!(outcome, Outcome::NotDecided { .. })),
            deferred: proofs(is_deferred),
            ends: self
                .calls
                .iter()
                .filter_map(|call| call.ended.as_ref())
                .map(|ended| ended.fact.end.clone())
                .collect(),
        }
    }
}

const fn is_deferred(outcome: &Outcome) -> bool {
    matches!(outcome, Outcome::Deferred { .. })
}
