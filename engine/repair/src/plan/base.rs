//! Base policies: fixed rules that name an action for every state. They know nothing of each other.

use super::core::Core;
use super::error::ProblemError;
use super::problem::Problem;
use super::rank::{Limits, Ranked, Scorer, most_telling, rank};
use super::run::gain;
use super::situation::{Action, Situation};
use super::state::{Pick, State};

/// How repairs are put in order when nothing more is tested.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ordering {
    /// By probability over the bare price, set-up ignored in the order (but paid).
    Bare,
    /// By probability over the price with the set-up needed now.
    SetUp,
    /// By blocks of repairs that share the set-up.
    Blocks,
}

/// How a base policy chooses between testing and repairing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rule {
    /// Repairs in order, tests nothing.
    Repair,
    /// Takes the test with most information per cost, set-up included, until one repair is at least this sure.
    InformationPerCost {
        /// Probability of ending the job at which testing stops.
        stop: f64,
    },
    /// Compares repairing now with one test followed by repairs.
    ValueOfInformation {
        /// Also weighs two readings behind one cover or in one mode as one step.
        pairs: bool,
    },
}

/// A fixed rule that names an action for every state.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BasePolicy {
    /// Test or repair.
    pub rule: Rule,
    /// Order of repairs.
    pub ordering: Ordering,
    /// Whether it may leave by the exit where that is cheaper than going on repairing.
    pub exit: bool,
}

impl BasePolicy {
    /// Repairs by probability over bare price.
    pub const ORDER: Self = Self { rule: Rule::Repair, ordering: Ordering::Bare, exit: false };
    /// Repairs by probability over price with set-up.
    pub const ORDER_WITH_SET_UP: Self = Self { rule: Rule::Repair, ordering: Ordering::SetUp, exit: false };
    /// Most information per cost until a repair is 90 % sure, then blocks of repairs.
    pub const INFORMATION: Self =
        Self { rule: Rule::InformationPerCost { stop: 0.9 }, ordering: Ordering::Blocks, exit: true };
    /// Value of information with set-up priced, single tests and pairs, then blocks of repairs.
    pub const VALUE: Self =
        Self { rule: Rule::ValueOfInformation { pairs: true }, ordering: Ordering::Blocks, exit: true };
}

impl BasePolicy {
    /// Names the action of this policy in a situation.
    ///
    /// # Errors
    /// The situation does not fit the problem.
    pub fn choose(&self, problem: &Problem, situation: &Situation) -> Result<Action, ProblemError> {
        let state = problem.state(situation)?;
        Ok(problem.action(decide(&problem.core, &mut Scorer::default(), &state, *self).pick))
    }
}

/// What a base policy does in a state.
#[derive(Debug, Clone)]
pub(super) struct Decision {
    pub(super) pick: Pick,
    /// Best actions by the rule's own score, best first; empty for rules that do not score.
    pub(super) ranked: Vec<(f64, Pick)>,
}

/// Up to so many tests, each is weighed in every state of a plan; of more, a quarter as many, the most telling.
const FEW_TESTS: usize = 16;

pub(super) fn decide(core: &Core, scorer: &mut Scorer, state: &State, policy: BasePolicy) -> Decision {
    match policy.rule {
        Rule::Repair => repair(core, scorer, state, policy),
        Rule::InformationPerCost { stop } => inform(core, scorer, state, policy, stop),
        Rule::ValueOfInformation { pairs } => {
            let few = core.tests.len() <= FEW_TESTS;
            let chains = if !pairs {
                0
            } else if few {
                4
            } else {
                2
            };
            let limits = Limits { tests: if few { FEW_TESTS } else { FEW_TESTS / 4 }, fixes: 2, chains, longest: 2 };
            weigh(rank(core, scorer, state, policy, limits))
        }
    }
}

fn repair(core: &Core, scorer: &mut Scorer, state: &State, policy: BasePolicy) -> Decision {
    Decision { pick: scorer.run(core, state, policy).first, ranked: Vec::new() }
}

fn inform(core: &Core, scorer: &mut Scorer, state: &State, policy: BasePolicy, stop: f64) -> Decision {
    let fixes = (0..core.fixes.len()).filter(|&f| state.may_fix(core, f));
    let surest = fixes.map(|f| ends(core, f, &state.weights)).fold(0.0, f64::max);
    match most_telling(core, state) {
        Some(test) if surest < stop => Decision { pick: Pick::Test(test), ranked: Vec::new() },
        _ => repair(core, scorer, state, policy),
    }
}

/// Probability that a fix ends the job.
fn ends(core: &Core, fix: usize, weights: &[f64]) -> f64 {
    core.fixes[fix].effects.iter().map(|e| weights[e.hyp] * e.end).sum()
}

/// Takes the best test if it beats going on repairing.
fn weigh(ranked: Ranked) -> Decision {
    let Ranked { stop, list } = ranked;
    let best = list.iter().find(|c| matches!(c.pick, Pick::Test(_)));
    let pick = match best {
        Some(test) if test.score < stop.cost - 1e-12 => test.pick,
        _ => stop.first,
    };
    let mut ranked: Vec<(f64, Pick)> = Vec::with_capacity(6);
    for c in &list {
        if ranked.len() < 6 && ranked.iter().all(|(_, p)| *p != c.pick) {
            ranked.push((c.score, c.pick));
        }
    }
    Decision { pick, ranked }
}

/// Fixes worth weighing, those with most probability over price first.
pub(super) fn likely_fixes(core: &Core, state: &State, most: usize) -> Vec<usize> {
    let mut fixes: Vec<(f64, usize)> = (0..core.fixes.len())
        .filter(|&f| state.may_fix(core, f))
        .map(|f| (super::run::ratio(gain(core, f, &state.weights), core.fix_cost(state.access, f).0), f))
        .collect();
    fixes.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    fixes.into_iter().take(most).map(|(_, f)| f).collect()
}
