//! The problem turned into tables: masks of covers, columns of likelihoods, effects of repairs. Internal to planning.

use super::error::ProblemError;
use super::problem::{Check, ProblemParts, Repair, Test, sorted};
use std::collections::BTreeMap;

/// Where the work stands physically: covers open and mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Access {
    pub(super) open: u64,
    pub(super) mode: usize,
}

#[derive(Debug, Clone)]
pub(super) struct CoreTest {
    pub(super) cost: f64,
    /// Covers needed, with all they need in turn.
    pub(super) need: u64,
    pub(super) mode: Option<usize>,
    /// `[outcome][hypothesis]`.
    pub(super) columns: Vec<Vec<f64>>,
    /// Entropy of the outcome given each hypothesis, nats.
    pub(super) spread: Vec<f64>,
    /// Sure for every hypothesis, so it may be used again.
    pub(super) sure: bool,
}

/// What a fix does to one hypothesis.
#[derive(Debug, Clone)]
pub(super) struct Effect {
    pub(super) hyp: usize,
    /// Probability that nothing changes.
    pub(super) stay: f64,
    /// Probability that no fault is left.
    pub(super) end: f64,
    /// Hypotheses it may become, with probabilities.
    pub(super) to: Vec<(usize, f64)>,
}

/// One repair or several done together, and the check after it.
#[derive(Debug, Clone)]
pub(super) struct CoreFix {
    /// Repairs it is made of.
    pub(super) members: Vec<usize>,
    pub(super) cost: f64,
    pub(super) need: u64,
    pub(super) mode: Option<usize>,
    /// A bit shared by the fixes that need the same covers and mode; 0 when there are too many kinds.
    pub(super) class: u64,
    pub(super) check_cost: f64,
    pub(super) check_mode: Option<usize>,
    /// Covers to be closed for the check, with all that hangs on them.
    pub(super) close: u64,
    /// Touched hypotheses, fewest faults first.
    pub(super) effects: Vec<Effect>,
    /// Some member may fail, so it is tried once.
    pub(super) unsure: bool,
    /// Own price with check and closing of its own covers, for ordering.
    pub(super) own: f64,
}

#[derive(Debug, Clone)]
pub(super) struct CoreGroup {
    pub(super) open: f64,
    pub(super) close: f64,
    pub(super) mode: Option<usize>,
}

#[derive(Debug, Clone)]
pub(super) struct Core {
    pub(super) hyps: usize,
    pub(super) prior: Vec<f64>,
    pub(super) groups: Vec<CoreGroup>,
    /// Parents before children.
    pub(super) order: Vec<usize>,
    pub(super) grouped_modes: bool,
    pub(super) switch: Vec<Vec<f64>>,
    pub(super) tests: Vec<CoreTest>,
    /// Single repairs in the given order, then batches.
    pub(super) fixes: Vec<CoreFix>,
    pub(super) exit: Option<f64>,
    /// How many of the fixes runs of repairs are made of: all if they are few, else the single ones.
    pub(super) in_runs: usize,
    /// For each fix, the others that share a hypothesis or a repair with it.
    pub(super) overlaps: Vec<Vec<usize>>,
    /// Weight left at which runs that only compare actions may stop: all but nothing in small problems.
    pub(super) tail: f64,
    /// What the last scrap of weight costs when a run of repairs is cut: the exit, or half of all repairs.
    pub(super) rest_price: f64,
    /// Each hypothesis' faults, as lists of the single fixes that touch each.
    pub(super) cures: Vec<Vec<Vec<usize>>>,
    /// Covers with all they need, by cover.
    pub(super) closure: Vec<u64>,
}

impl Core {
    pub(super) fn compile(parts: &ProblemParts) -> Result<Self, ProblemError> {
        let (order, closure) = close_parents(parts)?;
        let below = hang_below(&closure);
        let total: f64 = parts.hypotheses.iter().map(|h| h.weight).sum();
        let mut core = Self {
            hyps: parts.hypotheses.len(),
            prior: parts.hypotheses.iter().map(|h| h.weight / total).collect(),
            groups: parts.groups.iter().map(|g| CoreGroup { open: g.open, close: g.close, mode: g.mode }).collect(),
            order,
            grouped_modes: parts.groups.iter().any(|g| g.mode.is_some()),
            switch: parts.switch.clone(),
            tests: parts.tests.iter().map(|t| compile_test(t, &closure)).collect(),
            fixes: Vec::new(),
            exit: parts.exit,
            in_runs: 0,
            overlaps: Vec::new(),
            tail: if parts.hypotheses.len() <= FEW_HYPOTHESES { 1e-12 } else { 1e-5 },
            rest_price: 0.0,
            cures: Vec::new(),
            closure,
        };
        let shapes = Shapes { parts, closure: &core.closure, below: &below, index: index_sets(parts) };
        let mut fixes = Vec::new();
        for i in 0..parts.repairs.len() {
            fixes.push(shapes.fix(vec![i])?);
        }
        for pair in batches(parts, &fixes) {
            fixes.push(shapes.fix(pair)?);
        }
        classify(&mut fixes);
        core.fixes = fixes;
        for fix in 0..core.fixes.len() {
            core.fixes[fix].own = core.own_price(&core.fixes[fix]);
        }
        let singles = parts.repairs.len();
        core.in_runs = if core.fixes.len() <= FEW_FIXES { core.fixes.len() } else { singles };
        core.overlaps = (0..core.fixes.len()).map(|f| overlaps_of(&core.fixes, f)).collect();
        core.rest_price = parts.exit.unwrap_or(core.fixes[..singles].iter().map(|f| f.own).sum::<f64>() / 2.0);
        core.cures = parts.hypotheses.iter().map(|h| cures_of(parts, &h.faults)).collect();
        Ok(core)
    }

    fn own_price(&self, fix: &CoreFix) -> f64 {
        fix.cost + fix.check_cost + self.closing(fix.close & fix.need)
    }

    fn closing(&self, mask: u64) -> f64 {
        bits(mask).map(|g| self.groups[g].close).sum()
    }

    fn switch_to(&self, access: &mut Access, mode: Option<usize>) -> f64 {
        match mode {
            Some(to) if to != access.mode => {
                let cost = self.switch[access.mode][to];
                access.mode = to;
                cost
            }
            _ => 0.0,
        }
    }

    /// Price of making `need` and `mode` so, and where that leaves the work.
    pub(super) fn set_up(&self, mut access: Access, need: u64, mode: Option<usize>) -> (f64, Access) {
        let missing = need & !access.open;
        let mut cost = 0.0;
        if missing != 0 {
            if self.grouped_modes {
                for &g in self.order.iter().filter(|g| missing >> **g & 1 == 1) {
                    cost += self.switch_to(&mut access, self.groups[g].mode) + self.groups[g].open;
                }
            } else {
                cost += bits(missing).map(|g| self.groups[g].open).sum::<f64>();
            }
            access.open |= missing;
        }
        cost += self.switch_to(&mut access, mode);
        (cost, access)
    }

    pub(super) fn test_cost(&self, access: Access, test: usize) -> (f64, Access) {
        let t = &self.tests[test];
        let (cost, after) = self.set_up(access, t.need, t.mode);
        (cost + t.cost, after)
    }

    /// Price of a fix with set-up and check, and where it leaves the work.
    pub(super) fn fix_cost(&self, access: Access, fix: usize) -> (f64, Access) {
        let f = &self.fixes[fix];
        let (mut cost, mut after) = self.set_up(access, f.need, f.mode);
        cost += f.cost + f.check_cost;
        let closing = f.close & after.open;
        if closing != 0 {
            for &g in self.order.iter().rev().filter(|g| closing >> **g & 1 == 1) {
                cost += self.switch_to(&mut after, self.groups[g].mode) + self.groups[g].close;
            }
            after.open &= !closing;
        }
        cost += self.switch_to(&mut after, f.check_mode);
        (cost, after)
    }
}

/// Walks the positions of the set bits, lowest first.
pub(super) fn bits(mut mask: u64) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        if mask == 0 {
            return None;
        }
        let low = mask.trailing_zeros();
        mask &= mask - 1;
        usize::try_from(low).ok()
    })
}

/// Orders covers parents first and gives each with all it needs.
fn close_parents(parts: &ProblemParts) -> Result<(Vec<usize>, Vec<u64>), ProblemError> {
    let count = parts.groups.len();
    let mut closure = vec![0u64; count];
    let mut order = Vec::with_capacity(count);
    let mut placed = 0u64;
    while order.len() < count {
        let ready =
            (0..count).find(|&g| placed >> g & 1 == 0 && parts.groups[g].parents.iter().all(|&p| placed >> p & 1 == 1));
        let Some(g) = ready else {
            let stuck = (0..count).find(|&g| placed >> g & 1 == 0).unwrap_or(0);
            return Err(ProblemError::Loop(super::error::Place::Group(stuck)));
        };
        closure[g] = parts.groups[g].parents.iter().fold(1 << g, |mask, &p| mask | closure[p]);
        placed |= 1 << g;
        order.push(g);
    }
    Ok((order, closure))
}

/// Gives each cover with all that needs it open.
fn hang_below(closure: &[u64]) -> Vec<u64> {
    let below = |g: usize| (0..closure.len()).filter(|&c| closure[c] >> g & 1 == 1).fold(0u64, |m, c| m | 1 << c);
    (0..closure.len()).map(below).collect()
}

fn mask_of(groups: &[usize], table: &[u64]) -> u64 {
    groups.iter().fold(0, |mask, &g| mask | table[g])
}

fn compile_test(test: &Test, closure: &[u64]) -> CoreTest {
    let width = test.outcomes.first().map_or(0, Vec::len);
    let columns = (0..width).map(|o| test.outcomes.iter().map(|row| row[o]).collect()).collect();
    CoreTest {
        cost: test.cost,
        need: mask_of(&test.groups, closure),
        mode: test.mode,
        columns,
        spread: test.outcomes.iter().map(|row| entropy(row)).collect(),
        sure: test.outcomes.iter().flatten().all(|&p| p <= 0.0 || p >= 1.0),
    }
}

/// Entropy in nats of probabilities that add up to one.
pub(super) fn entropy(row: &[f64]) -> f64 {
    row.iter().filter(|p| **p > 0.0).map(|&p| -p * libm::log(p)).sum()
}

fn classify(fixes: &mut [CoreFix]) {
    let mut kinds: Vec<(u64, Option<usize>)> = fixes.iter().map(|f| (f.need, f.mode)).collect();
    kinds.sort_unstable();
    kinds.dedup();
    for f in fixes {
        let kind = kinds.iter().take(64).position(|k| *k == (f.need, f.mode));
        f.class = kind.map_or(0, |k| 1 << k);
    }
}

/// Most hypotheses for which runs that only compare actions are worked out to the last.
const FEW_HYPOTHESES: usize = 12;
/// Most fixes for which batches take part in runs of repairs.
const FEW_FIXES: usize = 24;

fn overlaps_of(fixes: &[CoreFix], fix: usize) -> Vec<usize> {
    let touched: Vec<usize> = fixes[fix].effects.iter().flat_map(|e| e.to.iter().map(|t| t.0).chain([e.hyp])).collect();
    let shares = |other: &CoreFix| {
        other.effects.iter().any(|e| touched.contains(&e.hyp))
            || other.members.iter().any(|m| fixes[fix].members.contains(m))
    };
    (0..fixes.len()).filter(|&other| other != fix && shares(&fixes[other])).collect()
}

fn index_sets(parts: &ProblemParts) -> BTreeMap<Vec<usize>, usize> {
    parts.hypotheses.iter().enumerate().map(|(i, h)| (sorted(&h.faults), i)).collect()
}

fn cures_of(parts: &ProblemParts, faults: &[usize]) -> Vec<Vec<usize>> {
    let touching = |f: &usize| (0..parts.repairs.len()).filter(|&r| parts.repairs[r].fixes.contains(f)).collect();
    faults.iter().map(touching).collect()
}

/// Pairs of repairs worth doing before one check: they share a cover or need none, and the check costs something.
fn batches(parts: &ProblemParts, fixes: &[CoreFix]) -> Vec<Vec<usize>> {
    const MOST_PAIRS: usize = 64;
    let costly =
        |r: &Repair, f: &CoreFix| r.check.cost > 0.0 || f.close != 0 || r.check.mode.is_some_and(|m| r.mode != Some(m));
    let agree = |a: Option<usize>, b: Option<usize>| a.is_none() || b.is_none() || a == b;
    let mut pairs = Vec::new();
    for (i, a) in parts.repairs.iter().enumerate() {
        for (j, b) in parts.repairs.iter().enumerate().skip(i + 1) {
            let near = fixes[i].need & fixes[j].need != 0 || fixes[i].need | fixes[j].need == 0;
            let paid = costly(a, &fixes[i]) && costly(b, &fixes[j]);
            let apart = a.fixes.iter().all(|f| !b.fixes.contains(f));
            if near && paid && apart && agree(a.mode, b.mode) && agree(a.check.mode, b.check.mode) {
                pairs.push(vec![i, j]);
            }
        }
    }
    // The closest pairs first, when there are too many: those that need exactly the same covers.
    pairs.sort_by_key(|p| (fixes[p[0]].need != fixes[p[1]].need, p[0], p[1]));
    pairs.truncate(MOST_PAIRS);
    pairs
}

struct Shapes<'a> {
    parts: &'a ProblemParts,
    closure: &'a [u64],
    below: &'a [u64],
    index: BTreeMap<Vec<usize>, usize>,
}

impl Shapes<'_> {
    fn fix(&self, members: Vec<usize>) -> Result<CoreFix, ProblemError> {
        let repairs: Vec<&Repair> = members.iter().map(|&m| &self.parts.repairs[m]).collect();
        let checks: Vec<&Check> = repairs.iter().map(|r| &r.check).collect();
        let mut effects = Vec::new();
        for hyp in 0..self.parts.hypotheses.len() {
            effects.extend(self.effect(&members, &repairs, hyp)?);
        }
        // INVARIANT: fewest faults first, so that weight moved to a smaller set is not moved again by the same fix.
        effects.sort_by_key(|e: &Effect| (self.parts.hypotheses[e.hyp].faults.len(), e.hyp));
        Ok(CoreFix {
            cost: repairs.iter().map(|r| r.cost).sum(),
            need: repairs.iter().fold(0, |m, r| m | mask_of(&r.groups, self.closure)),
            mode: repairs.iter().find_map(|r| r.mode),
            class: 0,
            check_cost: checks.iter().map(|c| c.cost).fold(0.0, f64::max),
            check_mode: checks.iter().find_map(|c| c.mode),
            close: checks.iter().fold(0, |m, c| m | mask_of(&c.closed, self.below)),
            unsure: repairs.iter().any(|r| r.success < 1.0),
            effects,
            members,
            own: 0.0,
        })
    }

    fn effect(&self, members: &[usize], repairs: &[&Repair], hyp: usize) -> Result<Option<Effect>, ProblemError> {
        let faults = &self.parts.hypotheses[hyp].faults;
        if !repairs.iter().any(|r| faults.iter().any(|f| r.fixes.contains(f))) {
            return Ok(None);
        }
        let mut effect = Effect { hyp, stay: 0.0, end: 0.0, to: Vec::new() };
        for worked in 0..1usize << repairs.len() {
            let done = |i: usize| worked >> i & 1 == 1;
            let p: f64 =
                repairs.iter().enumerate().map(|(i, r)| if done(i) { r.success } else { 1.0 - r.success }).product();
            if p <= 0.0 {
                continue;
            }
            let fixed = |f: &usize| repairs.iter().enumerate().any(|(i, r)| done(i) && r.fixes.contains(f));
            let rest: Vec<usize> = sorted(faults).into_iter().filter(|f| !fixed(f)).collect();
            if rest.is_empty() {
                effect.end += p;
            } else if rest.len() == sorted(faults).len() {
                effect.stay += p;
            } else if let Some(&to) = self.index.get(&rest) {
                effect.to.push((to, p));
            } else {
                return Err(ProblemError::NoRemainder { repair: members[0], hypothesis: hyp, remainder: rest });
            }
        }
        Ok(Some(effect))
    }
}
