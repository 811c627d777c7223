//! What would change the proposal: how far the odds of one hypothesis must move. It plans nothing anew.
//!
//! The cost of a fixed plan is linear in the belief: with C(h) its cost when h is the truth, the plan costs the weighted
//! sum of C. Multiplying the odds of h by k moves the difference of two plans from G to G + (k - 1) w d, up to scale,
//! where w is the weight of h and d the difference when h is true; it vanishes at k = 1 - G / (w d).

use super::core::Core;
use super::planner::{Ahead, Candidate, Planner, REPAIR_ON, Search};
use super::problem::Problem;
use super::rollout::{Budget, Rollout, Spent};
use super::situation::Action;
use super::state::{NEVER, Pick, State, apply};

/// The nearest change of one hypothesis' odds that makes another action best.
#[derive(Debug, Clone, PartialEq)]
pub struct Flip {
    /// The hypothesis.
    pub hypothesis: usize,
    /// Factor on its odds; above 1 it must be likelier, below 1 less likely.
    pub factor: f64,
    /// What would then be best.
    pub becomes: Action,
}

impl Flip {
    /// How far the odds must move either way, as a natural logarithm; 0 is a tie now.
    #[must_use]
    pub fn distance(&self) -> f64 {
        libm::log(self.factor).abs()
    }
}

/// Rivals of the leader that are weighed.
const RIVALS: usize = 4;
/// Weight below which a hypothesis is not asked what it would change.
const SLIGHT: f64 = 1e-6;

impl Planner<'_> {
    /// The nearest flip for one hypothesis among the best few actions; none if no change of its odds would do.
    ///
    /// *Approximate because* the plans after each action are held as they stand: planned anew, a rival may win sooner.
    pub fn flip_point(&mut self, hypothesis: usize) -> Option<Flip> {
        let weight = *self.root.weights.get(hypothesis)?;
        if !(SLIGHT..=1.0 - SLIGHT).contains(&weight) {
            return None;
        }
        let mut truth = vec![0.0; self.root.weights.len()];
        truth[hypothesis] = 1.0;
        let leader = self.leading()?;
        let own = self.cost_if(&leader, &truth)?;
        let mut nearest: Option<Flip> = None;
        for rival in self.rivals(leader.pick) {
            let lead = rival.estimate - leader.estimate;
            let slope = weight * (own - self.cost_if(&rival, &truth)?);
            let factor = 1.0 + lead.max(0.0) / slope;
            if slope.abs() > 1e-12 && factor > 0.0 {
                let flip = Flip { hypothesis, factor, becomes: self.problem.action(rival.pick) };
                if nearest.as_ref().is_none_or(|n| flip.distance() < n.distance()) {
                    nearest = Some(flip);
                }
            }
        }
        nearest
    }

    /// The nearest flip over all hypotheses; the first of equals.
    pub fn nearest_flip(&mut self) -> Option<Flip> {
        let flips: Vec<Flip> = (0..self.root.weights.len()).filter_map(|h| self.flip_point(h)).collect();
        flips.into_iter().min_by(|a, b| a.distance().total_cmp(&b.distance()))
    }

    /// Other actions than the leading one that were rolled out, the cheapest plan of each, cheapest first.
    fn rivals(&self, leader: Pick) -> Vec<Candidate> {
        let mut order: Vec<&Candidate> = self.candidates.iter().filter(|c| c.looked > 0 && c.pick != leader).collect();
        order.sort_by(|a, b| a.estimate.total_cmp(&b.estimate));
        let mut rivals: Vec<Candidate> = Vec::new();
        for c in order {
            if rivals.len() < RIVALS && rivals.iter().all(|r| r.pick != c.pick) {
                rivals.push(c.clone());
            }
        }
        rivals
    }

    /// Cost of a candidate's plan when the truth is this, while decisions follow the belief.
    fn cost_if(&mut self, candidate: &Candidate, truth: &[f64]) -> Option<f64> {
        let mut budget = Budget { left: usize::MAX, spent: 0 };
        let held = self.held();
        self.search.cost_if(self.problem, &self.root, (candidate.pick, &candidate.then), held, truth, &mut budget).ok()
    }
}

/// A state an action may lead to, with what is true there.
struct Way {
    /// Probability by the belief.
    p: f64,
    next: State,
    /// Weight by the truth; it adds up to the probability of getting here.
    truth: Vec<f64>,
}

/// Price of an action and the states it may lead to, by the belief and by the truth.
fn ways(core: &Core, state: &State, pick: Pick, truth: &[f64]) -> (f64, Vec<Way>) {
    let mut list = Vec::new();
    let mut push = |branch: Option<(f64, State)>, truth: Vec<f64>| {
        if let Some((p, next)) = branch
            && truth.iter().sum::<f64>() > NEVER
        {
            list.push(Way { p, next, truth });
        }
    };
    let cost = match pick {
        Pick::Test(t) => {
            let (cost, access) = core.test_cost(state.access, t);
            for (o, column) in core.tests[t].columns.iter().enumerate() {
                let then = truth.iter().zip(column).map(|(w, l)| w * l).collect();
                push(state.after_test(core, t, o, access), then);
            }
            cost
        }
        Pick::Fix(f) => {
            let (cost, access) = core.fix_cost(state.access, f);
            let mut then = truth.to_vec();
            apply(core, f, &mut then);
            push(state.after_fix(core, f, access), then);
            cost
        }
        Pick::Exit => core.exit.unwrap_or(0.0),
    };
    (cost, list)
}

impl Search {
    /// Cost of a plan when the truth is this: an action, tests after it, then the best policy to roll out.
    fn cost_if(
        &mut self,
        problem: &Problem,
        state: &State,
        plan: (Pick, &[usize]),
        ahead: Ahead,
        truth: &[f64],
        budget: &mut Budget,
    ) -> Result<f64, Spent> {
        let (pick, then) = plan;
        let (cost, ways) = ways(&problem.core, state, pick, truth);
        let mut total = cost * truth.iter().sum::<f64>();
        for way in ways {
            let on = ahead.reached(way.p);
            let chain = then.split_first().map(|(&test, rest)| (Pick::Test(test), rest));
            let follow = self.look(problem, &way.next, on, budget)?;
            total += match chain {
                Some((pick, rest)) if self.cost(problem, &way.next, pick, rest, on, budget)? < follow => {
                    self.cost_if(problem, &way.next, (pick, rest), on, &way.truth, budget)?
                }
                _ => self.follow_if(&problem.core, &way, on, budget)?,
            };
        }
        Ok(total)
    }

    /// Cost of the policy that a look would follow, when the truth is this.
    fn follow_if(&mut self, core: &Core, way: &Way, ahead: Ahead, budget: &mut Budget) -> Result<f64, Spent> {
        let mut best = (f64::INFINITY, 0);
        for (i, rollout) in self.rollouts.iter_mut().enumerate() {
            let cost = rollout.value(core, &way.next, ahead.reach, ahead.stage.cut, budget)?;
            if cost < best.0 {
                best = (cost, i);
            }
        }
        let share = ahead.stage.cut / ahead.reach;
        if self.repair_on(core, &way.next) < best.0 {
            return Rollout::new(REPAIR_ON).cost_if(core, &way.next, share, &way.truth, budget);
        }
        self.rollouts[best.1].cost_if(core, &way.next, share, &way.truth, budget)
    }
}

impl Rollout {
    /// Cost of following the policy when the truth is this; weights as in [`Way`].
    fn cost_if(
        &mut self,
        core: &Core,
        state: &State,
        share: f64,
        truth: &[f64],
        budget: &mut Budget,
    ) -> Result<f64, Spent> {
        let mass: f64 = truth.iter().sum();
        if share > 1.0 {
            return Ok(mass * self.scorer.run(core, state, REPAIR_ON).cost);
        }
        let pick = self.decision(core, state, budget)?.pick;
        let (cost, ways) = ways(core, state, pick, truth);
        let mut total = cost * mass;
        for way in ways {
            total += self.cost_if(core, &way.next, share / way.p, &way.truth, budget)?;
        }
        Ok(total)
    }
}
