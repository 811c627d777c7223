//! One state of the work and the ways on from it. Internal to planning.

use super::core::{Access, Core};

/// A fixed set of small numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Bits([u64; 8]);

impl Bits {
    pub(super) fn has(&self, i: usize) -> bool {
        self.0[i >> 6] >> (i & 63) & 1 == 1
    }

    pub(super) fn with(mut self, i: usize) -> Self {
        self.0[i >> 6] |= 1 << (i & 63);
        self
    }
}

/// What is done next, as positions in the tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Pick {
    Test(usize),
    Fix(usize),
    Exit,
}

/// INVARIANT: weights add up to one; `tried` holds only repairs that may fail, `used` only tests that are not sure.
#[derive(Debug, Clone)]
pub(super) struct State {
    pub(super) weights: Vec<f64>,
    pub(super) access: Access,
    pub(super) used: Bits,
    pub(super) tried: Bits,
}

/// Probabilities below this are taken as impossible.
pub(super) const NEVER: f64 = 1e-15;

impl State {
    /// A signature for tables of states: equal for the same state reached on different ways, up to 2^-40 in a weight.
    pub(super) fn key(&self) -> u128 {
        let mut hash = Mix::new();
        for &w in &self.weights {
            // Adding 2^12 rounds to multiples of 2^-40 and so drops what the order of arithmetic left behind.
            hash.take((w + 4096.0).to_bits());
        }
        hash.take(self.access.open);
        hash.take(self.access.mode as u64);
        self.used.0.iter().chain(&self.tried.0).for_each(|&word| hash.take(word));
        hash.sum()
    }

    pub(super) fn may_test(&self, test: usize) -> bool {
        !self.used.has(test)
    }

    /// The fix has a repair left to try and touches something possible.
    pub(super) fn may_fix(&self, core: &Core, fix: usize) -> bool {
        let f = &core.fixes[fix];
        f.members.iter().all(|&m| !self.tried.has(m)) && f.effects.iter().any(|e| self.weights[e.hyp] > NEVER)
    }

    /// State after a test came out as `outcome`, with the probability of that; none if it cannot.
    pub(super) fn after_test(&self, core: &Core, test: usize, outcome: usize, access: Access) -> Option<(f64, Self)> {
        let t = &core.tests[test];
        let mut weights: Vec<f64> = self.weights.iter().zip(&t.columns[outcome]).map(|(w, l)| w * l).collect();
        let p: f64 = weights.iter().sum();
        if p <= NEVER {
            return None;
        }
        weights.iter_mut().for_each(|w| *w /= p);
        let used = if t.sure { self.used } else { self.used.with(test) };
        Some((p, Self { weights, access, used, tried: self.tried }))
    }

    /// State after a fix that left a fault, with the probability of that; none if it cannot.
    pub(super) fn after_fix(&self, core: &Core, fix: usize, access: Access) -> Option<(f64, Self)> {
        let mut weights = self.weights.clone();
        apply(core, fix, &mut weights);
        let p: f64 = weights.iter().sum();
        if p <= NEVER {
            return None;
        }
        weights.iter_mut().for_each(|w| *w /= p);
        Some((p, Self { weights, access, used: self.used, tried: mark_tried(core, fix, self.tried) }))
    }

    /// Price of an action from here, where it leaves the work, and the states it may lead to.
    pub(super) fn step(&self, core: &Core, pick: Pick) -> (f64, Vec<(f64, Self)>) {
        match pick {
            Pick::Test(t) => {
                let (cost, access) = core.test_cost(self.access, t);
                (cost, (0..core.tests[t].columns.len()).filter_map(|o| self.after_test(core, t, o, access)).collect())
            }
            Pick::Fix(f) => {
                let (cost, access) = core.fix_cost(self.access, f);
                (cost, self.after_fix(core, f, access).into_iter().collect())
            }
            Pick::Exit => (core.exit.unwrap_or(f64::INFINITY), Vec::new()),
        }
    }
}

pub(super) fn mark_tried(core: &Core, fix: usize, tried: Bits) -> Bits {
    let f = &core.fixes[fix];
    if f.unsure { f.members.iter().fold(tried, |set, &m| set.with(m)) } else { tried }
}

/// Moves weight as the fix does, drops what it ends, and gives the weight ended.
pub(super) fn apply(core: &Core, fix: usize, weights: &mut [f64]) -> f64 {
    let mut ended = 0.0;
    for e in &core.fixes[fix].effects {
        let mass = weights[e.hyp];
        weights[e.hyp] = mass * e.stay;
        ended += mass * e.end;
        for &(to, p) in &e.to {
            weights[to] += mass * p;
        }
    }
    ended
}

/// Two independent 64-bit streams, mixed word by word; collisions over any run of the planner are out of reach.
struct Mix(u64, u64);

impl Mix {
    fn new() -> Self {
        Self(0x9e37_79b9_7f4a_7c15, 0xd1b5_4a32_d192_ed03)
    }

    fn take(&mut self, word: u64) {
        self.0 = (self.0 ^ word).wrapping_mul(0xff51_afd7_ed55_8ccd);
        self.0 ^= self.0 >> 32;
        self.1 = (self.1.rotate_left(23) ^ word).wrapping_mul(0xc4ce_b9fe_1a85_ec53);
        self.1 ^= self.1 >> 29;
    }

    fn sum(&self) -> u128 {
        u128::from(self.0) << 64 | u128::from(self.1)
    }
}
