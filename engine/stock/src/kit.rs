//! The kit for the calls to come: which parts to load so that the expected number of calls fixed on the first visit is
//! greatest, within money and space.
//!
//! What a call may need is a choice of alternatives with chances, one of which comes true; an alternative needs all of its
//! parts. Calls are worked in order, and one that finds its parts takes them.
//!
//! The integer programme counts, for each further piece of a part, the chance that so many calls need it alone, and each
//! alternative of several parts as if nobody else took them; that is never less than the truth, and equal to it wherever no
//! part of such an alternative is wanted twice. The true expectation of what it chose is reckoned over all that may come
//! true; while the programme promises more than the best found, its choice is excluded and it is solved again. So the kit is
//! the best one, or it says by how much a better one could win at most.

use microlp::{ComparisonOp, OptimizationDirection, Problem, Variable};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeMap;

/// A part that can be loaded.
#[derive(Clone, Debug, PartialEq)]
pub struct Loadable {
    /// What one costs.
    pub price: Decimal,
    /// What one takes, litres.
    pub litres: f64,
    /// Pieces on the van already: they cost nothing more and take no more room.
    pub aboard: u32,
    /// Most pieces that can be had.
    pub at_most: u32,
}

/// What a call may need.
#[derive(Clone, Debug, PartialEq)]
pub struct Need {
    /// Chance that it is this, 0 to 1.
    pub chance: f64,
    /// The parts, by their place in the list; one that is needed twice stands there twice. Without any it is fixed anyhow.
    pub parts: Vec<usize>,
}

/// A call to come: alternatives of which at most one comes true.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CallToCome {
    /// The alternatives; what is left of the chance cannot be fixed by any part.
    pub needs: Vec<Need>,
}

/// What may be spent and carried.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Money for what is not aboard.
    pub money: Decimal,
    /// Litres for what is not aboard.
    pub litres: f64,
}

/// What to load.
#[derive(Clone, Debug, PartialEq)]
pub struct Kit {
    /// Pieces to load of each part, beside those aboard.
    pub load: Vec<u32>,
    /// Calls fixed on the first visit, on average.
    pub fixes: f64,
    /// The same with nothing loaded.
    pub fixes_without: f64,
    /// What the last piece of each part adds to it: of those loaded, what leaving one out would lose; else what one more
    /// would win.
    pub adds: Vec<f64>,
    /// By how much a better kit could win at most; 0 where it is proved the best.
    pub gap: f64,
}

/// Says that there is no kit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoKit {
    /// Something handed in is no amount, no chance or no part; says what.
    Input(String),
    /// The solver failed; says how.
    Solver(String),
}

impl std::fmt::Display for NoKit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Input(what) => write!(f, "{what}"),
            Self::Solver(why) => write!(f, "the kit could not be reckoned: {why}"),
        }
    }
}

impl std::error::Error for NoKit {}

/// Times the programme is solved before a gap is left.
const MOST_ROUNDS: usize = 24;
/// Expected fixes that nobody would tell apart.
const EVEN: f64 = 1e-7;

/// Gives the kit of most expected first-visit fixes; among equal ones the programme's first.
///
/// # Errors
/// A chance, a price or a part that is none, or a solver that fails.
pub fn best_kit(parts: &[Loadable], calls: &[CallToCome], limits: &Limits) -> Result<Kit, NoKit> {
    check(parts, calls, limits)?;
    let mut programme = Programme::of(parts, calls, limits);
    let mut best: Option<(Vec<u32>, f64)> = None;
    let mut bound = f64::INFINITY;
    for _ in 0..MOST_ROUNDS {
        let Some((load, promised)) = programme.solve()? else {
            // Nothing else is left: the best found is the best there is.
            bound = f64::NEG_INFINITY;
            break;
        };
        bound = bound.min(promised);
        if best.as_ref().is_some_and(|(_, fixes)| bound <= fixes + EVEN) {
            break;
        }
        programme.exclude(&load);
        let (load, fixes) = filled_up(parts, calls, limits, load);
        if best.as_ref().is_none_or(|(_, found)| fixes > found + EVEN) {
            best = Some((load, fixes));
        }
        if best.as_ref().is_some_and(|(_, fixes)| bound <= fixes + EVEN) {
            break;
        }
    }
    let (mut load, fixes) = best.unwrap_or_else(|| (vec![0; parts.len()], expected_fixes(&stock(parts, &[]), calls)));
    let gap = if bound.is_finite() { (bound - fixes).max(0.0) } else { 0.0 };
    leave_idle_out(parts, calls, &mut load, fixes);
    let adds = (0..parts.len()).map(|part| adds(parts, calls, &load, fixes, part)).collect();
    let fixes_without = expected_fixes(&stock(parts, &[]), calls);
    Ok(Kit { load, fixes, fixes_without, adds, gap: if gap <= EVEN { 0.0 } else { gap } })
}

fn check(parts: &[Loadable], calls: &[CallToCome], limits: &Limits) -> Result<(), NoKit> {
    let bad = |what: &str| Err(NoKit::Input(what.to_owned()));
    if parts.iter().any(|part| part.price.is_sign_negative() || !(part.litres.is_finite() && part.litres >= 0.0)) {
        return bad("a part with a price or a size under nothing");
    }
    if limits.money.is_sign_negative() || !(limits.litres.is_finite() && limits.litres >= 0.0) {
        return bad("money or room under nothing");
    }
    let chance = |of: f64| (0.0..=1.0).contains(&of);
    for call in calls {
        let sum: f64 = call.needs.iter().map(|need| need.chance).sum();
        if call.needs.iter().any(|need| !chance(need.chance)) || sum > 1.0 + 1e-9 {
            return bad("chances of a call that are none, or more than 1 together");
        }
        if call.needs.iter().flat_map(|need| &need.parts).any(|part| *part >= parts.len()) {
            return bad("a call that needs a part which is not in the list");
        }
    }
    Ok(())
}

fn stock(parts: &[Loadable], load: &[u32]) -> Vec<u32> {
    let loaded = |at: usize| load.get(at).copied().unwrap_or_default();
    parts.iter().enumerate().map(|(at, part)| part.aboard.saturating_add(loaded(at))).collect()
}

/// Gives the expected number of calls fixed out of a stock, worked in order; each takes what it needs where all of it is
/// there. Exact: over all that may come true.
#[must_use]
pub fn expected_fixes(stock: &[u32], calls: &[CallToCome]) -> f64 {
    // Only what may run out is remembered: pieces wanted by all calls together at most.
    let wanted = wanted(stock.len(), calls);
    let scarce: Vec<usize> = (0..stock.len()).filter(|&part| stock[part] < wanted[part]).collect();
    let mut ways: BTreeMap<Vec<u32>, f64> = BTreeMap::from([(scarce.iter().map(|&part| stock[part]).collect(), 1.0)]);
    let mut fixes = 0.0;
    for call in calls {
        let mut next: BTreeMap<Vec<u32>, f64> = BTreeMap::new();
        for (left, chance) in &ways {
            let mut idle = *chance;
            for need in &call.needs {
                if let Some(after) = taken(left, &scarce, &need.parts) {
                    let share = chance * need.chance;
                    fixes += share;
                    idle -= share;
                    *next.entry(after).or_default() += share;
                }
            }
            *next.entry(left.clone()).or_default() += idle.max(0.0);
        }
        ways = next;
    }
    fixes
}

/// Gives how many of each part all calls together can want at most.
fn wanted(parts: usize, calls: &[CallToCome]) -> Vec<u32> {
    let mut wanted = vec![0_u32; parts];
    for call in calls {
        let mut most = vec![0_u32; parts];
        for need in &call.needs {
            for (part, times) in counted(&need.parts) {
                most[part] = most[part].max(times);
            }
        }
        wanted.iter_mut().zip(most).for_each(|(sum, most)| *sum += most);
    }
    wanted
}

/// Gives what is left of the scarce parts once these are taken; `None` where they are not all there.
fn taken(left: &[u32], scarce: &[usize], parts: &[usize]) -> Option<Vec<u32>> {
    let mut after = left.to_vec();
    for part in parts {
        if let Some(at) = scarce.iter().position(|of| of == part) {
            after[at] = after[at].checked_sub(1)?;
        }
    }
    Some(after)
}

fn counted(parts: &[usize]) -> BTreeMap<usize, u32> {
    let mut counts = BTreeMap::new();
    parts.iter().for_each(|&part| *counts.entry(part).or_default() += 1);
    counts
}

/// Adds the pieces that win something and still fit: those that only stand in when several calls want the same part, which
/// the programme does not see.
fn filled_up(parts: &[Loadable], calls: &[CallToCome], limits: &Limits, mut load: Vec<u32>) -> (Vec<u32>, f64) {
    let mut fixes = expected_fixes(&stock(parts, &load), calls);
    loop {
        let further = (0..parts.len()).filter(|&part| load[part] < parts[part].at_most).filter_map(|part| {
            let mut more = load.clone();
            more[part] += 1;
            fits(parts, &more, limits).then(|| (expected_fixes(&stock(parts, &more), calls), more))
        });
        match further.max_by(|one, other| one.0.total_cmp(&other.0)) {
            Some((won, more)) if won > fixes + EVEN => (fixes, load) = (won, more),
            _ => return (load, fixes),
        }
    }
}

fn fits(parts: &[Loadable], load: &[u32], limits: &Limits) -> bool {
    let money: Decimal = parts.iter().zip(load).map(|(part, count)| part.price * Decimal::from(*count)).sum();
    let litres: f64 = parts.iter().zip(load).map(|(part, count)| part.litres * f64::from(*count)).sum();
    money <= limits.money && litres <= limits.litres
}

/// Leaves out what the programme took along for nothing.
fn leave_idle_out(parts: &[Loadable], calls: &[CallToCome], load: &mut [u32], fixes: f64) {
    for part in 0..load.len() {
        while load[part] > 0 {
            load[part] -= 1;
            if expected_fixes(&stock(parts, load), calls) < fixes - EVEN {
                load[part] += 1;
                break;
            }
        }
    }
}

fn adds(parts: &[Loadable], calls: &[CallToCome], load: &[u32], fixes: f64, part: usize) -> f64 {
    let mut other = load.to_vec();
    if other[part] > 0 {
        other[part] -= 1;
        return fixes - expected_fixes(&stock(parts, &other), calls);
    }
    other[part] += 1;
    expected_fixes(&stock(parts, &other), calls) - fixes
}

/// The integer programme: a variable for each further piece of a part, and one for each alternative of several parts.
struct Programme {
    problem: Problem,
    /// Pieces by part: those loaded, one variable each.
    pieces: Vec<Vec<Variable>>,
    /// What is fixed whatever is loaded.
    anyhow: f64,
}

impl Programme {
    fn of(parts: &[Loadable], calls: &[CallToCome], limits: &Limits) -> Self {
        let mut problem = Problem::new(OptimizationDirection::Maximize);
        let gains: Vec<Vec<f64>> = (0..parts.len()).map(|part| alone(calls, part)).collect();
        let (several, wanted) = (several(calls), wanted(parts.len(), calls));
        let mut anyhow: f64 = calls
            .iter()
            .flat_map(|call| &call.needs)
            .filter(|need| need.parts.is_empty())
            .map(|need| need.chance)
            .sum();
        let mut pieces = Vec::new();
        for (at, part) in parts.iter().enumerate() {
            let gain = |piece: u32| gains[at].get(usize::try_from(piece).unwrap_or(usize::MAX)).copied().unwrap_or(0.0);
            anyhow += (0..part.aboard).map(gain).sum::<f64>();
            let most = part.at_most.min(wanted[at].saturating_sub(part.aboard));
            let own: Vec<Variable> = (part.aboard..part.aboard.saturating_add(most))
                .map(|piece| problem.add_binary_var(gain(piece)))
                .collect();
            // A further piece comes after the one before it.
            for pair in own.windows(2) {
                problem.add_constraint([(pair[1], 1.0), (pair[0], -1.0)], ComparisonOp::Le, 0.0);
            }
            pieces.push(own);
        }
        let mut programme = Self { problem, pieces, anyhow };
        programme.limit(parts, limits);
        for (of, chance) in several {
            programme.served(parts, &of, chance);
        }
        programme
    }

    fn limit(&mut self, parts: &[Loadable], limits: &Limits) {
        let each = |size: &dyn Fn(&Loadable) -> f64| -> Vec<(Variable, f64)> {
            let of = self.pieces.iter().zip(parts).flat_map(|(own, part)| own.iter().map(|&piece| (piece, size(part))));
            of.filter(|(_, size)| *size > 0.0).collect()
        };
        let money = each(&|part| part.price.to_f64().unwrap_or(f64::MAX));
        let litres = each(&|part| part.litres);
        if !money.is_empty() {
            self.problem.add_constraint(&money, ComparisonOp::Le, limits.money.to_f64().unwrap_or(f64::MAX));
        }
        if !litres.is_empty() {
            self.problem.add_constraint(&litres, ComparisonOp::Le, limits.litres);
        }
    }

    /// An alternative of several parts is served only where all of them are there.
    fn served(&mut self, parts: &[Loadable], of: &[usize], chance: f64) {
        let mut ties = Vec::new();
        for (part, times) in counted(of) {
            let Some(short) = times.checked_sub(parts[part].aboard).filter(|short| *short > 0) else { continue };
            let piece = usize::try_from(short - 1).ok().and_then(|at| self.pieces[part].get(at).copied());
            let Some(piece) = piece else { return };
            ties.push(piece);
        }
        if ties.is_empty() {
            self.anyhow += chance;
            return;
        }
        let served = self.problem.add_var(chance, (0.0, 1.0));
        for piece in ties {
            self.problem.add_constraint([(served, 1.0), (piece, -1.0)], ComparisonOp::Le, 0.0);
        }
    }

    /// Gives the best load that is not excluded, with what the programme promises of it; `None` where none is left.
    fn solve(&self) -> Result<Option<(Vec<u32>, f64)>, NoKit> {
        let solved = match self.problem.solve() {
            Ok(solved) => solved,
            Err(microlp::Error::Infeasible) => return Ok(None),
            Err(error) => return Err(NoKit::Solver(error.to_string())),
        };
        let solution = solved.into_solution().map_err(|error| NoKit::Solver(format!("{error:?}")))?;
        let load = self.pieces.iter().map(|own| {
            let taken = own.iter().filter(|piece| solution.var_value(**piece) > 0.5).count();
            u32::try_from(taken).unwrap_or(u32::MAX)
        });
        Ok(Some((load.collect(), solution.objective() + self.anyhow)))
    }

    /// Forbids one load: something of it must be otherwise.
    fn exclude(&mut self, load: &[u32]) {
        let mut row = Vec::new();
        let mut taken = 0.0;
        for (own, count) in self.pieces.iter().zip(load) {
            for (piece, at) in own.iter().zip(0..) {
                let there = at < *count;
                row.push((*piece, if there { -1.0 } else { 1.0 }));
                taken += if there { 1.0 } else { 0.0 };
            }
        }
        self.problem.add_constraint(&row, ComparisonOp::Ge, 1.0 - taken);
    }
}

/// Gives, for one piece after the other, the chance that so many calls need this part and nothing else: a call either does
/// or does not, each apart from the others. SOURCE: the Poisson-binomial distribution by its recursion.
fn alone(calls: &[CallToCome], part: usize) -> Vec<f64> {
    let wants = |call: &CallToCome| -> f64 {
        call.needs.iter().filter(|need| need.parts == [part]).map(|need| need.chance).sum()
    };
    let mut exactly = vec![1.0];
    for chance in calls.iter().map(wants).filter(|chance| *chance > 0.0) {
        let mut next = vec![0.0; exactly.len() + 1];
        for (count, share) in exactly.iter().enumerate() {
            next[count] += share * (1.0 - chance);
            next[count + 1] += share * chance;
        }
        exactly = next;
    }
    (1..exactly.len()).map(|least| exactly[least..].iter().sum()).collect()
}

/// Gives the alternatives of several parts, or of several pieces of one, with their chances.
fn several(calls: &[CallToCome]) -> Vec<(Vec<usize>, f64)> {
    let all = calls.iter().flat_map(|call| &call.needs).filter(|need| need.parts.len() > 1 && need.chance > 0.0);
    all.map(|need| (need.parts.clone(), need.chance)).collect()
}
