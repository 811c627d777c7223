//! The exact expected cost of any way of choosing, by enumerating the situations it can reach; for tests and examples.

use repair::plan::{Action, Outcome, Problem, ProblemError, Situation};
use std::collections::BTreeMap;

/// A situation that the policy reaches.
#[derive(Debug, Clone)]
pub(crate) struct Node {
    /// What is done.
    pub(crate) action: Action,
    /// Its price with set-up.
    pub(crate) cost: f64,
    /// Probability, what is seen, and where it leads.
    pub(crate) branches: Vec<(f64, Outcome, Option<usize>)>,
    /// Expected cost from here.
    pub(crate) expected: f64,
}

/// All situations a policy reaches, children before parents; the last is the start.
#[derive(Debug, Clone, Default)]
pub(crate) struct Policy {
    /// The situations.
    pub(crate) nodes: Vec<Node>,
}

impl Policy {
    /// Expected cost from the start.
    #[must_use]
    pub(crate) fn cost(&self) -> f64 {
        self.nodes.last().map_or(0.0, |n| n.expected)
    }

    /// First action.
    #[must_use]
    pub(crate) fn first(&self) -> Option<&Action> {
        self.nodes.last().map(|n| &n.action)
    }
}

type Key = (Vec<u64>, Vec<usize>, usize, Vec<usize>, Vec<usize>);

/// What makes two situations the same: weights to 2^-40, covers, mode, tests used and repairs tried.
fn key(problem: &Problem, s: &Situation) -> Key {
    let weights = s.weights.iter().map(|w| (w + 4096.0).to_bits()).collect();
    let tried = s.tried.iter().copied().filter(|r| problem.parts().repairs[*r].success < 1.0).collect();
    (weights, s.open.iter().copied().collect(), s.mode, s.used.iter().copied().collect(), tried)
}

/// Follows a way of choosing through everything that can happen; each situation is asked about once.
///
/// # Errors
/// The chooser names an action that is not possible, or fails itself.
pub(crate) fn enumerate<F>(problem: &Problem, start: &Situation, choose: &mut F) -> Result<Policy, ProblemError>
where
    F: FnMut(&Situation) -> Result<Action, ProblemError>,
{
    let mut policy = Policy::default();
    visit(problem, start, choose, &mut policy, &mut BTreeMap::new())?;
    Ok(policy)
}

fn visit<F>(
    problem: &Problem,
    situation: &Situation,
    choose: &mut F,
    policy: &mut Policy,
    known: &mut BTreeMap<Key, usize>,
) -> Result<usize, ProblemError>
where
    F: FnMut(&Situation) -> Result<Action, ProblemError>,
{
    let key = key(problem, situation);
    if let Some(&at) = known.get(&key) {
        return Ok(at);
    }
    let action = choose(situation)?;
    let step = problem.step(situation, &action)?;
    let mut expected = step.cost;
    let mut branches = Vec::new();
    for b in step.branches {
        let next = match &b.situation {
            Some(next) => Some(visit(problem, next, choose, policy, known)?),
            None => None,
        };
        expected += next.map_or(0.0, |n| b.probability * policy.nodes[n].expected);
        branches.push((b.probability, b.outcome, next));
    }
    policy.nodes.push(Node { action, cost: step.cost, branches, expected });
    let at = policy.nodes.len() - 1;
    known.insert(key, at);
    Ok(at)
}
