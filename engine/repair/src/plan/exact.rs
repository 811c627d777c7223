//! The exact optimum by dynamic programming over every sequence of actions: an oracle for tests and small problems.
//!
//! The planner does not use it. States are merged by their signature; their number grows without mercy.

use super::core::Core;
use super::error::ProblemError;
use super::problem::Problem;
use super::rank::information;
use super::situation::{Action, Situation};
use super::state::{NEVER, Pick, State};
use std::collections::BTreeMap;

/// A table of states solved so far.
#[derive(Debug, Clone)]
pub struct Exact<'p> {
    problem: &'p Problem,
    table: BTreeMap<u128, (f64, Pick)>,
}

impl<'p> Exact<'p> {
    /// Begins with nothing solved.
    #[must_use]
    pub fn new(problem: &'p Problem) -> Self {
        Self { problem, table: BTreeMap::new() }
    }

    /// Least expected cost from a situation, and the first action of a plan that reaches it.
    ///
    /// # Errors
    /// The situation does not fit the problem.
    pub fn solve(&mut self, situation: &Situation) -> Result<(f64, Action), ProblemError> {
        let state = self.problem.state(situation)?;
        let (cost, pick) = self.best(&state);
        Ok((cost, self.problem.action(pick)))
    }

    /// Number of states solved.
    #[must_use]
    pub fn states(&self) -> usize {
        self.table.len()
    }

    fn best(&mut self, state: &State) -> (f64, Pick) {
        let key = state.key();
        if let Some(&known) = self.table.get(&key) {
            return known;
        }
        let core = &self.problem.core;
        let mut best = (core.exit.unwrap_or(f64::INFINITY), Pick::Exit);
        for pick in possible(core, state) {
            let (mut cost, branches) = state.step(core, pick);
            for (p, next) in branches {
                if cost >= best.0 {
                    break;
                }
                cost += p * self.best(&next).0;
            }
            if cost < best.0 - 1e-12 {
                best = (cost, pick);
            }
        }
        self.table.insert(key, best);
        best
    }
}

fn possible(core: &Core, state: &State) -> Vec<Pick> {
    let tells = |t: usize| state.may_test(t) && information(&core.tests[t], &state.weights) > NEVER;
    let tests = (0..core.tests.len()).filter(|&t| tells(t)).map(Pick::Test);
    let fixes = (0..core.fixes.len()).filter(|&f| state.may_fix(core, f)).map(Pick::Fix);
    tests.chain(fixes).collect()
}
