//! The technician who knows the truth: straight to the cure. What nobody can beat.

use crate::ledger::Ledger;
use machine::faults::RepairKind;
use machine::model::RepairId;
use repair::Prices;
use truth::Unit;

/// Gives the minutes from arrival to the start of the repair that cures, for one who knows the faults.
///
/// Of several repairs the best order is taken, without a try between them and with every new part good.
#[must_use]
pub fn all_knowing_minutes(unit: &Unit<'_>, prices: &Prices) -> f64 {
    let machine = unit.machine();
    let mut repairs: Vec<RepairId> = unit.faults().iter().map(|fault| machine.faults[fault.index()].repair).collect();
    repairs.sort_unstable();
    repairs.dedup();
    // What can only be referred is named last: naming it ends the visit.
    let (licensed, own): (Vec<_>, Vec<_>) =
        repairs.into_iter().partition(|repair| machine.repairs[repair.index()].kind == RepairKind::Refer);
    let ledger = Ledger::new(machine, prices);
    best(&ledger, &own, !licensed.is_empty())
}

/// Tries every order of the repairs; with `refers`, the minutes at which all of them are done.
fn best(ledger: &Ledger<'_>, left: &[RepairId], refers: bool) -> f64 {
    if left.is_empty() {
        return ledger.minutes();
    }
    let mut least = f64::INFINITY;
    for &first in left {
        let mut after = ledger.clone();
        let start = after.start_repair(first);
        let rest: Vec<RepairId> = left.iter().copied().filter(|&other| other != first).collect();
        after.finish_repair(first);
        let minutes = if rest.is_empty() && !refers { start } else { best(&after, &rest, refers) };
        least = least.min(minutes);
    }
    least
}
