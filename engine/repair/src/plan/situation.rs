//! Where a job stands, and what an action would make of it. It chooses nothing.

use super::core::{Access, Core, bits};
use super::error::{Place, ProblemError};
use super::problem::Problem;
use super::state::{Bits, Pick, State};
use std::collections::BTreeSet;

/// Where a job stands: belief, covers, mode, and what was done.
#[derive(Debug, Clone, PartialEq)]
pub struct Situation {
    /// Weight of each hypothesis, from 0 up; normalised when used.
    pub weights: Vec<f64>,
    /// Open covers. What they need counts as open too.
    pub open: BTreeSet<usize>,
    /// Present mode.
    pub mode: usize,
    /// Tests used.
    pub used: BTreeSet<usize>,
    /// Repairs tried. Only those that may fail are barred from a second try.
    pub tried: BTreeSet<usize>,
}

/// One thing to do next, with the set-up it needs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Action {
    /// Makes the test at this position.
    Test(usize),
    /// Makes these repairs and then one check.
    Repair(Vec<usize>),
    /// Ends the job at the price of the exit.
    Exit,
}

/// What came out of an action.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outcome {
    /// The test came out as this one of its outcomes.
    Result(usize),
    /// The check after a repair passed.
    Mended,
    /// The check after a repair did not pass.
    StillFaulty,
    /// The job was left by the exit.
    Left,
}

/// One thing an action may lead to.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// Its probability.
    pub probability: f64,
    /// What is seen.
    pub outcome: Outcome,
    /// Where the job stands then; none when it has ended.
    pub situation: Option<Situation>,
}

/// An action carried through in thought.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Price with set-up, check and closing for the check.
    pub cost: f64,
    /// Covers opened, outermost first.
    pub opens: Vec<usize>,
    /// Mode the action is done in.
    pub mode: usize,
    /// What it may lead to; impossible outcomes are left out.
    pub branches: Vec<Branch>,
}

impl Problem {
    /// The situation at the start: prior weights, everything closed, nothing done.
    #[must_use]
    pub fn start(&self, mode: usize) -> Situation {
        Situation {
            weights: self.core.prior.clone(),
            open: BTreeSet::new(),
            mode,
            used: BTreeSet::new(),
            tried: BTreeSet::new(),
        }
    }

    /// Works out what an action costs in a situation and what it may lead to.
    ///
    /// # Errors
    /// The situation does not fit the problem, or the action is not possible in it: a used test, a tried repair,
    /// repairs that are no batch, an exit where there is none.
    pub fn step(&self, situation: &Situation, action: &Action) -> Result<Step, ProblemError> {
        let state = self.state(situation)?;
        let pick = self.pick(&state, action)?;
        let core = &self.core;
        let (opens, mode) = set_up_of(core, state.access, pick);
        let (cost, branches) = match pick {
            Pick::Exit => (
                core.exit.ok_or(ProblemError::NotPossible)?,
                vec![Branch { probability: 1.0, outcome: Outcome::Left, situation: None }],
            ),
            Pick::Test(t) => {
                let (cost, access) = core.test_cost(state.access, t);
                let branch = |o| {
                    state.after_test(core, t, o, access).map(|(probability, next)| {
                        let situation = Some(self.situation(&next, situation));
                        Branch { probability, outcome: Outcome::Result(o), situation }
                    })
                };
                (cost, (0..core.tests[t].columns.len()).filter_map(branch).collect())
            }
            Pick::Fix(f) => {
                let (cost, access) = core.fix_cost(state.access, f);
                let still = state.after_fix(core, f, access);
                let left = still.as_ref().map_or(0.0, |(p, _)| *p);
                let mut branches = Vec::new();
                if left < 1.0 {
                    branches.push(Branch { probability: 1.0 - left, outcome: Outcome::Mended, situation: None });
                }
                if let Some((probability, next)) = still {
                    let mut after = self.situation(&next, situation);
                    after.tried.extend(&core.fixes[f].members);
                    branches.push(Branch { probability, outcome: Outcome::StillFaulty, situation: Some(after) });
                }
                (cost, branches)
            }
        };
        Ok(Step { cost, opens, mode, branches })
    }

    /// Checks a situation and turns it into a state.
    pub(super) fn state(&self, situation: &Situation) -> Result<State, ProblemError> {
        let (core, place) = (&self.core, Place::Situation);
        let needed = core.hyps;
        if situation.weights.len() != needed {
            return Err(ProblemError::BadLength { place, found: situation.weights.len(), needed });
        }
        if let Some(&value) = situation.weights.iter().find(|w| !(w.is_finite() && **w >= 0.0)) {
            return Err(ProblemError::BadProbability { place, value });
        }
        let total: f64 = situation.weights.iter().sum();
        if total <= 0.0 {
            return Err(ProblemError::NoWeight(place));
        }
        let within = |what, count: usize, set: &BTreeSet<usize>| match set.last() {
            Some(&index) if index >= count => Err(ProblemError::NoSuch { place, what, index }),
            _ => Ok(()),
        };
        within("cover", core.groups.len(), &situation.open)?;
        within("test", core.tests.len(), &situation.used)?;
        within("repair", self.parts().repairs.len(), &situation.tried)?;
        within("mode", core.switch.len().max(1), &BTreeSet::from([situation.mode]))?;
        let open = situation.open.iter().fold(0, |mask, &g| mask | core.closure[g]);
        let used = situation.used.iter().filter(|t| !core.tests[**t].sure).fold(Bits::default(), |set, &t| set.with(t));
        let tried =
            situation.tried.iter().filter(|r| core.fixes[**r].unsure).fold(Bits::default(), |set, &r| set.with(r));
        Ok(State {
            weights: situation.weights.iter().map(|w| w / total).collect(),
            access: Access { open, mode: situation.mode },
            used,
            tried,
        })
    }

    fn situation(&self, state: &State, before: &Situation) -> Situation {
        Situation {
            weights: state.weights.clone(),
            open: bits(state.access.open).collect(),
            mode: state.access.mode,
            used: (0..self.core.tests.len()).filter(|&t| state.used.has(t)).collect(),
            tried: before.tried.clone(),
        }
    }

    fn pick(&self, state: &State, action: &Action) -> Result<Pick, ProblemError> {
        let core = &self.core;
        let pick = match action {
            Action::Exit => core.exit.map(|_| Pick::Exit),
            Action::Test(t) => (*t < core.tests.len() && state.may_test(*t)).then_some(Pick::Test(*t)),
            Action::Repair(members) => (0..core.fixes.len())
                .find(|&f| core.fixes[f].members == *members && state.may_fix(core, f))
                .map(Pick::Fix),
        };
        pick.ok_or(ProblemError::NotPossible)
    }

    pub(super) fn action(&self, pick: Pick) -> Action {
        match pick {
            Pick::Test(t) => Action::Test(t),
            Pick::Fix(f) => Action::Repair(self.core.fixes[f].members.clone()),
            Pick::Exit => Action::Exit,
        }
    }
}

/// Covers an action opens, outermost first, and the mode it is done in.
pub(super) fn set_up_of(core: &Core, access: Access, pick: Pick) -> (Vec<usize>, usize) {
    let (need, mode) = match pick {
        Pick::Test(t) => (core.tests[t].need, core.tests[t].mode),
        Pick::Fix(f) => (core.fixes[f].need, core.fixes[f].mode),
        Pick::Exit => return (Vec::new(), access.mode),
    };
    let missing = need & !access.open;
    let opens = core.order.iter().copied().filter(|g| missing >> g & 1 == 1).collect();
    (opens, core.set_up(access, need, mode).1.mode)
}
