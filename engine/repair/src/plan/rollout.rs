//! The exact expected cost of following a base policy from a state, by enumerating outcomes. Internal to planning.

use super::base::{BasePolicy, Decision, decide};
use super::core::Core;
use super::rank::Scorer;
use super::state::State;
use std::collections::BTreeMap;

/// States that may still be expanded.
#[derive(Debug, Clone, Copy)]
pub(super) struct Budget {
    pub(super) left: usize,
    pub(super) spent: usize,
}

/// The budget ran out; what was worked out so far is kept.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spent;

impl Budget {
    pub(super) fn take(&mut self) -> Result<(), Spent> {
        self.left = self.left.checked_sub(1).ok_or(Spent)?;
        self.spent += 1;
        Ok(())
    }
}

#[derive(Debug, Clone)]
struct Entry {
    decision: Decision,
    value: Option<Value>,
}

/// Cost of a policy from a state.
#[derive(Debug, Clone, Copy)]
struct Value {
    cost: f64,
    /// Probability, given that this state is reached, below which branches were cut.
    share: f64,
    /// No branch below was cut.
    whole: bool,
}

/// A base policy with all that was worked out about it.
#[derive(Debug, Clone)]
pub(super) struct Rollout {
    policy: BasePolicy,
    table: BTreeMap<u128, Entry>,
    pub(super) scorer: Scorer,
}

impl Rollout {
    pub(super) fn new(policy: BasePolicy) -> Self {
        Self { policy, table: BTreeMap::new(), scorer: Scorer::default() }
    }

    /// What the policy does here.
    pub(super) fn decision(&mut self, core: &Core, state: &State, budget: &mut Budget) -> Result<&Decision, Spent> {
        let key = state.key();
        if !self.table.contains_key(&key) {
            budget.take()?;
            let decision = decide(core, &mut self.scorer, state, self.policy);
            self.table.insert(key, Entry { decision, value: None });
        }
        self.table.get(&key).map(|e| &e.decision).ok_or(Spent)
    }

    /// Expected cost of following the policy from a state reached with probability `reach`.
    ///
    /// States reached with less probability than `cut` are not tested in any more but repaired on, which is a plan too:
    /// the cost stays exact for a plan that can be followed.
    pub(super) fn value(
        &mut self,
        core: &Core,
        state: &State,
        reach: f64,
        cut: f64,
        budget: &mut Budget,
    ) -> Result<f64, Spent> {
        self.follow(core, state, cut / reach, budget).map(|v| v.cost)
    }

    fn follow(&mut self, core: &Core, state: &State, share: f64, budget: &mut Budget) -> Result<Value, Spent> {
        let key = state.key();
        if let Some(Entry { value: Some(v), .. }) = self.table.get(&key)
            && (v.whole || v.share <= share)
        {
            return Ok(*v);
        }
        if share > 1.0 {
            let cost = self.scorer.run(core, state, self.policy).cost;
            return Ok(Value { cost, share, whole: false });
        }
        let pick = self.decision(core, state, budget)?.pick;
        let (mut cost, branches) = state.step(core, pick);
        let mut whole = true;
        for (p, next) in branches {
            let v = self.follow(core, &next, share / p, budget)?;
            cost += p * v.cost;
            whole &= v.whole;
        }
        let value = Value { cost, share, whole };
        if let Some(entry) = self.table.get_mut(&key) {
            entry.value = Some(value);
        }
        Ok(value)
    }
}
