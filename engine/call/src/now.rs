//! How a call stands: the fold of its facts. Plans nothing and asks nothing.
//!
//! INVARIANT: everything a session asks depends on this fold alone, so a call that is taken up again asks what it would
//! have asked without the interruption.

mod lines;
mod readings;

use crate::callfile::{Appliance, Touched};
use crate::steps::act_of;
use book::{
    ApplianceId, ApplianceLearned, Body, CallFact, CallId, Complaint, CustomerId, Decision, End, Event, EventId,
    JobFact, JobId, KeyId, Outcome, Place, Purpose, QuoteGiven, RecordId, Role, ShopFact, Stage, Verdict, Warranty,
    ZonedTime,
};
use danger::{DeadFact, DeadProof, Energy, HazardAction, HazardFound, Signature, WorkPoint};
use diagnosis::{Evidence, Measured, Stirred};
use machine::access::Hazard;
use machine::model::{BranchId, CoverId, Machine, PartId, RepairId, StateId, TerminalId, VariantId};
use prediction::{Reading, Seen};
use repair::Act;
use std::collections::{BTreeMap, BTreeSet};
use teardown::Open;

pub(crate) use readings::{
    function, kept, kept_insulation, kept_proving, kept_thermometer, measured_of, no_more_than, parsed_from, store_id,
};

/// What is being worked towards.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Goal {
    pub(crate) act: Act,
    /// The proposal's event; none when it is the technician's own choice.
    pub(crate) proposal: Option<EventId>,
}

/// A quote with the repair it is for and the answer to it.
#[derive(Clone, Debug)]
pub(crate) struct Quote {
    pub(crate) event: EventId,
    pub(crate) repair: RepairId,
    pub(crate) given: QuoteGiven,
    pub(crate) decision: Option<Decision>,
}

/// A repair that was done.
#[derive(Clone, Debug)]
pub(crate) struct Change {
    pub(crate) repair: RepairId,
    pub(crate) cures: Vec<book::FaultName>,
}

/// A reading with what it showed, as taken and as kept.
#[derive(Clone, Debug)]
pub(crate) struct Taken {
    pub(crate) reading: Reading,
    pub(crate) measured: Measured,
    pub(crate) kept: book::Reading,
    /// How many repairs were done before it.
    pub(crate) after_changes: usize,
    /// In this visit.
    pub(crate) call: usize,
}

/// How a call is being brought to its end without a proof.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum WayOut {
    Declined,
    Referred(String),
    AwaitingPart(RepairId),
    Explained,
    NotReproduced,
    Stopped(String),
}

/// How a call ends that was one on the telephone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Telephone {
    /// A visit was promised.
    Promised,
    /// The customer set it right himself: the fault by its name, or what it was in words.
    Settled(String),
}

/// How the call stands.
#[derive(Clone, Debug, Default)]
pub(crate) struct Now {
    pub(crate) customer: Option<CustomerId>,
    pub(crate) key: Option<KeyId>,
    pub(crate) person: Option<RecordId>,
    pub(crate) appliance: Option<ApplianceId>,
    pub(crate) known: Appliance,
    pub(crate) warranty: bool,
    /// The job is for a fault that came back.
    pub(crate) callback: bool,
    pub(crate) job: Option<JobId>,
    pub(crate) call: Option<CallId>,
    pub(crate) calls: usize,
    /// This visit is for a proof that was put off.
    pub(crate) for_deferred: bool,
    pub(crate) at: Option<ZonedTime>,
    pub(crate) stage: Option<Stage>,
    pub(crate) gas: Option<bool>,
    pub(crate) water: Option<bool>,
    pub(crate) since: Option<String>,
    pub(crate) touched: bool,
    pub(crate) reports: BTreeMap<(StateId, machine::model::ObservationId), Option<u8>>,
    pub(crate) uses: Vec<StateId>,
    /// Lines done and questions answered in this visit, by id.
    pub(crate) lines: BTreeMap<String, Option<String>>,
    pub(crate) arrived: bool,
    pub(crate) evidence: Vec<Evidence>,
    pub(crate) taken: Vec<Taken>,
    /// What the insulation tester showed; no evidence of a fault's, and never an ohm-meter's reading.
    pub(crate) insulation: Vec<Taken>,
    pub(crate) tries: Vec<(StateId, Vec<Seen>, usize)>,
    pub(crate) energy: Energy,
    pub(crate) opened: Vec<(CoverId, u32)>,
    pub(crate) lifted: BTreeSet<(TerminalId, BranchId)>,
    pub(crate) record: Vec<DeadFact>,
    pub(crate) kept_proofs: Vec<book::Reading>,
    pub(crate) work: Option<WorkPoint>,
    pub(crate) dead: Vec<DeadProof>,
    /// Proved dead once in this visit.
    pub(crate) was_made_safe: bool,
    pub(crate) hazards: Vec<(EventId, HazardFound)>,
    pub(crate) dangers: Vec<String>,
    pub(crate) supply: Option<Verdict>,
    pub(crate) goal: Option<Goal>,
    /// What is clipped on, and whether it was read since.
    pub(crate) clips_on: Option<(Reading, bool)>,
    pub(crate) out_of_reach: BTreeSet<TerminalId>,
    pub(crate) set_aside: BTreeSet<String>,
    pub(crate) differs: Vec<String>,
    /// What its plate and its papers say, by entry.
    pub(crate) papers: BTreeMap<String, String>,
    /// Variants that are settled.
    pub(crate) units: BTreeSet<VariantId>,
    pub(crate) quotes: Vec<Quote>,
    pub(crate) changes: Vec<Change>,
    pub(crate) way_out: Option<WayOut>,
    pub(crate) telephone: Option<Telephone>,
    pub(crate) fault_found: bool,
    pub(crate) proofs: BTreeMap<String, Outcome>,
    pub(crate) handed_over: bool,
    pub(crate) ended: bool,
    pub(crate) closed: bool,
    pub(crate) writers: book::Writers,
    /// Two devices worked on this job without knowing of each other.
    pub(crate) at_once: bool,
}

impl Now {
    /// Takes the next event.
    pub(crate) fn take(&mut self, machine: &Machine, event: &Event) {
        self.at = Some(event.at().clone());
        let apart = self.writers.take(event);
        match event.body() {
            Body::Shop(fact) => self.take_shop(machine, event, fact),
            Body::Job { fact, .. } => self.take_job(machine, event, fact),
            Body::Call { fact, .. } => self.take_call(machine, event, fact),
            Body::Undo { .. } | Body::NotUnderstood { .. } => {}
        }
        if apart {
            self.at_once = true;
            // Another hand was at the machine meanwhile: it may be live whatever either of the two had measured before.
            self.energised(machine, "");
            self.was_made_safe = false;
        }
    }

    fn take_shop(&mut self, machine: &Machine, event: &Event, fact: &ShopFact) {
        match fact {
            ShopFact::CustomerAdded(added) => {
                self.customer = Some(event.id().into());
                self.key = Some(added.key);
                self.person = Some(added.record);
            }
            ShopFact::CustomerChanged(changed) => self.person = Some(changed.record),
            ShopFact::ApplianceAdded(added) => {
                self.appliance = Some(event.id().into());
                self.known.age_years = added.age_months.map(|months| f64::from(months) / 12.0);
                self.warranty = matches!(added.warranty, Warranty::Owed { .. });
            }
            ShopFact::ApplianceLearned(learned) => {
                self.learn(machine, learned);
                self.drop_goal(machine);
            }
            ShopFact::JobOpened(opened) => {
                self.job = Some(event.id().into());
                self.callback = opened.callback_of.is_some();
                self.appliance = opened.appliance.or(self.appliance);
                self.complain(machine, &opened.complaint);
            }
            ShopFact::MachineSet(_)
            | ShopFact::KeyDestroyed(_)
            | ShopFact::SettingsSet(_)
            | ShopFact::VanCounted(_)
            | ShopFact::PriceSet(_)
            | ShopFact::LearningTaken(_)
            | ShopFact::HabitsTaken(_)
            | ShopFact::MachineDescribed(_) => {}
        }
    }

    /// Keeps what was learned of the unit, and believes how it is built.
    fn learn(&mut self, machine: &Machine, learned: &ApplianceLearned) {
        self.differs.extend(learned.differs.iter().cloned());
        self.papers.extend(learned.plate.iter().map(|(entry, text)| (format!("plate, {entry}"), text.clone())));
        self.papers.extend(learned.papers.iter().map(|(entry, text)| (format!("papers, {entry}"), text.clone())));
        for (id, way) in &learned.variants {
            if let Ok((variant, option)) = machine.variant_way(id, way) {
                self.evidence.push(Evidence::Built { variant, option });
                self.units.insert(variant);
            }
        }
    }

    fn complain(&mut self, machine: &Machine, complaint: &Complaint) {
        self.gas = complaint.gas_smell.or(self.gas);
        self.water = complaint.standing_water.or(self.water);
        self.since = complaint.since.clone().or(self.since.take());
        if let Some(role) = complaint.touched_last {
            self.touched = true;
            self.known.touched = touched_by(role);
        }
        for report in &complaint.reports {
            let state = report.state.as_deref().and_then(|state| machine.state(state).ok());
            let (Some(state), Ok(what)) = (state, machine.observation(&report.observation)) else { continue };
            let value = value_of(machine, what, &report.value);
            self.reports.insert((state, what), value);
            let asked = self.uses.first().is_some_and(|first| *first != state);
            let item = if asked { Evidence::Answered } else { Evidence::Reported };
            self.evidence.extend(value.map(|value| item(Seen { state, what, value })));
        }
    }

    fn take_job(&mut self, machine: &Machine, event: &Event, fact: &JobFact) {
        match fact {
            JobFact::CallOpened(opened) => self.open_call(event.id().into(), opened.purpose),
            JobFact::ComplaintAdded(added) => self.complain(machine, &added.complaint),
            JobFact::QuoteGiven(given) => {
                if let Some(Goal { act: Act::Change(repair), .. }) = self.goal {
                    let given = given.as_ref().clone();
                    self.quotes.push(Quote { event: event.id(), repair, given, decision: None });
                    self.lines.remove("agree/choice");
                }
            }
            JobFact::ApprovalRecorded(approval) => self.decide(approval.quote, approval.decision),
            JobFact::HazardFound(found) => self.find_hazard(event.id(), found),
            JobFact::HazardCleared(cleared) => {
                for (_, hazard) in self.hazards.iter_mut().filter(|(id, _)| *id == cleared.hazard) {
                    hazard.action = HazardAction::Mended;
                }
            }
            JobFact::FaultFound(_) => self.fault_found = true,
            JobFact::VisitPromised(_) if !self.arrived => self.telephone = Some(Telephone::Promised),
            JobFact::VisitPromised(_) => {}
            JobFact::ProofResult(result) => {
                self.proofs.insert(result.proof.clone(), result.outcome.clone());
            }
            JobFact::HandedOver(_) => self.handed_over = true,
            JobFact::JobClosed(_) => self.closed = true,
            JobFact::ApplianceFound(_)
            | JobFact::PhotoTaken(_)
            | JobFact::NoteTaken(_)
            | JobFact::PartOrdered(_)
            | JobFact::PartArrived(_)
            | JobFact::PaperIssued(_)
            | JobFact::PaymentTaken(_) => {}
        }
    }

    /// A new visit finds the machine plugged in, hot and charged for all anyone knows; what was learned stays.
    fn open_call(&mut self, call: CallId, purpose: Purpose) {
        self.call = Some(call);
        // What comes and goes may be otherwise on another day.
        self.evidence.extend((self.calls > 0).then_some(Evidence::Stirred(Stirred::Again)));
        self.calls += 1;
        // What was asked on the telephone is not asked again.
        let told = self.telephone.take().is_some();
        self.lines.retain(|line, _| told && line.starts_with("intake/"));
        self.arrived = false;
        self.energy.energise();
        self.record.clear();
        self.dead.clear();
        self.was_made_safe = false;
        self.goal = None;
        self.clips_on = None;
        self.way_out = None;
        self.for_deferred = purpose == Purpose::DeferredProof;
        let for_deferred = self.for_deferred;
        self.proofs.retain(|_, outcome| for_deferred && !matches!(outcome, Outcome::Deferred { .. }));
        self.handed_over = false;
        self.ended = false;
        self.closed = false;
        self.supply = None;
    }

    fn decide(&mut self, quote: EventId, decision: Decision) {
        for of in self.quotes.iter_mut().filter(|of| of.event == quote) {
            of.decision = Some(decision);
        }
        if decision == Decision::Declined {
            let choice = self.lines.get("agree/choice").cloned().flatten().unwrap_or_default();
            self.way_out = Some(match choice.as_str() {
                "refer" => WayOut::Referred("the customer has it seen to elsewhere".to_owned()),
                _ => WayOut::Declined,
            });
        }
    }

    fn find_hazard(&mut self, event: EventId, found: &book::HazardFound) {
        let roles: Vec<&str> = found.told.iter().map(|role| role_word(*role)).collect();
        let signed = match found.signature {
            book::Signature::Signed { .. } | book::Signature::Remote { .. } => {
                Signature::Signed("on the record".to_owned())
            }
            book::Signature::Refused | book::Signature::NobodyThere => Signature::Refused,
        };
        let action = match found.action {
            book::HazardAction::Disconnected | book::HazardAction::DisconnectedAndTagged => HazardAction::Disconnected,
            book::HazardAction::Tagged => HazardAction::Tagged,
            book::HazardAction::None => HazardAction::None,
        };
        let hazard = HazardFound {
            what: found.what.clone(),
            kind: if found.kind == book::HazardKind::FuelGas { Hazard::FuelGas } else { Hazard::Shock },
            dangerous: found.dangerous,
            told_to: roles.join(", "),
            action,
            signed,
        };
        self.hazards.push((event, hazard));
    }

    fn take_call(&mut self, machine: &Machine, event: &Event, fact: &CallFact) {
        match fact {
            CallFact::StageEntered(entered) => self.stage = Some(entered.stage),
            CallFact::Arrived(_) => self.arrived = true,
            CallFact::SupplyChecked(checked) => self.supply = Some(checked.verdict.clone()),
            CallFact::StepDone(done) => self.done(machine, &done.step, done.said.as_deref()),
            CallFact::MadeSafe(_) => self.made_safe(machine),
            CallFact::Energised(energised) => self.energised(machine, &energised.why),
            CallFact::StepProposed(proposed) => {
                if let Ok(Some(act)) = act_of(machine, &proposed.step) {
                    self.goal = Some(Goal { act, proposal: Some(event.id()) });
                }
            }
            CallFact::ReadingTaken(taken) => self.read(machine, &taken.reading),
            CallFact::LookTaken(look) => self.looked(machine, &look.look, &look.found),
            CallFact::TryTaken(tried) => self.tried(machine, &tried.state, &tried.observed),
            CallFact::Provoked(_) => {}
            CallFact::CoverOpened(cover) => {
                self.opened.extend(cover_of(machine, &cover.cover).map(|id| (id, cover.screws_out)));
            }
            CallFact::CoverClosed(cover) => {
                self.opened.retain(|(id, _)| machine.access.steps.get(id.index()).is_none_or(|c| c.id != cover.cover));
            }
            CallFact::LeadsLifted(lifted) => self.lifted.extend(ends_of(machine, &lifted.leads)),
            CallFact::LeadsRefitted(_) => self.lifted.clear(),
            CallFact::PartChanged(changed) => self.changed(machine, changed),
            CallFact::CallEnded(ended) => {
                self.ended = true;
                // One on the telephone is no visit.
                self.calls -= usize::from(ended.end == End::VisitPromised).min(self.calls);
            }
        }
    }

    fn looked(&mut self, machine: &Machine, look: &str, found: &str) {
        if let Some(proof) = look.strip_prefix("proof:") {
            self.lines.insert(format!("proof/{proof}"), Some(found.to_owned()));
            return;
        }
        let Ok(part) = machine.part(look) else { return };
        self.evidence.push(Evidence::Looked { part, damage: found == "damage" });
        self.reach(&Act::Look(part));
    }

    fn tried(&mut self, machine: &Machine, state: &str, observed: &[book::Report]) {
        let Ok(state) = machine.state(state) else { return };
        let seen: Vec<Seen> = observed
            .iter()
            .filter_map(|report| {
                let what = machine.observation(&report.observation).ok()?;
                Some(Seen { state, what, value: value_of(machine, what, &report.value)? })
            })
            .collect();
        self.evidence.extend(seen.iter().copied().map(Evidence::Watched));
        self.tries.push((state, seen, self.changes.len()));
        self.reach(&Act::Try(state));
    }

    fn changed(&mut self, machine: &Machine, changed: &book::PartChanged) {
        let part = machine.part(&changed.part).ok();
        let by_goal = match self.goal {
            Some(Goal { act: Act::Change(repair), .. }) => Some(repair),
            _ => None,
        };
        let approved = self.quotes.iter().rev().map(|quote| quote.repair);
        let repair = by_goal.or_else(|| approved.into_iter().find(|&id| Some(machine[id].part) == part));
        let Some(repair) = repair else { return };
        self.evidence.push(Evidence::Repaired(repair));
        self.changes.push(Change { repair, cures: changed.cures.clone() });
        self.goal = None;
        self.proofs.clear();
        self.set_aside.clear();
        self.fault_found = false;
        self.lines.retain(|line, _| !line.starts_with("proof/") && !line.starts_with("failed/"));
    }

    /// Lets go of the goal when this was it.
    pub(crate) fn reach(&mut self, act: &Act) {
        if self.goal.as_ref().is_some_and(|goal| goal.act == *act) {
            self.goal = None;
        }
    }

    /// Gives the covers that are off.
    pub(crate) fn open(&self) -> Open {
        self.opened.iter().map(|(cover, _)| *cover).collect()
    }

    /// Says whether a line was done in this visit.
    pub(crate) fn did(&self, line: &str) -> bool {
        self.lines.contains_key(line)
    }

    /// Gives what was said to a line.
    pub(crate) fn said(&self, line: &str) -> Option<&str> {
        self.lines.get(line).and_then(|said| said.as_deref())
    }

    /// Judges the running record of proving dead.
    pub(crate) fn dead_proof(&self, machine: &Machine) -> Result<DeadProof, Vec<danger::WhyNot>> {
        let work = self.work.clone().unwrap_or_else(|| WorkPoint::at(machine, &[]));
        let record = danger::DeadRecord { work, epoch: self.energy.epoch(), facts: self.record.clone() };
        danger::judge_dead(machine, &self.energy, &record)
    }

    /// Says whether a dangerous hazard is open that only mending ends.
    pub(crate) fn dangerous(&self) -> bool {
        self.hazards.iter().any(|(_, hazard)| hazard.dangerous && hazard.action != HazardAction::Mended)
    }

    /// Gives the values seen in a state since the last repair.
    pub(crate) fn seen_since_change(&self, state: StateId) -> Option<&[Seen]> {
        let after = self.changes.len();
        self.tries
            .iter()
            .rev()
            .find(|(of, _, changes)| *of == state && *changes == after)
            .map(|(_, seen, _)| seen.as_slice())
    }

    /// Gives the latest approved repair that was not done yet.
    pub(crate) fn approved_open(&self) -> Option<RepairId> {
        let approved = self.quotes.iter().filter(|quote| quote.decision == Some(Decision::Approved));
        approved.map(|quote| quote.repair).find(|repair| !self.changes.iter().any(|change| change.repair == *repair))
    }
}

/// Gives who worked on it last in the words of the record of a call.
fn touched_by(role: Role) -> Option<Touched> {
    match role {
        Role::Customer | Role::Occupant | Role::Landlord | Role::Manager => Some(Touched::Owner),
        Role::AnotherTechnician | Role::Technician => Some(Touched::Technician),
        Role::OtherPresent => Some(Touched::Mover),
        Role::Utility | Role::Maker => None,
    }
}

pub(crate) fn role_word(role: Role) -> &'static str {
    match role {
        Role::Customer => "customer",
        Role::Occupant => "occupant",
        Role::Landlord => "landlord",
        Role::Manager => "manager",
        Role::OtherPresent => "someone present",
        Role::Technician => "technician",
        Role::AnotherTechnician => "another technician",
        Role::Utility => "utility",
        Role::Maker => "maker",
    }
}

/// Gives the place of a value among those of its observation.
pub(crate) fn value_of(machine: &Machine, what: machine::model::ObservationId, id: &str) -> Option<u8> {
    machine[what].values.iter().position(|value| value.id == id).and_then(|at| u8::try_from(at).ok())
}

fn cover_of(machine: &Machine, id: &str) -> Option<CoverId> {
    machine.access.steps.iter().position(|cover| cover.id == id).and_then(|at| u16::try_from(at).ok()).map(CoverId)
}

fn ends_of(machine: &Machine, leads: &[Place]) -> Vec<(TerminalId, BranchId)> {
    leads
        .iter()
        .filter_map(|place| {
            let (lead, at) = place.id.split_once('@')?;
            Some((machine.terminal(at).ok()?, machine.branch(lead).ok()?))
        })
        .collect()
}

/// Gives the terminals of a part and of its own branches that a probe can touch.
pub(crate) fn part_terminals(machine: &Machine, part: PartId) -> Vec<TerminalId> {
    let branches = machine.branches.iter().filter(|branch| branch.part == part);
    let all = machine[part].terminals.iter().copied().chain(branches.flat_map(|branch| [branch.from, branch.to]));
    let set: BTreeSet<TerminalId> = all.filter(|&id| !machine[id].hidden && id != machine.supply.earth).collect();
    set.into_iter().collect()
}
