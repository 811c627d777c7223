//! What must be measured before an electronic control may be changed: it is condemned by positive evidence, never by
//! elimination. Supplies good, request present, output absent under load; each a reading of its own.

use crate::bench::Bench;
use crate::candidates::{Act, Hands};
use diagnosis::{Belief, Evidence};
use machine::model::{FlagId, FlagRule, Law, Machine, Need, Observed, PartId, PartKind, RepairId, Rule, StateId};
use prediction::{Condition, Probe, Quantity, Reading, Seen};

/// Gives the readings still to be taken before the repair of a control may be proposed; empty for any other part.
#[must_use]
pub fn evidence_missing(belief: &Belief<'_, '_>, bench: &Bench, repair: RepairId) -> Vec<Act> {
    let machine = belief.machine();
    let part = machine.repairs[repair.index()].part;
    if machine.parts[part.index()].kind != PartKind::Control {
        return Vec::new();
    }
    owed(machine, part, accused(belief, repair), bench, &since_the_last_repair(belief))
}

/// Gives the same for one who holds no belief, for whichever output least is owed: `seen` is what he watched since the
/// last repair.
#[must_use]
pub fn evidence_owed(machine: &Machine, bench: &Bench, repair: RepairId, seen: &[Seen]) -> Vec<Act> {
    let part = machine.repairs[repair.index()].part;
    if machine.parts[part.index()].kind != PartKind::Control {
        return Vec::new();
    }
    let outputs = (0..machine.flags.len()).filter(|&flag| machine.flags[flag].part == part);
    let of_output = |flag| FlagId(u16::try_from(flag).unwrap_or(u16::MAX));
    let lists = outputs.map(|flag| owed(machine, part, Some(of_output(flag)), bench, seen));
    lists.min_by_key(Vec::len).unwrap_or_default()
}

fn owed(machine: &Machine, board: PartId, accused: Option<FlagId>, bench: &Bench, seen: &[Seen]) -> Vec<Act> {
    let mut acts = evidence(machine, board, accused, bench, seen);
    acts.retain(|act| !matches!(act, Act::Read(reading, _) if bench.read.contains(reading)));
    acts
}

fn since_the_last_repair(belief: &Belief<'_, '_>) -> Vec<Seen> {
    let mut seen = Vec::new();
    for weighed in belief.evidence() {
        match &weighed.item {
            Evidence::Repaired(_) => seen.clear(),
            Evidence::Watched(one) => seen.push(*one),
            _ => {}
        }
    }
    seen
}

/// Gives the output that the likeliest fault of this repair concerns.
fn accused(belief: &Belief<'_, '_>, repair: RepairId) -> Option<FlagId> {
    let machine = belief.machine();
    let shares = belief.shares();
    let faults = shares.iter().flat_map(|(suspect, _)| suspect.0.iter());
    let fault = faults.map(|f| &machine.faults[f.index()]).find(|f| f.repair == repair)?;
    fault.effects.iter().find_map(|effect| match *effect {
        machine::faults::Effect::Open(branch) | machine::faults::Effect::Ohms(branch, _) => {
            match &machine.branches[branch.index()].law {
                Law::Contact { rule: Rule::Flag { flag, .. }, .. } => Some(*flag),
                _ => None,
            }
        }
        machine::faults::Effect::Hold(flag, _) => Some(flag),
        _ => None,
    })
}

/// Lists the readings: each supply and input in a state that calls for the output, each sensor isolated, and the volts
/// across the output's open contact, which stand there only while supply and load are good and the contact is open.
///
/// What the board's own display was watched to vouch for is not read again; of a board whose display is dark only the
/// supplies are owed.
fn evidence(machine: &Machine, control: PartId, accused: Option<FlagId>, bench: &Bench, seen: &[Seen]) -> Vec<Act> {
    let Some((flag, called)) = output_to_measure(machine, control, accused, bench) else { return Vec::new() };
    let dark = seen
        .iter()
        .rev()
        .find(|s| machine[s.what].of.is_display_of(&machine.flags, control) && s.value == Observed::DARK)
        .map(|s| s.state);
    let state = dark.unwrap_or(called);
    let FlagRule::Output { needs, .. } = &machine.flags[flag].rule else { return Vec::new() };
    let in_state = |s: &&Seen| s.state == state && machine[s.what].of.is_display_of(&machine.flags, control);
    let shown = seen.iter().rev().find(in_state).map(|s| s.value);
    let mut acts = Vec::new();
    if shown != Some(Observed::DARK) {
        // The contact first: whoever reads it running sees the display too.
        for branch in &machine.branches {
            if matches!(&branch.law, Law::Contact { rule: Rule::Flag { flag: by, .. }, .. } if by.index() == flag) {
                acts.push(clipped(Probe::Across(branch.from, branch.to), state));
            }
        }
    }
    let unread = needs
        .iter()
        .filter(|need| shown != Some(Observed::NORMAL) || !danger::display_vouches(machine, control, need))
        .filter(|need| shown != Some(Observed::DARK) || matches!(need, Need::Volts { .. }));
    acts.extend(unread.filter_map(|need| of_need(machine, need, state)));
    acts
}

/// Gives the output and the state to measure it in: the accused one, else the first that a state with trouble calls for.
fn output_to_measure(
    machine: &Machine,
    control: PartId,
    accused: Option<FlagId>,
    bench: &Bench,
) -> Option<(usize, StateId)> {
    let requests = |flag: usize| match &machine.flags[flag].rule {
        FlagRule::Output { requested_in, .. } if machine.flags[flag].part == control => requested_in.as_slice(),
        _ => &[],
    };
    // Where something was read already, else where the trouble shows first.
    let read_in = |state: &StateId| bench.read.iter().any(|r| r.condition.plugged && r.condition.state == *state);
    let in_trouble = |flag: usize| {
        let called = || bench.trouble.iter().copied().filter(|state| requests(flag).contains(state));
        called().find(|state| read_in(state)).or_else(|| called().next())
    };
    let flags = || (0..machine.flags.len()).filter(|&flag| !requests(flag).is_empty());
    let flag = accused
        .map(FlagId::index)
        .filter(|&flag| !requests(flag).is_empty())
        .or_else(|| flags().find(|&flag| in_trouble(flag).is_some()))
        .or_else(|| flags().next())?;
    let state = in_trouble(flag).or_else(|| requests(flag).first().copied())?;
    Some((flag, state))
}

/// Gives the reading of a need; the work of a part is seen, not read.
fn of_need(machine: &Machine, need: &Need, state: StateId) -> Option<Act> {
    match need {
        Need::Works { .. } => None,
        Need::Volts { from, to, .. } => Some(clipped(Probe::Across(*from, *to), state)),
        Need::Sense { source: id, .. } => {
            let source = &machine.branches[id.index()];
            // The loop is read from the plug, with the control's own source unplugged from it.
            let condition = Condition { lifted: vec![*id], ..Condition::isolated(StateId(0)) };
            let probe = Probe::Across(source.from, source.to);
            Some(Act::Read(Reading { quantity: Quantity::Ohms, probe, condition }, Hands::Isolated))
        }
    }
}

fn clipped(probe: Probe, state: StateId) -> Act {
    Act::Read(Reading { quantity: Quantity::Volts, probe, condition: Condition::running(state) }, Hands::Clipped)
}
