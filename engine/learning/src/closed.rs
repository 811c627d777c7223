//! Closed jobs as the book tells them.

use crate::hands::Took;
use billing::bill;
use book::{
    Arrived, Body, Book, CallFact, CallId, End, Event, Fact, FaultFound, Job, JobId, Money, PartChanged, ReadingTaken,
    StepDone, StepProposed, Work, ZonedTime, fold_book,
};
use std::collections::{BTreeMap, BTreeSet};

/// A closed job.
#[derive(Clone, Debug, PartialEq)]
pub struct Closed {
    /// The job.
    pub id: JobId,
    /// The machine file's id; empty where there is none.
    pub machine: String,
    /// Age of the appliance in years, if known.
    pub age_years: Option<f64>,
    /// When it was closed.
    pub at: ZonedTime,
    /// Month, such as `2026-03`.
    pub month: String,
    /// Faults found, as `part:fault`, sorted.
    pub faults: Vec<String>,
    /// What was found, in words.
    pub found: String,
    /// How the last visit ended.
    pub end: Option<End>,
    /// Visits made; the telephone is none.
    pub visits: u32,
    /// The job is for a fault that came back.
    pub is_callback: bool,
    /// The fault came back: another job says so.
    pub came_back: bool,
    /// Minutes from the first arrival to the first part changed, if both were recorded.
    pub minutes_to_find: Option<f64>,
    /// Parts changed.
    pub parts: u32,
    /// Proposals made, and how many of them gave way to an own step.
    pub proposals: (u32, u32),
    /// What the tool stated just before the first part was changed: share, and whether it was so.
    pub stated: Vec<(f64, bool)>,
    /// Readings taken, and how many were taken again and showed something else.
    pub readings: (u32, u32),
    /// What the customer had told of states that were then run, and how much of it was otherwise.
    pub told: (u32, u32),
    /// Pieces of hands' work with the time each took.
    pub took: Vec<Took>,
    /// What was charged, without tax.
    pub charged: Vec<Money>,
}

impl Closed {
    /// Mended, settled or explained on the first visit or before it, and not come back.
    #[must_use]
    pub fn first_visit_fix(&self) -> bool {
        self.visits <= 1 && self.good_end() && !self.came_back
    }

    /// It ended with nothing left to do.
    #[must_use]
    pub fn good_end(&self) -> bool {
        matches!(self.end, Some(End::Proved | End::UseExplained | End::SettledByTelephone { .. }))
    }

    /// Every step was the one proposed.
    #[must_use]
    pub fn followed(&self) -> bool {
        self.proposals.1 == 0
    }
}

/// Reads the closed jobs out of a book's events, the earliest first by when they were closed.
#[must_use]
pub fn closed_jobs(events: &[Event]) -> Vec<Closed> {
    let book = fold_book(events);
    let came_back: BTreeSet<JobId> =
        book.jobs.values().filter_map(|job| job.opened.as_ref()?.fact.callback_of).collect();
    let order: BTreeMap<JobId, usize> = events
        .iter()
        .enumerate()
        .filter_map(|(at, event)| match event.body() {
            Body::Job { job, .. } => Some((*job, at)),
            _ => None,
        })
        .collect();
    let mut all: Vec<Closed> = book.jobs.values().filter_map(|job| closed(&book, job, &came_back)).collect();
    all.sort_by_key(|job| (job.month.clone(), order.get(&job.id).copied()));
    all
}

fn closed(book: &Book, job: &Job, came_back: &BTreeSet<JobId>) -> Option<Closed> {
    let at = job.closed.as_ref()?.at.clone();
    let appliance = job.appliance.and_then(|id| book.appliances.get(&id));
    let found = job.all::<FaultFound>().last().map(|(_, found)| found);
    let mut faults: Vec<String> = found
        .map(|found| found.faults.iter().map(|of| format!("{}:{}", of.part, of.fault)).collect())
        .unwrap_or_default();
    faults.sort_unstable();
    let telephone = |end: &End| matches!(end, End::VisitPromised | End::SettledByTelephone { .. });
    let visits = job.calls.iter().filter(|call| call.ended.as_ref().is_none_or(|ended| !telephone(&ended.fact.end)));
    let arrived = job.all::<Arrived>().next().and_then(|(entry, _)| entry.at.moment());
    let changed = job.all::<PartChanged>().next().and_then(|(entry, _)| entry.at.moment());
    let minutes = arrived.zip(changed).map(|(from, to)| seconds(to.as_second() - from.as_second()) / 60.0);
    Some(Closed {
        id: job.id,
        machine: appliance.and_then(|of| of.machine.as_ref()).map_or_else(String::new, |file| file.machine.clone()),
        age_years: appliance.and_then(|of| of.age_months).map(|months| f64::from(months) / 12.0),
        month: at.as_str().get(..7).unwrap_or_default().to_owned(),
        at,
        found: found.map_or_else(String::new, |found| found.words.clone()),
        end: job.calls.last().and_then(|call| call.ended.as_ref()).map(|ended| ended.fact.end.clone()),
        visits: count(visits.count()),
        is_callback: job.opened.as_ref().is_some_and(|opened| opened.fact.callback_of.is_some()),
        came_back: came_back.contains(&job.id),
        minutes_to_find: minutes.filter(|minutes| *minutes >= 0.0),
        parts: count(job.all::<PartChanged>().count()),
        proposals: (
            count(job.all::<StepProposed>().count()),
            count(job.all::<StepDone>().filter(|(_, done)| done.step == "instead").count()),
        ),
        stated: stated(job, &faults),
        readings: readings(job),
        told: told(job),
        took: took(job),
        charged: billing::total(&bill(job)),
        faults,
    })
}

/// What was stated by the last proposal before a part was changed, of each suspect it showed.
fn stated(job: &Job, faults: &[String]) -> Vec<(f64, bool)> {
    let before = job.timeline.iter().take_while(|entry| !matches!(entry.fact, Fact::Call(CallFact::PartChanged(_))));
    let last = before.filter_map(|entry| match &entry.fact {
        Fact::Call(CallFact::StepProposed(proposed)) => Some(&proposed.shown),
        _ => None,
    });
    let Some(shown) = last.last().filter(|_| job.all::<PartChanged>().next().is_some()) else { return Vec::new() };
    let so = |of: &[String]| {
        let mut of = of.to_vec();
        of.sort_unstable();
        of == faults
    };
    shown.suspects.iter().map(|of| (of.probability.get(), so(&of.faults))).collect()
}

/// Readings, and those of them that were taken again at once and showed something else.
fn readings(job: &Job) -> (u32, u32) {
    let all: Vec<&book::Reading> = job.all::<ReadingTaken>().map(|(_, taken)| &taken.reading).collect();
    let again = all.windows(2).filter(|pair| {
        let same = pair[0].places == pair[1].places && pair[0].state == pair[1].state;
        same && pair[0].instrument.function == pair[1].instrument.function && pair[0].typed != pair[1].typed
    });
    (count(all.len()), count(again.count()))
}

/// What the customer had told of a state that was then run before anything was changed, and how much of it was otherwise.
fn told(job: &Job) -> (u32, u32) {
    let before = job.timeline.iter().take_while(|entry| !matches!(entry.fact, Fact::Call(CallFact::PartChanged(_))));
    let mut tries: BTreeMap<(String, String), String> = BTreeMap::new();
    for entry in before {
        if let Fact::Call(CallFact::TryTaken(tried)) = &entry.fact {
            let seen = |seen: &book::Report| (tried.state.clone(), seen.observation.clone(), seen.value.clone());
            tries.extend(tried.observed.iter().map(seen).map(|(state, what, value)| ((state, what), value)));
        }
    }
    let added = job.all::<book::ComplaintAdded>().flat_map(|(_, added)| &added.complaint.reports);
    let opened = job.opened.iter().flat_map(|opened| &opened.fact.complaint.reports);
    let (mut all, mut otherwise) = (0, 0);
    for report in opened.chain(added) {
        let Some(state) = &report.state else { continue };
        let Some(seen) = tries.get(&(state.clone(), report.observation.clone())) else { continue };
        all += 1;
        otherwise += u32::from(seen != &report.value);
    }
    (all, otherwise)
}

/// Hands' work with the time since what was recorded before it on the same visit. On a live machine more is done than read, so
/// that such a reading tells nothing.
fn took(job: &Job) -> Vec<Took> {
    let mut before: BTreeMap<Option<CallId>, i64> = BTreeMap::new();
    let mut all = Vec::new();
    for entry in &job.timeline {
        let Some(at) = entry.at.moment().map(|at| at.as_second()) else { continue };
        let from = before.insert(entry.call, at);
        let (Fact::Call(fact), Some(from)) = (&entry.fact, from) else { continue };
        let (work, of) = match fact {
            CallFact::ReadingTaken(taken) if !taken.reading.energised && taken.reading.instrument.function == "ohm" => {
                (Work::Reading, String::new())
            }
            CallFact::LookTaken(taken) => (Work::Look, taken.look.clone()),
            CallFact::CoverOpened(opened) => (Work::CoverOff, opened.cover.clone()),
            CallFact::CoverClosed(closed) => (Work::CoverOn, closed.cover.clone()),
            CallFact::PartChanged(changed) => (Work::Repair, changed.part.clone()),
            _ => continue,
        };
        all.push(Took { work, of, minutes: seconds(at - from) / 60.0 });
    }
    all
}

fn count(of: usize) -> u32 {
    u32::try_from(of).unwrap_or(u32::MAX)
}

fn seconds(of: i64) -> f64 {
    i32::try_from(of).map_or(f64::INFINITY, f64::from)
}
