//! The belief of one call: a weight for every suspect, and for a machine that is not as described.
//!
//! Weights are logarithms; every item of evidence adds the logarithm of its likelihood. Suspects that together hold
//! less than [`NEGLIGIBLE`] are dropped after an update and their share is added to [`Belief::dropped`], which bounds
//! what the shares shown leave out.

use crate::evidence::{Evidence, Measured};
use crate::likelihood::{meant, of_reading, of_seen, of_temperature, slipped, slipped_temperature};
use crate::showing::{Fickle, Phase, Stirred, shown};
use crate::suspects::{Assumptions, Suspect, suspects};
use machine::builds::Build;
use machine::model::{FaultId, Machine, ObservationId, PartId, RepairId, VariantId};
use prediction::{Predictor, Reading, Seen, Way};
use std::collections::BTreeMap;
use std::rc::Rc;

mod reads_as;
mod triples;

pub use reads_as::{Confirm, ReadsAs};
pub use triples::{BEAM, Widened};

/// Chance that a unit is taken for another build when it is looked at: common practice, no source.
const MISTAKEN_BUILD: f64 = 0.01;

/// Share below which a suspect is dropped after an update; a reading can raise a suspect against another by a few
/// thousand times at most, so what is dropped stays below 1e-9 for the few readings of a call, and it is summed.
pub const NEGLIGIBLE: f64 = 1e-15;

/// Chance that a second look at the same run repeats whatever was wrong with the first.
const SEEN_AGAIN: f64 = 0.4;

/// Expected slips and oversights from which on it is worth taking the doubtful ones again: more than one call in two
/// has one then.
const ONE_MUST_BE_WRONG: f64 = 0.6;

/// Share of the belief from which on an item may be the slip.
const DOUBTFUL: f64 = 0.1;

/// Share of what is described that is not asked whether an item is a slip: thousands of pairs that change no decision.
const LEFT_OUT_OF_DOUBTS: f64 = 1e-3;

/// Share among what is described from which a suspect is worth a thought.
const WORTH_A_THOUGHT: f64 = 0.005;

/// What was read and watched does not fit together.
struct Clash {
    /// What may be wrong, the likeliest first.
    items: Vec<usize>,
    /// The first of them that was taken only once.
    again: Option<usize>,
}

/// The belief over all suspects of one machine.
#[derive(Clone, Debug)]
pub struct Belief<'p, 'm> {
    predictor: &'p Predictor<'m>,
    assumed: Assumptions,
    /// The likeliest first.
    weights: Vec<Weight>,
    not_as_described: f64,
    evidence: Vec<Weighed>,
    dropped: f64,
    /// Natural logarithm of the prior weight of all suspects times the likelihood of all the evidence.
    log_all: f64,
}

/// A suspect with its weight and what the evidence says of the size of its faults and of what shows of them.
#[derive(Clone, Debug)]
struct Weight {
    suspect: Suspect,
    /// Natural logarithm of its share.
    log: f64,
    /// Share of each phase, size and build given the suspect: for each phase of [`Fickle`] the ways in the predictor's order.
    hidden: Box<[f64]>,
    /// Sizes times builds of one phase.
    count: usize,
}

impl Weight {
    fn new(predictor: &Predictor<'_>, suspect: Suspect, log: f64, times: f64) -> Self {
        let sizes = predictor.size_shares(&suspect.0);
        let phases = Fickle::of(predictor.machine(), &suspect, times).prior();
        let hidden = phases.iter().flat_map(|phase| sizes.iter().map(move |size| phase * size)).collect();
        Self { suspect, log, hidden, count: sizes.len() }
    }

    /// Gives the shares of the sizes, whatever shows.
    fn sizes(&self) -> Vec<f64> {
        let mut sizes = vec![0.0; self.count];
        for phase in self.hidden.chunks(self.count) {
            sizes.iter_mut().zip(phase).for_each(|(sum, share)| *sum += share);
        }
        sizes
    }

    /// Gives the shares of the machine's builds, whatever shows and however large it is.
    fn builds(&self, of: usize) -> Vec<f64> {
        let mut builds = vec![0.0; of];
        self.hidden.chunks(of).for_each(|each| builds.iter_mut().zip(each).for_each(|(sum, share)| *sum += share));
        builds
    }

    /// The same with these shares of the machine's builds; the suspect's own are still those before any evidence.
    fn in_builds(mut self, machine: &Machine, builds: &[f64]) -> Self {
        if builds.len() == 1 {
            return self;
        }
        let factors = builds.iter().zip(&machine.builds).map(|(share, build)| share / build.share);
        self.hidden.iter_mut().zip(factors.collect::<Vec<f64>>().iter().cycle()).for_each(|(share, f)| *share *= f);
        self
    }

    /// Multiplies in the likelihood of an item: in each phase one for all sizes, or one for each.
    fn take(&mut self, likelihood: &[Rc<[f64]>]) {
        let whole = self.expect(likelihood).max(1e-300);
        self.log += libm::log(whole);
        if likelihood.len() == 1 && likelihood.iter().all(|each| each.len() == 1) {
            return;
        }
        for (phase, each) in self.hidden.chunks_mut(self.count).zip(likelihood.iter().cycle()) {
            phase.iter_mut().zip(each.iter().cycle()).for_each(|(share, l)| *share *= l / whole);
        }
    }

    /// Gives the likelihood of an item over all phases and sizes; a single one is the same for every phase.
    fn expect(&self, likelihood: &[Rc<[f64]>]) -> f64 {
        match likelihood {
            [one] if one.len() == 1 => one[0],
            [one] => spread(one, &self.sizes()),
            each => self.hidden.chunks(self.count).zip(each).map(|(phase, l)| spread(l, phase)).sum(),
        }
    }
}

/// What a suspect hides: a share for each phase and, within it, each size.
pub(crate) struct Hidden {
    pub(crate) shares: Box<[f64]>,
    /// Sizes of one phase.
    pub(crate) sizes: usize,
}

/// Gives a likelihood times the shares of one phase; one for each build stands for every size.
fn spread(likelihood: &[f64], phase: &[f64]) -> f64 {
    match likelihood {
        [one] => one * phase.iter().sum::<f64>(),
        each => each.iter().cycle().zip(phase).map(|(l, share)| l * share).sum(),
    }
}

/// One item of evidence with how likely it was under the belief before it.
#[derive(Clone, Debug)]
pub struct Weighed {
    /// The item.
    pub item: Evidence,
    /// Natural logarithm of its likelihood under the whole belief before it.
    pub log_expected: f64,
}

impl<'p, 'm> Belief<'p, 'm> {
    /// Starts with the prior.
    #[must_use]
    pub fn new(predictor: &'p Predictor<'m>, assumed: Assumptions) -> Self {
        let mut belief = Self::unscaled(predictor, assumed);
        belief.normalise();
        belief
    }

    /// Starts with the prior weights as they are listed.
    fn unscaled(predictor: &'p Predictor<'m>, assumed: Assumptions) -> Self {
        let weights: Vec<Weight> = suspects(predictor.machine(), &assumed)
            .into_iter()
            .filter(|(_, weight)| *weight > 0.0)
            .map(|(suspect, weight)| Weight::new(predictor, suspect, libm::log(weight), assumed.intermittents))
            .collect();
        let single: f64 = weights.iter().filter(|w| w.suspect.0.len() == 1).map(|w| libm::exp(w.log)).sum();
        let not_as_described = libm::log((assumed.not_as_described * single).max(1e-300));
        // Rare builds of the machine are not weighed at all.
        let (evidence, dropped, log_all) = (Vec::new(), predictor.machine().builds_left_out, 0.0);
        Self { predictor, assumed, weights, not_as_described, evidence, dropped, log_all }
    }

    /// Gives the machine.
    #[must_use]
    pub fn machine(&self) -> &'m Machine {
        self.predictor.machine()
    }

    /// Gives the predictor.
    #[must_use]
    pub fn predictor(&self) -> &'p Predictor<'m> {
        self.predictor
    }

    /// Gives what was assumed.
    #[must_use]
    pub fn assumed(&self) -> &Assumptions {
        &self.assumed
    }

    /// Gives the evidence so far, in order.
    #[must_use]
    pub fn evidence(&self) -> &[Weighed] {
        &self.evidence
    }

    /// Gives the share of suspects dropped so far (a bound on what the shown shares leave out).
    #[must_use]
    pub fn dropped(&self) -> f64 {
        self.dropped
    }

    /// Gives every suspect still weighed with its share, likeliest first; shares and [`Self::not_as_described`] sum to 1.
    #[must_use]
    pub fn shares(&self) -> Vec<(&Suspect, f64)> {
        self.weights.iter().map(|w| (&w.suspect, libm::exp(w.log))).collect()
    }

    /// Gives the share of each of the machine's builds among all that is described, in the machine's order.
    #[must_use]
    pub fn builds(&self) -> Vec<f64> {
        let count = self.machine().builds.len();
        let mut all = vec![0.0; count];
        for weight in &self.weights {
            let held = libm::exp(weight.log);
            all.iter_mut().zip(weight.builds(count)).for_each(|(sum, share)| *sum += held * share);
        }
        let sum = all.iter().sum::<f64>().max(1e-300);
        all.into_iter().map(|share| share / sum).collect()
    }

    /// Gives the share of each way of a variant, as described first, then its options in order.
    #[must_use]
    pub fn ways_of(&self, variant: VariantId) -> Vec<f64> {
        let machine = self.machine();
        let options = machine.variants.get(variant.index()).map_or(0, |variant| variant.options.len());
        let mut ways = vec![0.0; options + 1];
        for (build, share) in machine.builds.iter().zip(self.builds()) {
            let option = build.options.get(variant.index()).copied().flatten();
            if let Some(sum) = ways.get_mut(option.map_or(0, |at| at + 1)) {
                *sum += share;
            }
        }
        ways
    }

    /// Gives the share of a machine that is not as described.
    #[must_use]
    pub fn not_as_described(&self) -> f64 {
        libm::exp(self.not_as_described)
    }

    /// Gives the share of suspects that hold each repair, likeliest first; a pair counts for both of its repairs.
    #[must_use]
    pub fn repair_shares(&self) -> Vec<(RepairId, f64)> {
        let mut shares: BTreeMap<RepairId, f64> = BTreeMap::new();
        for weight in &self.weights {
            for repair in weight.suspect.repairs(self.machine()) {
                *shares.entry(repair).or_default() += libm::exp(weight.log);
            }
        }
        let mut shares: Vec<_> = shares.into_iter().collect();
        shares.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
        shares
    }

    /// Says whether nothing described explains what was found: what was read and watched clashes though it came out the
    /// same when taken again, and under no suspect that is worth a thought does it fit; or a single difference from the
    /// description is likelier than all suspects together ([`Self::reads_as`]).
    ///
    /// One odd reading alone is no such thing: [`Self::to_take_again`] asks for it first, and the second time that it
    /// comes out the same it is unexplained. Nor are two faults that explain everything, rare as they may be: the broad
    /// term for a machine that is not as described would outweigh most pairs.
    #[must_use]
    pub fn unexplained(&self) -> bool {
        self.suspects_fail() || (self.described_is_unlikely() && self.one_difference_is_likelier())
    }

    /// Says whether a machine that is not as described is likelier than all suspects together.
    fn described_is_unlikely(&self) -> bool {
        self.not_as_described() > 0.5
    }

    /// Says whether what was found clashes, beyond taking it again, and no suspect that is worth a thought explains it.
    fn suspects_fail(&self) -> bool {
        let clashes = self.clash().is_some_and(|clash| self.described_is_unlikely() || clash.again.is_none());
        clashes && !self.some_suspect_explains()
    }

    /// Says whether under some suspect that is worth a thought no slip and no oversight is needed.
    fn some_suspect_explains(&self) -> bool {
        let least = libm::log(WORTH_A_THOUGHT * (1.0 - self.not_as_described()).max(1e-300));
        self.weights.iter().filter(|weight| weight.log >= least).any(|weight| {
            let slips: f64 = self.last_words().filter_map(|(_, item)| self.doubt_under(item, weight)).sum();
            slips < ONE_MUST_BE_WRONG
        })
    }

    /// Gives something read or watched, by its place in the evidence, that clashes with the rest and was taken only
    /// once: it may have been a slip.
    #[must_use]
    pub fn to_take_again(&self) -> Option<usize> {
        self.clash().and_then(|clash| clash.again)
    }

    /// Gives what was read and watched since the last repair (by its place in the evidence) that may well be a slip or
    /// an oversight, where under the whole belief at least one of them must be; the likeliest slip first.
    #[must_use]
    pub fn clashes(&self) -> Vec<usize> {
        self.clash().map(|clash| clash.items).unwrap_or_default()
    }

    /// Finds out whether at least one slip or oversight is expected, and where.
    ///
    /// WHY NOT item by item: where three readings each rule out one of three suspects, none of them is likely to be the
    /// slip, and yet one must be.
    fn clash(&self) -> Option<Clash> {
        let likeliest = self.likeliest();
        let mut doubtful: Vec<(usize, f64)> =
            self.last_words().filter_map(|(index, item)| Some((index, self.doubt(item, &likeliest)?))).collect();
        let expected: f64 = doubtful.iter().map(|(_, doubt)| doubt).sum();
        // What is left of the belief says where: under what is described, whatever that has come down to.
        let described = (1.0 - self.not_as_described()).max(1e-300);
        let needed = if self.described_is_unlikely() { expected / described } else { expected };
        if needed < ONE_MUST_BE_WRONG {
            return None;
        }
        doubtful.iter_mut().for_each(|(_, doubt)| *doubt /= described);
        doubtful.sort_by(|a, b| b.1.total_cmp(&a.1));
        doubtful.retain(|(_, doubt)| *doubt >= DOUBTFUL);
        let items: Vec<usize> = doubtful.into_iter().map(|(index, _)| index).collect();
        Some(Clash { again: items.iter().copied().find(|&index| !self.stands(index)), items })
    }

    /// Gives what was found since the last repair, by its place in the evidence; of what was asked twice the later answer.
    fn last_words(&self) -> impl Iterator<Item = (usize, &Evidence)> {
        let since = self.evidence.iter().map(|weighed| &weighed.item).enumerate().skip(self.since_the_last_repair());
        since.filter(|(index, item)| !self.evidence[index + 1..].iter().any(|later| same_question(&later.item, item)))
    }

    /// Gives the suspects that hold all but [`LEFT_OUT_OF_DOUBTS`] of what is described.
    fn likeliest(&self) -> Vec<&Weight> {
        let mut likeliest: Vec<&Weight> = self.weights.iter().collect();
        let enough = (1.0 - LEFT_OUT_OF_DOUBTS) * likeliest.iter().map(|weight| libm::exp(weight.log)).sum::<f64>();
        let mut held = 0.0;
        likeliest.retain(|weight| {
            let counts = held < enough;
            held += libm::exp(weight.log);
            counts
        });
        likeliest
    }

    /// Gives the share of the belief under which an item is a slip or an oversight; `None` for what is neither read nor
    /// watched.
    ///
    /// *Approximate because* only the likeliest suspects are asked: it is too small by [`LEFT_OUT_OF_DOUBTS`] at most.
    fn doubt(&self, item: &Evidence, likeliest: &[&Weight]) -> Option<f64> {
        let mut doubt = 0.0;
        for weight in likeliest {
            doubt += libm::exp(weight.log) * self.doubt_under(item, weight)?;
        }
        Some(doubt)
    }

    /// Gives the chance that an item is a slip or an oversight under one suspect; `None` for what is neither read nor
    /// watched.
    fn doubt_under(&self, item: &Evidence, weight: &Weight) -> Option<f64> {
        let (meant, slip) = self.meant_or_not(item, weight)?;
        Some(slip / (meant + slip).max(1e-300))
    }

    /// Gives how likely an item is as meant and as a slip or oversight under a suspect; `None` for what is neither read
    /// nor watched.
    fn meant_or_not(&self, item: &Evidence, weight: &Weight) -> Option<(f64, f64)> {
        let suspect = &weight.suspect;
        match item {
            Evidence::Read { reading, measured } => {
                let meter = self.predictor.meter();
                let likely = self.by_phase(suspect, &mut |faults| {
                    let predicted = self.predictor.predict_ways(reading, faults);
                    predicted.iter().map(|p| meant(*measured, p, reading.quantity, meter)).collect()
                });
                let slip = self.assumed.slip;
                Some(((1.0 - slip) * weight.expect(&likely), slip * slipped(*measured, reading.quantity, meter)))
            }
            Evidence::Watched(seen) => {
                let at = self.predictor.observed_in(seen.state).position(|what| what == seen.what)?;
                let is = |way: &Way| taken_for(way, at, |actual| if actual == seen.value { 1.0 } else { 0.0 });
                let likely = self
                    .by_phase(suspect, &mut |faults| self.predictor.ways(seen.state, faults).iter().map(is).collect());
                let (right, wrong) = (weight.expect(&likely), self.assumed.wrong_watch);
                Some(((1.0 - wrong) * right, wrong * (1.0 - right)))
            }
            _ => None,
        }
    }

    /// Says whether an item was taken before, since the last repair, with the same result within the meter's width.
    fn stands(&self, index: usize) -> bool {
        let item = &self.evidence[index].item;
        let before = &self.evidence[self.since_the_last_repair()..index];
        before.iter().any(|before| same_question(&before.item, item) && self.same_result(&before.item, item))
    }

    fn same_result(&self, one: &Evidence, other: &Evidence) -> bool {
        match (one, other) {
            (
                Evidence::Read { reading, measured: Measured::Value(x) },
                Evidence::Read { measured: Measured::Value(y), .. },
            ) => {
                let meter = self.predictor.meter();
                let width = |value| meter.half_width(reading.quantity, value) + meter.least(reading.quantity);
                (x - y).abs() <= width(*x) + width(*y)
            }
            (one, other) => one == other,
        }
    }

    fn since_the_last_repair(&self) -> usize {
        let last = self.evidence.iter().rposition(|w| matches!(w.item, Evidence::Repaired(_)));
        last.map_or(0, |index| index + 1)
    }

    /// Takes one item of evidence in.
    pub fn take(&mut self, item: Evidence) {
        if let Evidence::Repaired(repair) = item {
            self.repair(repair);
            self.evidence.push(Weighed { item, log_expected: 0.0 });
            self.stir(Stirred::Again);
            self.normalise();
            return;
        }
        if let Evidence::Stirred(stirred) = item {
            self.stir(stirred);
            self.evidence.push(Weighed { item, log_expected: 0.0 });
            return;
        }
        let mut weights = std::mem::take(&mut self.weights);
        let mut known = BTreeMap::new();
        for weight in &mut weights {
            weight.take(&self.likely(&item, &weight.suspect, self.evidence.len(), &mut known));
        }
        self.weights = weights;
        self.not_as_described += libm::log(self.likelihood_not_as_described(&item).max(1e-300));
        let log_expected = self.normalise();
        self.evidence.push(Weighed { item, log_expected });
    }

    /// Gives the likelihood of an item under one suspect, over the sizes that its faults can have.
    #[must_use]
    pub fn likelihood(&self, item: &Evidence, suspect: &Suspect) -> f64 {
        let weight = Weight::new(self.predictor, suspect.clone(), 0.0, self.assumed.intermittents);
        weight.expect(&self.likely(item, suspect, self.evidence.len(), &mut BTreeMap::new()))
    }

    /// Gives the likelihood that the item at this place of the evidence had under one suspect when it was taken in; one
    /// where there is none. It differs from [`Self::likelihood`] for a run that was watched again later.
    #[must_use]
    pub fn likelihood_at(&self, place: usize, suspect: &Suspect) -> f64 {
        let Some(weighed) = self.evidence.get(place) else { return 1.0 };
        let weight = Weight::new(self.predictor, suspect.clone(), 0.0, self.assumed.intermittents);
        weight.expect(&self.likely(&weighed.item, suspect, place, &mut BTreeMap::new()))
    }

    /// Gives the shares of a suspect's phases and sizes before any evidence.
    pub(crate) fn hidden_before(&self, suspect: &Suspect) -> Hidden {
        let weight = Weight::new(self.predictor, suspect.clone(), 0.0, self.assumed.intermittents);
        Hidden { shares: weight.hidden, sizes: weight.count }
    }

    /// Gives the ways in which a suspect may stand now, given the evidence; ways in which the same shows are joined.
    #[must_use]
    pub fn phases(&self, suspect: &Suspect) -> Vec<Phase> {
        let weight = self.weight_of(suspect);
        let fickle = self.fickle(suspect);
        let mut by_mask: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
        for (phase, shares) in weight.hidden.chunks(weight.count).enumerate() {
            let sizes = by_mask.entry(fickle.mask(phase)).or_insert_with(|| vec![0.0; weight.count]);
            sizes.iter_mut().zip(shares).for_each(|(sum, share)| *sum += share);
        }
        let phases = by_mask.into_iter().rev().filter_map(|(mask, mut sizes)| {
            let share: f64 = sizes.iter().sum();
            sizes.iter_mut().for_each(|size| *size /= share);
            (share > 0.0).then(|| Phase { shown: Suspect::of(&shown(suspect, mask)), share, sizes })
        });
        phases.collect()
    }

    /// Gives the share of a suspect, given that it is so, in which some fault of it comes and goes.
    #[must_use]
    pub fn comes_and_goes(&self, suspect: &Suspect) -> f64 {
        let (weight, fickle) = (self.weight_of(suspect), self.fickle(suspect));
        let phases = weight.hidden.chunks(weight.count).enumerate();
        phases
            .filter(|(phase, _)| fickle.fickle(*phase))
            .map(|(_, shares)| shares.iter().sum::<f64>())
            .sum::<f64>()
            .max(0.0)
    }

    /// Gives the share of a suspect, given that it is so, in which some fault of it does not show at this sitting.
    #[must_use]
    pub fn hides(&self, suspect: &Suspect) -> f64 {
        self.phases(suspect)
            .iter()
            .filter(|phase| phase.shown != *suspect)
            .map(|phase| phase.share)
            .sum::<f64>()
            .max(0.0)
    }

    fn fickle(&self, suspect: &Suspect) -> Fickle<'m> {
        Fickle::of(self.predictor.machine(), suspect, self.assumed.intermittents)
    }

    fn weight_of(&self, suspect: &Suspect) -> Weight {
        let known = self.weights.iter().find(|weight| weight.suspect == *suspect);
        known.cloned().unwrap_or_else(|| Weight::new(self.predictor, suspect.clone(), 0.0, self.assumed.intermittents))
    }

    /// Begins a sitting: what comes and goes is drawn anew as far as this moves it.
    fn stir(&mut self, stirred: Stirred) {
        let (predictor, times) = (self.predictor, self.assumed.intermittents);
        for weight in &mut self.weights {
            let fickle = Fickle::of(predictor.machine(), &weight.suspect, times);
            fickle.stir(&mut weight.hidden, weight.count, stirred);
        }
    }

    /// Gives the likelihood of an item for each phase of a suspect, or one for all, where `before` items had been taken in;
    /// `known` remembers what was worked out for no fault and for single ones.
    pub(crate) fn likely(
        &self,
        item: &Evidence,
        suspect: &Suspect,
        before: usize,
        known: &mut BTreeMap<Option<FaultId>, Rc<[f64]>>,
    ) -> Vec<Rc<[f64]>> {
        match item {
            Evidence::Watched(_) | Evidence::Read { .. } | Evidence::Warmed { .. } => {
                self.by_phase(suspect, &mut |faults| {
                    let by_size = || self.by_size(item, &Suspect(faults.into()), before).into();
                    match faults {
                        [] => Rc::clone(known.entry(None).or_insert_with(by_size)),
                        [one] => Rc::clone(known.entry(Some(*one)).or_insert_with(by_size)),
                        _ => by_size(),
                    }
                })
            }
            Evidence::ComesAndGoes(so) => {
                let fickle = self.fickle(suspect);
                let said = |phase| self.said_to_come_and_go(suspect, fickle.fickle(phase));
                (0..fickle.count()).map(|phase| Rc::from([if *so { said(phase) } else { 1.0 - said(phase) }])).collect()
            }
            // The customer tells of what he saw when it showed, and a look sees damage whether or not it makes contact.
            _ => vec![self.by_size(item, suspect, before).into()],
        }
    }

    /// Gives the chance that the customer says it comes and goes. Where nothing is wrong it is gone again as a rule.
    fn said_to_come_and_go(&self, suspect: &Suspect, fickle: bool) -> f64 {
        match (suspect.0.is_empty(), fickle) {
            (true, _) => 0.5,
            (false, true) => self.assumed.says_it_comes_and_goes,
            (false, false) => self.assumed.wrong_report,
        }
    }

    /// Gives what `of` gives for the faults that show, for each phase of a suspect; a single one where all always show.
    fn by_phase(&self, suspect: &Suspect, of: &mut dyn FnMut(&[FaultId]) -> Rc<[f64]>) -> Vec<Rc<[f64]>> {
        let fickle = self.fickle(suspect);
        if fickle.count() == 1 {
            return vec![of(&suspect.0)];
        }
        let mut by_mask: BTreeMap<usize, Rc<[f64]>> = BTreeMap::new();
        let mut at = |mask: usize| Rc::clone(by_mask.entry(mask).or_insert_with(|| of(&shown(suspect, mask))));
        (0..fickle.count()).map(|phase| at(fickle.mask(phase))).collect()
    }

    /// Gives the shares of the sizes of a suspect's faults as far as the evidence tells, in the predictor's order.
    #[must_use]
    pub fn sizes(&self, suspect: &Suspect) -> Vec<f64> {
        let known = self.weights.iter().find(|weight| weight.suspect == *suspect);
        known.map_or_else(|| self.predictor.size_shares(&suspect.0), Weight::sizes)
    }

    /// Gives the likelihood of an item under one suspect for each size of its faults; one where it is the same for all.
    fn by_size(&self, item: &Evidence, suspect: &Suspect, before: usize) -> Vec<f64> {
        match item {
            Evidence::Reported(seen) => self.of_report(*seen, suspect),
            Evidence::Answered(seen) => self.of_seen(*seen, suspect, self.assumed.wrong_report),
            Evidence::Watched(seen) => self.of_seen(*seen, suspect, self.wrong_watch(*seen, before)),
            Evidence::Read { reading, measured } => self.of_read(reading, *measured, suspect),
            Evidence::Warmed { reading, celsius } => {
                let predicted = self.predictor.zone_temperatures(reading, &suspect.0);
                predicted.iter().map(|p| of_temperature(*celsius, p.as_ref(), self.assumed.slip)).collect()
            }
            Evidence::Looked { part, damage } => {
                let shows = self.damage_shows(*part, suspect);
                vec![if *damage { shows } else { 1.0 - shows }]
            }
            Evidence::Opinion { part, times } => vec![if self.names(suspect, *part) { *times } else { 1.0 }],
            Evidence::Built { variant, option } => {
                let has = |build: &Build| build.options.get(variant.index()) == Some(option);
                self.machine().builds.iter().map(|build| if has(build) { 1.0 } else { MISTAKEN_BUILD }).collect()
            }
            Evidence::Repaired(_) | Evidence::ComesAndGoes(_) | Evidence::Stirred(_) => vec![1.0],
        }
    }

    fn of_read(&self, reading: &Reading, measured: Measured, suspect: &Suspect) -> Vec<f64> {
        let (meter, slip) = (self.predictor.meter(), self.assumed.slip);
        let predicted = self.predictor.predict_ways(reading, &suspect.0);
        predicted.iter().map(|p| of_reading(measured, p, reading.quantity, meter, slip)).collect()
    }

    fn of_seen(&self, seen: Seen, suspect: &Suspect, wrong: f64) -> Vec<f64> {
        let Some(at) = self.predictor.observed_in(seen.state).position(|what| what == seen.what) else {
            return vec![1.0];
        };
        let values = self.values(seen.what);
        let ways = self.predictor.ways(seen.state, &suspect.0);
        ways.iter().map(|way| taken_for(way, at, |actual| of_seen(seen.value, actual, values, wrong))).collect()
    }

    /// Gives the likelihood of what the customer says. A trouble that is none is one of the many that could have been
    /// named, and where nothing is wrong some trouble is named all the same: else nobody had called.
    fn of_report(&self, seen: Seen, suspect: &Suspect) -> Vec<f64> {
        let wrong = self.assumed.wrong_report;
        let Some(at) = self.predictor.observed_in(seen.state).position(|what| what == seen.what) else {
            return vec![1.0];
        };
        let values = self.values(seen.what);
        let sound = |value: u8| self.predictor.is_sound(&Seen { value, ..seen });
        if sound(seen.value) {
            return self.of_seen(seen, suspect, wrong);
        }
        let troubles = as_f64(self.machine().observations.len());
        let imagined = if suspect.0.is_empty() { 1.0 } else { wrong } / troubles;
        let ways = self.predictor.ways(seen.state, &suspect.0);
        let of_way = |actual: u8| if sound(actual) { imagined } else { of_seen(seen.value, actual, values, wrong) };
        ways.iter().map(|way| taken_for(way, at, of_way)).collect()
    }

    /// Gives the chance that a watched value is wrong: seeing the same again since the last repair tells next to nothing.
    fn wrong_watch(&self, seen: Seen, before: usize) -> f64 {
        let earlier = &self.evidence[..before];
        let last_change = earlier.iter().rposition(|w| matches!(w.item, Evidence::Repaired(_)));
        let since = &earlier[last_change.map_or(0, |index| index + 1)..];
        let again = since.iter().any(|w| w.item == Evidence::Watched(seen));
        if again { SEEN_AGAIN } else { self.assumed.wrong_watch }
    }

    fn values(&self, what: ObservationId) -> usize {
        self.machine().observations[what.index()].values.len()
    }

    /// Gives the chance that a look at the part shows damage under a suspect.
    #[must_use]
    pub fn damage_shows(&self, part: PartId, suspect: &Suspect) -> f64 {
        let hidden = suspect
            .0
            .iter()
            .map(|fault| &self.machine().faults[fault.index()])
            .filter(|fault| fault.part == part)
            .fold(1.0 - self.assumed.false_look, |hidden, fault| hidden * (1.0 - fault.visible));
        1.0 - hidden
    }

    fn names(&self, suspect: &Suspect, part: PartId) -> bool {
        suspect.0.iter().any(|fault| self.machine().faults[fault.index()].part == part)
    }

    /// Gives the likelihood of an item where the machine is not as described: anything, on the slips' broad scale.
    pub(crate) fn likelihood_not_as_described(&self, item: &Evidence) -> f64 {
        match item {
            Evidence::Reported(seen) | Evidence::Answered(seen) | Evidence::Watched(seen) => {
                1.0 / as_f64(self.values(seen.what)).max(1.0)
            }
            Evidence::Read { reading, measured } => slipped(*measured, reading.quantity, self.predictor.meter()),
            Evidence::Warmed { .. } => slipped_temperature(),
            Evidence::Looked { damage, .. } => {
                if *damage {
                    0.1
                } else {
                    0.9
                }
            }
            Evidence::ComesAndGoes(_) => 0.5,
            // What is not as described is no more likely to be one build than another.
            Evidence::Built { variant, option } => {
                let builds = self.machine().builds.iter();
                let has = builds.filter(|build| build.options.get(variant.index()) == Some(option));
                has.map(|build| build.share).sum::<f64>().max(MISTAKEN_BUILD)
            }
            Evidence::Repaired(_) | Evidence::Opinion { .. } | Evidence::Stirred(_) => 1.0,
        }
    }

    /// Moves every suspect to what a repair leaves of it; a bad or badly fitted part and a lead left off become
    /// suspects of their own.
    fn repair(&mut self, repair: RepairId) {
        let machine = self.machine();
        let cured = |fault: &FaultId| machine.faults[fault.index()].repair == repair;
        let touched = self.leads_touched(repair);
        let mut after: BTreeMap<Suspect, (f64, Weight)> = BTreeMap::new();
        let mut add = |weight: Weight, share: f64| {
            after.entry(weight.suspect.clone()).or_insert((0.0, weight)).0 += share;
        };
        for weight in &self.weights {
            let (suspect, share) = (&weight.suspect, libm::exp(weight.log));
            // No repair makes another build of it.
            let builds = weight.builds(machine.builds.len());
            let afresh = |faults: &[FaultId]| {
                let fresh = Weight::new(self.predictor, Suspect::of(faults), 0.0, self.assumed.intermittents);
                fresh.in_builds(machine, &builds)
            };
            let left: Vec<FaultId> = suspect.0.iter().copied().filter(|fault| !cured(fault)).collect();
            let off = self.assumed.lead_left_off;
            for &lead in touched.iter().filter(|_| left.len() < 2) {
                let mut with_lead = left.clone();
                with_lead.push(lead);
                add(afresh(&with_lead), share * off);
            }
            if left.len() < suspect.0.len() {
                add(afresh(&suspect.0), share * self.assumed.bad_repair);
                add(afresh(&left), share);
            } else {
                add(weight.clone(), share);
            }
        }
        self.weights = after.into_values().map(|(share, weight)| Weight { log: libm::log(share), ..weight }).collect();
    }

    /// Gives the open fault of each lead that a repair's part has on it.
    fn leads_touched(&self, repair: RepairId) -> Vec<FaultId> {
        let machine = self.machine();
        let part = machine.repairs[repair.index()].part;
        let terminals = &machine.parts[part.index()].terminals;
        machine
            .branches
            .iter()
            .filter(|b| machine.parts[b.part.index()].kind == machine::model::PartKind::Lead && b.part != part)
            .filter(|b| terminals.contains(&b.from) || terminals.contains(&b.to))
            .filter_map(|b| machine.faults.iter().position(|f| f.part == b.part && f.id.ends_with(":open")))
            .map(|index| FaultId(u16::try_from(index).unwrap_or(u16::MAX)))
            .collect()
    }

    /// Scales the shares to sum to one, drops the negligible, and gives the logarithm of the sum before.
    fn normalise(&mut self) -> f64 {
        let most = self.weights.iter().map(|w| w.log).fold(self.not_as_described, f64::max);
        let sum: f64 =
            self.weights.iter().map(|w| libm::exp(w.log - most)).sum::<f64>() + libm::exp(self.not_as_described - most);
        let total = most + libm::log(sum);
        self.not_as_described -= total;
        self.log_all += total;
        for weight in &mut self.weights {
            weight.log -= total;
        }
        let floor = libm::log(NEGLIGIBLE);
        self.dropped += self.weights.iter().filter(|w| w.log < floor).map(|w| libm::exp(w.log)).sum::<f64>();
        self.weights.retain(|w| w.log >= floor);
        self.weights.sort_by(|one, other| other.log.total_cmp(&one.log).then_with(|| one.suspect.cmp(&other.suspect)));
        total
    }
}

/// Gives a likelihood over what a thing is and what it is close enough to be taken for.
fn taken_for(way: &Way, at: usize, of: impl Fn(u8) -> f64) -> f64 {
    let actual = of(way.values[at]);
    way.close_to[at].map_or(actual, |(other, chance)| (1.0 - chance) * actual + chance * of(other))
}

/// Says whether two items answer the same: one reading taken twice, one thing watched twice in one state.
fn same_question(one: &Evidence, other: &Evidence) -> bool {
    match (one, other) {
        (Evidence::Read { reading, .. }, Evidence::Read { reading: again, .. }) => reading == again,
        (Evidence::Watched(seen), Evidence::Watched(again)) => (seen.state, seen.what) == (again.state, again.what),
        _ => false,
    }
}

fn as_f64(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
