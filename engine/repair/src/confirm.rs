//! A part is read at itself before it is changed: what the wiring as described implies about it may be wrong where the
//! wiring is. Owed is one reading across the part, where one tells the fault from a sound part and takes no more
//! covers off than the repair.

use crate::bench::Bench;
use crate::candidates::{Act, Hands, places};
use crate::compile::cost;
use crate::prices::Prices;
use diagnosis::likelihood::meant;
use diagnosis::{Belief, Evidence, Measured};
use machine::Machine;
use machine::faults::{Effect, RepairKind};
use machine::model::{Branch, BranchId, FaultId, PartId, PartKind, RepairId, StateId, TerminalId};
use prediction::{Condition, Predictor, Probe, Quantity, Reading, Shown};
use teardown::plan_teardown;

/// How many times likelier under the fault or under a sound part a reading must be, to count as having told.
const TELLS: f64 = 10.0;

/// Gives the reading across the part that is still owed before this repair; `None` where one was taken, damage was
/// seen, nothing the meter shows could tell, or the points lie behind more covers than the repair needs.
#[must_use]
pub fn confirmation_missing(belief: &Belief<'_, '_>, bench: &Bench, prices: &Prices, repair: RepairId) -> Option<Act> {
    let machine = belief.machine();
    let described = &machine.repairs[repair.index()];
    let by_hand = matches!(described.kind, RepairKind::Replace | RepairKind::Mend);
    if !by_hand || machine.parts[described.part.index()].kind == PartKind::Control {
        return None;
    }
    let fault = accused(belief, repair)?;
    let conclusive = readings(belief.predictor(), bench, fault);
    let condemned = |part: PartId| part == described.part || described.together.contains(&part);
    let told = since_the_last_repair(belief).any(|item| match item {
        Evidence::Looked { part, damage } => *damage && condemned(*part),
        Evidence::Read { reading, measured } => {
            across(machine, fault, reading.probe)
                && match told_by(belief, fault, reading, *measured) {
                    Some(true) => conclusive.contains(reading),
                    Some(false) => true,
                    None => false,
                }
        }
        _ => false,
    });
    if told {
        return None;
    }
    let owed = conclusive.into_iter().filter(|reading| !bench.read.contains(reading));
    let acts =
        owed.map(|reading| Act::Read(reading, Hands::Isolated)).filter(|act| no_cover_more(belief, bench, act, repair));
    acts.min_by(|a, b| cost(machine, prices, a).0.total_cmp(&cost(machine, prices, b).0))
}

/// Gives the likeliest fault that the repair cures.
fn accused(belief: &Belief<'_, '_>, repair: RepairId) -> Option<FaultId> {
    let shares = belief.shares();
    let mut faults = shares.iter().flat_map(|(suspect, _)| suspect.0.iter().copied());
    faults.find(|fault| belief.machine().faults[fault.index()].repair == repair)
}

fn since_the_last_repair<'b>(belief: &'b Belief<'_, '_>) -> impl Iterator<Item = &'b Evidence> {
    let evidence = belief.evidence();
    let last = evidence.iter().rposition(|weighed| matches!(weighed.item, Evidence::Repaired(_)));
    evidence[last.map_or(0, |at| at + 1)..].iter().map(|weighed| &weighed.item)
}

/// Says whether a reading has told the fault from a sound part, and whether for the fault; `None` if it has not.
fn told_by(belief: &Belief<'_, '_>, fault: FaultId, reading: &Reading, measured: Measured) -> Option<bool> {
    let predictor = belief.predictor();
    let of =
        |faults: &[FaultId]| meant(measured, &predictor.predict(reading, faults), reading.quantity, predictor.meter());
    let (faulty, sound) = (of(&[fault]), of(&[]));
    (faulty > TELLS * sound || sound > TELLS * faulty).then_some(faulty > sound)
}

/// Says whether the probes stand on the two ends of something that the fault changes.
fn across(machine: &Machine, fault: FaultId, probe: Probe) -> bool {
    let Probe::Across(a, b) = probe else { return false };
    ends(machine, fault).iter().any(|&(one, other)| (a, b) == (one, other) || (b, a) == (one, other))
}

fn ends(machine: &Machine, fault: FaultId) -> Vec<(TerminalId, TerminalId)> {
    let effects = machine.faults[fault.index()].effects.iter();
    let ends = effects.filter_map(|effect| match *effect {
        Effect::Open(branch) | Effect::Ohms(branch, _) | Effect::Scale(branch, _) => {
            let Branch { from, to, .. } = machine.branches[branch.index()];
            Some((outward(machine, branch, from), outward(machine, branch, to)))
        }
        Effect::Bridge(a, b, _) => Some((a, b)),
        Effect::Hold(..) | Effect::Stops(_) | Effect::Weakens(_) | Effect::Turn(..) => None,
    });
    ends.collect()
}

/// Gives the end of a part that a probe can reach from one end of a branch: a point inside is passed along the only other
/// branch of the part there, such as the rest of a heater beyond where it may touch the frame.
fn outward(machine: &Machine, mut branch: BranchId, mut end: TerminalId) -> TerminalId {
    // Each step goes on to another branch; the count only makes sure that the loop ends.
    for _ in 0..machine.branches.len() {
        if !machine.terminals[end.index()].hidden {
            break;
        }
        let part = machine.branches[branch.index()].part;
        let mut beyond = (0..)
            .map(BranchId)
            .zip(&machine.branches)
            .filter(|(id, other)| *id != branch && other.part == part && (other.from == end || other.to == end));
        let (Some((next, other)), None) = (beyond.next(), beyond.next()) else { break };
        (branch, end) = (next, if other.from == end { other.to } else { other.from });
    }
    end
}

/// Lists the isolated readings across what the fault changes that would tell it from a sound part.
///
/// Whatever lies beside a part only lowers what is read, so a part is found open without lifting a lead, and found
/// closed only with one lifted where it hangs on a single one.
pub(crate) fn readings(predictor: &Predictor<'_>, bench: &Bench, fault: FaultId) -> Vec<Reading> {
    let machine = predictor.machine();
    let mut settings = vec![StateId(0)];
    settings.extend(bench.trouble.iter().copied().filter(|&state| state != StateId(0)));
    let touchable = |end: TerminalId| !machine.terminals[end.index()].hidden && !bench.out_of_reach.contains(&end);
    let mut readings = Vec::new();
    for (a, b) in ends(machine, fault).into_iter().filter(|&(a, b)| touchable(a) && touchable(b)) {
        let single: Vec<_> =
            [a, b].map(|end| machine.leads_at(end)).into_iter().filter(|leads| leads.len() == 1).collect();
        for &state in &settings {
            let isolated = Condition::isolated(state);
            let at =
                |condition| Reading { quantity: Quantity::Ohms, probe: Probe::Across(a.min(b), a.max(b)), condition };
            let lifted = single.iter().map(|leads| at(Condition { lifted: leads.clone(), ..isolated.clone() }));
            readings.extend(lifted.filter(|reading| direction(predictor, fault, reading).is_some()));
            let plain = at(isolated.clone());
            match direction(predictor, fault, &plain) {
                Some(Direction::Higher) => readings.push(plain),
                Some(Direction::Lower) if single.is_empty() => readings.push(plain),
                _ => {}
            }
        }
    }
    readings
}

/// Which way the fault moves a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Direction {
    Higher,
    Lower,
}

/// Says which way the fault moves a reading, if clearly.
fn direction(predictor: &Predictor<'_>, fault: FaultId, reading: &Reading) -> Option<Direction> {
    let meter = predictor.meter();
    let (faulty, sound) = (predictor.predict(reading, &[fault]), predictor.predict(reading, &[]));
    let (faulty_ends, sound_ends) = (faulty.interval(reading.quantity, meter), sound.interval(reading.quantity, meter));
    match (faulty.shown, sound.shown) {
        (Shown::Ghost { .. }, _) | (_, Shown::Ghost { .. }) => None,
        _ if faulty_ends.0 > sound_ends.1 => Some(Direction::Higher),
        _ if faulty_ends.1 < sound_ends.0 => Some(Direction::Lower),
        _ => None,
    }
}

/// Says whether a reading needs no cover off that the repair does not need.
fn no_cover_more(belief: &Belief<'_, '_>, bench: &Bench, act: &Act, repair: RepairId) -> bool {
    let machine = belief.machine();
    let minutes = |mut all: Vec<machine::model::PlaceId>| {
        all.sort_unstable();
        all.dedup();
        plan_teardown(&machine.access, &all, &bench.open).ok().map(|plan| plan.minutes())
    };
    let of_repair = places(machine, &Act::Change(repair));
    let both = of_repair.iter().copied().chain(places(machine, act)).collect();
    match (minutes(of_repair), minutes(both)) {
        (Some(alone), Some(both)) => both <= alone + 1e-9,
        _ => false,
    }
}
