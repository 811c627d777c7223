//! The covers that bear on a set of places, as bit sets with whole costs. Exact: one cover, one bit.
//!
//! Minutes become whole ticks of a thousandth of a second, so that sums do not depend on their order and a tie is a
//! tie. Covers already off are left out of every alternative; covers that can never come off take their alternative
//! with them.

use crate::exposure::{Open, cover_ids};
use crate::plan::{Blocked, Means};
use machine::access::{Access, Cover};
use machine::model::{CoverId, PlaceId};
use std::collections::BTreeSet;

/// A set of covers by their place in [`Graph::ids`].
pub(crate) type Set = u128;

/// Ticks of one minute: thousandths of a second.
pub(crate) const TICKS_PER_MINUTE: f64 = 60_000.0;

/// What the search runs on.
#[derive(Debug)]
pub(crate) struct Graph {
    /// The covers that bear on the places, lowest id first.
    pub(crate) ids: Vec<CoverId>,
    /// Cost off and on of each, ticks.
    pub(crate) ticks: Vec<u64>,
    /// Hazards of each, counted.
    pub(crate) hazards: Vec<u64>,
    /// Side of each, by first mention.
    pub(crate) side: Vec<usize>,
    /// Alternatives that must come first, of each; never empty lists of alternatives.
    pub(crate) needs: Vec<Vec<Set>>,
    /// Alternatives of each place that is not open yet.
    pub(crate) targets: Vec<Vec<Set>>,
    /// How many sides there are.
    pub(crate) sides: usize,
}

impl Graph {
    /// Lowers the places' access to bits.
    pub(crate) fn of(access: &Access, targets: &[PlaceId], open: &Open, means: &Means) -> Result<Self, Blocked> {
        let possible = possible(access, open, means);
        let ways = target_ways(access, targets, open, &possible)?;
        let ids: Vec<CoverId> = relevant(access, &ways, open, &possible).into_iter().collect();
        if ids.len() > 128 {
            return Err(Blocked::TooMany { covers: ids.len() });
        }
        let lower = |ways: &[Vec<CoverId>]| -> Vec<Set> { ways.iter().map(|way| bits(&ids, way)).collect() };
        let covers: Vec<&Cover> = ids.iter().filter_map(|id| access.steps.get(id.index())).collect();
        let mut names: Vec<&str> = Vec::new();
        for cover in &covers {
            if !names.contains(&cover.side.as_str()) {
                names.push(&cover.side);
            }
        }
        let side = covers.iter().filter_map(|cover| names.iter().position(|name| *name == cover.side)).collect();
        Ok(Self {
            ticks: covers.iter().map(|c| ticks(c.minutes_off).saturating_add(ticks(c.minutes_on))).collect(),
            hazards: covers.iter().map(|c| c.hazards.len() as u64).collect(),
            side,
            needs: covers.iter().map(|c| lower(&still_needed(&c.needs, open, &possible, true))).collect(),
            targets: ways.iter().map(|ways| lower(ways)).collect(),
            sides: names.len(),
            ids,
        })
    }

    /// Adds up the ticks of the covers in the set.
    pub(crate) fn cost(&self, set: Set) -> u64 {
        members(set).map(|bit| self.ticks[bit]).fold(0, u64::saturating_add)
    }
}

/// Lists the bits of a set, lowest first.
pub(crate) fn members(mut set: Set) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        if set == 0 {
            return None;
        }
        let bit = set.trailing_zeros() as usize;
        set &= set - 1;
        Some(bit)
    })
}

/// Rounds minutes to whole ticks; what is no time at all (negative, not a number) counts nothing.
pub(crate) fn ticks(minutes: f64) -> u64 {
    let ticks = (minutes * TICKS_PER_MINUTE).round();
    if ticks > 0.0 && ticks < 9.0e15 {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole, positive, under 2^53")]
        let whole = ticks as u64;
        whole
    } else if ticks > 0.0 {
        9_000_000_000_000_000
    } else {
        0
    }
}

/// Gives ticks back as minutes.
pub(crate) fn minutes(ticks: u64) -> f64 {
    ticks as f64 / TICKS_PER_MINUTE
}

/// Finds every cover that can come off at all, with what is on hand.
fn possible(access: &Access, open: &Open, means: &Means) -> Open {
    let mut off = open.clone();
    loop {
        let before = off.len();
        for id in cover_ids(access) {
            let doable = access.steps.get(id.index()).is_some_and(|cover| doable(cover, means));
            if doable && crate::exposure::can_open(access, id, &off) {
                off.opened(id);
            }
        }
        if off.len() == before {
            return off;
        }
    }
}

fn doable(cover: &Cover, means: &Means) -> bool {
    cover.people <= means.people && !cover.fasteners.iter().any(|f| means.without.contains(&f.tool))
}

/// Alternatives that can still be done, without what is off already.
fn still_needed(ways: &[Vec<CoverId>], open: &Open, possible: &Open, empty_is_free: bool) -> Vec<Vec<CoverId>> {
    if ways.is_empty() && empty_is_free {
        return vec![Vec::new()];
    }
    let doable = ways.iter().filter(|way| possible.has_all(way));
    doable.map(|way| way.iter().copied().filter(|&cover| !open.has(cover)).collect()).collect()
}

fn target_ways(
    access: &Access,
    targets: &[PlaceId],
    open: &Open,
    possible: &Open,
) -> Result<Vec<Vec<Vec<CoverId>>>, Blocked> {
    let mut all = Vec::new();
    let sorted: BTreeSet<PlaceId> = targets.iter().copied().collect();
    for target in sorted {
        let place = access.places.get(target.index()).ok_or(Blocked::UnknownPlace(target))?;
        let ways = still_needed(&place.exposed_by, open, possible, false);
        if ways.is_empty() {
            let lacking = |way: &Vec<CoverId>| way.iter().copied().filter(|&c| !possible.has(c)).collect::<Vec<_>>();
            let missing = place.exposed_by.iter().map(lacking).min_by_key(Vec::len).unwrap_or_default();
            return Err(Blocked::NoWay { place: target, missing });
        }
        if ways.iter().all(|way| !way.is_empty()) {
            all.push(ways);
        }
    }
    Ok(all)
}

/// Every cover that some alternative of the places, or of a cover that bears on them, names.
fn relevant(access: &Access, ways: &[Vec<Vec<CoverId>>], open: &Open, possible: &Open) -> BTreeSet<CoverId> {
    let mut found: BTreeSet<CoverId> = BTreeSet::new();
    let mut to_see: Vec<CoverId> = ways.iter().flatten().flatten().copied().collect();
    while let Some(id) = to_see.pop() {
        if !found.insert(id) {
            continue;
        }
        if let Some(cover) = access.steps.get(id.index()) {
            to_see.extend(still_needed(&cover.needs, open, possible, true).into_iter().flatten());
        }
    }
    found
}

fn bits(ids: &[CoverId], way: &[CoverId]) -> Set {
    way.iter().filter_map(|id| ids.iter().position(|other| other == id)).fold(0, |set, bit| set | (1 << bit))
}
