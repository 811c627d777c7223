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

/// Share of the belief from which a cause is looked for: common practice, no source.
const WORTH_A_LOOK: f64 = 0.02;
/// Share from which a cause that nothing more is owed at keeps the machine from being handed back.
const OPEN: f64 = 0.3;
/// Chance that damage shows from which a look decides.
const SHOWS: f64 = 0.5;

/// Gives what is owed before handing back: the look or reading at the likeliest cause of what was mended, and that cause.
/// `None` once every cause is mended, excluded, or was looked at as far as can be.
#[must_use]
pub fn owed(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices) -> Option<(Act, FaultId)> {
    let mut causes = open(belief, bench);
    causes.retain(|(_, share)| *share >= WORTH_A_LOOK);
    causes.into_iter().find_map(|(cause, _)| Some((towards(belief, bench, prices, cause)?, cause)))
}

/// Says whether a cause of what was mended may well be there though nothing more is [`owed`].
#[must_use]
pub fn left_open(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices) -> bool {
    open(belief, bench).first().is_some_and(|(_, share)| *share >= OPEN) && owed(belief, bench, prices).is_none()
}

/// Gives the share of the suspects that a fault is among.
#[must_use]
pub fn share(belief: &Belief<'_, '_>, fault: FaultId) -> f64 {
    belief.shares().iter().filter(|(suspect, _)| suspect.0.contains(&fault)).map(|(_, share)| share).sum()
}

/// Lists the causes of what was mended that were not mended themselves, with their shares, likeliest first.
fn open(belief: &Belief<'_, '_>, bench: &Bench) -> Vec<(FaultId, f64)> {
    let mut causes: Vec<FaultId> =
        bench.repaired.iter().flat_map(|&repair| causes_of(belief.machine(), repair)).collect();
    causes.sort_unstable();
    causes.dedup();
    causes.retain(|cause| !bench.repaired.contains(&belief.machine()[*cause].repair));
    let mut causes: Vec<(FaultId, f64)> = causes.into_iter().map(|cause| (cause, share(belief, cause))).collect();
    causes.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    causes
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
