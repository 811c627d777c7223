//! Which call to go on with, out of everything the book holds. Refuses to open sealed records.

use book::{
    Body, CallOpened, DeviceId, Event, EventId, FactKind, JobFact, JobId, MachineFile, Purpose, ShopFact, Standing,
    VisitPromised, ZonedTime, fold_book, fold_job,
};
use std::collections::BTreeSet;

/// A call to go on with.
#[derive(Clone, Debug)]
pub struct Unfinished {
    /// Its job, if that is open already.
    pub job: Option<JobId>,
    /// Its events in the order of the book; what was undone is left out.
    pub events: Vec<Event>,
}

/// A job that waits for another visit.
#[derive(Clone, Debug)]
pub struct Waiting {
    /// The job.
    pub job: JobId,
    /// What the visit is for.
    pub purpose: Purpose,
    /// The window that was promised for it, if one was.
    pub promised: Option<(ZonedTime, ZonedTime)>,
    /// Its events in the order of the book; what was undone is left out.
    pub events: Vec<Event>,
}

impl Waiting {
    /// Says what it waits for.
    #[must_use]
    pub fn waits_for(&self) -> String {
        let what = match self.purpose {
            Purpose::First => "a visit",
            Purpose::WithPart => "a part",
            Purpose::DeferredProof => "a proof that was put off",
            Purpose::Return => "another visit",
        };
        match &self.promised {
            Some((from, to)) => format!("{what}, promised {}", say_window(from, to)),
            None => what.to_owned(),
        }
    }
}

/// Says a window as the clock on the wall has it: `2026-12-01 09:00 to 12:00`.
#[must_use]
pub fn say_window(from: &ZonedTime, to: &ZonedTime) -> String {
    let clock = |time: &ZonedTime| time.as_str().get(11..16).unwrap_or_default().to_owned();
    let day = from.as_str().get(..10).unwrap_or_default();
    format!("{day} {} to {}", clock(from), clock(to))
}

/// Finds the call that was broken off last on this device: one that it wrote a fact of. `events` in the order of the book.
#[must_use]
pub fn unfinished(events: &[Event], device: DeviceId) -> Option<Unfinished> {
    let jobs = jobs(events);
    if let Some(begun) = begun(events, &jobs, device) {
        return Some(begun);
    }
    let book = fold_book(events);
    let own = |job: &JobId| {
        let last = book.jobs.get(job).filter(|job| open_call(job))?.calls.last();
        let wrote = |event: &Event| {
            let scope = event.body().scope();
            // Before a visit was opened the job's own opening counts.
            let of_call =
                last.map_or(event.id() == job.0, |call| scope.call == Some(call.id) || event.id() == call.id.0);
            event.id().device() == device && of_call
        };
        events.iter().any(wrote).then_some(())
    };
    let job = jobs.into_iter().rev().find(|job| own(job).is_some())?;
    Some(Unfinished { job: Some(job), events: events_of(events, job) })
}

/// Lists the jobs that wait for a promised visit, a part, or a proof that was put off: promised ones by their time, then the
/// others, the latest first.
#[must_use]
pub fn waiting(events: &[Event]) -> Vec<Waiting> {
    let book = fold_book(events);
    let waits = |job: JobId| {
        let folded = book.jobs.get(&job)?;
        let purpose = match folded.standing() {
            Standing::AwaitingPart => Purpose::WithPart,
            Standing::AwaitingProof => Purpose::DeferredProof,
            Standing::Promised => Purpose::First,
            Standing::Open | Standing::UnderWay | Standing::Closed | Standing::Undone => return None,
        };
        Some(Waiting { job, purpose, promised: promised(folded), events: events_of(events, job) })
    };
    let mut all: Vec<Waiting> = jobs(events).into_iter().rev().filter_map(waits).collect();
    // What is promised comes first, in its order; the rest stays the latest first.
    let when = |of: &Waiting| of.promised.as_ref().and_then(|(from, _)| from.moment());
    all.sort_by_key(|of| when(of).map_or((1, None), |moment| (0, Some(moment))));
    all
}

/// Gives the window promised last, if no visit was begun since.
fn promised(job: &book::Job) -> Option<(ZonedTime, ZonedTime)> {
    let mut all = job.timeline.iter().enumerate().rev();
    let (at, promised) = all.find_map(|(at, entry)| VisitPromised::of(&entry.fact).map(|promised| (at, promised)))?;
    let made = job.timeline.iter().skip(at).any(|entry| CallOpened::of(&entry.fact).is_some());
    (!made).then(|| promised.window.clone())
}

/// Gives the file of the machine that the events of a job name.
#[must_use]
pub fn machine_of(events: &[Event]) -> Option<MachineFile> {
    events.iter().rev().find_map(|event| match event.body() {
        Body::Shop(ShopFact::ApplianceAdded(added)) => added.machine.clone(),
        _ => None,
    })
}

fn jobs(events: &[Event]) -> Vec<JobId> {
    let opened = events.iter().filter(|event| matches!(event.body(), Body::Shop(ShopFact::JobOpened(_))));
    opened.map(|event| JobId(event.id())).collect()
}

/// The latest visit of a job has not ended, and the job was not opened by mistake.
fn open_call(job: &book::Job) -> bool {
    let ended = job.calls.last().is_some_and(|call| call.ended.is_some());
    !ended && !job.opening_undone && job.closed.is_none() && job.opened.is_some()
}

/// A customer called and no job is opened yet; one taken in from a list has not called.
fn begun(events: &[Event], jobs: &[JobId], device: DeviceId) -> Option<Unfinished> {
    let called = |event: &Event| {
        event.id().device() == device
            && matches!(event.body(), Body::Shop(ShopFact::CustomerAdded(added)) if !added.listed)
    };
    let customer = events.iter().rposition(called)?;
    // What other devices did since is none of this call's.
    let tail: Vec<&Event> = events.get(customer..)?.iter().filter(|event| event.id().device() == device).collect();
    let opened = tail.iter().any(|event| jobs.contains(&JobId(event.id())));
    let only_shop = tail.iter().all(|event| matches!(event.body(), Body::Shop(_)));
    let listed = |event: &Event| matches!(event.body(), Body::Shop(ShopFact::CustomerAdded(added)) if added.listed);
    let own = || tail.iter().filter(|event| !listed(event)).map(|event| (*event).clone()).collect();
    (!opened && only_shop).then(|| Unfinished { job: None, events: own() })
}

/// Gives the events of a job with its customer's and its appliance's, in order, without what was undone.
#[must_use]
pub fn events_of(events: &[Event], job: JobId) -> Vec<Event> {
    let Some(folded) = fold_job(events, job) else { return Vec::new() };
    let undone = undone(events);
    let customer = folded.opened.as_ref().map(|opened| opened.fact.customer);
    let speaks = |event: &Event| match event.body() {
        Body::Shop(ShopFact::CustomerAdded(_)) => customer.is_some_and(|customer| customer.0 == event.id()),
        Body::Shop(ShopFact::CustomerChanged(changed)) => Some(changed.customer) == customer,
        Body::Shop(ShopFact::ApplianceAdded(_)) => folded.appliance.is_some_and(|appliance| appliance.0 == event.id()),
        Body::Shop(ShopFact::ApplianceLearned(learned)) => Some(learned.appliance) == folded.appliance,
        Body::Undo { .. } => false,
        Body::Job { fact: JobFact::CallOpened(_), job: of, .. } => *of == job,
        other => event.id() == job.0 || other.scope().job == Some(job),
    };
    events.iter().filter(|event| !undone.contains(&event.id()) && speaks(event)).cloned().collect()
}

/// Gives the other jobs on the same appliance.
#[must_use]
pub fn jobs_beside(events: &[Event], job: JobId) -> Vec<JobId> {
    let book = fold_book(events);
    let Some(appliance) = book.jobs.get(&job).and_then(|job| job.appliance) else { return Vec::new() };
    let beside = book.jobs.values().filter(|of| of.id != job && of.appliance == Some(appliance));
    beside.map(|of| of.id).collect()
}

/// Gives the events of the other jobs on the same appliance, in order, without what was undone.
#[must_use]
pub fn other_jobs_of(events: &[Event], job: JobId) -> Vec<Event> {
    let beside = jobs_beside(events, job);
    let undone = undone(events);
    let other = |id: JobId| beside.contains(&id);
    let speaks = |event: &&Event| !undone.contains(&event.id()) && event.body().scope().job.is_some_and(other);
    events.iter().filter(speaks).cloned().collect()
}

/// Gives what is taken back: an undo counts unless a later one takes it back in turn.
fn undone(events: &[Event]) -> BTreeSet<EventId> {
    let mut undone = BTreeSet::new();
    for event in events.iter().rev() {
        match event.body() {
            Body::Undo { undone: of, .. } if !undone.contains(&event.id()) => {
                undone.insert(of.event);
            }
            _ => {}
        }
    }
    undone
}
