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

/// A fix that can still do something.
#[derive(Debug, Clone, Copy)]
struct Live {
    /// Gain over its own price.
    ratio: f64,
    gain: f64,
    own: f64,
    need: u64,
    mode: Option<usize>,
    class: u64,
    fix: usize,
}

impl Live {
    fn reachable(&self, access: Access) -> bool {
        self.need & !access.open == 0 && self.mode.is_none_or(|m| m == access.mode)
    }
}

/// Buffers used again from run to run.
#[derive(Debug, Clone, Default)]
pub(super) struct Scratch {
    weights: Vec<f64>,
    /// Best ratio first when ordered by blocks, else by position.
    live: Vec<Live>,
    /// (cost, weight before it, fix).
    steps: Vec<(f64, f64, usize)>,
    block: Vec<Live>,
}

/// Where a run starts. Weights need not add up to one; cost comes in the same scale.
#[derive(Debug, Clone, Copy)]
pub(super) struct Start<'a> {
    pub(super) weights: &'a [f64],
    pub(super) access: Access,
    pub(super) tried: Bits,
}

/// How a run is made.
#[derive(Debug, Clone, Copy)]
pub(super) struct Manner {
    pub(super) ordering: Ordering,
    /// Leave by the exit where that is cheaper.
    pub(super) exit: bool,
    /// Weight left, relative to the start, below which the run is cut and the rest priced roughly.
    pub(super) tail: f64,
}

/// Weight that a fix takes out of the hypotheses it touches.
pub(super) fn gain(core: &Core, fix: usize, weights: &[f64]) -> f64 {
    core.fixes[fix].effects.iter().map(|e| weights[e.hyp] * (1.0 - e.stay)).sum()
}

/// Probability over cost, where a free action comes before any other.
pub(super) fn ratio(p: f64, cost: f64) -> f64 {
    if cost > 0.0 { p / cost } else { f64::MAX }
}

/// Expected cost of repairing in the given order from `start`.
pub(super) fn repair_run(core: &Core, scratch: &mut Scratch, start: Start<'_>, manner: Manner) -> Run {
    scratch.weights.clear();
    scratch.weights.extend_from_slice(start.weights);
    scratch.steps.clear();
    let whole: f64 = scratch.weights.iter().sum();
    let (mut mass, mut access, mut tried) = (whole, start.access, start.tried);
    let floor = whole * manner.tail * 0.01;
    scratch.collect(core, tried, floor, manner.ordering);
    while mass > whole * manner.tail && !scratch.live.is_empty() {
        if manner.exit && scratch.hopeless(core, mass) {
            return leave(core, scratch, mass);
        }
        scratch.choose(core, access, manner.ordering);
        let block = std::mem::take(&mut scratch.block);
        for (place, next) in block.iter().enumerate() {
            // WHY NOT the whole block at once: a fix before may have taken this one's weight.
            if place > 0 && !scratch.stands(next) {
                break;
            }
            let (cost, after) = core.fix_cost(access, next.fix);
            scratch.steps.push((cost, mass, next.fix));
            access = after;
            tried = mark_tried(core, next.fix, tried);
            mass -= apply(core, next.fix, &mut scratch.weights);
            scratch.update(core, next.fix, tried, floor, manner.ordering);
        }
        scratch.block = block;
    }
    let left = if mass > whole * manner.tail || manner.tail > 1e-9 { mass.max(0.0) * core.rest_price } else { 0.0 };
    backwards(&scratch.steps, left, if manner.exit { core.exit } else { None })
}

/// Cost of the steps so far and then the exit, or of leaving earlier.
fn leave(core: &Core, scratch: &Scratch, mass: f64) -> Run {
    let price = core.exit.unwrap_or(f64::INFINITY);
    backwards(&scratch.steps, price * mass, core.exit)
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

fn barred(core: &Core, fix: usize, tried: Bits) -> bool {
    let f = &core.fixes[fix];
    f.unsure && f.members.iter().any(|&m| tried.has(m))
}

impl Scratch {
    fn collect(&mut self, core: &Core, tried: Bits, floor: f64, ordering: Ordering) {
        self.live.clear();
        for fix in (0..core.in_runs).filter(|&fix| !barred(core, fix, tried)) {
            let gain = gain(core, fix, &self.weights);
            if gain > floor {
                let f = &core.fixes[fix];
                self.live.push(Live {
                    ratio: ratio(gain, f.own),
                    gain,
                    own: f.own,
                    need: f.need,
                    mode: f.mode,
                    class: f.class,
                    fix,
                });
            }
        }
        self.sort(ordering);
    }

    /// Leaving now is cheaper than any way of repairing on.
    ///
    /// With no fix better than ratio r, going on from weight m to m' costs at least (m^2 - m'^2)/2r, plus leaving at
    /// m'; this is concave in m', so the least is at m' = m (leaving now) or m' = 0.
    fn hopeless(&self, core: &Core, mass: f64) -> bool {
        let best = self.live.iter().map(|l| l.ratio).fold(0.0, f64::max);
        core.exit.is_some_and(|price| mass > 2.0 * price * best * 1.000_001)
    }

    fn sort(&mut self, ordering: Ordering) {
        if ordering == Ordering::Blocks {
            self.live.sort_unstable_by(|a, b| b.ratio.total_cmp(&a.ratio).then(a.fix.cmp(&b.fix)));
        }
    }

    /// The fix is still live with the gain it was chosen for.
    fn stands(&self, chosen: &Live) -> bool {
        self.live.iter().any(|l| l.fix == chosen.fix && (l.gain - chosen.gain).abs() <= chosen.gain * 1e-9)
    }

    /// Takes a fix just made, and the fixes that share weight with it, up to date.
    fn update(&mut self, core: &Core, made: usize, tried: Bits, floor: f64, ordering: Ordering) {
        let overlaps = &core.overlaps[made];
        let weights = &self.weights;
        let mut moved = false;
        self.live.retain_mut(|l| {
            if l.fix != made && !overlaps.contains(&l.fix) {
                return true;
            }
            moved = true;
            l.gain = gain(core, l.fix, weights);
            l.ratio = ratio(l.gain, l.own);
            l.gain > floor && !barred(core, l.fix, tried)
        });
        if moved && !overlaps.is_empty() {
            self.sort(ordering);
        }
    }

    /// Fills `block` with the fixes to make next.
    fn choose(&mut self, core: &Core, access: Access, ordering: Ordering) {
        self.block.clear();
        if ordering == Ordering::Blocks {
            return self.choose_block(core, access);
        }
        let price = |fix: usize| match ordering {
            Ordering::Bare => core.fixes[fix].cost,
            _ => core.fix_cost(access, fix).0,
        };
        let mut best = f64::NEG_INFINITY;
        for l in &self.live {
            let score = ratio(l.gain, price(l.fix));
            if score > best {
                best = score;
                self.block.clear();
                self.block.push(*l);
            }
        }
    }

    fn choose_block(&mut self, core: &Core, access: Access) {
        // No block beats the best single ratio, so if that fix needs no set-up it is next.
        if let Some(first) = self.live.first().filter(|l| l.reachable(access)) {
            return self.block.push(*first);
        }
        let mut seen = 0u64;
        let mut best = (f64::NEG_INFINITY, access);
        for l in &self.live {
            if seen & l.class != 0 {
                continue;
            }
            seen |= l.class;
            let (cost, after) = core.set_up(access, l.need, l.mode);
            let score = self.block_ratio(cost, after);
            if score > best.0 {
                best = (score, after);
            }
        }
        for l in self.live.iter().filter(|l| l.reachable(best.1)) {
            if self.block.is_empty() || l.ratio > best.0 {
                self.block.push(*l);
            }
        }
    }

    /// Largest probability over cost of a block of reachable fixes, best own ratio first, after paying `set_up`.
    fn block_ratio(&self, set_up: f64, access: Access) -> f64 {
        let (mut p, mut cost) = (0.0, set_up);
        for l in self.live.iter().filter(|l| l.reachable(access)) {
            if p > 0.0 && l.ratio * cost <= p {
                break;
            }
            p += l.gain;
            cost += l.own;
        }
        ratio(p, cost)
    }
}
