//! The types of a plan: steps in, steps back, what it takes. Knows no search.

use crate::exposure::Open;
use crate::search::marginal_minutes;
use machine::access::{Access, Fastener, Hazard};
use machine::model::{CoverId, PlaceId};
use std::collections::{BTreeMap, BTreeSet};

/// What the technician has with him; a cover that takes more is no way in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Means {
    /// People on hand.
    pub people: u8,
    /// Tools that are not on hand, in the words of the description.
    pub without: BTreeSet<String>,
    /// Leads will be lifted: a photo comes first even when no cover comes off.
    pub lifts_leads: bool,
}

impl Default for Means {
    /// Any number of people, every tool, no lead lifted.
    fn default() -> Self {
        Self { people: u8::MAX, without: BTreeSet::new(), lifts_leads: false }
    }
}

/// What one step does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Act {
    /// Takes a cover off.
    Open(CoverId),
    /// Takes the photo of the wiring, before the first lead lifts.
    Photo,
    /// Does what exists only on the way back, before this cover hides it.
    OnlyBack(CoverId),
    /// Puts a cover back.
    Close(CoverId),
}

/// One thing done by hand.
#[derive(Clone, Debug)]
pub struct Step {
    /// What it does.
    pub act: Act,
    /// In words.
    pub say: String,
    /// Side of the machine where one stands.
    pub side: String,
    /// Minutes, without the walk to the side.
    pub minutes: f64,
    /// People it takes.
    pub people: u8,
    /// Fasteners that come out, or go in on the way back.
    pub fasteners: Vec<Fastener>,
    /// The fastener that comes out last, and so goes in first, in words.
    pub keep_for_last: Option<String>,
    /// What can hurt, of the cover itself and of the places that this step lays open; each once, in order.
    pub cautions: Vec<Hazard>,
}

/// So many fasteners of one kind.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct FastenerCount {
    /// What: `hex-head screw`.
    pub what: String,
    /// Tool: `1/4 in nut driver`.
    pub tool: String,
    /// How many.
    pub count: u32,
}

/// The way in and the way back.
#[derive(Clone, Debug)]
pub struct Teardown {
    /// In order, from what was open already.
    pub steps_in: Vec<Step>,
    /// In order; closes exactly what the way in opened.
    pub steps_back: Vec<Step>,
    /// Minutes of the way in, walking included.
    pub minutes_in: f64,
    /// Minutes of the way back, walking included.
    pub minutes_back: f64,
    /// Fasteners that come out, by kind; the same number goes back in.
    pub fasteners_out: Vec<FastenerCount>,
    /// Fasteners that go back in, counted on the way back.
    pub fasteners_in: Vec<FastenerCount>,
    /// Tools, each once, in the order of their names.
    pub tools: Vec<String>,
    /// People that the step with the most takes; 1 when nothing comes off.
    pub people: u8,
    /// Everything that can hurt on the way, each once.
    pub cautions: Vec<Hazard>,
    /// What is off once the way in is done.
    pub open_after: Open,
    /// No way of fewer minutes exists. `false` only where the search was cut short; the plan is legal all the same.
    pub proven_least: bool,
}

impl Teardown {
    /// Lists the covers that come off, in order.
    #[must_use]
    pub fn opens(&self) -> Vec<CoverId> {
        let covers = self.steps_in.iter();
        covers.filter_map(|step| if let Act::Open(cover) = step.act { Some(cover) } else { None }).collect()
    }

    /// Adds up the minutes in and back.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        self.minutes_in + self.minutes_back
    }
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Blocked {
    /// Nothing that can be done exposes the place.
    NoWay {
        /// The place.
        place: PlaceId,
        /// Covers of its nearest alternative that cannot come off; empty when no cover exposes it at all.
        missing: Vec<CoverId>,
    },
    /// The machine has no such place.
    UnknownPlace(PlaceId),
    /// More covers bear on the places than a plan can hold.
    TooMany {
        /// How many bear on them.
        covers: usize,
    },
}

/// Remembers marginal minutes for a planner that asks again and again about one machine.
#[derive(Clone, Debug)]
pub struct Marginals<'a> {
    access: &'a Access,
    known: BTreeMap<(PlaceId, Open), Result<f64, Blocked>>,
}

impl<'a> Marginals<'a> {
    /// Starts with nothing known.
    #[must_use]
    pub fn of(access: &'a Access) -> Self {
        Self { access, known: BTreeMap::new() }
    }

    /// Gives [`marginal_minutes`], computed once for each place and each set of covers that are off.
    ///
    /// # Errors
    /// As [`marginal_minutes`].
    pub fn minutes(&mut self, place: PlaceId, open: &Open) -> Result<f64, Blocked> {
        let access = self.access;
        let key = (place, open.clone());
        self.known.entry(key).or_insert_with(|| marginal_minutes(access, place, open)).clone()
    }
}
