//! From an order of covers to steps in and back; closing up to run. Chooses no way in.

use crate::WALK_MINUTES;
use crate::exposure::{Open, can_open, cover_ids, exposed, place_ids};
use crate::graph::{minutes, ticks};
use crate::plan::{Act, FastenerCount, Means, Step, Teardown};
use machine::access::{Access, Cover, Hazard};
use machine::model::CoverId;
use std::collections::{BTreeMap, BTreeSet};

/// Builds the plan that opens these covers in this order.
pub(crate) fn teardown(access: &Access, covers: &[CoverId], open: &Open, means: &Means, proven: bool) -> Teardown {
    let mut after = open.clone();
    let mut steps_in = Vec::new();
    for &id in covers {
        if let Some(cover) = access.steps.get(id.index()) {
            let before = after.clone();
            after.opened(id);
            steps_in.push(step_off(id, cover, laid_open(access, &before, &after)));
        }
    }
    let walks = walks(&steps_in);
    if means.lifts_leads || !steps_in.is_empty() {
        steps_in.push(photo(steps_in.last()));
    }
    let steps_back = way_back(access, covers);
    let everything = || steps_in.iter().chain(&steps_back);
    let cautions: BTreeSet<Hazard> = everything().flat_map(|step| step.cautions.iter().copied()).collect();
    let tools: BTreeSet<String> =
        everything().flat_map(|step| &step.fasteners).map(|fastener| fastener.tool.clone()).collect();
    Teardown {
        minutes_in: total(&steps_in, walks),
        minutes_back: total(&steps_back, walks),
        fasteners_out: count(&steps_in),
        fasteners_in: count(&steps_back),
        tools: tools.into_iter().collect(),
        people: everything().map(|step| step.people).max().unwrap_or(1).max(1),
        cautions: cautions.into_iter().collect(),
        open_after: after,
        proven_least: proven,
        steps_in,
        steps_back,
    }
}

/// Mirrors covers that came off in this order: the last off goes on first.
///
/// What exists only on the way back comes just before the cover that hides it.
#[must_use]
pub fn way_back(access: &Access, opened: &[CoverId]) -> Vec<Step> {
    let mut steps = Vec::new();
    for &id in opened.iter().rev() {
        let Some(cover) = access.steps.get(id.index()) else { continue };
        for say in &cover.only_back {
            steps.push(plain(Act::OnlyBack(id), say.clone(), cover.side.clone()));
        }
        steps.push(step_on(id, cover));
    }
    steps
}

/// Finds a legal order in which these covers came off, or could have; those that fit in no order come last.
#[must_use]
pub fn legal_order(access: &Access, off: &Open) -> Vec<CoverId> {
    let mut now = Open::nothing();
    let mut order = Vec::new();
    let mut side: Option<&str> = None;
    let side_of = |id: CoverId| access.steps.get(id.index()).map(|cover| cover.side.as_str());
    loop {
        let ready: Vec<CoverId> = off.iter().filter(|&id| can_open(access, id, &now)).collect();
        let here = ready.iter().copied().find(|&id| side.is_some() && side_of(id) == side);
        let Some(next) = here.or_else(|| ready.first().copied()) else { break };
        now.opened(next);
        order.push(next);
        side = side_of(next);
    }
    order.extend(off.iter().filter(|&id| !now.has(id)));
    order
}

/// Lists what must go back on before the machine is energised and left running, in the order of closing.
///
/// Beside the covers that say so themselves these are the ones that came off behind them and would be shut in.
#[must_use]
pub fn must_close_to_run(access: &Access, open: &Open) -> Vec<CoverId> {
    let closed_to_run = |id: CoverId| access.steps.get(id.index()).is_some_and(|cover| cover.closed_to_run);
    let mut may_stay = Open::nothing();
    loop {
        let before = may_stay.len();
        for id in cover_ids(access).filter(|&id| open.has(id) && !closed_to_run(id)) {
            if can_open(access, id, &may_stay) {
                may_stay.opened(id);
            }
        }
        if may_stay.len() == before {
            break;
        }
    }
    // WHY NOT only the marked ones: a panel cannot go on over a drum that is out.
    if !open.iter().any(closed_to_run) {
        return Vec::new();
    }
    legal_order(access, open).into_iter().rev().filter(|&id| !may_stay.has(id)).collect()
}

/// Gives the steps that close up to run, as [`must_close_to_run`] lists them.
#[must_use]
pub fn close_to_run(access: &Access, open: &Open) -> Vec<Step> {
    let mut order = must_close_to_run(access, open);
    order.reverse();
    way_back(access, &order)
}

/// Adds up the minutes of steps, with the walks between sides.
#[must_use]
pub fn minutes_to_close(steps: &[Step]) -> f64 {
    total(steps, walks(steps))
}

fn step_off(id: CoverId, cover: &Cover, laid_open: BTreeSet<Hazard>) -> Step {
    let cautions: BTreeSet<Hazard> = cover.hazards.iter().copied().chain(laid_open).collect();
    Step {
        act: Act::Open(id),
        say: cover.say.clone(),
        side: cover.side.clone(),
        minutes: minutes(ticks(cover.minutes_off)),
        people: cover.people,
        fasteners: cover.fasteners.clone(),
        keep_for_last: cover.keep_for_last.clone(),
        cautions: cautions.into_iter().collect(),
    }
}

fn step_on(id: CoverId, cover: &Cover) -> Step {
    let cautions: BTreeSet<Hazard> = cover.hazards.iter().copied().collect();
    Step {
        act: Act::Close(id),
        say: cover.say_back.clone(),
        side: cover.side.clone(),
        minutes: minutes(ticks(cover.minutes_on)),
        people: cover.people,
        fasteners: cover.fasteners.clone(),
        keep_for_last: cover.keep_for_last.clone(),
        cautions: cautions.into_iter().collect(),
    }
}

fn photo(after: Option<&Step>) -> Step {
    let side = after.map(|step| step.side.clone()).unwrap_or_default();
    plain(Act::Photo, "take a photo of the wiring before the first lead lifts".to_owned(), side)
}

fn plain(act: Act, say: String, side: String) -> Step {
    Step { act, say, side, minutes: 0.0, people: 1, fasteners: Vec::new(), keep_for_last: None, cautions: Vec::new() }
}

/// Hazards of the places that the last cover laid open.
fn laid_open(access: &Access, before: &Open, after: &Open) -> BTreeSet<Hazard> {
    let fresh = place_ids(access).filter(|&id| exposed(access, id, after) && !exposed(access, id, before));
    fresh.filter_map(|id| access.places.get(id.index())).flat_map(|place| place.hazards.iter().copied()).collect()
}

fn walks(steps: &[Step]) -> u64 {
    steps.windows(2).filter(|pair| pair[0].side != pair[1].side).count() as u64
}

fn total(steps: &[Step], walks: u64) -> f64 {
    let work = steps.iter().map(|step| ticks(step.minutes)).fold(0, u64::saturating_add);
    minutes(work.saturating_add(walks.saturating_mul(ticks(WALK_MINUTES))))
}

fn count(steps: &[Step]) -> Vec<FastenerCount> {
    let mut kinds: BTreeMap<(String, String), u32> = BTreeMap::new();
    for fastener in steps.iter().flat_map(|step| &step.fasteners) {
        let count = kinds.entry((fastener.what.clone(), fastener.tool.clone())).or_default();
        *count = count.saturating_add(fastener.count);
    }
    kinds.into_iter().map(|((what, tool), count)| FastenerCount { what, tool, count }).collect()
}
