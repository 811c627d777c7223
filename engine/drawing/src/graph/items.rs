//! Stretches of parts and leads: what lies between two terminals and is drawn as one symbol or one line.

use crate::scene::SymbolKind;
use machine::model::{Branch, BranchId, Law, Machine, PartId, PartKind, Rule, TerminalId};

/// One symbol or one lead.
#[derive(Clone, Debug)]
pub(crate) struct Item {
    pub(crate) part: PartId,
    /// Its branches, in order from `from` to `to`; several where points inside a part lie between.
    pub(crate) branches: Vec<BranchId>,
    pub(crate) from: TerminalId,
    pub(crate) to: TerminalId,
    pub(crate) kind: ItemKind,
}

/// How an item is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ItemKind {
    Lead,
    Symbol(SymbolKind),
}

impl Item {
    /// Takes power rather than passing it on.
    pub(crate) fn is_load(&self) -> bool {
        let ItemKind::Symbol(kind) = self.kind else { return false };
        matches!(
            kind,
            SymbolKind::Heater
                | SymbolKind::Motor
                | SymbolKind::StartWinding
                | SymbolKind::SwitchedStartWinding
                | SymbolKind::TimerMotor
                | SymbolKind::Coil
                | SymbolKind::Lamp
                | SymbolKind::Sensor
                | SymbolKind::ElectronicsSupply
                | SymbolKind::ElectronicsInput
                | SymbolKind::ElectronicsSense
        )
    }
}

/// Lists what the machine's own parts and leads bring, in the order of the description.
pub(crate) fn items(machine: &Machine) -> Vec<Item> {
    let mut found = Vec::new();
    for (part, described) in (0..).map(PartId).zip(&machine.parts) {
        if described.installation {
            continue;
        }
        let mut left = machine.branches_of(part);
        // What sound insulation leaks is no wiring.
        left.retain(|branch| !machine.leaks.contains(branch));
        while !left.is_empty() {
            let run = take_run(machine, &mut left);
            found.push(item(machine, part, run));
        }
    }
    found
}

/// Takes the first branch and what continues it beyond points inside the part, as branch and whether it is turned.
fn take_run(machine: &Machine, left: &mut Vec<BranchId>) -> Vec<(BranchId, bool)> {
    let mut run = vec![(left.remove(0), false)];
    loop {
        let last = run.last().map(|(branch, turned)| ends(&machine[*branch], *turned).1);
        let first = run.first().map(|(branch, turned)| ends(&machine[*branch], *turned).0);
        if let Some((next, turned)) = last.and_then(|end| take_next(machine, end, left)) {
            run.push((next, turned));
        } else if let Some((next, turned)) = first.and_then(|end| take_next(machine, end, left)) {
            run.insert(0, (next, !turned));
        } else {
            return run;
        }
    }
}

fn take_next(machine: &Machine, end: TerminalId, left: &mut Vec<BranchId>) -> Option<(BranchId, bool)> {
    if !machine[end].hidden || machine.branches_at(end).len() != 2 {
        return None;
    }
    let place = left.iter().position(|branch| machine[*branch].from == end || machine[*branch].to == end)?;
    let next = left.remove(place);
    Some((next, machine[next].to == end))
}

fn ends(branch: &Branch, turned: bool) -> (TerminalId, TerminalId) {
    if turned { (branch.to, branch.from) } else { (branch.from, branch.to) }
}

fn item(machine: &Machine, part: PartId, run: Vec<(BranchId, bool)>) -> Item {
    let end = |at: Option<&(BranchId, bool)>, last: bool| {
        let pair = at.map(|(branch, turned)| ends(&machine[*branch], *turned));
        pair.map_or(machine.supply.frame, |(from, to)| if last { to } else { from })
    };
    let (from, to) = (end(run.first(), false), end(run.last(), true));
    let branches: Vec<BranchId> = run.into_iter().map(|(branch, _)| branch).collect();
    let kind = kind(machine, part, &branches);
    Item { part, branches, from, to, kind }
}

fn kind(machine: &Machine, part: PartId, branches: &[BranchId]) -> ItemKind {
    let contact = branches.iter().any(|branch| matches!(machine[*branch].law, Law::Contact { .. }));
    let winding = branches.iter().find_map(|branch| match machine[*branch].law {
        Law::Winding { flag, .. } => Some(flag),
        _ => None,
    });
    let name = branches.first().map_or("", |branch| machine[*branch].name.as_str());
    ItemKind::Symbol(match machine[part].kind {
        PartKind::Lead => return ItemKind::Lead,
        PartKind::Heater => SymbolKind::Heater,
        PartKind::Fuse => SymbolKind::Fuse,
        PartKind::CutOff => SymbolKind::CutOff,
        PartKind::Joint => SymbolKind::Joint,
        PartKind::Connector => SymbolKind::Pin,
        PartKind::Thermostat => SymbolKind::ThermostatContact,
        PartKind::Switch => SymbolKind::HandContact,
        PartKind::DoorSwitch => SymbolKind::DoorContact,
        PartKind::Button => SymbolKind::PushContact,
        PartKind::Timer if contact => SymbolKind::TimerContact,
        PartKind::Timer => SymbolKind::TimerMotor,
        PartKind::Relay if contact => SymbolKind::RelayContact,
        PartKind::Relay | PartKind::Valve => SymbolKind::Coil,
        PartKind::Starter => SymbolKind::SpeedContact,
        PartKind::Control if contact => SymbolKind::RelayContact,
        PartKind::Control if is_source(machine, branches) => SymbolKind::ElectronicsSense,
        PartKind::Control if name.ends_with(":supply") => SymbolKind::ElectronicsSupply,
        PartKind::Control => SymbolKind::ElectronicsInput,
        PartKind::Motor => match winding {
            Some(Some(_)) => SymbolKind::Motor,
            Some(None) if contact => SymbolKind::SwitchedStartWinding,
            Some(None) => SymbolKind::StartWinding,
            None => SymbolKind::SpeedContact,
        },
        PartKind::Sensor => SymbolKind::Sensor,
        PartKind::Capacitor => SymbolKind::Capacitor,
        PartKind::Lamp => SymbolKind::Lamp,
        _ => SymbolKind::Box,
    })
}

fn is_source(machine: &Machine, branches: &[BranchId]) -> bool {
    branches.iter().any(|branch| matches!(machine[*branch].law, Law::Source { .. }))
}

/// Says whether a contact is closed with the controls as in the first state, cold, and nothing running.
pub(crate) fn closed_at_rest(machine: &Machine, branch: BranchId) -> Option<bool> {
    let Law::Contact { rule, .. } = &machine[branch].law else { return None };
    Some(match rule {
        Rule::Position { part, closed_in } => {
            let set = machine.states.first().and_then(|state| state.positions.iter().find(|(of, _)| of == part));
            set.is_some_and(|(_, position)| closed_in.contains(position))
        }
        Rule::Temperature { closed_cold, .. } => *closed_cold,
        Rule::Flag { inverted, .. } => *inverted,
        Rule::Always => true,
    })
}
