//! Checks a policy against the problem it was made for, with arithmetic of its own: it shares no code with the planner.
//!
//! It follows every branch, carries covers, mode and belief along by the definitions, and says the first thing that is
//! wrong: a cover or mode missing from the price, a test used twice, a probability or an expected cost that does not
//! add up.

use crate::policy::{Node, Policy};
use repair::plan::{Action, Group, Outcome, ProblemParts, Repair};
use std::collections::{BTreeMap, BTreeSet};

/// Where the checker stands. Belief: sets of faults still present, with probabilities.
#[derive(Debug, Clone)]
struct Place {
    belief: BTreeMap<Vec<usize>, f64>,
    open: BTreeSet<usize>,
    mode: usize,
    tests: BTreeSet<usize>,
    failed: BTreeSet<usize>,
}

/// Checks a policy that starts with the prior belief, everything closed, in `mode`.
///
/// # Errors
/// The first thing found wrong, in words.
pub(crate) fn check(parts: &ProblemParts, mode: usize, policy: &Policy) -> Result<(), String> {
    let total: f64 = parts.hypotheses.iter().map(|h| h.weight).sum();
    let mut belief = BTreeMap::new();
    for h in parts.hypotheses.iter().filter(|h| h.weight > 0.0) {
        let mut faults = h.faults.clone();
        faults.sort_unstable();
        belief.insert(faults, h.weight / total);
    }
    let start = Place { belief, open: BTreeSet::new(), mode, tests: BTreeSet::new(), failed: BTreeSet::new() };
    let mut checker = Checker { parts, policy, seen: BTreeMap::new() };
    let root = policy.nodes.len().checked_sub(1).ok_or("an empty policy")?;
    checker.visit(root, &start)
}

struct Checker<'a> {
    parts: &'a ProblemParts,
    policy: &'a Policy,
    seen: BTreeMap<usize, Place>,
}

impl Checker<'_> {
    fn visit(&mut self, at: usize, place: &Place) -> Result<(), String> {
        if let Some(before) = self.seen.get(&at) {
            return same(before, place).map_err(|what| format!("node {at} stands for two situations: {what}"));
        }
        self.seen.insert(at, place.clone());
        let node = &self.policy.nodes[at];
        let (cost, ways) =
            self.carry_out(node, place).map_err(|what| format!("node {at}, {:?}: {what}", node.action))?;
        near(cost, node.cost).map_err(|what| format!("node {at}, {:?}: cost {what}", node.action))?;
        let mut expected = cost;
        let mut whole = 0.0;
        for (p, outcome, next) in &node.branches {
            let way = ways.iter().find(|w| w.1 == *outcome).ok_or(format!("node {at}: {outcome:?} cannot happen"))?;
            near(way.0, *p).map_err(|what| format!("node {at}, {outcome:?}: probability {what}"))?;
            whole += p;
            match (next, &way.2) {
                (Some(next), Some(after)) => {
                    self.visit(*next, after)?;
                    expected += p * self.policy.nodes[*next].expected;
                }
                (None, None) => {}
                _ => {
                    return Err(format!(
                        "node {at}, {outcome:?}: the job ends in one account and goes on in the other"
                    ));
                }
            }
        }
        near(whole, 1.0).map_err(|what| format!("node {at}: probabilities {what}"))?;
        near(expected, node.expected).map_err(|what| format!("node {at}: expected cost {what}"))
    }

    fn carry_out(&self, node: &Node, place: &Place) -> Result<(f64, Vec<Way>), String> {
        match &node.action {
            Action::Exit => {
                let price = self.parts.exit.ok_or("there is no exit")?;
                Ok((price, vec![(1.0, Outcome::Left, None)]))
            }
            Action::Test(t) => self.make_test(*t, place),
            Action::Repair(list) => self.make_repairs(list, place),
        }
    }

    fn make_test(&self, t: usize, place: &Place) -> Result<(f64, Vec<Way>), String> {
        let test = self.parts.tests.get(t).ok_or("no such test")?;
        let sure = test.outcomes.iter().flatten().all(|p| p.total_cmp(&0.0).is_eq() || p.total_cmp(&1.0).is_eq());
        if place.tests.contains(&t) && !sure {
            return Err("used before".to_owned());
        }
        let mut after = place.clone();
        let cost = test.cost + self.prepare(&test.groups, test.mode, &mut after);
        after.tests.insert(t);
        let mut ways = Vec::new();
        for o in 0..test.outcomes[0].len() {
            let mut belief = BTreeMap::new();
            for (faults, p) in &place.belief {
                let row = &test.outcomes[self.hypothesis(faults)?];
                belief.insert(faults.clone(), p * row[o]);
            }
            let p: f64 = belief.values().sum();
            if p > 1e-15 {
                ways.push((p, Outcome::Result(o), Some(Place { belief: scaled(belief, p), ..after.clone() })));
            }
        }
        Ok((cost, ways))
    }

    fn make_repairs(&self, list: &[usize], place: &Place) -> Result<(f64, Vec<Way>), String> {
        let repairs = list.iter().map(|r| self.parts.repairs.get(*r).ok_or("no such repair"));
        let repairs: Vec<&Repair> = repairs.collect::<Result<_, _>>()?;
        if list.iter().any(|r| place.failed.contains(r)) {
            return Err("tried before".to_owned());
        }
        let mut after = place.clone();
        let mut cost: f64 = repairs.iter().map(|r| r.cost).sum();
        let groups: Vec<usize> = repairs.iter().flat_map(|r| r.groups.clone()).collect();
        let modes: BTreeSet<usize> = repairs.iter().filter_map(|r| r.mode).collect();
        if modes.len() > 1 {
            return Err("two modes at once".to_owned());
        }
        cost += self.prepare(&groups, modes.first().copied(), &mut after);
        cost += self.check_function(&repairs, &mut after);
        after.failed.extend(list.iter().filter(|r| self.parts.repairs[**r].success < 1.0));
        let mut belief: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
        for (faults, p) in &place.belief {
            for (rest, share) in outcomes(faults, &repairs) {
                if !rest.is_empty() {
                    *belief.entry(rest).or_default() += p * share;
                }
            }
        }
        let p: f64 = belief.values().sum();
        let mut ways = vec![(1.0 - p, Outcome::Mended, None)];
        if p > 1e-15 {
            ways.push((p, Outcome::StillFaulty, Some(Place { belief: scaled(belief, p), ..after })));
        }
        Ok((cost, ways))
    }

    fn hypothesis(&self, faults: &[usize]) -> Result<usize, String> {
        let same = |h: &repair::plan::Hypothesis| {
            h.faults.len() == faults.len() && faults.iter().all(|f| h.faults.contains(f))
        };
        self.parts.hypotheses.iter().position(same).ok_or(format!("faults {faults:?} are no hypothesis"))
    }

    /// Opens what is needed, outermost first, then switches; gives the price.
    fn prepare(&self, groups: &[usize], mode: Option<usize>, at: &mut Place) -> f64 {
        let mut wanted: BTreeSet<usize> = BTreeSet::new();
        let mut open: Vec<usize> = groups.to_vec();
        while let Some(g) = open.pop() {
            if !at.open.contains(&g) && wanted.insert(g) {
                open.extend(&self.parts.groups[g].parents);
            }
        }
        let mut cost = 0.0;
        while let Some(&g) = wanted.iter().find(|g| self.parts.groups[**g].parents.iter().all(|p| at.open.contains(p)))
        {
            wanted.remove(&g);
            cost += self.switch(self.parts.groups[g].mode, at) + self.parts.groups[g].open;
            at.open.insert(g);
        }
        cost + self.switch(mode, at)
    }

    fn check_function(&self, repairs: &[&Repair], at: &mut Place) -> f64 {
        let mut cost = repairs.iter().map(|r| r.check.cost).fold(0.0, f64::max);
        let close: BTreeSet<usize> = repairs.iter().flat_map(|r| r.check.closed.clone()).collect();
        // Innermost first: a cover can be closed once nothing that hangs on it is open.
        let hangs = |g: usize, on: usize| reaches(&self.parts.groups, g, on);
        let mut closing: BTreeSet<usize> =
            at.open.iter().copied().filter(|&g| close.iter().any(|&c| hangs(g, c))).collect();
        while let Some(&g) = closing.iter().find(|&&g| !closing.iter().any(|&c| c != g && hangs(c, g))) {
            closing.remove(&g);
            cost += self.switch(self.parts.groups[g].mode, at) + self.parts.groups[g].close;
            at.open.remove(&g);
        }
        cost + self.switch(repairs.iter().find_map(|r| r.check.mode), at)
    }

    fn switch(&self, mode: Option<usize>, at: &mut Place) -> f64 {
        let from = at.mode;
        at.mode = mode.unwrap_or(from);
        if at.mode == from { 0.0 } else { self.parts.switch[from][at.mode] }
    }
}

/// Probability, what is seen, and where it leads.
type Way = (f64, Outcome, Option<Place>);

/// `g` is `on` or needs it open, directly or further down.
fn reaches(groups: &[Group], g: usize, on: usize) -> bool {
    g == on || groups[g].parents.iter().any(|&p| reaches(groups, p, on))
}

/// What repairs may leave of a set of faults, with probabilities.
fn outcomes(faults: &[usize], repairs: &[&Repair]) -> Vec<(Vec<usize>, f64)> {
    let Some((first, rest)) = repairs.split_first() else { return vec![(faults.to_vec(), 1.0)] };
    let left: Vec<usize> = faults.iter().copied().filter(|f| !first.fixes.contains(f)).collect();
    let mut list = Vec::new();
    for (set, p) in [(left, first.success), (faults.to_vec(), 1.0 - first.success)] {
        list.extend(outcomes(&set, rest).into_iter().map(|(s, q)| (s, p * q)));
    }
    list
}

fn scaled(mut belief: BTreeMap<Vec<usize>, f64>, p: f64) -> BTreeMap<Vec<usize>, f64> {
    belief.values_mut().for_each(|w| *w /= p);
    belief
}

fn near(a: f64, b: f64) -> Result<(), String> {
    if (a - b).abs() <= 1e-8 * (1.0 + a.abs()) { Ok(()) } else { Err(format!("should be {a}, is {b}")) }
}

fn same(a: &Place, b: &Place) -> Result<(), String> {
    let keys: BTreeSet<&Vec<usize>> = a.belief.keys().chain(b.belief.keys()).collect();
    for key in keys {
        let weight = |p: &Place| p.belief.get(key).copied().unwrap_or(0.0);
        near(weight(a), weight(b))?;
    }
    if a.open != b.open || a.mode != b.mode || a.failed != b.failed {
        return Err("covers, mode or repairs tried".to_owned());
    }
    Ok(())
}
