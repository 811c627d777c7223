//! What must be measured before an electronic control may be changed: it is condemned by positive evidence, never by
//! elimination. Supplies good, request present, output absent under load; each a reading of its own.

use crate::bench::Bench;
use crate::candidates::{Act, Hands};
use diagnosis::Belief;
use machine::model::{FlagId, FlagRule, Law, Machine, Need, PartId, PartKind, RepairId, Rule, StateId};
use prediction::{Condition, Probe, Quantity, Reading};

/// Gives the readings still to be taken before the repair of a control may be proposed; empty for any other part.
#[must_use]
pub fn evidence_missing(belief: &Belief<'_, '_>, bench: &Bench, repair: RepairId) -> Vec<Act> {
    let machine = belief.machine();
    let part = machine.repairs[repair.index()].part;
    if machine.parts[part.index()].kind != PartKind::Control {
        return Vec::new();
    }
    let mut acts = evidence(machine, part, accused(belief, repair), bench);
    acts.retain(|act| !matches!(act, Act::Read(reading, _) if bench.read.contains(reading)));
    acts
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
fn evidence(machine: &Machine, control: PartId, accused: Option<FlagId>, bench: &Bench) -> Vec<Act> {
    let outputs = (0..machine.flags.len()).filter(|&f| machine.flags[f].part == control);
    let flag = accused.map(FlagId::index).or_else(|| outputs.into_iter().next());
    let Some(flag) = flag else { return Vec::new() };
    let FlagRule::Output { requested_in, needs } = &machine.flags[flag].rule else { return Vec::new() };
    let wanted = bench.trouble.iter().find(|state| requested_in.contains(state));
    let Some(&state) = wanted.or(requested_in.first()) else { return Vec::new() };
    let mut acts: Vec<Act> = needs.iter().map(|need| of_need(machine, need, state)).collect();
    for branch in &machine.branches {
        if matches!(&branch.law, Law::Contact { rule: Rule::Flag { flag: by, .. }, .. } if by.index() == flag) {
            acts.push(clipped(Probe::Across(branch.from, branch.to), state));
        }
    }
    acts
}

fn of_need(machine: &Machine, need: &Need, state: StateId) -> Act {
    match need {
        Need::Volts { from, to, .. } => clipped(Probe::Across(*from, *to), state),
        Need::Sense { source: id, .. } => {
            let source = &machine.branches[id.index()];
            // The loop is read from the plug, with the control's own source unplugged from it.
            let condition = Condition { lifted: vec![*id], ..Condition::isolated(StateId(0)) };
            let probe = Probe::Across(source.from, source.to);
            Act::Read(Reading { quantity: Quantity::Ohms, probe, condition }, Hands::Isolated)
        }
    }
}

fn clipped(probe: Probe, state: StateId) -> Act {
    Act::Read(Reading { quantity: Quantity::Volts, probe, condition: Condition::running(state) }, Hands::Clipped)
}
