//! "Everything reads as if ...": the one difference from the description that explains what nothing described does.
//!
//! Each edit of [`crate::edits`] is laid into the wiring as a fault would be, alone and beside each single fault, and
//! weighed against all the evidence. *Approximate because* only the sets that do best item by item, each item explained
//! by the better of the two, are weighed together; what is left out is not bounded, so shares are among those told.

use super::{Belief, ONE_MUST_BE_WRONG, Weight};
use crate::edits::{Differs, Edit, edits, with_edits};
use crate::evidence::Evidence;
use crate::suspects::{Suspect, suspects};
use machine::model::{FaultId, PartId, RepairId, StateId};
use prediction::{Condition, Prediction, Predictor, Probe, Quantity, Reading};
use std::collections::BTreeMap;

/// Sets that are weighed together: edits alone, and edits beside a fault.
const WEIGHED: (usize, usize) = (200, 300);

/// Most differences told, and the least share of one.
const TOLD: usize = 3;
const LEAST: f64 = 0.05;

/// Suspects as described that a confirming reading is told apart from.
const DESCRIBED: usize = 3;

/// One difference from the description with which everything reads as it was found.
#[derive(Clone, Debug)]
pub struct ReadsAs {
    /// What differs.
    pub differs: Differs,
    /// In words: `lead R4 sits on 2 of the heating element, not on 1 of the thermostat`.
    pub say: String,
    /// The parts it is about.
    pub parts: Vec<PartId>,
    /// The fault of the usual kind beside it, where one is needed to explain the rest.
    pub beside: Option<FaultId>,
    /// Share among all single differences that explain what was found.
    pub share: f64,
    /// A reading not yet taken that tells it from what is described.
    pub confirm: Option<Confirm>,
}

/// A reading that tells a difference from the description.
#[derive(Clone, Debug)]
pub struct Confirm {
    /// The reading, with the machine isolated.
    pub reading: Reading,
    /// What it shows if the machine differs so.
    pub differing: Prediction,
    /// What it shows if the machine is as described, under the likeliest suspect.
    pub described: Prediction,
}

impl Belief<'_, '_> {
    /// Gives the single differences from the description with which everything reads as it was found, likeliest first,
    /// none where no single one does; `None` while something described explains it, as [`Self::unexplained`] says.
    #[must_use]
    pub fn reads_as(&self) -> Option<Vec<ReadsAs>> {
        let fail = self.suspects_fail();
        if !fail && !self.described_is_unlikely() {
            return None;
        }
        self.search(|search| {
            let sets = search.explaining();
            (fail || search.likelier(&sets)).then(|| search.told(sets))
        })
    }

    pub(super) fn one_difference_is_likelier(&self) -> bool {
        self.search(|search| search.likelier(&search.explaining()))
    }

    fn search<R>(&self, then: impl FnOnce(&Search<'_, '_, '_, '_, '_>) -> R) -> R {
        let edits = edits(self.machine());
        let (edited, ids) = with_edits(self.machine(), &edits);
        let predictor = Predictor::new(&edited, *self.predictor.meter());
        let (judge, shares) = (self.over(&predictor), self.shares_of_singles());
        then(&Search { belief: self, judge, edits: &edits, ids: &ids, shares })
    }

    /// Gives the share of each fault among all single ones before any evidence, by fault.
    fn shares_of_singles(&self) -> Vec<f64> {
        let faults = (0..).map(FaultId).zip(&self.machine().faults);
        let own = &self.assumed.weights;
        let weights: Vec<f64> = faults.map(|(id, fault)| own.get(&id).copied().unwrap_or(fault.weight)).collect();
        let all: f64 = weights.iter().sum();
        weights.into_iter().map(|weight| weight / all).collect()
    }

    /// Gives a belief of nothing over a machine with more faults, before the same evidence.
    fn over<'q, 'n>(&self, predictor: &'q Predictor<'n>) -> Belief<'q, 'n> {
        Belief {
            predictor,
            assumed: self.assumed.clone(),
            weights: Vec::new(),
            not_as_described: self.not_as_described,
            evidence: self.evidence.clone(),
            dropped: 0.0,
            log_all: 0.0,
        }
    }
}

/// An edit by its place in the list, with a fault beside it or none.
type Set = (usize, Option<FaultId>);

struct Search<'a, 'p, 'm, 'q, 'n> {
    belief: &'a Belief<'p, 'm>,
    /// Weighs sets of faults and edits.
    judge: Belief<'q, 'n>,
    edits: &'a [Edit],
    /// The edits as faults.
    ids: &'a [FaultId],
    /// Share of each fault as described among all single ones before any evidence.
    shares: Vec<f64>,
}

impl Search<'_, '_, '_, '_, '_> {
    /// Says whether these sets, with their prior, explain what was found better than all suspects as described together.
    fn likelier(&self, sets: &[(Set, f64)]) -> bool {
        let belief = self.belief;
        let described = belief.log_all + libm::log((1.0 - belief.not_as_described()).max(1e-300));
        let of_singles =
            suspects(belief.machine(), &belief.assumed).into_iter().filter(|(suspect, _)| suspect.0.len() == 1);
        let prior: f64 = belief.assumed.not_as_described * of_singles.map(|(_, weight)| weight).sum::<f64>();
        let start = libm::log(prior.max(1e-300)) - described;
        sets.iter().map(|(_, log)| libm::exp(start + log)).sum::<f64>() > 1.0
    }

    /// Gives the sets that leave no slip or oversight to be expected, each with the logarithm of its weight.
    fn explaining(&self) -> Vec<(Set, f64)> {
        let explained = self.chosen().into_iter().filter_map(|set| {
            let (log, slips) = self.weigh(set);
            (slips < ONE_MUST_BE_WRONG).then_some((set, log))
        });
        explained.collect()
    }

    /// Gives the logarithm of a set's weight with all the evidence, and the slips and oversights to be expected under it.
    fn weigh(&self, set: Set) -> (f64, f64) {
        let (judge, start) = (&self.judge, libm::log(self.prior(set).max(1e-300)));
        let times = judge.assumed.intermittents;
        let mut left = self.left(set, &[]);
        let mut weight = Weight::new(judge.predictor, Suspect::of(&left), start, times);
        let mut done = Vec::new();
        for (place, weighed) in judge.evidence.iter().enumerate() {
            match weighed.item {
                Evidence::Repaired(repair) => {
                    done.push(repair);
                    let stays = self.left(set, &done);
                    if stays != left {
                        weight = Weight::new(judge.predictor, Suspect::of(&stays), weight.log, times);
                        left = stays;
                    }
                }
                Evidence::Stirred(stirred) => {
                    judge.fickle(&weight.suspect).stir(&mut weight.hidden, weight.count, stirred);
                }
                ref item => weight.take(&judge.likely(item, &weight.suspect, place, &mut BTreeMap::new())),
            }
        }
        let slips = judge.last_words().filter_map(|(_, item)| judge.doubt_under(item, &weight)).sum();
        (weight.log, slips)
    }

    /// Gives the faults and the edit of a set that these repairs have left.
    fn left(&self, (edit, beside): Set, done: &[RepairId]) -> Vec<FaultId> {
        let machine = self.belief.machine();
        let beside = beside.filter(|fault| !done.contains(&machine.faults[fault.index()].repair));
        let edited = !done.iter().any(|repair| self.edits[edit].ends_with(machine, *repair));
        beside.into_iter().chain(edited.then(|| self.ids[edit])).collect()
    }

    /// Gives a set's share before any evidence: the edit's, times the share of the fault beside it among single ones.
    fn prior(&self, (edit, beside): Set) -> f64 {
        self.edits[edit].weight * beside.map_or(1.0, |fault| self.shares[fault.index()])
    }

    /// Chooses the sets that are worth weighing: each item as likely as under the likelier of edit and fault.
    fn chosen(&self) -> Vec<Set> {
        let evidence = &self.judge.evidence;
        let items: Vec<(usize, Vec<RepairId>)> = (0..evidence.len())
            .filter(|place| is_found(&evidence[*place].item))
            .map(|place| (place, self.done_before(place)))
            .collect();
        let logs = |left: &dyn Fn(&[RepairId]) -> Vec<FaultId>| -> Vec<f64> {
            let log = |(place, done): &(usize, Vec<RepairId>)| {
                libm::log(self.judge.likelihood_at(*place, &Suspect::of(&left(done))).max(1e-300))
            };
            items.iter().map(log).collect()
        };
        let edited: Vec<Vec<f64>> =
            (0..self.ids.len()).map(|edit| logs(&|done| self.left((edit, None), done))).collect();
        let faults = &self.belief.machine().faults;
        let broken: Vec<(FaultId, Vec<f64>)> = (0..)
            .map(FaultId)
            .zip(faults)
            .filter(|(id, _)| self.shares[id.index()] > 0.0)
            .map(|(id, fault)| (id, logs(&|done| if done.contains(&fault.repair) { Vec::new() } else { vec![id] })))
            .collect();
        let alone = edited.iter().enumerate().map(|(edit, logs)| ((edit, None), logs.iter().sum()));
        let mut chosen = self.best(alone, WEIGHED.0);
        let both = edited.iter().enumerate().flat_map(|(edit, own)| {
            broken.iter().map(move |(fault, logs)| {
                ((edit, Some(*fault)), own.iter().zip(logs).map(|(one, other)| one.max(*other)).sum())
            })
        });
        chosen.extend(self.best(both, WEIGHED.1));
        chosen
    }

    fn done_before(&self, place: usize) -> Vec<RepairId> {
        let before = self.judge.evidence[..place].iter();
        let done = before.filter_map(|weighed| match weighed.item {
            Evidence::Repaired(repair) => Some(repair),
            _ => None,
        });
        done.collect()
    }

    /// Gives the sets with the largest products of prior and likelihood, of which the logarithm is given.
    fn best(&self, sets: impl Iterator<Item = (Set, f64)>, most: usize) -> Vec<Set> {
        let mut scored: Vec<(Set, f64)> =
            sets.map(|(set, log)| (set, log + libm::log(self.prior(set).max(1e-300)))).collect();
        scored.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
        scored.truncate(most);
        scored.into_iter().map(|(set, _)| set).collect()
    }

    /// Joins the sets that differ alike and tells the likeliest.
    fn told(&self, explaining: Vec<(Set, f64)>) -> Vec<ReadsAs> {
        let most = explaining.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
        let mut alike: BTreeMap<Differs, Vec<(Set, f64)>> = BTreeMap::new();
        for (set, log) in explaining {
            alike.entry(self.edits[set.0].differs).or_default().push((set, libm::exp(log - most)));
        }
        let sum = |sets: &[(Set, f64)]| sets.iter().map(|(_, weight)| weight).sum::<f64>();
        let all: f64 = alike.values().map(|sets| sum(sets)).sum();
        let mut told: Vec<ReadsAs> = alike.into_values().filter_map(|sets| self.one(&sets, sum(&sets) / all)).collect();
        told.sort_by(|a, b| b.share.total_cmp(&a.share));
        told.retain(|one| one.share >= LEAST);
        told.truncate(TOLD);
        told
    }

    /// Tells sets that differ alike as the likeliest of them.
    fn one(&self, sets: &[(Set, f64)], share: f64) -> Option<ReadsAs> {
        let &(set, _) = sets.iter().max_by(|(_, a), (_, b)| a.total_cmp(b))?;
        let edit = &self.edits[set.0];
        Some(ReadsAs {
            differs: edit.differs,
            say: edit.say_of(&factors(self.edits, sets)),
            parts: edit.parts(self.belief.machine()),
            beside: set.1,
            share,
            confirm: self.confirm(set),
        })
    }

    /// Finds a reading at the difference itself that was not taken yet and comes out otherwise than described.
    fn confirm(&self, set: Set) -> Option<Confirm> {
        let meter = self.belief.predictor.meter();
        let faults = self.left(set, &self.done_before(self.judge.evidence.len()));
        let faults = Suspect::of(&faults);
        let described: Vec<&Suspect> = self.belief.shares().into_iter().take(DESCRIBED).map(|(s, _)| s).collect();
        self.edits[set.0].shows_across.iter().find_map(|&(a, b)| {
            let reading = Reading {
                quantity: Quantity::Ohms,
                probe: Probe::Across(a, b),
                condition: Condition::isolated(StateId(0)),
            };
            let taken = self.judge.evidence.iter();
            if taken.into_iter().any(|w| matches!(&w.item, Evidence::Read { reading: read, .. } if *read == reading)) {
                return None;
            }
            let differing = self.judge.predictor.predict(&reading, &faults.0);
            let under = |suspect: &&Suspect| self.belief.predictor.predict(&reading, &suspect.0);
            let apart = |other: &Prediction| {
                let (low, high) = differing.interval(Quantity::Ohms, meter);
                let (least, most) = other.interval(Quantity::Ohms, meter);
                high < least || most < low
            };
            let under: Vec<Prediction> = described.iter().map(under).collect();
            let first = *under.first()?;
            under.iter().all(apart).then_some(Confirm { reading, differing, described: first })
        })
    }
}

/// Gives the factors of a value's edits with their weights, least first; none for another difference.
fn factors(edits: &[Edit], sets: &[(Set, f64)]) -> Vec<(f64, f64)> {
    let factor = |&((edit, _), weight): &(Set, f64)| edits[edit].factor().map(|factor| (factor, weight));
    let mut factors: Vec<(f64, f64)> = sets.iter().filter_map(factor).collect();
    factors.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    factors
}

/// Says whether an item speaks of how the machine behaves.
fn is_found(item: &Evidence) -> bool {
    !matches!(item, Evidence::Repaired(_) | Evidence::Stirred(_) | Evidence::Opinion { .. })
}
