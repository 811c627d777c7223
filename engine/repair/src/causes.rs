//! What brought about a fault that was mended: who changes only the cut-off that a blocked vent has blown comes back. Owed
//! is one look or reading at each cause that the evidence has not excluded. Mends nothing.

use crate::bench::Bench;
use crate::candidates::{Act, Hands};
use crate::compile::cost;
use crate::confirm;
use crate::prices::Prices;
use diagnosis::Belief;
use machine::Machine;
use machine::model::{FaultId, RepairId};
use std::collections::BTreeMap;

/// Share of the belief from which a cause is looked for: common practice, no source.
const WORTH_A_LOOK: f64 = 0.02;
/// Share from which a cause that nothing more is owed at keeps the machine from being handed back.
const OPEN: f64 = 0.3;
/// Chance that damage shows from which a look decides.
const SHOWS: f64 = 0.5;

/// How the causes of what was mended stand.
#[derive(Clone, Debug, PartialEq)]
pub enum Causes {
    /// Each is mended, excluded, or as good as excluded.
    Settled,
    /// This look or reading is owed at the likeliest that is not.
    Owed {
        /// What would show it.
        act: Act,
        /// The cause.
        cause: FaultId,
        /// Its share of the belief.
        share: f64,
    },
    /// Nothing more is owed, and one may well be there: the planner goes on.
    LeftOpen,
}

/// Says how the causes of what was mended stand.
#[must_use]
pub fn of_mended(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices) -> Causes {
    let open = open(belief, bench);
    let owed = open.iter().take_while(|(_, share)| *share >= WORTH_A_LOOK).find_map(|&(cause, share)| {
        let act = towards(belief, bench, prices, cause)?;
        Some(Causes::Owed { act, cause, share })
    });
    let likely = open.first().is_some_and(|(_, share)| *share >= OPEN);
    owed.unwrap_or(if likely { Causes::LeftOpen } else { Causes::Settled })
}

/// Lists the causes of what was mended that were not mended themselves, with their shares, likeliest first.
fn open(belief: &Belief<'_, '_>, bench: &Bench) -> Vec<(FaultId, f64)> {
    let machine = belief.machine();
    let causes = bench.repaired.iter().flat_map(|&repair| causes_of(machine, repair));
    let open = causes.filter(|cause| !bench.repaired.contains(&machine[*cause].repair));
    let mut open: BTreeMap<FaultId, f64> = open.map(|cause| (cause, 0.0)).collect();
    if open.is_empty() {
        return Vec::new();
    }
    for (suspect, share) in belief.shares() {
        for fault in suspect.0.iter() {
            if let Some(sum) = open.get_mut(fault) {
                *sum += share;
            }
        }
    }
    let mut open: Vec<(FaultId, f64)> = open.into_iter().collect();
    open.sort_by(|a, b| b.1.total_cmp(&a.1));
    open
}

/// Gives what brings about the faults that a repair cures.
fn causes_of(machine: &Machine, repair: RepairId) -> impl Iterator<Item = FaultId> {
    let cured = machine.faults.iter().filter(move |fault| fault.repair == repair);
    cured.flat_map(|fault| fault.caused_by.iter().map(|(cause, _)| *cause))
}

/// Gives the look that shows a cause, or else the cheapest reading at it, as far as neither was had.
fn towards(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices, cause: FaultId) -> Option<Act> {
    let machine = belief.machine();
    let fault = &machine[cause];
    if fault.visible >= SHOWS {
        return (!bench.looked.contains(&fault.part)).then_some(Act::Look(fault.part));
    }
    let readings = confirm::readings(belief.predictor(), bench, cause);
    if readings.iter().any(|reading| bench.read.contains(reading)) {
        return None;
    }
    let acts = readings.into_iter().map(|reading| Act::Read(reading, Hands::Isolated));
    acts.min_by(|a, b| cost(machine, prices, a).0.total_cmp(&cost(machine, prices, b).0))
}
