//! Generated troubleshooting problems from a seed, for tests and examples: invented prices, one rule for all.
//!
//! Small ones can be solved exactly: single faults and a kit, readings wrong 3 times in 100, nested covers, working dead
//! or live, repairs that may fail, a check that needs the machine live and a cover closed, and giving up. Large ones
//! have the size of a real call and are only planned.

use repair::plan::{Check, Group, Hypothesis, ProblemParts, Repair, Test};

/// A small generator of numbers. SOURCE: Steele, Lea, Flood, OOPSLA 2014 (SplitMix64).
#[derive(Debug)]
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number from `low` up to but not including `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.word() >> 11) as f64 / 9_007_199_254_740_992.0)
    }

    /// A whole number below `count`.
    pub(crate) fn below(&mut self, count: usize) -> usize {
        usize::try_from(self.word() % count as u64).unwrap_or(0)
    }

    fn chance(&mut self, p: f64) -> bool {
        self.between(0.0, 1.0) < p
    }

    fn price(&mut self, low: f64, high: f64) -> f64 {
        (self.between(low, high) * 2.0).round() / 2.0
    }
}

/// Share of wrong readings in small problems.
const NOISE: f64 = 0.03;

/// A small problem: `faults` single faults, one more test than faults, covers and switching times `set_up`.
pub(crate) fn small(seed: u64, faults: usize, set_up: f64) -> ProblemParts {
    let mut random = Random::new(seed);
    let r = &mut random;
    let hypotheses = (0..faults).map(|f| Hypothesis { faults: vec![f], weight: r.between(0.3, 3.0) }).collect();
    let cover = |r: &mut Random, parents: Vec<usize>| Group {
        open: r.price(2.0, 10.0) * set_up,
        close: r.price(0.5, 3.0) * set_up,
        parents,
        mode: r.chance(0.3).then_some(0),
    };
    let groups = vec![cover(r, vec![]), cover(r, vec![]), cover(r, vec![1])];
    let live = r.price(1.0, 3.0) * set_up;
    let dead = r.price(1.0, 3.0) * set_up;
    let switch = vec![vec![0.0, live], vec![dead, 0.0]];
    let mut tests: Vec<Test> = (0..faults).map(|f| small_test(r, faults, |hit| hit == f)).collect();
    let half: Vec<bool> = (0..faults).map(|_| r.chance(0.5)).collect();
    tests.push(small_test(r, faults, |hit| half[hit]));
    let mut repairs: Vec<Repair> = (0..faults).map(|f| small_repair(r, vec![f])).collect();
    let (first, second) = (r.below(faults), r.below(faults));
    if first != second {
        let mut kit = small_repair(r, vec![first, second]);
        kit.cost = repairs[first].cost.max(repairs[second].cost) + 10.0;
        repairs.push(kit);
    }
    ProblemParts { hypotheses, groups, switch, tests, repairs, exit: Some(r.price(180.0, 350.0)) }
}

fn needs(r: &mut Random, covers: usize) -> Vec<usize> {
    if r.chance(0.25) { Vec::new() } else { vec![r.below(covers)] }
}

fn small_test(r: &mut Random, faults: usize, hits: impl Fn(usize) -> bool) -> Test {
    let row = |hit: bool| if hit { vec![NOISE, 1.0 - NOISE] } else { vec![1.0 - NOISE, NOISE] };
    Test {
        cost: r.price(1.0, 6.0),
        groups: needs(r, 3),
        mode: Some(r.below(2)),
        outcomes: (0..faults).map(|f| row(hits(f))).collect(),
    }
}

fn small_repair(r: &mut Random, fixes: Vec<usize>) -> Repair {
    let success = if r.chance(0.5) { 1.0 } else { 0.95 };
    let closed = if r.chance(0.5) { vec![r.below(2)] } else { Vec::new() };
    let check = Check { cost: r.price(1.0, 3.0), mode: Some(1), closed };
    Repair { cost: r.price(15.0, 120.0), groups: needs(r, 3), mode: Some(0), fixes, success, check }
}

/// A problem of the size of a real call.
pub(crate) fn large(seed: u64, faults: usize, tests: usize) -> ProblemParts {
    large_at(seed, faults, tests, 1.0)
}

/// The same with covers and switching times `set_up`.
pub(crate) fn large_at(seed: u64, faults: usize, tests: usize, set_up: f64) -> ProblemParts {
    let mut random = Random::new(seed);
    let r = &mut random;
    let covers = 12;
    let mut hypotheses: Vec<Hypothesis> =
        (0..faults).map(|f| Hypothesis { faults: vec![f], weight: cube(r.between(0.0, 1.0)) + 0.01 }).collect();
    for f in 1..faults / 6 {
        hypotheses.push(Hypothesis { faults: vec![f - 1, f], weight: 0.005 });
    }
    let groups = (0..covers)
        .map(|g| Group {
            open: r.price(1.0, 15.0) * set_up,
            close: r.price(0.5, 4.0) * set_up,
            parents: if g > 3 { vec![r.below(g)] } else { Vec::new() },
            mode: Some(0),
        })
        .collect();
    let switch = [[0.0, 3.0, 4.0], [2.0, 0.0, 1.0], [3.0, 1.0, 0.0]];
    let switch = switch.iter().map(|row| row.iter().map(|price| price * set_up).collect()).collect();
    let tests = (0..tests).map(|_| large_test(r, &hypotheses, covers)).collect();
    let repairs = (0..faults).map(|f| large_repair(r, f, covers)).collect();
    ProblemParts { hypotheses, groups, switch, tests, repairs, exit: Some(500.0) }
}

fn large_test(r: &mut Random, hypotheses: &[Hypothesis], covers: usize) -> Test {
    let outcomes = 2 + r.below(5);
    // Most suspects leave most readings as they are; a few move them.
    let row = |r: &mut Random| {
        let typical = if r.chance(0.7) { 0 } else { r.below(outcomes) };
        let spill = r.between(0.01, 0.1);
        let other = spill / (outcomes - 1) as f64;
        (0..outcomes).map(|o| if o == typical { 1.0 - spill } else { other }).collect()
    };
    Test {
        cost: r.price(0.5, 5.0),
        groups: needs(r, covers),
        mode: Some(r.below(3)),
        outcomes: hypotheses.iter().map(|_| row(r)).collect(),
    }
}

fn large_repair(r: &mut Random, fault: usize, covers: usize) -> Repair {
    let check = Check { cost: r.price(2.0, 6.0), mode: Some(1), closed: Vec::new() };
    Repair {
        cost: r.price(10.0, 250.0),
        groups: needs(r, covers),
        mode: Some(0),
        fixes: vec![fault],
        success: 0.97,
        check,
    }
}

fn cube(x: f64) -> f64 {
    x * x * x
}
