//! The belief of one call: a weight for every suspect, and for a machine that is not as described.
//!
//! Weights are logarithms; every item of evidence adds the logarithm of its likelihood. Suspects that together hold
//! less than [`NEGLIGIBLE`] are dropped after an update and their share is added to [`Belief::dropped`], which bounds
//! what the shares shown leave out.

use crate::evidence::{Evidence, Measured};
use crate::likelihood::{meant, of_reading, of_seen, slipped};
use crate::suspects::{Assumptions, Suspect, suspects};
use machine::model::{FaultId, Machine, ObservationId, PartId, RepairId};
use prediction::{Predictor, Reading, Seen};
use std::collections::BTreeMap;

/// Share below which a suspect is dropped after an update; a reading can raise a suspect against another by a few
/// thousand times at most, so what is dropped stays below 1e-9 for the few readings of a call, and it is summed.
pub const NEGLIGIBLE: f64 = 1e-15;

/// Chance that a second look at the same run repeats whatever was wrong with the first.
const SEEN_AGAIN: f64 = 0.4;

/// The belief over all suspects of one machine.
#[derive(Clone, Debug)]
pub struct Belief<'p, 'm> {
    predictor: &'p Predictor<'m>,
    assumed: Assumptions,
    weights: Vec<(Suspect, f64)>,
    not_as_described: f64,
    evidence: Vec<Weighed>,
    dropped: f64,
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
        let weights: Vec<(Suspect, f64)> = suspects(predictor.machine(), &assumed)
            .into_iter()
            .filter(|(_, weight)| *weight > 0.0)
            .map(|(suspect, weight)| (suspect, libm::log(weight)))
            .collect();
        let single: f64 = weights.iter().filter(|(s, _)| s.0.len() == 1).map(|(_, log)| libm::exp(*log)).sum();
        let not_as_described = libm::log((assumed.not_as_described * single).max(1e-300));
        let mut belief = Self { predictor, assumed, weights, not_as_described, evidence: Vec::new(), dropped: 0.0 };
        belief.normalise();
        belief
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
        let mut shares: Vec<_> = self.weights.iter().map(|(suspect, log)| (suspect, libm::exp(*log))).collect();
        shares.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
        shares
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
        for (suspect, log) in &self.weights {
            for repair in suspect.repairs(self.machine()) {
                *shares.entry(repair).or_default() += libm::exp(*log);
            }
        }
        let mut shares: Vec<_> = shares.into_iter().collect();
        shares.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
        shares
    }

    /// Says whether nothing described explains what was found: a machine that is not as described is likelier than
    /// all suspects together, or a reading clashes with all of them.
    #[must_use]
    pub fn unexplained(&self) -> bool {
        self.not_as_described() > 0.5 || !self.clashes().is_empty()
    }

    /// Gives the readings (by their place in the evidence) that, under the whole belief, are nine times likelier a slip
    /// than taken as meant: what to take again.
    #[must_use]
    pub fn clashes(&self) -> Vec<usize> {
        let last_change = self.evidence.iter().rposition(|w| matches!(w.item, Evidence::Repaired(_)));
        let from = last_change.map_or(0, |index| index + 1);
        (from..self.evidence.len()).filter(|&index| self.clashing(index)).collect()
    }

    fn clashing(&self, index: usize) -> bool {
        let Evidence::Read { reading, measured } = &self.evidence[index].item else { return false };
        let again = self.evidence[index + 1..]
            .iter()
            .any(|later| matches!(&later.item, Evidence::Read { reading: same, .. } if same == reading));
        if again {
            return false;
        }
        let meter = self.predictor.meter();
        let (mut as_meant, mut as_slip) = (0.0, 0.0);
        for (suspect, log) in &self.weights {
            let predicted = self.predictor.predict(reading, &suspect.0);
            let meant = (1.0 - self.assumed.slip) * meant(*measured, &predicted, reading.quantity, meter);
            let slip = self.assumed.slip * slipped(*measured, reading.quantity, meter);
            as_meant += libm::exp(*log) * meant / (meant + slip);
            as_slip += libm::exp(*log) * slip / (meant + slip);
        }
        as_slip > 9.0 * as_meant
    }

    /// Takes one item of evidence in.
    pub fn take(&mut self, item: Evidence) {
        if let Evidence::Repaired(repair) = item {
            self.repair(repair);
            self.evidence.push(Weighed { item, log_expected: 0.0 });
            self.normalise();
            return;
        }
        let logs: Vec<f64> =
            self.weights.iter().map(|(suspect, _)| libm::log(self.likelihood(&item, suspect).max(1e-300))).collect();
        for ((_, weight), log) in self.weights.iter_mut().zip(logs) {
            *weight += log;
        }
        self.not_as_described += libm::log(self.likelihood_not_as_described(&item).max(1e-300));
        let log_expected = self.normalise();
        self.evidence.push(Weighed { item, log_expected });
    }

    /// Gives the likelihood of an item under one suspect.
    #[must_use]
    pub fn likelihood(&self, item: &Evidence, suspect: &Suspect) -> f64 {
        match item {
            Evidence::Reported(seen) => self.of_seen(*seen, suspect, self.assumed.wrong_report),
            Evidence::Watched(seen) => self.of_seen(*seen, suspect, self.wrong_watch(*seen)),
            Evidence::Read { reading, measured } => self.of_read(reading, *measured, suspect),
            Evidence::Looked { part, damage } => {
                let shows = self.damage_shows(*part, suspect);
                if *damage { shows } else { 1.0 - shows }
            }
            Evidence::Opinion { part, times } => {
                if self.names(suspect, *part) {
                    *times
                } else {
                    1.0
                }
            }
            Evidence::Repaired(_) => 1.0,
        }
    }

    fn of_read(&self, reading: &Reading, measured: Measured, suspect: &Suspect) -> f64 {
        let predicted = self.predictor.predict(reading, &suspect.0);
        of_reading(measured, &predicted, reading.quantity, self.predictor.meter(), self.assumed.slip)
    }

    fn of_seen(&self, seen: Seen, suspect: &Suspect, wrong: f64) -> f64 {
        let Some(at) = self.predictor.observed_in(seen.state).position(|what| what == seen.what) else { return 1.0 };
        let values = self.values(seen.what);
        let ways = self.predictor.ways(seen.state, &suspect.0);
        ways.iter().map(|way| way.share * of_seen(seen.value, way.values[at], values, wrong)).sum()
    }

    /// Gives the chance that a watched value is wrong: seeing the same again since the last repair tells next to nothing.
    fn wrong_watch(&self, seen: Seen) -> f64 {
        let last_change = self.evidence.iter().rposition(|w| matches!(w.item, Evidence::Repaired(_)));
        let since = &self.evidence[last_change.map_or(0, |index| index + 1)..];
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
    fn likelihood_not_as_described(&self, item: &Evidence) -> f64 {
        match item {
            Evidence::Reported(seen) | Evidence::Watched(seen) => {
                1.0 / f64::from(u32::try_from(self.values(seen.what)).unwrap_or(u32::MAX)).max(1.0)
            }
            Evidence::Read { reading, measured } => slipped(*measured, reading.quantity, self.predictor.meter()),
            Evidence::Looked { damage, .. } => {
                if *damage {
                    0.1
                } else {
                    0.9
                }
            }
            Evidence::Repaired(_) | Evidence::Opinion { .. } => 1.0,
        }
    }

    /// Moves every suspect to what a repair leaves of it; a bad or badly fitted part and a lead left off become
    /// suspects of their own.
    fn repair(&mut self, repair: RepairId) {
        let machine = self.machine();
        let cured = |fault: &FaultId| machine.faults[fault.index()].repair == repair;
        let touched = self.leads_touched(repair);
        let mut after: BTreeMap<Suspect, f64> = BTreeMap::new();
        for (suspect, log) in &self.weights {
            let weight = libm::exp(*log);
            let left: Vec<FaultId> = suspect.0.iter().copied().filter(|fault| !cured(fault)).collect();
            let changed = left.len() < suspect.0.len();
            let off = self.assumed.lead_left_off;
            for &lead in touched.iter().filter(|_| left.len() < 2) {
                let mut with_lead = left.clone();
                with_lead.push(lead);
                *after.entry(Suspect::of(&with_lead)).or_default() += weight * off;
            }
            if changed {
                *after.entry(suspect.clone()).or_default() += weight * self.assumed.bad_repair;
            }
            *after.entry(Suspect::of(&left)).or_default() += weight;
        }
        self.weights = after.into_iter().map(|(suspect, weight)| (suspect, libm::log(weight))).collect();
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
        let most = self.weights.iter().map(|(_, log)| *log).fold(self.not_as_described, f64::max);
        let sum: f64 = self.weights.iter().map(|(_, log)| libm::exp(log - most)).sum::<f64>()
            + libm::exp(self.not_as_described - most);
        let total = most + libm::log(sum);
        self.not_as_described -= total;
        for (_, log) in &mut self.weights {
            *log -= total;
        }
        let floor = libm::log(NEGLIGIBLE);
        self.dropped +=
            self.weights.iter().filter(|(_, log)| *log < floor).map(|(_, log)| libm::exp(*log)).sum::<f64>();
        self.weights.retain(|(_, log)| *log >= floor);
        total
    }
}
