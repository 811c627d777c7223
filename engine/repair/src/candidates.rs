//! Everything that could be done next at this machine: readings, looks, tries and repairs, with what each needs.
//!
//! Readings are offered between all points of one place while there are few, else across each part and lead, to the frame
//! and to the supply's terminals there; supply readings at the receptacle; clipped readings at the terminal block and
//! across each part in a state that
//! shows the trouble, and there amperes around heaters and motors where a clamp is owned. Only what the technician's
//! meters can be set to is offered. Any other pair can be had on request.

use crate::bench::Bench;
use machine::model::{Branch, BranchId, Law, Machine, PartId, PartKind, PlaceId, RepairId, Rule, StateId, TerminalId};
use prediction::{Condition, Meter, Probe, Quantity, Reading};
use std::collections::{BTreeMap, BTreeSet};

/// One thing that could be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// A reading, and how the hands take it.
    Read(Reading, Hands),
    /// A look at a part.
    Look(PartId),
    /// Running a state and watching it.
    Try(StateId),
    /// A repair, then trying the function.
    Change(RepairId),
    /// Nothing is wrong: explain the use and watch a run.
    Explain,
    /// Hand the job on: nothing described explains it, or it costs more than it is worth.
    Refer,
}

/// How a reading is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hands {
    /// The machine isolated and measured dead.
    Isolated,
    /// At the receptacle, plug out.
    Supply,
    /// Clipped on dead, read standing clear.
    Clipped,
}

/// Points of one place up to which every pair is offered.
const FEW_POINTS: usize = 9;

/// Lists the readings that could be taken with this meter, looks and tries that could be made; leads are lifted only at
/// the parts that are `suspected`.
#[must_use]
pub fn candidates(machine: &Machine, bench: &Bench, meter: &Meter, suspected: &BTreeSet<PartId>) -> Vec<Act> {
    let mut acts = Vec::new();
    let settings = isolated_states(machine, bench);
    for (a, b) in isolated_pairs(machine, bench) {
        for &state in &settings {
            acts.push(read(Quantity::Ohms, a, b, Condition::isolated(state), Hands::Isolated));
        }
    }
    acts.extend(lifted(machine, suspected, &settings));
    acts.extend(capacitors(machine));
    acts.extend(supply(machine));
    acts.extend(clipped(machine, bench, suspected));
    acts.extend(clamped(machine, bench));
    acts.extend((0..machine.parts.len()).map(part_id).filter(|p| !bench.looked.contains(p)).map(Act::Look));
    let states = (0..machine.states.len()).map(|s| StateId(u16::try_from(s).unwrap_or(u16::MAX)));
    acts.extend(states.filter(|s| !bench.watched.contains(s)).map(Act::Try));
    acts.retain(|act| match act {
        Act::Read(reading, _) => {
            meter.takes(reading.quantity) && !bench.read.contains(reading) && reachable(reading, bench)
        }
        _ => true,
    });
    acts
}

fn reachable(reading: &Reading, bench: &Bench) -> bool {
    match reading.probe {
        Probe::Across(a, b) => !bench.out_of_reach.contains(&a) && !bench.out_of_reach.contains(&b),
        Probe::Around(_) => true,
    }
}

fn read(quantity: Quantity, a: TerminalId, b: TerminalId, condition: Condition, hands: Hands) -> Act {
    Act::Read(Reading { quantity, probe: Probe::Across(a, b), condition }, hands)
}

/// Gives the states whose control settings are worth setting on the isolated machine: rest, and those that show the
/// trouble.
fn isolated_states(machine: &Machine, bench: &Bench) -> Vec<StateId> {
    let mut states = vec![StateId(0)];
    for &state in bench.trouble.iter() {
        let positions = &machine.states[state.index()].positions;
        let known = states.iter().any(|s| &machine.states[s.index()].positions == positions);
        if !known && states.len() < 3 {
            states.push(state);
        }
    }
    states
}

/// Gives the points that probes reach on the isolated machine, by place.
fn points(machine: &Machine) -> BTreeMap<PlaceId, Vec<TerminalId>> {
    let mut points: BTreeMap<PlaceId, Vec<TerminalId>> = BTreeMap::new();
    for (index, terminal) in machine.terminals.iter().enumerate() {
        let id = TerminalId(u16::try_from(index).unwrap_or(u16::MAX));
        let house_side = matches!(
            machine.parts[terminal.part.index()].kind,
            PartKind::House | PartKind::Breaker | PartKind::Receptacle
        );
        if !terminal.hidden && !house_side && id != machine.supply.earth {
            points.entry(terminal.place).or_default().push(id);
        }
    }
    points
}

fn isolated_pairs(machine: &Machine, bench: &Bench) -> Vec<(TerminalId, TerminalId)> {
    let mut pairs = Vec::new();
    for of_place in points(machine).values() {
        for (index, &a) in of_place.iter().enumerate() {
            for &b in of_place.iter().skip(index + 1) {
                let same = machine.terminals[a.index()].part == machine.terminals[b.index()].part;
                // From a supply terminal into the string: what halves it.
                let block = machine.supply.block.iter().any(|&(_, end)| end == a || end == b);
                if of_place.len() <= FEW_POINTS || same || block {
                    pairs.push((a, b));
                }
            }
        }
    }
    let frame = machine.supply.frame;
    pairs.extend(machine.supply.block.iter().map(|&(_, end)| (end.min(frame), end.max(frame))));
    for branch in &machine.branches {
        let ends = (branch.from.min(branch.to), branch.from.max(branch.to));
        let kind = machine.parts[branch.part.index()].kind;
        let hidden = [ends.0, ends.1].iter().any(|t| machine.terminals[t.index()].hidden);
        let house_side = matches!(kind, PartKind::House | PartKind::Breaker | PartKind::Receptacle);
        if !hidden && !house_side {
            pairs.push(ends);
        }
        if matches!(kind, PartKind::Heater | PartKind::Motor) {
            pairs.extend([ends.0, ends.1].into_iter().map(|end| (end.min(frame), end.max(frame))));
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    pairs.retain(|(a, b)| {
        a != b
            && !machine.terminals[a.index()].hidden
            && !machine.terminals[b.index()].hidden
            && !bench.out_of_reach.contains(a)
            && !bench.out_of_reach.contains(b)
    });
    pairs
}

/// Gives ohms across each suspected part with one of its leads lifted, so that nothing parallel is read.
fn lifted(machine: &Machine, suspected: &BTreeSet<PartId>, settings: &[StateId]) -> Vec<Act> {
    let mut acts = Vec::new();
    for branch in &machine.branches {
        let part = &machine.parts[branch.part.index()];
        let wanted = suspected.contains(&branch.part) && part.kind != PartKind::Lead && !part.installation;
        let hidden = [branch.from, branch.to].iter().any(|t| machine.terminals[t.index()].hidden);
        if !wanted || hidden {
            continue;
        }
        let single =
            [branch.from, branch.to].map(|end| machine.leads_at(end)).into_iter().find(|leads| leads.len() == 1);
        for &state in settings {
            if let Some(leads) = &single {
                let condition = Condition { lifted: leads.clone(), ..Condition::isolated(state) };
                acts.push(read(Quantity::Ohms, branch.from, branch.to, condition, Hands::Isolated));
            }
        }
    }
    acts
}

/// Gives the capacitance of each capacitor with the leads of one of its terminals lifted, so that no winding is read.
fn capacitors(machine: &Machine) -> Vec<Act> {
    let of = |branch: &&Branch| {
        machine.parts[branch.part.index()].kind == PartKind::Capacitor && matches!(branch.law, Law::Capacitor { .. })
    };
    let lifted = |branch: &Branch| {
        let mut ends = [branch.from, branch.to].map(|end| machine.leads_at(end));
        ends.sort_by_key(Vec::len);
        ends.into_iter().find(|leads| !leads.is_empty()).unwrap_or_default()
    };
    let shown = machine.branches.iter().filter(of).filter(|branch| !machine.terminals[branch.to.index()].hidden);
    shown
        .map(|branch| {
            let condition = Condition { lifted: lifted(branch), ..Condition::isolated(StateId(0)) };
            read(Quantity::Farads, branch.from, branch.to, condition, Hands::Isolated)
        })
        .collect()
}

fn supply(machine: &Machine) -> Vec<Act> {
    let slots = &machine.supply.slots;
    let mut acts = Vec::new();
    for (index, &(_, a)) in slots.iter().enumerate() {
        for &(_, b) in slots.iter().skip(index + 1) {
            acts.push(read(Quantity::Volts, a, b, Condition::isolated(StateId(0)), Hands::Supply));
        }
    }
    acts
}

/// Gives volts at the block and across parts, and across the leads that are suspected: a joint shows its drop under load.
fn clipped(machine: &Machine, bench: &Bench, suspected: &BTreeSet<PartId>) -> Vec<Act> {
    let mut acts = Vec::new();
    let neutral = machine.supply.block.iter().find(|(c, _)| *c == machine::model::Conductor::Neutral).map(|(_, t)| *t);
    let mut states = bench.trouble.clone();
    states.truncate(2);
    for &state in &states {
        let block = &machine.supply.block;
        for (index, &(_, a)) in block.iter().enumerate() {
            for &(_, b) in block.iter().skip(index + 1) {
                acts.push(read(Quantity::Volts, a, b, Condition::running(state), Hands::Clipped));
            }
        }
        for branch in &machine.branches {
            let part = &machine.parts[branch.part.index()];
            let hidden = [branch.from, branch.to].iter().any(|t| machine.terminals[t.index()].hidden);
            let idle_lead = part.kind == PartKind::Lead && !suspected.contains(&branch.part);
            if hidden || part.installation || idle_lead || moved_by_hand(&branch.law) {
                continue;
            }
            acts.push(read(Quantity::Volts, branch.from, branch.to, Condition::running(state), Hands::Clipped));
            if let Some(neutral) = neutral.filter(|_| part.kind != PartKind::Lead) {
                acts.push(read(Quantity::Volts, branch.from, neutral, Condition::running(state), Hands::Clipped));
                acts.push(read(Quantity::Volts, branch.to, neutral, Condition::running(state), Hands::Clipped));
            }
        }
    }
    acts
}

/// Gives amperes around each branch of a heater or motor in the states that show the trouble.
fn clamped(machine: &Machine, bench: &Bench) -> Vec<Act> {
    let mut acts = Vec::new();
    for &state in bench.trouble.iter().take(2) {
        for (index, branch) in machine.branches.iter().enumerate() {
            let part = &machine.parts[branch.part.index()];
            let loads = matches!(branch.law, Law::Resistance(_) | Law::Winding { .. });
            if !loads || part.installation || !matches!(part.kind, PartKind::Heater | PartKind::Motor) {
                continue;
            }
            let probe = Probe::Around(BranchId(u16::try_from(index).unwrap_or(u16::MAX)));
            let reading = Reading { quantity: Quantity::Amps, probe, condition: Condition::running(state) };
            acts.push(Act::Read(reading, Hands::Clipped));
        }
    }
    acts
}

fn moved_by_hand(law: &Law) -> bool {
    matches!(law, Law::Contact { rule: Rule::Position { .. }, .. })
}

/// Gives the end at which a lead is lifted: where a probe goes too, if it ends there.
#[must_use]
pub fn lifted_end(machine: &Machine, lead: BranchId, probe: Probe) -> TerminalId {
    let lead = &machine.branches[lead.index()];
    match probe {
        Probe::Across(a, b) if [a, b].contains(&lead.to) => lead.to,
        _ => lead.from,
    }
}

fn part_id(index: usize) -> PartId {
    PartId(u16::try_from(index).unwrap_or(u16::MAX))
}

/// Gives the place that must be exposed for an act, if it needs one.
#[must_use]
pub fn places(machine: &Machine, act: &Act) -> Vec<PlaceId> {
    let of = |terminal: TerminalId| machine.terminals[terminal.index()].place;
    let mut places = match act {
        Act::Read(reading, _) => {
            let mut places = match reading.probe {
                Probe::Across(a, b) => vec![of(a), of(b)],
                Probe::Around(branch) => vec![of(machine.branches[branch.index()].to)],
            };
            places.extend(reading.condition.lifted.iter().map(|&lead| of(lifted_end(machine, lead, reading.probe))));
            places
        }
        Act::Look(part) => vec![machine.parts[part.index()].place],
        Act::Change(repair) => {
            let repair = &machine.repairs[repair.index()];
            if repair.kind == machine::faults::RepairKind::Refer {
                Vec::new()
            } else {
                std::iter::once(repair.part)
                    .chain(repair.together.iter().copied())
                    .map(|part| machine.parts[part.index()].place)
                    .collect()
            }
        }
        Act::Try(_) | Act::Explain | Act::Refer => Vec::new(),
    };
    places.sort_unstable();
    places.dedup();
    places
}
