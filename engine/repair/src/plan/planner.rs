//! The planner that ships: rollout of base policies from the present situation, refined as long as it is asked to.
//!
//! A first ranking stands as soon as it is made; `advance` works through the stages below in order and can stop after
//! any number of nodes. It has no clock, and the exact solver is not part of it.

use super::base::{BasePolicy, Ordering, Rule};
use super::bounds;
use super::core::Core;
use super::error::ProblemError;
use super::problem::Problem;
use super::rank::{Limits, Scored, Scorer, rank};
use super::rollout::{Budget, Rollout, Spent};
use super::situation::{Action, Situation, set_up_of};
use super::state::{Pick, State};
use std::collections::BTreeMap;

/// How far and how wide to plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// States expanded in all, over every call of `advance`.
    pub nodes: usize,
    /// Candidates rolled out from the present situation.
    pub candidates: usize,
    /// Candidates looked at more deeply, and actions weighed in each state on the way.
    pub width: usize,
    /// Actions looked ahead beyond the first in the refinement.
    pub depth: usize,
    /// Share of what is still avoidable (the cost above the bound) by which the refinement must beat the standing
    /// proposal to replace it.
    pub margin: f64,
    /// Probability of a branch below which its plan is to repair on without tests.
    pub cut: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { nodes: 20_000, candidates: 12, width: 4, depth: 2, margin: 0.01, cut: 1e-4 }
    }
}

/// How far planning has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// States expanded so far.
    pub spent: usize,
    /// Nothing is left to do within the settings.
    pub finished: bool,
}

/// An action that could be next, and what a plan beginning with it costs.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// What to do.
    pub action: Action,
    /// Tests meant to follow at once unless what is seen speaks against it.
    pub then: Vec<usize>,
    /// Exact expected cost of a plan that begins with it; the best plan with this beginning costs no more.
    pub expected_cost: f64,
    /// Price of this action alone, with its set-up.
    pub cost_now: f64,
    /// Covers it opens, outermost first.
    pub opens: Vec<usize>,
    /// Mode it is done in.
    pub mode: usize,
    /// Actions weighed beyond the first: 0 for a score by repairs alone, 1 for a rollout, more for a deeper look.
    pub looked: usize,
}

#[derive(Debug, Clone)]
pub(super) struct Candidate {
    pub(super) pick: Pick,
    pub(super) then: Vec<usize>,
    pub(super) estimate: f64,
    pub(super) looked: usize,
    /// Stages it went through.
    round: usize,
}

/// Plans from one situation.
#[derive(Debug, Clone)]
pub struct Planner<'p> {
    pub(super) problem: &'p Problem,
    pub(super) root: State,
    settings: Settings,
    pub(super) search: Search,
    pub(super) candidates: Vec<Candidate>,
    stages: Vec<Stage>,
    leader: usize,
    /// The stage being worked through, as a place in `stages`.
    stage: usize,
    queue: Vec<usize>,
    spent: usize,
    bound: f64,
}

/// The policies rolled out in parallel and the deeper looks taken so far.
#[derive(Debug, Clone)]
pub(super) struct Search {
    pub(super) rollouts: Vec<Rollout>,
    looks: BTreeMap<(u128, usize), (f64, f64)>,
    width: usize,
    scorer: Scorer,
}

/// Repairing on without tests: always one of the policies compared.
pub(super) const REPAIR_ON: BasePolicy = BasePolicy { rule: Rule::Repair, ordering: Ordering::Blocks, exit: true };

/// One pass over the best candidates.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    /// Base policies rolled out.
    policies: usize,
    /// Candidates worked out.
    most: usize,
    /// Actions weighed beyond the first before rolling out.
    depth: usize,
    pub(super) cut: f64,
    /// Gain needed to replace the standing proposal.
    margin: f64,
}

/// Quick rollouts first, so that an answer stands early; then parallel and finer ones; then deeper looks.
fn stages(settings: &Settings) -> Vec<Stage> {
    let (most, cut) = (settings.candidates, settings.cut);
    let quick = Stage { policies: 1, most, depth: 0, cut: cut.max(1e-2), margin: 0.0 };
    let parallel = Stage { policies: 2, most: most.div_ceil(2), ..quick };
    let finer = Stage { cut: cut.max(1e-3), ..parallel };
    let full = Stage { cut, most: most.div_ceil(3), ..finer };
    let deeper =
        (1..=settings.depth).map(|depth| Stage { depth, most: settings.width, margin: settings.margin, ..full });
    [quick, parallel, finer, full].into_iter().chain(deeper).collect()
}

impl<'p> Planner<'p> {
    /// Ranks every action at once; proposals can be read from here on.
    ///
    /// # Errors
    /// The situation does not fit the problem.
    pub fn new(problem: &'p Problem, situation: &Situation, settings: Settings) -> Result<Self, ProblemError> {
        let root = problem.state(situation)?;
        let core = &problem.core;
        let limits = Limits { tests: 48, fixes: core.fixes.len(), chains: 12, longest: 3 };
        let ranked = rank(core, &mut Scorer::default(), &root, BasePolicy::VALUE, limits);
        let first = |s: Scored| Candidate { pick: s.pick, then: s.then, estimate: s.score, looked: 0, round: 0 };
        let candidates: Vec<Candidate> = ranked.list.into_iter().map(first).collect();
        // The cheaper one first: a short look then reaches further.
        let policies = [BasePolicy::INFORMATION, BasePolicy::VALUE];
        let search = Search {
            rollouts: policies.into_iter().map(Rollout::new).collect(),
            looks: BTreeMap::new(),
            width: settings.width,
            scorer: Scorer::default(),
        };
        let bound = bounds::one_step(core, &root);
        let mut planner = Self {
            problem,
            root,
            settings,
            search,
            candidates,
            stages: stages(&settings),
            leader: 0,
            stage: 0,
            queue: Vec::new(),
            spent: 0,
            bound,
        };
        planner.enter(0);
        Ok(planner)
    }

    /// Expands up to `nodes` more states and says how far it came.
    ///
    /// The same calls give the same proposals.
    pub fn advance(&mut self, nodes: usize) -> Progress {
        let left = nodes.min(self.settings.nodes.saturating_sub(self.spent));
        let mut budget = Budget { left, spent: 0 };
        while let Some(&at) = self.queue.last() {
            if self.look_at(at, &mut budget).is_err() {
                break;
            }
            self.queue.pop();
            self.settle();
        }
        self.spent += budget.spent;
        Progress { spent: self.spent, finished: self.queue.is_empty() || self.spent >= self.settings.nodes }
    }

    /// Works through everything the settings allow.
    pub fn finish(&mut self) -> Progress {
        self.advance(usize::MAX)
    }

    /// Actions that could be next, the proposed one first, then by expected cost.
    #[must_use]
    pub fn proposals(&self) -> Vec<Proposal> {
        let mut order: Vec<usize> = (0..self.candidates.len()).collect();
        let place = |i: usize| (i != self.leader, self.candidates[i].looked == 0);
        order.sort_by(|&a, &b| {
            let cost = |i: usize| self.candidates[i].estimate;
            place(a).cmp(&place(b)).then(cost(a).total_cmp(&cost(b))).then(a.cmp(&b))
        });
        let mut proposals: Vec<Proposal> = Vec::new();
        let mut seen: Vec<Pick> = Vec::new();
        for i in order {
            let c = &self.candidates[i];
            if !seen.contains(&c.pick) {
                seen.push(c.pick);
                proposals.push(self.proposal(c));
            }
        }
        proposals
    }

    /// What no plan from here can beat.
    #[must_use]
    pub fn lower_bound(&self) -> f64 {
        self.bound
    }

    /// The candidate that is proposed, once it has been rolled out.
    pub(super) fn leading(&self) -> Option<Candidate> {
        self.candidates.get(self.leader).filter(|c| c.looked > 0).cloned()
    }

    /// The finest plan without deeper looks, as held when the belief is varied.
    pub(super) fn held(&self) -> Ahead {
        let full = Stage { depth: 0, ..self.stages[self.stages.len() - 1] };
        Ahead { stage: full, depth: 0, reach: 1.0 }
    }

    fn proposal(&self, c: &Candidate) -> Proposal {
        let core = &self.problem.core;
        let (opens, mode) = set_up_of(core, self.root.access, c.pick);
        Proposal {
            action: self.problem.action(c.pick),
            then: c.then.clone(),
            expected_cost: c.estimate,
            cost_now: self.root.step(core, c.pick).0,
            opens,
            mode,
            looked: c.looked,
        }
    }

    /// Fills the queue for a stage: the standing leader first, then the others by estimate.
    fn enter(&mut self, stage: usize) {
        self.stage = stage;
        self.queue.clear();
        let Some(most) = self.stages.get(stage).map(|s| s.most) else { return };
        let mut order: Vec<usize> = (0..self.candidates.len()).collect();
        let place = |i: usize| (i != self.leader, stage > 0 && self.candidates[i].looked == 0);
        let estimate = |i: usize| self.candidates[i].estimate;
        order.sort_by(|&a, &b| place(a).cmp(&place(b)).then(estimate(a).total_cmp(&estimate(b))).then(a.cmp(&b)));
        // Different beginnings are worth more than different ways to go on from one.
        let mut begun: BTreeMap<Pick, usize> = BTreeMap::new();
        let ways = if stage == 0 { 2 } else { 1 };
        order.retain(|&i| {
            let count = begun.entry(self.candidates[i].pick).or_default();
            *count += 1;
            *count <= ways
        });
        order.truncate(most);
        order.reverse();
        self.queue = order;
    }

    /// Updates the leader and, when a stage is through, goes on to the next.
    fn settle(&mut self) {
        // Until the first stage is through the best so far leads. After that only candidates worked out equally finely
        // are compared: a finer look lowers the cost of any of them.
        if self.stage > 0 && !self.queue.is_empty() {
            return;
        }
        let best = (0..self.candidates.len())
            .filter(|&i| self.candidates[i].round > self.stage)
            .min_by(|&a, &b| self.candidates[a].estimate.total_cmp(&self.candidates[b].estimate));
        let Some(best) = best else { return };
        // WHY NOT always the best: refinement that gains next to nothing would only make the proposal flicker.
        let margin = self.stages.get(self.stage).map_or(0.0, |s| s.margin);
        let standing = self.candidates[self.leader].estimate;
        let gain = margin * (standing - self.bound).max(0.0);
        if self.candidates[best].estimate < standing - gain || self.candidates[self.leader].looked == 0 {
            self.leader = best;
        }
        if self.queue.is_empty() {
            self.enter(self.stage + 1);
        }
    }

    fn look_at(&mut self, at: usize, budget: &mut Budget) -> Result<(), Spent> {
        let Some(&stage) = self.stages.get(self.stage) else { return Ok(()) };
        let c = &self.candidates[at];
        let plan = Ahead { stage, depth: stage.depth, reach: 1.0 };
        let cost = self.search.cost(self.problem, &self.root, c.pick, &c.then, plan, budget)?;
        let c = &mut self.candidates[at];
        // A first score is rough and is replaced; later looks are exact costs of plans, so the least of them stands.
        c.estimate = if c.looked == 0 { cost } else { cost.min(c.estimate) };
        c.looked = c.looked.max(stage.depth + 1);
        c.round = self.stage + 1;
        Ok(())
    }
}

/// How a state is looked at: within which stage, how many actions more, and how likely it is to get there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ahead {
    pub(super) stage: Stage,
    depth: usize,
    pub(super) reach: f64,
}

impl Ahead {
    pub(super) fn reached(self, p: f64) -> Self {
        Self { reach: self.reach * p, ..self }
    }
}

impl Search {
    /// Cost of an action followed by the tests in `then` where they pay, then by the best look.
    pub(super) fn cost(
        &mut self,
        problem: &Problem,
        state: &State,
        pick: Pick,
        then: &[usize],
        plan: Ahead,
        budget: &mut Budget,
    ) -> Result<f64, Spent> {
        let (mut cost, branches) = state.step(&problem.core, pick);
        for (p, next) in branches {
            let mut best = self.look(problem, &next, plan.reached(p), budget)?;
            if let Some((&test, rest)) = then.split_first() {
                best = best.min(self.cost(problem, &next, Pick::Test(test), rest, plan.reached(p), budget)?);
            }
            cost += p * best;
        }
        Ok(cost)
    }

    pub(super) fn repair_on(&mut self, core: &Core, state: &State) -> f64 {
        self.scorer.run(core, state, REPAIR_ON).cost
    }

    /// Least cost from a state over a few actions, rolled out after that.
    pub(super) fn look(
        &mut self,
        problem: &Problem,
        state: &State,
        plan: Ahead,
        budget: &mut Budget,
    ) -> Result<f64, Spent> {
        let core = &problem.core;
        let Ahead { stage, depth, reach } = plan;
        let mut best = self.repair_on(core, state);
        for rollout in &mut self.rollouts[..stage.policies] {
            best = best.min(rollout.value(core, state, reach, stage.cut, budget)?);
        }
        if depth == 0 || reach < stage.cut {
            return Ok(best);
        }
        let key = (state.key(), depth);
        if let Some(&(known, at)) = self.looks.get(&key)
            && at >= reach
        {
            return Ok(known.min(best));
        }
        let deeper = Ahead { depth: depth - 1, ..plan };
        for pick in self.worth_a_look(problem, state, budget)? {
            if bounds::after(core, state, pick) < best - 1e-9 {
                best = best.min(self.cost(problem, state, pick, &[], deeper, budget)?);
            }
        }
        self.looks.insert(key, (best, reach));
        Ok(best)
    }

    fn worth_a_look(&mut self, problem: &Problem, state: &State, budget: &mut Budget) -> Result<Vec<Pick>, Spent> {
        let mut picks: Vec<Pick> = Vec::new();
        for rollout in &mut self.rollouts {
            let decision = rollout.decision(&problem.core, state, budget)?;
            let ranked = decision.ranked.iter().map(|(_, pick)| *pick).take(self.width);
            for pick in ranked.chain([decision.pick]) {
                if !picks.contains(&pick) {
                    picks.push(pick);
                }
            }
        }
        Ok(picks)
    }
}
