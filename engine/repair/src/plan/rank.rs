//! Scores actions one or two steps deep with runs of repairs at the end. Internal to planning.

use super::base::{BasePolicy, likely_fixes};
use super::core::{Access, Core, CoreTest};
use super::run::{Manner, Run, Scratch, Start, ratio, repair_run};
use super::state::{Bits, Pick, State, apply, mark_tried};

/// How wide a state is searched.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    pub(super) tests: usize,
    pub(super) fixes: usize,
    /// Sets of covers and modes for which tests in a row are weighed.
    pub(super) chains: usize,
    /// Most tests in a row.
    pub(super) longest: usize,
}

/// An action with the tests meant to follow it, and the cost of that and repairs afterwards.
#[derive(Debug, Clone)]
pub(super) struct Scored {
    pub(super) score: f64,
    pub(super) pick: Pick,
    pub(super) then: Vec<usize>,
}

/// Repairing on from here, and the actions weighed, best first.
#[derive(Debug, Clone)]
pub(super) struct Ranked {
    pub(super) stop: Run,
    pub(super) list: Vec<Scored>,
}

/// Buffers for scoring.
#[derive(Debug, Clone, Default)]
pub(super) struct Scorer {
    scratch: Scratch,
    layers: Vec<Vec<f64>>,
}

impl Scorer {
    /// Repairing from here to the end.
    pub(super) fn run(&mut self, core: &Core, state: &State, policy: BasePolicy) -> Run {
        self.run_in(core, state, fully(policy))
    }

    fn run_in(&mut self, core: &Core, state: &State, manner: Manner) -> Run {
        let start = Start { weights: &state.weights, access: state.access, tried: state.tried };
        repair_run(core, &mut self.scratch, start, manner)
    }

    /// Cost of the tests in turn, each only where it beats repairing on, then repairs. `weights` need no scale.
    fn chain(&mut self, core: &Core, from: From<'_>, chain: &[usize], policy: BasePolicy) -> f64 {
        let Some((&test, rest)) = chain.split_first() else {
            let start = Start { weights: from.weights, access: from.access, tried: from.tried };
            return repair_run(core, &mut self.scratch, start, roughly(core, policy)).cost;
        };
        let t = &core.tests[test];
        let (cost, access) = core.test_cost(from.access, test);
        let mut total = cost * from.mass;
        let mut layer = self.layers.pop().unwrap_or_default();
        for column in &t.columns {
            layer.clear();
            layer.extend(from.weights.iter().zip(column).map(|(w, l)| w * l));
            let mass: f64 = layer.iter().sum();
            if mass <= from.mass * 1e-13 {
                continue;
            }
            let next = From { weights: &layer, mass, access, tried: from.tried };
            let mut best = self.chain(core, next, &[], policy);
            if !rest.is_empty() {
                best = best.min(self.chain(core, next, rest, policy));
            }
            total += best;
        }
        self.layers.push(layer);
        total
    }
}

/// To the last: the cost of a plan.
fn fully(policy: BasePolicy) -> Manner {
    Manner { ordering: policy.ordering, exit: policy.exit, tail: 1e-12 }
}

/// Good enough to compare actions.
fn roughly(core: &Core, policy: BasePolicy) -> Manner {
    Manner { tail: core.tail, ..fully(policy) }
}

#[derive(Debug, Clone, Copy)]
struct From<'a> {
    weights: &'a [f64],
    mass: f64,
    access: Access,
    tried: Bits,
}

impl<'a> From<'a> {
    fn state(state: &'a State) -> Self {
        Self { weights: &state.weights, mass: 1.0, access: state.access, tried: state.tried }
    }
}

/// Information of a test about the hypotheses, nats.
pub(super) fn information(test: &CoreTest, weights: &[f64]) -> f64 {
    let surprise: f64 =
        test.columns.iter().map(|column| dot(column, weights)).filter(|q| *q > 0.0).map(|q| -q * libm::log(q)).sum();
    surprise - dot(&test.spread, weights)
}

/// Weight too slight to tell tests apart in a large problem.
const SLIGHT: f64 = 1e-7;

/// The same, about the likely hypotheses alone.
fn information_of(test: &CoreTest, weights: &[f64], likely: &[usize]) -> f64 {
    let sum = |row: &[f64]| likely.iter().map(|&h| row[h] * weights[h]).sum::<f64>();
    let surprise: f64 = test.columns.iter().map(|c| sum(c)).filter(|q| *q > 0.0).map(|q| -q * libm::log(q)).sum();
    surprise - sum(&test.spread)
}

/// Sum of products in four lanes of fixed order, so that it is quick and the same everywhere.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut lanes = [0.0f64; 4];
    let (mut x, mut y) = (a.chunks_exact(4), b.chunks_exact(4));
    for (p, q) in x.by_ref().zip(y.by_ref()) {
        for i in 0..4 {
            lanes[i] += p[i] * q[i];
        }
    }
    let rest: f64 = x.remainder().iter().zip(y.remainder()).map(|(p, q)| p * q).sum();
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]) + rest
}

/// A test that still tells something here.
#[derive(Debug, Clone, Copy)]
struct Telling {
    test: usize,
    nats: f64,
    /// Price with set-up.
    cost: f64,
    missing: u64,
    switch: Option<usize>,
}

fn telling(core: &Core, state: &State) -> Vec<Telling> {
    let mut list = Vec::new();
    let likely: Vec<usize> = (0..core.hyps).filter(|&h| state.weights[h] > SLIGHT).collect();
    let few = core.tail > SLIGHT && likely.len() * 3 < core.hyps;
    for (i, t) in core.tests.iter().enumerate().filter(|(i, _)| state.may_test(*i)) {
        let nats = if few { information_of(t, &state.weights, &likely) } else { information(t, &state.weights) };
        if nats > 1e-12 {
            let (cost, _) = core.test_cost(state.access, i);
            let switch = t.mode.filter(|m| *m != state.access.mode);
            list.push(Telling { test: i, nats, cost, missing: t.need & !state.access.open, switch });
        }
    }
    list
}

/// The test with most information per cost, set-up included; none if nothing tells anything.
pub(super) fn most_telling(core: &Core, state: &State) -> Option<usize> {
    let mut best = None;
    let mut most = 0.0;
    for t in telling(core, state).iter().filter(|t| t.nats > 1e-9) {
        let score = t.nats / t.cost.max(1e-9);
        if score > most {
            (most, best) = (score, Some(t.test));
        }
    }
    best
}

/// Scores tests, pairs and fixes from a state.
pub(super) fn rank(core: &Core, scorer: &mut Scorer, state: &State, policy: BasePolicy, limits: Limits) -> Ranked {
    let stop = scorer.run_in(core, state, roughly(core, policy));
    let mut tests = telling(core, state);
    let mut list = Vec::new();
    let all = chains(core, state, &tests, limits);
    shorten(core, &mut tests, limits.tests);
    for t in &tests {
        let score = scorer.chain(core, From::state(state), &[t.test], policy);
        list.push(Scored { score, pick: Pick::Test(t.test), then: Vec::new() });
    }
    let pays = list.iter().any(|c: &Scored| c.score < stop.cost - 1e-12);
    for chain in if pays && limits.longest < 3 { Vec::new() } else { all } {
        let score = scorer.chain(core, From::state(state), &chain, policy);
        list.push(Scored { score, pick: Pick::Test(chain[0]), then: chain[1..].to_vec() });
    }
    for fix in likely_fixes(core, state, limits.fixes) {
        list.push(Scored {
            score: score_fix(core, scorer, state, fix, policy),
            pick: Pick::Fix(fix),
            then: Vec::new(),
        });
    }
    if let Some(price) = core.exit {
        list.push(Scored { score: price, pick: Pick::Exit, then: Vec::new() });
    }
    list.sort_by(|a, b| a.score.total_cmp(&b.score).then(a.pick.cmp(&b.pick)).then(a.then.cmp(&b.then)));
    Ranked { stop, list }
}

fn score_fix(core: &Core, scorer: &mut Scorer, state: &State, fix: usize, policy: BasePolicy) -> f64 {
    let (cost, access) = core.fix_cost(state.access, fix);
    let mut weights = state.weights.clone();
    apply(core, fix, &mut weights);
    let start = Start { weights: &weights, access, tried: mark_tried(core, fix, state.tried) };
    if weights.iter().sum::<f64>() <= 1e-13 {
        return cost;
    }
    cost + repair_run(core, &mut scorer.scratch, start, roughly(core, policy)).cost
}

/// Keeps the tests with most information per cost, and the best behind each set of covers whatever they cost to open.
fn shorten(core: &Core, tests: &mut Vec<Telling>, most: usize) {
    if tests.len() <= most {
        return;
    }
    tests.sort_by(|a, b| ratio(b.nats, b.cost).total_cmp(&ratio(a.nats, a.cost)).then(a.test.cmp(&b.test)));
    let own = |t: &Telling| ratio(t.nats, core.tests[t.test].cost);
    let rest = tests.split_off(most);
    let mut leaders: Vec<Telling> = Vec::new();
    for t in rest {
        match leaders.iter_mut().find(|l| l.missing == t.missing && l.switch == t.switch) {
            Some(leader) if own(&t) > own(leader) => *leader = t,
            Some(_) => {}
            None => leaders.push(t),
        }
    }
    leaders.retain(|l| !tests.iter().any(|t| t.missing == l.missing && t.switch == l.switch));
    leaders.truncate(most / 2);
    tests.append(&mut leaders);
}

/// Tests that a missing set-up makes possible, best first.
struct Behind {
    /// Information of the best two over the price of both with the set-up.
    worth: f64,
    tests: Vec<usize>,
}

/// For the most telling sets of missing covers and modes, the best two (and more) tests each makes possible.
fn chains(core: &Core, state: &State, tests: &[Telling], limits: Limits) -> Vec<Vec<usize>> {
    if limits.chains == 0 {
        return Vec::new();
    }
    let mut keys: Vec<(u64, Option<usize>)> = tests.iter().map(|t| (t.missing, t.switch)).collect();
    keys.sort_unstable();
    keys.dedup();
    let missing = keys.into_iter().filter(|key| *key != (0, None));
    let mut sets: Vec<Behind> = missing.filter_map(|key| behind(core, state, tests, key)).collect();
    sets.sort_by(|a, b| b.worth.total_cmp(&a.worth));
    sets.truncate(limits.chains);
    let mut chains = Vec::new();
    for set in sets {
        for length in 2..=set.tests.len().min(limits.longest) {
            let chain = set.tests[..length].to_vec();
            let leaves: usize = chain.iter().map(|&t| core.tests[t].columns.len()).product();
            if leaves <= MOST_LEAVES {
                chains.push(chain);
            }
        }
    }
    chains
}

/// Most ends of a chain of tests that are worth working out.
const MOST_LEAVES: usize = 40;

fn behind(core: &Core, state: &State, tests: &[Telling], key: (u64, Option<usize>)) -> Option<Behind> {
    let (missing, switch) = key;
    let own = |t: &Telling| ratio(t.nats, core.tests[t.test].cost);
    let fits = |t: &&Telling| {
        let mode = t.switch == switch || (t.switch.is_none() && core.tests[t.test].mode.is_none());
        t.missing & !missing == 0 && (t.missing, t.switch) != (0, None) && mode
    };
    let mut list: Vec<&Telling> = tests.iter().filter(fits).collect();
    list.sort_by(|a, b| own(b).total_cmp(&own(a)).then(a.test.cmp(&b.test)));
    let (first, second) = (list.first()?, list.get(1)?);
    let open = core.set_up(state.access, missing, switch).0;
    let price = open + core.tests[first.test].cost + core.tests[second.test].cost;
    Some(Behind { worth: ratio(first.nats + second.nats, price), tests: list.iter().map(|t| t.test).collect() })
}
