//! The technicians who know the truth: straight to the cure, which nobody can beat; and obliged to confirm it first,
//! which nobody can beat who keeps to that rule.

use crate::ledger::Ledger;
use machine::faults::RepairKind;
use machine::model::{RepairId, StateId};
use repair::Prices;
use truth::Unit;

/// Gives the minutes from arrival to the start of the repair that cures, for one who knows the faults.
///
/// Of several repairs the best order is taken, without a try between them and with every new part good.
#[must_use]
pub fn all_knowing_minutes(unit: &Unit<'_>, prices: &Prices) -> f64 {
    let (own, refers) = cures(unit);
    best(&Ledger::new(unit.machine(), prices), &own, refers.is_some())
}

/// Gives the minutes from arrival to the start of the repair that cures, for one who knows the faults but may change or
/// name nothing before he has confirmed it, and keeps to the stop rule.
///
/// To confirm is to see the trouble in a run, to take one reading, or to look at damage that shows. The run, the reading
/// and the look are the cheapest there are, no reading is ever wrong, and after each repair but the last one run is made.
/// So it bounds from below whoever confirms before he changes; one who changes a part unconfirmed may go below it, never
/// below [`all_knowing_minutes`].
#[must_use]
pub fn confirming_minutes(unit: &Unit<'_>, prices: &Prices) -> f64 {
    let (own, refers) = cures(unit);
    let ledger = Ledger::new(unit.machine(), prices);
    let shows: Vec<StateId> = unit.state_ids().filter(|&state| unit.differs(state)).collect();
    let minutes = |state: &StateId| unit.machine().states[state.index()].minutes;
    let run = shows.into_iter().min_by(|a, b| minutes(a).total_cmp(&minutes(b)));
    let seen = run.map(|run| {
        let mut after = ledger.clone();
        after.run(run);
        best_confirmed(unit, &after, &own, refers, run, false)
    });
    let run = run.unwrap_or(StateId(0));
    best_confirmed(unit, &ledger, &own, refers, run, true).min(seen.unwrap_or(f64::INFINITY))
}

/// Tries every order; `owed` while nothing has been confirmed since the last repair.
fn best_confirmed(
    unit: &Unit<'_>,
    ledger: &Ledger<'_>,
    left: &[RepairId],
    refers: Option<RepairId>,
    run: StateId,
    owed: bool,
) -> f64 {
    let mut least = f64::INFINITY;
    for first in left.iter().copied().chain(refers.filter(|_| left.is_empty())) {
        let mut after = ledger.clone();
        after.start_repair(first);
        if owed {
            let shows = unit.damage(unit.machine().repairs[first.index()].part);
            after.confirm(!shows.is_empty());
        }
        let rest: Vec<RepairId> = left.iter().copied().filter(|&other| other != first).collect();
        let last = left.is_empty() || rest.is_empty() && refers.is_none();
        let minutes = if last {
            after.minutes()
        } else {
            after.finish_repair(first);
            after.run(run);
            best_confirmed(unit, &after, &rest, refers, run, false)
        };
        least = least.min(minutes);
    }
    // A unit with nothing wrong has nothing to confirm.
    if least.is_finite() { least } else { ledger.minutes() }
}

/// Gives the repairs that the technician does himself, and one that is only named, if any.
fn cures(unit: &Unit<'_>) -> (Vec<RepairId>, Option<RepairId>) {
    let machine = unit.machine();
    let mut repairs: Vec<RepairId> = unit.faults().iter().map(|fault| machine.faults[fault.index()].repair).collect();
    repairs.sort_unstable();
    repairs.dedup();
    // What can only be referred is named last: naming it ends the visit.
    let (licensed, own): (Vec<_>, Vec<_>) =
        repairs.into_iter().partition(|repair| machine.repairs[repair.index()].kind == RepairKind::Refer);
    (own, licensed.first().copied())
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
