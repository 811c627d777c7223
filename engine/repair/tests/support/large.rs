//! The planner and its rivals on problems too large to enumerate: played by draws, the same draws for all.

use repair::plan::{
    Action, BasePolicy, Ordering, Outcome, Planner, Problem, ProblemError, ProblemParts, Rule, Settings, Situation,
};
use std::collections::BTreeMap;

/// Who plays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Player {
    /// The planner with its node budget.
    Planner,
    /// Value of information one step ahead, set-up ignored when choosing.
    Value,
    /// Most information for a minute, the way in included, until one repair is 90 % sure.
    InformationPerMinute,
    /// Most information, whatever it costs, until one repair is 90 % sure.
    Information,
    /// A fixed order of tests by information for a minute, until one repair is 90 % sure.
    Checklist,
    /// The likeliest repair, nothing tested.
    Likeliest,
}

impl Player {
    pub(crate) const ALL: [Self; 6] =
        [Self::Planner, Self::Value, Self::InformationPerMinute, Self::Information, Self::Checklist, Self::Likeliest];

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Planner => "planner",
            Self::Value => "value of information",
            Self::InformationPerMinute => "information per minute",
            Self::Information => "information",
            Self::Checklist => "checklist",
            Self::Likeliest => "likeliest part",
        }
    }
}

/// A mean with its standard error.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Mean {
    pub(crate) mean: f64,
    pub(crate) error: f64,
}

impl Mean {
    pub(crate) fn of(values: &[f64]) -> Self {
        let count = values.len().max(1) as f64;
        let mean = values.iter().sum::<f64>() / count;
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        Self { mean, error: (squares / (count - 1.0).max(1.0) / count).sqrt() }
    }
}

/// One problem, played.
#[derive(Debug, Clone)]
pub(crate) struct Played {
    pub(crate) bound: f64,
    pub(crate) knowing: f64,
    /// For each player in turn: expected cost, and what it is dearer than the planner on the same draws.
    pub(crate) costs: Vec<(Mean, Mean)>,
}

/// Plays every player on the same draws and bounds them all.
///
/// The spread of the dearest part is taken out: each draw's cost is taken less the price of the true faults' cheapest
/// repairs plus the mean of that price, which is known exactly.
pub(crate) fn played(problem: &Problem, start: &Situation, runs: u64, nodes: usize) -> Result<Played, ProblemError> {
    let certified = problem.certified_bound(start)?;
    let table = Table::new(problem, start, nodes)?;
    let total: f64 = start.weights.iter().sum();
    let cures: Vec<f64> = problem.parts().hypotheses.iter().map(|h| cheapest(problem.parts(), &h.faults)).collect();
    let usual: f64 = cures.iter().zip(&start.weights).map(|(c, w)| c * w / total).sum();
    let mut costs: Vec<Vec<f64>> = Vec::new();
    for player in Player::ALL {
        let mut known = BTreeMap::new();
        let mut list = Vec::new();
        for run in 0..runs {
            let truth = drawn(&start.weights, chance(&[run, TRUTH]) * total);
            list.push(play(&table, player, start, run, truth, &mut known)? - cures[truth] + usual);
        }
        costs.push(list);
    }
    let means = |list: &Vec<f64>| {
        let over: Vec<f64> = list.iter().zip(&costs[0]).map(|(a, b)| a - b).collect();
        (Mean::of(list), Mean::of(&over))
    };
    Ok(Played { bound: certified.bound, knowing: certified.knowing, costs: costs.iter().map(means).collect() })
}

fn cheapest(parts: &ProblemParts, faults: &[usize]) -> f64 {
    let price = |fault: &usize| {
        let able = parts.repairs.iter().filter(|r| r.fixes.contains(fault));
        able.map(|r| r.cost).fold(f64::INFINITY, f64::min)
    };
    let sum: f64 = faults.iter().map(price).sum();
    sum.min(parts.exit.unwrap_or(f64::INFINITY))
}

const TRUTH: u64 = 1;
const TEST: u64 = 2;
const REPAIR: u64 = 3;

/// A chance fixed by these words. SOURCE: as the generator of numbers in `generate`.
fn chance(words: &[u64]) -> f64 {
    let mut z = 0u64;
    for word in words {
        z = (z ^ word).wrapping_add(0x9e37_79b9_7f4a_7c15);
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^= z >> 31;
    }
    (z >> 11) as f64 / 9_007_199_254_740_992.0
}

/// Where a number falls in these weights laid end to end.
fn drawn(weights: &[f64], mut at: f64) -> usize {
    for (place, weight) in weights.iter().enumerate() {
        at -= weight;
        if at < 0.0 {
            return place;
        }
    }
    weights.iter().rposition(|w| *w > 0.0).unwrap_or(0)
}

/// What the players choose by.
struct Table<'p> {
    problem: &'p Problem,
    /// Covers and switching free.
    free: Problem,
    /// The same with every test at one price.
    plain: Problem,
    checklist: Vec<usize>,
    nodes: usize,
}

/// Most steps of a job; one that goes on is broken off as an error.
const MOST_STEPS: usize = 2_000;

type Known = BTreeMap<Vec<(Action, Outcome)>, Action>;

fn play(
    table: &Table<'_>,
    player: Player,
    start: &Situation,
    run: u64,
    truth: usize,
    known: &mut Known,
) -> Result<f64, ProblemError> {
    let parts = table.problem.parts();
    let mut faults = parts.hypotheses[truth].faults.clone();
    let (mut here, mut cost, mut history) = (start.clone(), 0.0, Vec::new());
    for _ in 0..MOST_STEPS {
        let action = match known.get(&history) {
            Some(action) => action.clone(),
            None => table.choose(player, &here)?,
        };
        known.entry(history.clone()).or_insert_with(|| action.clone());
        let step = table.problem.step(&here, &action)?;
        cost += step.cost;
        let outcome = match &action {
            Action::Exit => Outcome::Left,
            Action::Test(test) => {
                let row = parts.hypotheses.iter().position(|h| h.faults == faults).ok_or(ProblemError::NotPossible)?;
                Outcome::Result(drawn(&parts.tests[*test].outcomes[row], chance(&[run, TEST, *test as u64])))
            }
            Action::Repair(members) => {
                for &member in members {
                    let repair = &parts.repairs[member];
                    if chance(&[run, REPAIR, member as u64]) < repair.success {
                        faults.retain(|fault| !repair.fixes.contains(fault));
                    }
                }
                if faults.is_empty() { Outcome::Mended } else { Outcome::StillFaulty }
            }
        };
        let branch = step.branches.into_iter().find(|b| b.outcome == outcome).ok_or(ProblemError::NotPossible)?;
        let Some(next) = branch.situation else { return Ok(cost) };
        here = next;
        history.push((action, outcome));
    }
    Err(ProblemError::NotPossible)
}

impl<'p> Table<'p> {
    fn new(problem: &'p Problem, start: &Situation, nodes: usize) -> Result<Self, ProblemError> {
        let mut parts = problem.parts().clone();
        parts.groups.iter_mut().for_each(|group| (group.open, group.close) = (0.0, 0.0));
        parts.switch.iter_mut().for_each(|row| row.fill(0.0));
        let free = Problem::new(parts.clone())?;
        parts.tests.iter_mut().for_each(|test| test.cost = 1.0);
        let plain = Problem::new(parts)?;
        Ok(Self { problem, free, plain, checklist: checklist(problem, start)?, nodes })
    }

    fn choose(&self, player: Player, here: &Situation) -> Result<Action, ProblemError> {
        match player {
            Player::Planner => {
                let settings = Settings { nodes: self.nodes, ..Settings::default() };
                let mut planner = Planner::new(self.problem, here, settings)?;
                planner.finish();
                planner.proposals().into_iter().next().map(|p| p.action).ok_or(ProblemError::NotPossible)
            }
            Player::Value => {
                let rule = Rule::ValueOfInformation { pairs: false };
                BasePolicy { rule, ordering: Ordering::Bare, exit: true }.choose(&self.free, here)
            }
            Player::InformationPerMinute => BasePolicy::INFORMATION.choose(self.problem, here),
            Player::Information => BasePolicy::INFORMATION.choose(&self.plain, here),
            Player::Checklist => {
                let next = self.checklist.iter().find(|test| !here.used.contains(test));
                match next {
                    Some(&test) if self.surest(here).1 < SURE_ENOUGH => Ok(Action::Test(test)),
                    _ => BasePolicy { rule: Rule::Repair, ordering: Ordering::Blocks, exit: true }
                        .choose(self.problem, here),
                }
            }
            Player::Likeliest => match self.surest(here) {
                (Some(repair), share) if share > 1e-9 => Ok(Action::Repair(vec![repair])),
                _ => Ok(Action::Exit),
            },
        }
    }

    /// The repair likeliest to do some good, and its chance.
    fn surest(&self, here: &Situation) -> (Option<usize>, f64) {
        let parts = self.problem.parts();
        let total: f64 = here.weights.iter().sum();
        let mut best = (None, 0.0);
        for (at, repair) in parts.repairs.iter().enumerate() {
            let open = repair.success >= 1.0 || !here.tried.contains(&at);
            let touched = parts.hypotheses.iter().zip(&here.weights);
            let mass: f64 = touched
                .filter(|(h, _)| h.faults.iter().any(|f| repair.fixes.contains(f)))
                .map(|(_, w)| w / total)
                .sum();
            if open && mass * repair.success > best.1 {
                best = (Some(at), mass * repair.success);
            }
        }
        best
    }
}

const SURE_ENOUGH: f64 = 0.9;
/// Draws over which the information of a place on the checklist is averaged.
const LISTED_DRAWS: u64 = 24;
/// Longest checklist.
const LONGEST: usize = 40;

/// Orders tests greedily: most information, given what stands before, for a minute with the way in.
fn checklist(problem: &Problem, start: &Situation) -> Result<Vec<usize>, ProblemError> {
    let tests = &problem.parts().tests;
    let total: f64 = start.weights.iter().sum();
    let prior: Vec<f64> = start.weights.iter().map(|w| w / total).collect();
    let truth = |run: u64| drawn(&prior, chance(&[run, TRUTH, TRUTH]));
    let mut beliefs: Vec<Vec<f64>> = (0..LISTED_DRAWS).map(|_| prior.clone()).collect();
    let (mut list, mut here): (Vec<usize>, Situation) = (Vec::new(), start.clone());
    while list.len() < LONGEST.min(tests.len()) {
        let mut best = (0.0, None);
        for at in (0..tests.len()).filter(|at| !list.contains(at)) {
            let price = problem.step(&here, &Action::Test(at))?.cost.max(1e-9);
            let nats: f64 = beliefs.iter().map(|belief| information(&tests[at].outcomes, belief)).sum();
            if nats / price > best.0 {
                best = (nats / price, Some(at));
            }
        }
        let Some(at) = best.1 else { break };
        for (run, belief) in (0..).zip(&mut beliefs) {
            let outcome = drawn(&tests[at].outcomes[truth(run)], chance(&[run, TEST, TRUTH, at as u64]));
            belief.iter_mut().zip(&tests[at].outcomes).for_each(|(w, row)| *w *= row[outcome]);
            let mass: f64 = belief.iter().sum();
            belief.iter_mut().for_each(|w| *w /= mass);
        }
        let after = problem.step(&here, &Action::Test(at))?.branches.into_iter().find_map(|b| b.situation);
        let after = after.ok_or(ProblemError::NotPossible)?;
        here = Situation { open: after.open, mode: after.mode, ..start.clone() };
        list.push(at);
    }
    Ok(list)
}

fn information(rows: &[Vec<f64>], belief: &[f64]) -> f64 {
    let count = rows.first().map_or(0, Vec::len);
    let mut nats = 0.0;
    for outcome in 0..count {
        let whole: f64 = rows.iter().zip(belief).map(|(row, w)| row[outcome] * w).sum();
        for (row, w) in rows.iter().zip(belief).filter(|(row, w)| row[outcome] * **w > 0.0) {
            nats += w * row[outcome] * libm::log(row[outcome] / whole);
        }
    }
    nats
}
