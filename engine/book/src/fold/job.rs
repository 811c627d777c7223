//! One job folded: its timeline in order, its visits, and how the appliance stands there now.
//!
//! Refuses to judge: whether dead was proved well enough is for the one who reads the entries.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::entry::{Entry, Fact, FactKind};
use super::writers::Writers;
use crate::event::Event;
use crate::facts::call::{CallEnded, CallFact, Isolated, MadeSafe, Stage};
use crate::facts::common::Place;
use crate::facts::job::{CallOpened, HazardCleared, HazardFound, JobClosed, JobFact, ProofResult};
use crate::facts::shop::JobOpened;
use crate::ids::{ApplianceId, CallId, EventId, JobId};

/// A visit folded. Its readings and steps are in the job's timeline.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Call {
    /// The visit.
    pub id: CallId,
    /// How it was opened; absent while that event is missing or undone.
    pub opened: Option<Entry<CallOpened>>,
    /// The stage it is in.
    pub stage: Option<Stage>,
    /// How it ended, if it has.
    pub ended: Option<Entry<CallEnded>>,
}

/// A hazard found, and whether it is gone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hazard {
    /// What was found.
    pub found: Entry<HazardFound>,
    /// How it was cleared, if it was.
    pub cleared: Option<Entry<HazardCleared>>,
}

/// A cover that was closed with another number of screws than came out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ScrewsMissing {
    /// The cover.
    pub cover: String,
    /// Screws that came out.
    pub out: u32,
    /// Screws that went back.
    pub back: u32,
}

/// A job folded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Job {
    /// The job.
    pub id: JobId,
    /// How it was opened; absent while that event is missing or undone.
    pub opened: Option<Entry<JobOpened>>,
    /// Whether its opening was undone: it was opened by mistake.
    pub opening_undone: bool,
    /// The appliance.
    pub appliance: Option<ApplianceId>,
    /// Everything said that counts, in order.
    pub timeline: Vec<Entry<Fact>>,
    /// The visits, in the order in which they are first spoken of.
    pub calls: Vec<Call>,
    /// The hazards found, open or cleared.
    pub hazards: Vec<Hazard>,
    /// The latest result of each proof.
    pub proofs: BTreeMap<String, Entry<ProofResult>>,
    /// Covers open, with the screws taken out.
    pub covers_open: BTreeMap<String, u32>,
    /// Covers closed with another number of screws than came out, at their last closing.
    pub screws_missing: Vec<ScrewsMissing>,
    /// Leads and connectors lifted, by id.
    pub leads_lifted: BTreeSet<String>,
    /// Sources isolated, by name.
    pub isolated: BTreeMap<String, Isolated>,
    /// The latest making safe, until any source is on again.
    pub made_safe: Option<Entry<MadeSafe>>,
    /// How it was closed; absent again when a visit is opened after it.
    pub closed: Option<Entry<JobClosed>>,
    /// Who wrote its visits.
    #[serde(default)]
    pub writers: Writers,
    /// Two devices worked on it without knowing of each other: both accounts are put together here.
    #[serde(default)]
    pub at_once: bool,
    /// Events that were undone.
    pub undone: Vec<EventId>,
    /// Events another version wrote.
    pub not_understood: Vec<EventId>,
}

impl Job {
    pub(super) fn unopened(id: JobId) -> Self {
        Self {
            id,
            opened: None,
            opening_undone: false,
            appliance: None,
            timeline: Vec::new(),
            calls: Vec::new(),
            hazards: Vec::new(),
            proofs: BTreeMap::new(),
            covers_open: BTreeMap::new(),
            screws_missing: Vec::new(),
            leads_lifted: BTreeSet::new(),
            isolated: BTreeMap::new(),
            made_safe: None,
            closed: None,
            writers: Writers::default(),
            at_once: false,
            undone: Vec::new(),
            not_understood: Vec::new(),
        }
    }

    /// Lists the entries of one kind, in order: `job.all::<ReadingTaken>()`.
    pub fn all<'a, T: FactKind + 'a>(&'a self) -> impl Iterator<Item = (&'a Entry<Fact>, &'a T)> {
        self.timeline.iter().filter_map(|entry| T::of(&entry.fact).map(|fact| (entry, fact)))
    }

    /// Lists the entries of one visit, in order.
    pub fn during(&self, call: CallId) -> impl Iterator<Item = &Entry<Fact>> {
        self.timeline.iter().filter(move |entry| entry.call == Some(call))
    }

    /// Lists the hazards that are not cleared.
    pub fn hazards_open(&self) -> impl Iterator<Item = &Hazard> {
        self.hazards.iter().filter(|hazard| hazard.cleared.is_none())
    }

    pub(super) fn open(&mut self, event: &Event, opened: &JobOpened, counts: bool) {
        if counts {
            self.appliance = opened.appliance;
            self.opened = Some(Entry::of(event, opened.clone()));
        } else {
            self.opening_undone = true;
            self.undone.push(event.id());
        }
    }

    /// Takes note of who wrote an event.
    pub(super) fn written(&mut self, event: &Event) {
        self.at_once |= self.writers.take(event);
    }

    pub(super) fn take_job_fact(&mut self, event: &Event, fact: &JobFact, counts: bool) {
        if let Some(call) = event.body().scope().call {
            self.call(call);
        }
        // A paper that was issued stays issued.
        if !counts && !matches!(fact, JobFact::PaperIssued(_)) {
            self.undone.push(event.id());
            return;
        }
        match fact {
            JobFact::CallOpened(fact) => {
                self.closed = None;
                self.call(CallId(event.id())).opened = Some(Entry::of(event, fact.as_ref().clone()));
            }
            JobFact::ApplianceFound(fact) => self.appliance = Some(fact.appliance),
            JobFact::HazardFound(fact) => {
                self.hazards.push(Hazard { found: Entry::of(event, fact.as_ref().clone()), cleared: None });
            }
            JobFact::HazardCleared(fact) => self.clear_hazard(event, fact),
            JobFact::ProofResult(fact) => {
                self.proofs.insert(fact.proof.clone(), Entry::of(event, fact.as_ref().clone()));
            }
            JobFact::JobClosed(fact) => self.closed = Some(Entry::of(event, fact.as_ref().clone())),
            JobFact::ComplaintAdded(_)
            | JobFact::QuoteGiven(_)
            | JobFact::ApprovalRecorded(_)
            | JobFact::FaultFound(_)
            | JobFact::PhotoTaken(_)
            | JobFact::NoteTaken(_)
            | JobFact::VisitPromised(_)
            | JobFact::PartOrdered(_)
            | JobFact::PartArrived(_)
            | JobFact::PaperIssued(_)
            | JobFact::PaymentTaken(_)
            | JobFact::HandedOver(_) => {}
        }
        self.timeline.push(Entry::of(event, fact.clone().into()));
    }

    pub(super) fn take_call_fact(&mut self, event: &Event, call: CallId, fact: &CallFact, counts: bool) {
        let visit = self.call(call);
        if !counts {
            self.undone.push(event.id());
            return;
        }
        match fact {
            CallFact::StageEntered(fact) => visit.stage = Some(fact.stage),
            CallFact::CallEnded(fact) => visit.ended = Some(Entry::of(event, fact.as_ref().clone())),
            CallFact::Arrived(_) => visit.stage = visit.stage.max(Some(Stage::Arrive)),
            CallFact::MadeSafe(fact) => self.make_safe(event, fact),
            CallFact::Energised(fact) => self.energise(&fact.sources),
            CallFact::CoverOpened(fact) => {
                self.covers_open.insert(fact.cover.clone(), fact.screws_out);
            }
            CallFact::CoverClosed(fact) => self.close_cover(&fact.cover, fact.screws_in),
            CallFact::LeadsLifted(fact) => self.leads_lifted.extend(ids(&fact.leads)),
            CallFact::LeadsRefitted(fact) => self.refit(&fact.leads),
            CallFact::SupplyChecked(_)
            | CallFact::StepDone(_)
            | CallFact::StepProposed(_)
            | CallFact::ReadingTaken(_)
            | CallFact::LookTaken(_)
            | CallFact::TryTaken(_)
            | CallFact::Provoked(_)
            | CallFact::PartChanged(_) => {}
        }
        self.timeline.push(Entry::of(event, fact.clone().into()));
    }

    fn call(&mut self, id: CallId) -> &mut Call {
        let at = self.calls.iter().position(|call| call.id == id).unwrap_or_else(|| {
            self.calls.push(Call { id, opened: None, stage: None, ended: None });
            self.calls.len() - 1
        });
        &mut self.calls[at]
    }

    fn clear_hazard(&mut self, event: &Event, fact: &HazardCleared) {
        for hazard in self.hazards.iter_mut().filter(|hazard| hazard.found.event == fact.hazard) {
            hazard.cleared = Some(Entry::of(event, fact.clone()));
        }
    }

    fn make_safe(&mut self, event: &Event, fact: &MadeSafe) {
        self.isolated.extend(fact.isolated.iter().map(|isolated| (isolated.source.clone(), isolated.clone())));
        self.made_safe = Some(Entry::of(event, fact.clone()));
    }

    fn energise(&mut self, sources: &[String]) {
        sources.iter().for_each(|source| {
            self.isolated.remove(source);
        });
        self.made_safe = None;
    }

    /// A cover whose opening was not recorded has nothing to count against.
    fn close_cover(&mut self, cover: &str, back: u32) {
        self.screws_missing.retain(|missing| missing.cover != cover);
        match self.covers_open.remove(cover) {
            Some(out) if out != back => {
                self.screws_missing.push(ScrewsMissing { cover: cover.to_owned(), out, back });
            }
            Some(_) | None => {}
        }
    }

    fn refit(&mut self, leads: &[Place]) {
        for id in ids(leads) {
            self.leads_lifted.remove(&id);
        }
    }
}

fn ids(places: &[Place]) -> impl Iterator<Item = String> {
    places.iter().map(|place| place.id.clone())
}
