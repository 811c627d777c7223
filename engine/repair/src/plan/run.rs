//! Runs of repairs without tests: which order, and what they cost. Internal to planning.
//!
//! Each round takes the block of repairs with the largest probability over cost, where a block pays once for the covers
//! and the mode it needs. For repairs of different faults behind a tree of covers that is the best order.
//! SOURCE: Ottosen and Jensen, UAI 2010 (bottom-up probability over cost in a tree of covers).

use super::base::Ordering;
use super::core::{Access, Core};
use super::state::{Bits, Pick, apply, mark_tried};

/// Cost of a run and its first action.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    pub(super) cost: f64,
    pub(super) first: Pick,
}

/// Buffers used again from run to run.
#[derive(Debug, Clone, Default)]
pub(super) struct Scratch {
    weights: Vec<f64>,
    /// Fixes that can still do something: (gain, position).
    live: Vec<(f64, usize)>,
    /// (cost, weight before it, fix).
    steps: Vec<(f64, f64, usize)>,
    seen: Vec<(u64, Option<usize>)>,
}

/// Where a run starts. Weights need not add up to one; cost comes in the same scale.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start<'a> {
    pub(super) weights: &'a [f64],
    pub(super) access: Access,
    pub(super) tried: Bits,
}

/// Weight that a fix takes out of the hypotheses it touches.
pub(super) fn gain(core: &Core, fix: usize, weights: &[f64]) -> f64 {
    core.fixes[fix].effects.iter().map(|e| weights[e.hyp] * (1.0 - e.stay)).sum()
}

/// Weight that is left, relative to the start, below which a run is cut.
const TAIL: f64 = 1e-12;

/// Expected cost of repairing in the given order from `start`, leaving by the exit where that is cheaper.
pub(super) fn repair_run(core: &Core, scratch: &mut Scratch, start: Start<'_>, ordering: Ordering, exit: bool) -> Run {
    let Scratch { weights, live, steps, seen } = scratch;
    weights.clear();
    weights.extend_from_slice(start.weights);
    steps.clear();
    let whole: f64 = weights.iter().sum();
    let (mut mass, mut access, mut tried) = (whole, start.access, start.tried);
    while mass > whole * TAIL {
        collect_live(core, weights, tried, whole * 1e-16, live);
        if live.is_empty() {
            break;
        }
        let length = choose(core, access, ordering, live, seen);
        for (place, &(expected, fix)) in live.iter().take(length).enumerate() {
            // WHY NOT the whole block at once: a fix before may have taken this one's weight.
            if place > 0 && (gain(core, fix, weights) - expected).abs() > expected * 1e-9 {
                break;
            }
            let (cost, after) = core.fix_cost(access, fix);
            steps.push((cost, mass, fix));
            access = after;
            tried = mark_tried(core, fix, tried);
            apply(core, fix, weights);
            mass = weights.iter().sum();
        }
    }
    let left = if mass > whole * TAIL { core.exit.map_or(f64::INFINITY, |c| c * mass) } else { 0.0 };
    backwards(steps, left, if exit { core.exit } else { None })
}

/// Adds up from the end, taking the exit at each point where it is cheaper than going on.
fn backwards(steps: &[(f64, f64, usize)], left: f64, exit: Option<f64>) -> Run {
    let mut run = Run { cost: left, first: Pick::Exit };
    for &(cost, mass, fix) in steps.iter().rev() {
        run = Run { cost: run.cost + cost * mass, first: Pick::Fix(fix) };
        if let Some(price) = exit
            && price * mass < run.cost
        {
            run = Run { cost: price * mass, first: Pick::Exit };
        }
    }
    run
}

fn collect_live(core: &Core, weights: &[f64], tried: Bits, floor: f64, live: &mut Vec<(f64, usize)>) {
    live.clear();
    for (i, f) in core.fixes.iter().enumerate() {
        if f.unsure && f.members.iter().any(|&m| tried.has(m)) {
            continue;
        }
        let g = gain(core, i, weights);
        if g > floor {
            live.push((g, i));
        }
    }
}

/// Probability over cost, where a free action comes before any other.
pub(super) fn ratio(p: f64, cost: f64) -> f64 {
    if cost > 0.0 { p / cost } else { f64::MAX }
}

/// Puts the fixes to do next at the front of `live` and gives how many.
fn choose(
    core: &Core,
    access: Access,
    ordering: Ordering,
    live: &mut [(f64, usize)],
    seen: &mut Vec<(u64, Option<usize>)>,
) -> usize {
    if ordering == Ordering::Blocks {
        return choose_block(core, access, live, seen);
    }
    let price = |fix: usize| match ordering {
        Ordering::Bare => core.fixes[fix].cost,
        _ => core.fix_cost(access, fix).0,
    };
    let mut best = (f64::NEG_INFINITY, 0);
    for (at, &(g, fix)) in live.iter().enumerate() {
        let score = ratio(g, price(fix));
        if score > best.0 {
            best = (score, at);
        }
    }
    live.swap(0, best.1);
    1
}

fn choose_block(core: &Core, access: Access, live: &mut [(f64, usize)], seen: &mut Vec<(u64, Option<usize>)>) -> usize {
    let own = |entry: &(f64, usize)| ratio(entry.0, core.fixes[entry.1].own);
    live.sort_by(|a, b| own(b).total_cmp(&own(a)).then(a.1.cmp(&b.1)));
    seen.clear();
    let mut best = (f64::NEG_INFINITY, access);
    for &(_, key) in live.iter() {
        let f = &core.fixes[key];
        let need = (f.need & !access.open, f.mode.filter(|m| *m != access.mode));
        if seen.contains(&need) {
            continue;
        }
        seen.push(need);
        let (cost, after) = core.set_up(access, f.need, f.mode);
        let score = block_ratio(core, live, cost, after);
        if score > best.0 {
            best = (score, after);
        }
    }
    keep_block(core, live, best.1, best.0)
}

fn reachable(core: &Core, fix: usize, access: Access) -> bool {
    let f = &core.fixes[fix];
    f.need & !access.open == 0 && f.mode.is_none_or(|m| m == access.mode)
}

/// Largest probability over cost of a block of reachable fixes, best own ratio first, after paying `set_up`.
fn block_ratio(core: &Core, live: &[(f64, usize)], set_up: f64, access: Access) -> f64 {
    let (mut p, mut cost) = (0.0, set_up);
    for &(g, fix) in live.iter().filter(|(_, fix)| reachable(core, *fix, access)) {
        let own = core.fixes[fix].own;
        if p > 0.0 && ratio(g, own) <= ratio(p, cost) {
            break;
        }
        p += g;
        cost += own;
    }
    ratio(p, cost)
}

/// Moves the fixes of the block to the front, keeping their order.
fn keep_block(core: &Core, live: &mut [(f64, usize)], access: Access, floor: f64) -> usize {
    let mut length = 0;
    for at in 0..live.len() {
        let (g, fix) = live[at];
        if reachable(core, fix, access) && (length == 0 || ratio(g, core.fixes[fix].own) > floor) {
            live.copy_within(length..at, length + 1);
            live[length] = (g, fix);
            length += 1;
        }
    }
    length
}
