//! A judge of teardown plans, written apart from the planner: plays the plan step by step on plain sets and lists all
//! that is wrong with it. Shares no search, no bit sets and no exposure rules with the planner. Knows no least cost.

use crate::exposure::Open;
use crate::plan::{Act, Step, Teardown};
use machine::access::{Access, Fastener};
use machine::model::{CoverId, PlaceId};
use std::collections::{BTreeMap, BTreeSet};

/// What is wrong with a plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Illegal {
    /// The cover is off already, or is none of the machine.
    NotThere(CoverId),
    /// The cover comes off before what must come first.
    TooEarly(CoverId),
    /// The place is still hidden at the end of the way in.
    Hidden(PlaceId),
    /// The cover came off and never goes back, or goes back twice, or never came off.
    NotClosed(CoverId),
    /// The cover goes back while another that came off behind it is still out.
    ShutIn(CoverId),
    /// A step that exists only on the way back is missing, or comes after its cover.
    OnlyBackMissing(CoverId),
    /// Fasteners out and in differ, or are not those of the covers.
    Fasteners,
    /// No photo before the work begins, although a cover comes off.
    NoPhoto,
    /// A step does not carry its cover's hazards, people or words.
    StepDiffers(CoverId),
    /// A step of the way in stands on the way back, or the other way round.
    Misplaced,
    /// The sums (minutes without walking at least, people, what is off) do not follow from the steps.
    Sums,
}

/// Checks the plan against the machine; `Ok` when every step is legal at its time and the way back closes everything.
///
/// # Errors
/// Everything that is wrong with it, in the order of the steps.
pub fn check_teardown(access: &Access, targets: &[PlaceId], open: &Open, plan: &Teardown) -> Result<(), Vec<Illegal>> {
    let mut wrong = Vec::new();
    let start: BTreeSet<CoverId> = open.iter().collect();
    let opened = check_in(access, &start, &plan.steps_in, &mut wrong);
    let end: BTreeSet<CoverId> = start.iter().copied().chain(opened.iter().copied()).collect();
    for &target in targets {
        let ways = access.places.get(target.index()).map(|place| place.exposed_by.as_slice()).unwrap_or_default();
        if !ways.iter().any(|way| way.iter().all(|cover| end.contains(cover))) {
            wrong.push(Illegal::Hidden(target));
        }
    }
    check_back(access, &start, &opened, &plan.steps_back, &mut wrong);
    check_fasteners(access, &opened, plan, &mut wrong);
    check_sums(plan, &end, &mut wrong);
    if wrong.is_empty() { Ok(()) } else { Err(wrong) }
}

fn check_in(access: &Access, start: &BTreeSet<CoverId>, steps: &[Step], wrong: &mut Vec<Illegal>) -> Vec<CoverId> {
    let mut off = start.clone();
    let mut opened = Vec::new();
    let mut photo = false;
    for step in steps {
        match step.act {
            Act::Photo => photo = true,
            Act::Close(_) | Act::OnlyBack(_) => wrong.push(Illegal::Misplaced),
            Act::Open(id) => {
                if !first_things_first(access, &off, id) {
                    wrong.push(Illegal::TooEarly(id));
                }
                if !off.insert(id) || access.steps.get(id.index()).is_none() {
                    wrong.push(Illegal::NotThere(id));
                }
                if !carries(access, id, step, false) {
                    wrong.push(Illegal::StepDiffers(id));
                }
                opened.push(id);
            }
        }
    }
    if !opened.is_empty() && !photo {
        wrong.push(Illegal::NoPhoto);
    }
    opened
}

fn first_things_first(access: &Access, off: &BTreeSet<CoverId>, id: CoverId) -> bool {
    let Some(cover) = access.steps.get(id.index()) else { return false };
    if cover.needs.is_empty() {
        return true;
    }
    for way in &cover.needs {
        if way.iter().filter(|needed| !off.contains(needed)).count() == 0 {
            return true;
        }
    }
    false
}

fn carries(access: &Access, id: CoverId, step: &Step, back: bool) -> bool {
    let Some(cover) = access.steps.get(id.index()) else { return false };
    let say = if back { &cover.say_back } else { &cover.say };
    let near = (step.minutes - if back { cover.minutes_on } else { cover.minutes_off }.max(0.0)).abs() < 1e-4;
    let cautions = cover.hazards.iter().all(|hazard| step.cautions.contains(hazard));
    near && cautions
        && step.say == *say
        && step.people == cover.people
        && step.side == cover.side
        && step.keep_for_last == cover.keep_for_last
}

/// Going back is legal when, after each closing, the covers still off could have come off in some order.
fn check_back(
    access: &Access,
    start: &BTreeSet<CoverId>,
    opened: &[CoverId],
    steps: &[Step],
    wrong: &mut Vec<Illegal>,
) {
    let mut out: BTreeSet<CoverId> = opened.iter().copied().collect();
    let mut said: BTreeMap<CoverId, Vec<&str>> = BTreeMap::new();
    for step in steps {
        match step.act {
            Act::Open(_) | Act::Photo => wrong.push(Illegal::Misplaced),
            Act::OnlyBack(id) => said.entry(id).or_default().push(&step.say),
            Act::Close(id) => {
                if !out.remove(&id) {
                    wrong.push(Illegal::NotClosed(id));
                }
                let asked = access.steps.get(id.index()).map(|cover| cover.only_back.as_slice()).unwrap_or_default();
                let told = said.get(&id).map(Vec::as_slice).unwrap_or_default();
                if !asked.iter().all(|asked| told.contains(&asked.as_str())) {
                    wrong.push(Illegal::OnlyBackMissing(id));
                }
                if !carries(access, id, step, true) {
                    wrong.push(Illegal::StepDiffers(id));
                }
                if !could_be_off(access, start, &out) {
                    wrong.push(Illegal::ShutIn(id));
                }
            }
        }
    }
    wrong.extend(out.into_iter().map(Illegal::NotClosed));
}

/// Peels the set layer by layer from what was off at the start.
fn could_be_off(access: &Access, start: &BTreeSet<CoverId>, out: &BTreeSet<CoverId>) -> bool {
    let mut off = start.clone();
    let mut left: Vec<CoverId> = out.iter().copied().collect();
    while !left.is_empty() {
        let (free, held): (Vec<CoverId>, Vec<CoverId>) =
            left.into_iter().partition(|&id| first_things_first(access, &off, id));
        if free.is_empty() {
            return false;
        }
        off.extend(free);
        left = held;
    }
    true
}

fn check_fasteners(access: &Access, opened: &[CoverId], plan: &Teardown, wrong: &mut Vec<Illegal>) {
    let of_covers = opened.iter().filter_map(|id| access.steps.get(id.index()));
    let expected = tally(of_covers.flat_map(|cover| &cover.fasteners));
    let counted = |list: &[crate::FastenerCount]| -> BTreeMap<(String, String), u64> {
        list.iter().map(|kind| ((kind.what.clone(), kind.tool.clone()), u64::from(kind.count))).collect()
    };
    let steps_in = tally(plan.steps_in.iter().flat_map(|step| &step.fasteners));
    let steps_back = tally(plan.steps_back.iter().flat_map(|step| &step.fasteners));
    let all = [steps_in, steps_back, counted(&plan.fasteners_out), counted(&plan.fasteners_in)];
    if all.iter().any(|counted| *counted != expected) {
        wrong.push(Illegal::Fasteners);
    }
}

fn tally<'a>(fasteners: impl Iterator<Item = &'a Fastener>) -> BTreeMap<(String, String), u64> {
    let mut sum = BTreeMap::new();
    for fastener in fasteners {
        *sum.entry((fastener.what.clone(), fastener.tool.clone())).or_insert(0) += u64::from(fastener.count);
    }
    sum
}

fn check_sums(plan: &Teardown, end: &BTreeSet<CoverId>, wrong: &mut Vec<Illegal>) {
    let work = |steps: &[Step]| steps.iter().map(|step| step.minutes).sum::<f64>();
    let every = || plan.steps_in.iter().chain(&plan.steps_back);
    let people = every().map(|step| step.people).fold(1, u8::max);
    let short = plan.minutes_in < work(&plan.steps_in) - 1e-6 || plan.minutes_back < work(&plan.steps_back) - 1e-6;
    let off: BTreeSet<CoverId> = plan.open_after.iter().collect();
    let silent = every().flat_map(|step| &step.cautions).any(|hazard| !plan.cautions.contains(hazard));
    if short || people != plan.people || off != *end || silent {
        wrong.push(Illegal::Sums);
    }
}
