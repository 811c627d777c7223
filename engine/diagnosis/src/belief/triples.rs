//! Three faults at once, weighed when asked for or when one and two explain badly.
//!
//! All triples of a machine are too many to solve, so the likeliest pairs are each joined with every single fault (a
//! beam). A triple whose pairs all explain badly is left out; what such triples could hold at most is bounded: their
//! prior mass is known in closed form, and no item of evidence can be likelier under any of them than its ceiling.

use super::{Belief, Weight};
use crate::evidence::Evidence;
use crate::likelihood::ceiling;
use crate::suspects::{Assumptions, Suspect, suspects};
use machine::model::{FaultId, Machine};
use std::collections::BTreeSet;

/// Pairs that are joined with every single fault unless more are asked for.
pub const BEAM: usize = 12;

/// What weighing triples came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Widened {
    /// Triples weighed.
    pub triples: usize,
    /// Share that the triples left out could hold at most; 1 where the evidence bounds nothing.
    pub left_out_at_most: f64,
}

impl Belief<'_, '_> {
    /// Says whether one and two faults explain so badly that three should be weighed.
    ///
    /// A machine that is not as described then holds much of the belief, or a reading clashes with all suspects.
    #[must_use]
    pub fn explains_badly(&self) -> bool {
        self.not_as_described() > 0.2 || self.unexplained()
    }

    /// Weighs triples too: the `beam` likeliest pairs, each joined with every other fault, against all evidence so far.
    ///
    /// With as many pairs as there are nothing is left out and the shares are those of full enumeration.
    #[must_use]
    pub fn with_triples(&self, beam: usize) -> (Self, Widened) {
        let (machine, assumed) = (self.machine(), &self.assumed);
        let prior = Prior::of(machine, assumed);
        let mut chosen: BTreeSet<Suspect> = BTreeSet::new();
        let pairs: Vec<Suspect> = if beam >= prior.pairs() {
            suspects(machine, assumed).into_iter().map(|(suspect, _)| suspect).filter(|s| s.0.len() == 2).collect()
        } else {
            let weighed = self.shares().into_iter().map(|(suspect, _)| suspect);
            weighed.filter(|suspect| suspect.0.len() == 2).take(beam).cloned().collect()
        };
        for pair in &pairs {
            let joined = prior.ids.iter().filter(|fault| !pair.0.contains(fault));
            chosen.extend(joined.map(|&fault| Suspect::of(&[pair.0[0], pair.0[1], fault])));
        }
        let weighed: Vec<(Suspect, f64)> = chosen
            .into_iter()
            .map(|suspect| (prior.triple(&suspect), suspect))
            .filter(|(weight, _)| *weight > 0.0)
            .map(|(weight, suspect)| (suspect, weight))
            .collect();
        let held: f64 = weighed.iter().map(|(_, weight)| weight).sum();
        let triples = weighed.len();
        let wider = self.replayed(weighed);
        let left = if beam >= prior.pairs() { 0.0 } else { (prior.all() - held).max(0.0) };
        let log_most: f64 = self.evidence.iter().map(|weighed| libm::log(self.ceiling(&weighed.item))).sum();
        let most = if left > 0.0 { libm::exp(libm::log(left) + log_most - wider.log_all) } else { 0.0 };
        (wider, Widened { triples, left_out_at_most: most.min(1.0) })
    }

    /// Starts afresh with more suspects and takes all the evidence in again.
    fn replayed(&self, more: Vec<(Suspect, f64)>) -> Self {
        let mut belief = Self::unscaled(self.predictor, self.assumed.clone());
        let times = self.assumed.intermittents;
        let more = more.into_iter().map(|(s, weight)| Weight::new(self.predictor, s, libm::log(weight), times));
        belief.weights.extend(more);
        belief.normalise();
        self.evidence.iter().for_each(|weighed| belief.take(weighed.item.clone()));
        belief
    }

    /// Gives what the likelihood of an item cannot pass under any suspect.
    fn ceiling(&self, item: &Evidence) -> f64 {
        match item {
            Evidence::Read { reading, measured } => {
                ceiling(*measured, reading.quantity, self.predictor.meter(), self.assumed.slip)
            }
            Evidence::Opinion { times, .. } => times.max(1.0),
            // Of a suspect it leaves what is left of it, itself with a bad part, and itself with each lead off.
            Evidence::Repaired(repair) => {
                let leads = self.leads_touched(*repair).iter().map(|_| self.assumed.lead_left_off).sum::<f64>();
                1.0 + self.assumed.bad_repair + leads
            }
            // A density over kelvins is under 1 where a width is over 0.4 K: a thermometer alone has 3.
            Evidence::Warmed { .. }
            | Evidence::Reported(_)
            | Evidence::Answered(_)
            | Evidence::Watched(_)
            | Evidence::Looked { .. }
            | Evidence::ComesAndGoes(_)
            | Evidence::Built { .. }
            | Evidence::Stirred(_) => 1.0,
        }
    }
}

/// The prior weights of single faults and of causes with their effects.
struct Prior<'a> {
    machine: &'a Machine,
    ids: Vec<FaultId>,
    weights: Vec<f64>,
    total: f64,
    pairs: f64,
}

impl<'a> Prior<'a> {
    fn of(machine: &'a Machine, assumed: &Assumptions) -> Self {
        let weights: Vec<f64> = (0..)
            .zip(&machine.faults)
            .map(|(id, fault)| assumed.weights.get(&FaultId(id)).copied().unwrap_or(fault.weight))
            .collect();
        let ids = (0..).map(FaultId).zip(&weights).filter(|(_, weight)| **weight > 0.0).map(|(id, _)| id).collect();
        let total = weights.iter().filter(|weight| **weight > 0.0).sum();
        Self { machine, ids, weights, total, pairs: assumed.pairs }
    }

    fn pairs(&self) -> usize {
        self.ids.len() * self.ids.len().saturating_sub(1) / 2
    }

    fn weight(&self, fault: FaultId) -> f64 {
        self.weights[fault.index()]
    }

    /// Weight of two faults that belong together: one brought the other about.
    fn joined(&self, one: FaultId, other: FaultId) -> f64 {
        let share = |of: FaultId, by: FaultId| -> f64 {
            let causes = &self.machine.faults[of.index()].caused_by;
            causes.iter().filter(|(cause, _)| *cause == by).map(|(_, share)| share).sum()
        };
        share(one, other) * self.weight(one) + share(other, one) * self.weight(other)
    }

    /// Weight of a triple: three that met by chance, or a cause with its effect that met a third. Two faults of one part
    /// do not meet by chance.
    ///
    /// As an unrelated pair weighs w w / W times [`Assumptions::pairs`], a triple weighs w w w / W^2 times its square.
    fn triple(&self, suspect: &Suspect) -> f64 {
        let [a, b, c] = *suspect.0 else { return 0.0 };
        let part = |fault: FaultId| self.machine.faults[fault.index()].part;
        let splits = [(a, b, c), (a, c, b), (b, c, a)];
        if splits.iter().any(|&(one, other, _)| part(one) == part(other) && self.joined(one, other) <= 0.0) {
            return 0.0;
        }
        let apart = self.pairs * self.pairs / (self.total * self.total);
        let by_chance = apart * self.weight(a) * self.weight(b) * self.weight(c);
        let met = |&(one, other, third): &(FaultId, FaultId, FaultId)| {
            self.joined(one, other) * self.weight(third) * self.pairs / self.total
        };
        by_chance + splits.iter().map(met).sum::<f64>()
    }

    /// Gives the weight of all triples together, those of one part included: never less than it is.
    ///
    /// By chance: the third elementary symmetric polynomial of the weights, from their sums of powers (Newton).
    fn all(&self) -> f64 {
        let power = |n: i32| self.ids.iter().map(|&id| (0..n).map(|_| self.weight(id)).product::<f64>()).sum::<f64>();
        let (one, two, three) = (power(1), power(2), power(3));
        let by_chance = (one * one * one - 3.0 * one * two + 2.0 * three) / 6.0;
        let mut met = 0.0;
        for &effect in &self.ids {
            for (cause, share) in &self.machine.faults[effect.index()].caused_by {
                met += share * self.weight(effect) * (self.total - self.weight(effect) - self.weight(*cause)).max(0.0);
            }
        }
        by_chance * self.pairs * self.pairs / (self.total * self.total) + met * self.pairs / self.total
    }
}
