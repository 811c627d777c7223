//! The problem as its owner states it, and the checks it must pass. It knows nothing about choosing.

use super::core::Core;
use super::error::{Place, ProblemError};
use std::collections::BTreeMap;

/// A set of faults that may be the truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Hypothesis {
    /// The faults present, by any numbers of the owner's choice; at least one.
    pub faults: Vec<usize>,
    /// Prior weight, from 0 up. Weights are normalised; 0 is fine for a set that only a partial repair can leave.
    pub weight: f64,
}

/// A cover: paid once, then open until a check closes it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Group {
    /// Price of opening it, once everything it needs is open.
    pub open: f64,
    /// Price of closing it again when a check needs it closed. Closing at the end of the job is not charged here:
    /// put it into `open` if every opened cover must go back on.
    pub close: f64,
    /// Covers that must be open before this one; all of them.
    pub parents: Vec<usize>,
    /// Mode needed while it is opened or closed, if any.
    pub mode: Option<usize>,
}

/// A test: looked at or read once, with an outcome that depends on the hypothesis.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// Price without set-up.
    pub cost: f64,
    /// Covers that must be open.
    pub groups: Vec<usize>,
    /// Mode needed, if any.
    pub mode: Option<usize>,
    /// Outcome probabilities, `[hypothesis][outcome]`; each row adds up to 1.
    ///
    /// Outcomes of different tests are independent given the hypothesis. A test with a probability strictly between
    /// 0 and 1 is used once; a test that is sure for every hypothesis may be used again after a partial repair.
    pub outcomes: Vec<Vec<f64>>,
}

/// What it takes to try the function after a repair.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Check {
    /// Price without closing covers or switching.
    pub cost: f64,
    /// Mode needed, if any.
    pub mode: Option<usize>,
    /// Covers that must be closed for it (each with everything that hangs on it).
    pub closed: Vec<usize>,
}

/// A repair, followed by a check that is never wrong: the job ends when no fault is left.
#[derive(Debug, Clone, PartialEq)]
pub struct Repair {
    /// Price without set-up and check.
    pub cost: f64,
    /// Covers that must be open.
    pub groups: Vec<usize>,
    /// Mode needed, if any.
    pub mode: Option<usize>,
    /// Faults it fixes, all or none of them.
    pub fixes: Vec<usize>,
    /// Probability that it works, above 0 and up to 1. Below 1 it is tried once and not again.
    pub success: f64,
    /// The check after it.
    pub check: Check,
}

/// The lists that make up a problem.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ProblemParts {
    /// Sets of faults with their prior weights; no set twice.
    pub hypotheses: Vec<Hypothesis>,
    /// Covers.
    pub groups: Vec<Group>,
    /// Price of switching, `[from][to]`; the diagonal is not read. Empty when modes do not matter.
    pub switch: Vec<Vec<f64>>,
    /// Tests.
    pub tests: Vec<Test>,
    /// Repairs.
    pub repairs: Vec<Repair>,
    /// Price of ending the job without mending it, if that is possible.
    pub exit: Option<f64>,
}

impl ProblemParts {
    /// Lists the sets of faults that some repair can leave and that are no hypothesis yet.
    ///
    /// Each is sorted, the list has no duplicates and is complete: adding them all makes the problem whole.
    #[must_use]
    pub fn missing_remainders(&self) -> Vec<Vec<usize>> {
        let mut known: BTreeMap<Vec<usize>, bool> = self.hypotheses.iter().map(|h| (sorted(&h.faults), true)).collect();
        let mut open: Vec<Vec<usize>> = known.keys().cloned().collect();
        while let Some(set) = open.pop() {
            for repair in &self.repairs {
                let rest: Vec<usize> = set.iter().copied().filter(|f| !repair.fixes.contains(f)).collect();
                if !rest.is_empty() && !known.contains_key(&rest) {
                    known.insert(rest.clone(), false);
                    open.push(rest);
                }
            }
        }
        known.into_iter().filter(|(_, given)| !given).map(|(set, _)| set).collect()
    }
}

/// A checked problem, ready to be planned.
#[derive(Debug, Clone)]
pub struct Problem {
    parts: ProblemParts,
    pub(super) core: Core,
}

impl Problem {
    /// Checks the parts and prepares them for planning.
    ///
    /// # Errors
    /// The first thing found wrong, with its place. A success names nothing that is not there, every row of outcomes
    /// adds up to 1 within 1e-6, and every hypothesis with a fault that no sure repair fixes has the exit.
    pub fn new(parts: ProblemParts) -> Result<Self, ProblemError> {
        check_sizes(&parts)?;
        check_hypotheses(&parts)?;
        check_groups(&parts)?;
        check_modes(&parts)?;
        check_tests(&parts)?;
        check_repairs(&parts)?;
        check_way_out(&parts)?;
        let core = Core::compile(&parts)?;
        Ok(Self { parts, core })
    }

    /// Gives the parts the problem was made of.
    #[must_use]
    pub fn parts(&self) -> &ProblemParts {
        &self.parts
    }
}

/// Most covers that fit the planner's tables.
const MOST_GROUPS: usize = 64;
/// Most tests, and most repairs with their batches.
pub const MOST_ACTIONS: usize = 512;
/// Most repairs, leaving room for batches.
const MOST_REPAIRS: usize = 256;

pub(super) fn sorted(faults: &[usize]) -> Vec<usize> {
    let mut set = faults.to_vec();
    set.sort_unstable();
    set.dedup();
    set
}

fn check_sizes(parts: &ProblemParts) -> Result<(), ProblemError> {
    let limits = [
        ("covers", parts.groups.len(), MOST_GROUPS),
        ("tests", parts.tests.len(), MOST_ACTIONS),
        ("repairs", parts.repairs.len(), MOST_REPAIRS),
    ];
    match limits.into_iter().find(|(_, count, most)| count > most) {
        Some((what, count, most)) => Err(ProblemError::TooMany { what, count, most }),
        None if parts.hypotheses.is_empty() => Err(ProblemError::NoHypotheses),
        None => Ok(()),
    }
}

fn check_hypotheses(parts: &ProblemParts) -> Result<(), ProblemError> {
    let mut seen: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
    for (i, h) in parts.hypotheses.iter().enumerate() {
        let place = Place::Hypothesis(i);
        if h.faults.is_empty() {
            return Err(ProblemError::NoFaults(place));
        }
        if !(h.weight.is_finite() && h.weight >= 0.0) {
            return Err(ProblemError::BadProbability { place, value: h.weight });
        }
        if let Some(earlier) = seen.insert(sorted(&h.faults), i) {
            return Err(ProblemError::Repeated { place, earlier });
        }
    }
    if parts.hypotheses.iter().all(|h| h.weight <= 0.0) {
        return Err(ProblemError::NoWeight(Place::Hypothesis(0)));
    }
    Ok(())
}

fn check_cost(place: Place, cost: f64) -> Result<(), ProblemError> {
    if cost.is_finite() && cost >= 0.0 { Ok(()) } else { Err(ProblemError::BadCost { place, cost }) }
}

fn check_index(place: Place, what: &'static str, index: usize, count: usize) -> Result<(), ProblemError> {
    if index < count { Ok(()) } else { Err(ProblemError::NoSuch { place, what, index }) }
}

fn check_needs(parts: &ProblemParts, place: Place, groups: &[usize], mode: Option<usize>) -> Result<(), ProblemError> {
    for &g in groups {
        check_index(place, "cover", g, parts.groups.len())?;
    }
    mode.map_or(Ok(()), |m| check_index(place, "mode", m, parts.switch.len().max(1)))
}

fn check_groups(parts: &ProblemParts) -> Result<(), ProblemError> {
    for (i, g) in parts.groups.iter().enumerate() {
        let place = Place::Group(i);
        check_cost(place, g.open)?;
        check_cost(place, g.close)?;
        check_needs(parts, place, &g.parents, g.mode)?;
    }
    Ok(())
}

fn check_modes(parts: &ProblemParts) -> Result<(), ProblemError> {
    let needed = parts.switch.len();
    for (i, row) in parts.switch.iter().enumerate() {
        let place = Place::Mode(i);
        if row.len() != needed {
            return Err(ProblemError::BadLength { place, found: row.len(), needed });
        }
        row.iter().enumerate().filter(|(j, _)| *j != i).try_for_each(|(_, &cost)| check_cost(place, cost))?;
    }
    Ok(())
}

fn check_tests(parts: &ProblemParts) -> Result<(), ProblemError> {
    for (i, t) in parts.tests.iter().enumerate() {
        let place = Place::Test(i);
        check_cost(place, t.cost)?;
        check_needs(parts, place, &t.groups, t.mode)?;
        let needed = parts.hypotheses.len();
        if t.outcomes.len() != needed {
            return Err(ProblemError::BadLength { place, found: t.outcomes.len(), needed });
        }
        let width = t.outcomes.first().map_or(0, Vec::len).max(1);
        for (h, row) in t.outcomes.iter().enumerate() {
            if row.len() != width {
                return Err(ProblemError::BadLength { place, found: row.len(), needed: width });
            }
            if let Some(&value) = row.iter().find(|p| !(0.0..=1.0).contains(*p)) {
                return Err(ProblemError::BadProbability { place, value });
            }
            let sum: f64 = row.iter().sum();
            if (sum - 1.0).abs() > 1e-6 {
                return Err(ProblemError::BadSum { place, row: Some(h), sum });
            }
        }
    }
    Ok(())
}

fn check_repairs(parts: &ProblemParts) -> Result<(), ProblemError> {
    for (i, r) in parts.repairs.iter().enumerate() {
        let place = Place::Repair(i);
        check_cost(place, r.cost)?;
        check_cost(place, r.check.cost)?;
        check_needs(parts, place, &r.groups, r.mode)?;
        check_needs(parts, place, &r.check.closed, r.check.mode)?;
        if r.fixes.is_empty() {
            return Err(ProblemError::NoFaults(place));
        }
        if !(r.success > 0.0 && r.success <= 1.0) {
            return Err(ProblemError::BadProbability { place, value: r.success });
        }
    }
    parts.exit.map_or(Ok(()), |cost| check_cost(Place::Exit, cost))
}

fn check_way_out(parts: &ProblemParts) -> Result<(), ProblemError> {
    if parts.exit.is_some() {
        return Ok(());
    }
    for (hypothesis, h) in parts.hypotheses.iter().enumerate() {
        let sure = |f: &usize| parts.repairs.iter().any(|r| r.success >= 1.0 && r.fixes.contains(f));
        if let Some(&fault) = h.faults.iter().find(|f| !sure(f)) {
            return Err(ProblemError::NoWayOut { hypothesis, fault });
        }
    }
    Ok(())
}
