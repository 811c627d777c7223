//! Lower bounds: what no plan can beat. They know nothing of how plans are found.

use super::core::{Core, entropy};
use super::state::{Pick, State};

/// Expected number of yes-no questions that no way of telling these apart can beat, each answer being sure.
///
/// Exact for free choice of questions, a bound for given ones. SOURCE: Huffman, Proc. IRE 40(9), 1952, as used for test
/// sequencing by Pattipati and Alexandridis, IEEE T-SMC 20(4), 1990.
#[must_use]
pub fn huffman_bound(weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    let mut heap: Vec<f64> = weights.iter().copied().filter(|w| *w > 0.0).collect();
    let mut length = 0.0;
    while heap.len() > 1 {
        heap.sort_by(|a, b| b.total_cmp(a));
        let joined = heap.split_off(heap.len() - 2).iter().sum::<f64>();
        length += joined;
        heap.push(joined);
    }
    if total > 0.0 { length / total } else { 0.0 }
}

/// Entropy of the weights in bits: the same bound, looser and quicker.
///
/// SOURCE: Shannon, Bell System Technical Journal 27, 1948.
#[must_use]
pub fn entropy_bound(weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    let shares: Vec<f64> = weights.iter().map(|w| w / total).collect();
    if total > 0.0 { entropy(&shares) / std::f64::consts::LN_2 } else { 0.0 }
}

/// Expected cost of one who knows the truth at once: for each hypothesis the cheapest way to its dearest fault.
pub(super) fn knowing(core: &Core, state: &State) -> f64 {
    let leave = core.exit.unwrap_or(f64::INFINITY);
    let prices: Vec<f64> = core
        .fixes
        .iter()
        .map(|f| {
            let alone = f.members.len() == 1;
            let open = core.set_up(state.access, f.need, f.mode).0;
            if alone && f.members.iter().all(|&m| !state.tried.has(m)) {
                open + f.cost + f.check_cost
            } else {
                f64::INFINITY
            }
        })
        .collect();
    let cheapest = |fixes: &Vec<usize>| fixes.iter().map(|&f| prices[f]).fold(f64::INFINITY, f64::min);
    let mut bound = 0.0;
    for (weight, faults) in state.weights.iter().zip(&core.cures).filter(|(w, _)| **w > 0.0) {
        bound += weight * faults.iter().map(cheapest).fold(0.0, f64::max).min(leave);
    }
    bound
}

/// The knowing bound after the cheapest first action: somewhat tighter.
pub(super) fn one_step(core: &Core, state: &State) -> f64 {
    let tests = (0..core.tests.len()).filter(|&t| state.may_test(t)).map(Pick::Test);
    let fixes = (0..core.fixes.len()).filter(|&f| state.may_fix(core, f)).map(Pick::Fix);
    let leave = core.exit.map(|_| Pick::Exit);
    let best = tests.chain(fixes).chain(leave).map(|pick| after(core, state, pick)).fold(f64::INFINITY, f64::min);
    best.max(knowing(core, state))
}

/// Price of an action plus the knowing bound of what it leads to.
pub(super) fn after(core: &Core, state: &State, pick: Pick) -> f64 {
    let (cost, branches) = state.step(core, pick);
    cost + branches.iter().map(|(p, next)| p * knowing(core, next)).sum::<f64>()
}
