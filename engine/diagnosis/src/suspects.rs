//! Every suspect of a machine with its prior weight: nothing wrong, each fault, each pair, each cause with its effect.

use machine::model::{FaultId, Machine, RepairId};
use std::collections::BTreeMap;

/// A set of faults that could be true, in order of their ids; empty for nothing wrong (use, setting, not showing now).
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Suspect(pub Box<[FaultId]>);

impl Suspect {
    /// Makes a suspect of these faults.
    #[must_use]
    pub fn of(faults: &[FaultId]) -> Self {
        let mut faults = faults.to_vec();
        faults.sort_unstable();
        faults.dedup();
        Self(faults.into())
    }

    /// Gives the repairs that together cure it, in order.
    #[must_use]
    pub fn repairs(&self, machine: &Machine) -> Vec<RepairId> {
        let mut repairs: Vec<_> = self.0.iter().map(|fault| machine.faults[fault.index()].repair).collect();
        repairs.sort_unstable();
        repairs.dedup();
        repairs
    }
}

/// What is assumed before any evidence. The defaults are common practice, no source, and visible settings.
#[derive(Clone, Debug)]
pub struct Assumptions {
    /// Weight of nothing wrong (use, setting, gone again), as a share of all single faults.
    pub nothing_wrong: f64,
    /// Weight of a machine that is not as described, as a share of all single faults.
    pub not_as_described: f64,
    /// Weight of all unrelated pairs, about twice this share of all single faults.
    pub pairs: f64,
    /// Chance that a reported observation is wrong.
    pub wrong_report: f64,
    /// Chance that a watched observation is wrong.
    pub wrong_watch: f64,
    /// Chance that a reading is a slip (wrong place, bad contact, misread).
    pub slip: f64,
    /// Multiplies the shares in which the description says that faults come and go; 0 for none that do.
    pub intermittents: f64,
    /// Chance that a customer says so whose trouble comes and goes.
    pub says_it_comes_and_goes: f64,
    /// Chance that a sound part looks damaged.
    pub false_look: f64,
    /// Chance that a repair leaves its fault (new part bad, wrong, or fitted wrong).
    pub bad_repair: f64,
    /// Chance that a repair leaves a touched lead off.
    pub lead_left_off: f64,
    /// Weight of each fault, by fault; the machine's own where left out.
    pub weights: BTreeMap<FaultId, f64>,
}

impl Default for Assumptions {
    fn default() -> Self {
        Self {
            nothing_wrong: 0.08,
            not_as_described: 0.01,
            pairs: 0.05,
            wrong_report: 0.06,
            wrong_watch: 0.01,
            slip: 0.02,
            intermittents: 1.0,
            says_it_comes_and_goes: 0.85,
            false_look: 0.01,
            bad_repair: 0.015,
            lead_left_off: 0.005,
            weights: BTreeMap::new(),
        }
    }
}

/// Lists every suspect with its prior weight (not normalised), nothing wrong first, in a fixed order.
///
/// A single fault weighs what the description says, less the share that comes with a cause; a cause with its effect
/// weighs that share; an unrelated pair weighs w_i w_j / W times [`Assumptions::pairs`].
#[must_use]
pub fn suspects(machine: &Machine, assumed: &Assumptions) -> Vec<(Suspect, f64)> {
    let weight = |fault: FaultId| assumed.weights.get(&fault).copied().unwrap_or(machine.faults[fault.index()].weight);
    let ids: Vec<FaultId> = (0..machine.faults.len())
        .map(|index| FaultId(u16::try_from(index).unwrap_or(u16::MAX)))
        .filter(|&fault| weight(fault) > 0.0)
        .collect();
    let total: f64 = ids.iter().map(|&fault| weight(fault)).sum();
    let mut list = vec![(Suspect::of(&[]), assumed.nothing_wrong * total)];
    let caused = |fault: FaultId| -> f64 {
        machine.faults[fault.index()].caused_by.iter().map(|(_, share)| share).sum::<f64>().min(1.0)
    };
    list.extend(ids.iter().map(|&fault| (Suspect::of(&[fault]), weight(fault) * (1.0 - caused(fault)))));
    for (index, &one) in ids.iter().enumerate() {
        for &other in ids.iter().skip(index + 1) {
            let (first, second) = (&machine.faults[one.index()], &machine.faults[other.index()]);
            let joined: f64 = share(first, other) * weight(one) + share(second, one) * weight(other);
            if first.part == second.part && joined <= 0.0 {
                continue;
            }
            let apart = assumed.pairs * weight(one) * weight(other) / total;
            list.push((Suspect::of(&[one, other]), apart + joined));
        }
    }
    list
}

fn share(fault: &machine::faults::Fault, cause: FaultId) -> f64 {
    fault.caused_by.iter().filter(|(by, _)| *by == cause).map(|(_, share)| share).sum()
}
