//! One call as a state machine over its facts.
//!
//! [`Session::due`] says what follows from what is recorded without anybody being asked; [`Session::ask`] says what is
//! asked now; [`Session::answer`] turns an answer into the one fact it is, and changes nothing. Whoever drives the
//! session records facts in the book first and then hands the events to [`Session::apply`]. So nothing that was
//! acknowledged can be lost, and a call taken up again goes on where it stopped.

use crate::answers;
use crate::ask::{Answer, Ask, Refused};
use crate::now::Now;
use crate::settings::Settings;
use crate::stages;
use book::{Body, CallFact, Event, EventId, JobFact, ShopFact, Stage, StageEntered};
use danger::{Gate, Permit, Refusal, Situation, StepRequest};
use diagnosis::{Assumptions, Belief, Evidence};
use machine::model::Machine;
use prediction::Predictor;
use repair::Bench;
use std::cell::RefCell;
use std::collections::BTreeSet;

/// Acts foreseen at once: a few thousandths of a second, so that a touch need not wait.
const FORESEEN_AT_ONCE: usize = 16;

/// One call under way.
#[derive(Debug)]
pub struct Session<'p, 'm> {
    pub(crate) predictor: &'p Predictor<'m>,
    pub(crate) settings: Settings,
    pub(crate) now: Now,
    pub(crate) belief: Belief<'p, 'm>,
    /// What comes next after so many events: planning is not done twice.
    planned: RefCell<Option<(usize, Next)>>,
    /// How far is foreseen what a proposal will need: after so many things found, the act to go on from.
    foreseen: (usize, Option<usize>),
    events: Vec<Event>,
}

/// A fact before the shell has given it a name.
#[derive(Clone, Debug)]
pub(crate) enum Said {
    Shop(ShopFact),
    Job(JobFact),
    Call(CallFact),
}

/// What comes next.
#[derive(Clone, Debug)]
pub(crate) enum Next {
    /// A fact that follows.
    Due(Said),
    /// A question.
    Ask(Box<Ask>),
}

impl Said {
    pub(crate) fn shop(fact: impl Into<ShopFact>) -> Self {
        Self::Shop(fact.into())
    }

    pub(crate) fn job(fact: impl Into<JobFact>) -> Self {
        Self::Job(fact.into())
    }

    pub(crate) fn call(fact: impl Into<CallFact>) -> Self {
        Self::Call(fact.into())
    }

    /// A line done.
    pub(crate) fn done(step: &str, said: Option<&str>) -> Self {
        let (step, said) = (step.to_owned(), said.map(str::to_owned));
        Self::call(book::StepDone { step, said, answers: None })
    }
}

impl Next {
    pub(crate) fn ask(ask: Ask) -> Option<Self> {
        Some(Self::Ask(Box::new(ask)))
    }

    pub(crate) fn due(said: Said) -> Option<Self> {
        Some(Self::Due(said))
    }
}

/// What is assumed before any evidence: of this appliance, and of this shop's readings and customers.
fn assumptions(now: &Now, machine: &Machine, settings: &Settings) -> Assumptions {
    Assumptions { weights: now.known.weights(machine), ..settings.assumed.clone() }
}

impl<'p, 'm> Session<'p, 'm> {
    /// Begins with nothing recorded.
    #[must_use]
    pub fn new(predictor: &'p Predictor<'m>, settings: Settings) -> Self {
        let now = Now::default();
        let belief = Belief::new(predictor, assumptions(&now, predictor.machine(), &settings));
        Self {
            predictor,
            settings,
            now,
            belief,
            planned: RefCell::default(),
            foreseen: (0, Some(0)),
            events: Vec::new(),
        }
    }

    /// Takes a call up again from its events, in the order of the book; what was undone must be left out.
    #[must_use]
    pub fn resume(predictor: &'p Predictor<'m>, settings: Settings, events: &[Event]) -> Self {
        let mut session = Self::new(predictor, settings);
        for event in events {
            session.apply(event);
        }
        session
    }

    /// Gives the machine.
    #[must_use]
    pub fn machine(&self) -> &'m Machine {
        self.predictor.machine()
    }

    /// Gives the predictor.
    #[must_use]
    pub fn predictor(&self) -> &'p Predictor<'m> {
        self.predictor
    }

    /// Gives the settings.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Asks the gate whether a repair may be done as the machine stands.
    ///
    /// # Errors
    /// The gate's [`Refusal`].
    pub fn permit_repair(&self, repair: machine::model::RepairId) -> Result<Permit, Refusal> {
        self.permit(StepRequest::Repair(repair))
    }

    /// Works out a little of what the next proposal will need; says whether more is left. Changes nothing that is asked: it
    /// is for the seconds in which the technician's hands are busy.
    pub fn foresee(&mut self) -> bool {
        let found = self.now.evidence.len();
        if self.foreseen.0 != found {
            self.foreseen = (found, Some(0));
        }
        // Before anything is reported every fault is in play, and nothing is proposed.
        if found == 0 || self.now.ended {
            return false;
        }
        let Some(from) = self.foreseen.1 else { return false };
        let bench = self.bench();
        self.foreseen.1 = repair::foresee(&self.belief, &bench, from, FORESEEN_AT_ONCE);
        if self.foreseen.1.is_none() {
            // A browser makes code fast once it has run: the first plan that somebody waits for must not be the first.
            drop(repair::advise(&self.belief, &bench, &self.settings.prices, 0));
        }
        self.foreseen.1.is_some()
    }

    /// Gives the belief.
    #[must_use]
    pub fn belief(&self) -> &Belief<'p, 'm> {
        &self.belief
    }

    /// Weighs the repair that was quoted last against a new appliance, with what is known better than what is assumed; `None`
    /// while nothing is quoted.
    #[must_use]
    pub fn weighed(&self, supposed: &crate::Supposed) -> Option<crate::Weighed> {
        let quoted = self.now.quotes.last()?;
        stages::agree::weighed(self, &quoted.given.low, supposed)
    }

    /// Gives the events taken so far.
    #[must_use]
    pub fn events(&self) -> &[Event] {
        &self.events
    }

    /// Gives the job, once it is open.
    #[must_use]
    pub fn job(&self) -> Option<book::JobId> {
        self.now.job
    }

    /// Gives the name of the key that the customer's records are sealed with, once there is one.
    #[must_use]
    pub fn key(&self) -> Option<book::KeyId> {
        self.now.key
    }

    /// Gives the sealed record with the customer's details, once there is one.
    #[must_use]
    pub fn person(&self) -> Option<book::RecordId> {
        self.now.person
    }

    /// Gives the parts that are worked at now, by id: what the step in hand is done to.
    #[must_use]
    pub fn at_work(&self) -> Vec<String> {
        let machine = self.machine();
        let parts = match self.now.goal.as_ref().map(|goal| &goal.act) {
            Some(repair::Act::Change(repair)) => stages::fit::parts_of(self, *repair),
            Some(repair::Act::Look(part)) => vec![*part],
            Some(repair::Act::Read(reading, _)) => match reading.probe {
                prediction::Probe::Across(a, b) => vec![machine[a].part, machine[b].part],
                prediction::Probe::Around(branch) => vec![machine[branch].part],
            },
            _ => Vec::new(),
        };
        let mut ids: Vec<String> = parts.into_iter().map(|part| machine[part].id.clone()).collect();
        ids.dedup();
        ids
    }

    /// Says whether the call has ended and nothing more follows.
    #[must_use]
    pub fn ended(&self) -> bool {
        self.now.ended && !matches!(self.next(), Next::Due(_))
    }

    /// Takes the next event that is durable in the book.
    pub fn apply(&mut self, event: &Event) {
        let (known, taken) = (self.now.known.clone(), self.now.evidence.len());
        self.now.take(self.machine(), event);
        self.events.push(event.clone());
        if known == self.now.known {
            for item in self.now.evidence.iter().skip(taken) {
                self.belief.take(item.clone());
            }
        } else {
            self.belief = self.believe();
        }
    }

    /// Weighs all evidence afresh.
    fn believe(&self) -> Belief<'p, 'm> {
        let mut belief = Belief::new(self.predictor, assumptions(&self.now, self.machine(), &self.settings));
        for item in &self.now.evidence {
            belief.take(item.clone());
        }
        belief
    }

    /// Says that two devices worked on this call without knowing of each other, and what follows.
    #[must_use]
    pub fn at_once(&self) -> Option<&'static str> {
        let say = "Two phones worked on this call without knowing of each other. Both accounts are put together here: look \
                   through them, and prove the machine dead anew before you touch it.";
        self.now.at_once.then_some(say)
    }

    /// Gives the fact that follows from what is recorded without anybody being asked; it is recorded before anything is
    /// asked. `None` when something must be asked.
    #[must_use]
    pub fn due(&self) -> Option<Body> {
        match self.next() {
            Next::Due(said) => Some(self.body(said)),
            Next::Ask(_) => None,
        }
    }

    /// Gives what is asked now; as long as something is [`Self::due`], what would be asked cannot be known, and the
    /// last thing known is that nothing is asked.
    #[must_use]
    pub fn ask(&self) -> Ask {
        match self.next() {
            Next::Ask(ask) => *ask,
            Next::Due(_) => stages::ended(self),
        }
    }

    /// Turns an answer to [`Self::ask`] into its fact. Changes nothing.
    ///
    /// # Errors
    /// [`Refused`] says why the answer is not taken and what to do.
    pub fn answer(&self, answer: &Answer) -> Result<Body, Refused> {
        let ask = self.ask();
        answers::fact(self, &ask, answer).map(|said| self.body(said))
    }

    fn body(&self, said: Said) -> Body {
        match (said, self.now.job, self.now.call) {
            (Said::Shop(fact), _, _) => Body::Shop(fact),
            (Said::Job(fact), Some(job), call) => {
                let call = if matches!(fact, JobFact::CallOpened(_) | JobFact::JobClosed(_)) { None } else { call };
                Body::Job { job, call, fact }
            }
            (Said::Call(fact), Some(job), Some(call)) => Body::Call { job, call, fact },
            // Before a job is open only facts of the shop are said; see `stages::opening`.
            (Said::Job(_) | Said::Call(_), _, _) => Body::NotUnderstood {
                kind: "too_early".to_owned(),
                scope: book::Scope::default(),
                why: "said before the job was open".to_owned(),
            },
        }
    }

    pub(crate) fn next(&self) -> Next {
        if let Some((after, next)) = self.planned.borrow().as_ref()
            && *after == self.events.len()
        {
            return next.clone();
        }
        let next = match stages::next(self) {
            Next::Ask(ask) if self.now.call.is_some() && !self.now.ended && self.now.stage != Some(ask.stage) => {
                Next::Due(Said::call(StageEntered { stage: ask.stage }))
            }
            next => next,
        };
        *self.planned.borrow_mut() = Some((self.events.len(), next.clone()));
        next
    }

    /// Lists the events to undo so that the last answer is taken back, the last first; empty when nothing of this visit
    /// can be.
    #[must_use]
    pub fn to_undo(&self) -> Vec<EventId> {
        let mut undo = Vec::new();
        for event in self.events.iter().rev() {
            match event.body() {
                Body::Shop(ShopFact::ApplianceLearned(_)) => {}
                Body::Shop(_) | Body::Job { fact: JobFact::CallOpened(_), .. } => return Vec::new(),
                _ => {}
            }
            undo.push(event.id());
            if !follows(event.body()) {
                return undo;
            }
        }
        Vec::new()
    }

    pub(crate) fn stage(&self) -> Stage {
        self.now.stage.unwrap_or(Stage::Intake)
    }

    /// Stands at the gate with the facts of the moment.
    pub(crate) fn permit(&self, request: StepRequest) -> Result<Permit, Refusal> {
        Gate::of(self.machine()).permit(request, &self.situation())
    }

    /// Gives the facts of the moment for the gate. Every ask that switches on tells to clear everyone first, and its
    /// answer says that this was done.
    #[must_use]
    pub fn situation(&self) -> Situation {
        let now = &self.now;
        let ends: BTreeSet<_> = now.lifted.iter().map(|(at, _)| *at).collect();
        let all_off = |at: &machine::model::TerminalId| {
            self.machine().leads_at(*at).iter().all(|lead| now.lifted.contains(&(*at, *lead)))
        };
        Situation {
            energy: now.energy.clone(),
            open: now.open(),
            gas_smelled: now.gas == Some(true),
            wet: now.water == Some(true) && !now.did("dried"),
            people_clear: true,
            lifted: ends.into_iter().filter(all_off).collect(),
            capped: BTreeSet::new(),
            dead: now.dead.clone(),
            boards: stages::board::evidence(self),
            hazards: now.hazards.iter().map(|(_, hazard)| hazard.clone()).collect(),
        }
    }

    /// Gives the bench for planning.
    #[must_use]
    pub fn bench(&self) -> Bench {
        let (machine, now) = (self.machine(), &self.now);
        let mut bench = Bench { open: now.open(), out_of_reach: now.out_of_reach.clone(), ..Bench::default() };
        bench.isolated = now.energy.isolated_and_secured();
        for item in &now.evidence {
            crate::callfile::note(self.predictor, &mut bench, item);
        }
        bench.trouble = self.trouble();
        let repairs = (0..).map(machine::model::RepairId).zip(&machine.repairs);
        let missing = repairs.filter(|(_, repair)| !self.settings.van.holds(machine, repair));
        bench.not_on_van = missing.map(|(id, _)| id).collect();
        bench
    }

    /// Gives the states that show the trouble, by what was reported or watched otherwise than on a sound machine.
    pub(crate) fn trouble(&self) -> Vec<machine::model::StateId> {
        let mut states = Vec::new();
        let mut all: Vec<_> = self.now.uses.first().copied().into_iter().collect();
        for item in &self.now.evidence {
            if let Evidence::Reported(seen) | Evidence::Answered(seen) | Evidence::Watched(seen) = item
                && !self.predictor.is_sound(seen)
            {
                all.push(seen.state);
            }
        }
        for state in all {
            if !states.contains(&state) {
                states.push(state);
            }
        }
        if states.is_empty() {
            states.extend((self.machine().states.len() > 1).then_some(machine::model::StateId(1)));
        }
        states
    }
}

/// Says whether a fact follows by itself rather than from an answer.
pub(crate) fn follows(body: &Body) -> bool {
    match body {
        Body::Shop(fact) => matches!(fact, ShopFact::JobOpened(_)),
        Body::Job { fact, .. } => matches!(
            fact,
            JobFact::CallOpened(_)
                | JobFact::QuoteGiven(_)
                | JobFact::FaultFound(_)
                | JobFact::ProofResult(_)
                | JobFact::JobClosed(_)
        ),
        Body::Call { fact, .. } => matches!(
            fact,
            CallFact::StageEntered(_)
                | CallFact::SupplyChecked(_)
                | CallFact::MadeSafe(_)
                | CallFact::StepProposed(_)
                | CallFact::CallEnded(_)
        ),
        Body::Undo { .. } | Body::NotUnderstood { .. } => true,
    }
}
