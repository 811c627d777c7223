//! The live map: which terminals may be live. Reachability, nothing else.
//!
//! A terminal may be live when a path leads to it from a supply terminal or from stored charge, with every contact
//! closed, every lead where it can do harm, every heater and winding through to the frame, all insulation gone, and
//! the receptacle wired in any order. True earth is the reference and carries nothing on. The input is the machine and
//! the energy vector: no belief, no look and no pruning can shrink the map, because none can be handed in.
//!
//! INVARIANT: monotone. More branches, sources, stores or bridges never take a terminal out.

use crate::energy::{Energy, of_house, place_of, store_terminals, stores, terminal_ids};
use machine::faults::Effect;
use machine::model::{Conductor, Law, Machine, PartKind, TerminalId};
use std::collections::BTreeSet;

/// The least that must be wrong for a terminal to be live. Every one of them counts as may be live.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reach {
    /// Described conductors, loads and contacts lead there as they are.
    Conductors,
    /// The receptacle is wired wrong, or legs, neutral and ground are swapped.
    Wiring,
    /// A heater or winding touches the frame, or a described fault bridges.
    FrameFault,
    /// The insulation of a lead or part is gone.
    Insulation,
}

const REACHES: [Reach; 4] = [Reach::Conductors, Reach::Wiring, Reach::FrameFault, Reach::Insulation];

/// Where the danger comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Origin {
    /// The supply.
    Supply,
    /// Stored charge.
    Charge,
}

/// For each terminal, whether and from where it may be live.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LiveMap {
    supply: Vec<Option<Reach>>,
    charge: Vec<Option<Reach>>,
}

impl LiveMap {
    /// Computes the map. With the plug out only its own gap parts; a breaker or disconnect parts nothing here,
    /// because labels lie and contacts weld.
    #[must_use]
    pub fn of(machine: &Machine, energy: &Energy) -> Self {
        let edges = edges(machine, energy);
        let flooded = |seeds: &[(Reach, TerminalId)]| flood(machine, &edges, seeds);
        Self { supply: flooded(&supply_seeds(machine, energy)), charge: flooded(&charge_seeds(machine, energy)) }
    }

    /// Says whether the terminal may be live.
    ///
    /// A terminal that the machine does not have may be: nothing is known of it.
    #[must_use]
    pub fn may_be_live(&self, terminal: TerminalId) -> bool {
        terminal.index() >= self.supply.len() || !self.why(terminal).is_empty()
    }

    /// Says from where, and how little must be wrong for it.
    #[must_use]
    pub fn why(&self, terminal: TerminalId) -> Vec<(Origin, Reach)> {
        let supply = self.supply.get(terminal.index()).copied().flatten().map(|reach| (Origin::Supply, reach));
        let charge = self.charge.get(terminal.index()).copied().flatten().map(|reach| (Origin::Charge, reach));
        supply.into_iter().chain(charge).collect()
    }

    /// Lists the terminals that may be live.
    pub fn live(&self) -> impl Iterator<Item = TerminalId> + '_ {
        let ids = (0..self.supply.len()).map_while(|index| u16::try_from(index).ok()).map(TerminalId);
        ids.filter(|&terminal| self.may_be_live(terminal))
    }

    pub(crate) fn may_be_charged(&self, terminal: TerminalId) -> bool {
        self.charge.get(terminal.index()).copied().flatten().is_some()
    }
}

/// One way for voltage to pass, and the least that must be wrong for it.
type Edge = (Reach, TerminalId, TerminalId);

fn edges(machine: &Machine, energy: &Energy) -> Vec<Edge> {
    let plug_out = energy.plug_is_out(machine);
    let gap: BTreeSet<_> = if plug_out { machine.supply.plug.iter().copied().collect() } else { BTreeSet::new() };
    let conducting = crate::energy::branch_ids(machine).filter(|id| !gap.contains(id));
    // What a sound part leaks to the frame is insulation, not a conductor.
    let reach = |id| if machine.leaks.contains(&id) { Reach::FrameFault } else { Reach::Conductors };
    let branches = conducting.filter_map(|id| Some((reach(id), machine.branches.get(id.index())?)));
    let mut edges: Vec<Edge> = branches.map(|(reach, branch)| (reach, branch.from, branch.to)).collect();
    let slots: Vec<TerminalId> = machine.supply.slots.iter().map(|&(_, terminal)| terminal).collect();
    edges.extend(slots.windows(2).map(|pair| (Reach::Wiring, pair[0], pair[1])));
    for effect in machine.faults.iter().flat_map(|fault| &fault.effects) {
        if let Effect::Bridge(from, to, _) = *effect {
            edges.push((Reach::FrameFault, from, to));
        }
    }
    let frame = machine.supply.frame;
    for branch in &machine.branches {
        let heater = machine.parts.get(branch.part.index()).is_some_and(|part| part.kind == PartKind::Heater);
        if heater || matches!(branch.law, Law::Winding { .. }) {
            edges.push((Reach::FrameFault, branch.from, frame));
            edges.push((Reach::FrameFault, branch.to, frame));
        }
    }
    let in_machine = terminal_ids(machine).filter(|&terminal| !of_house(machine, terminal));
    edges.extend(in_machine.map(|terminal| (Reach::Insulation, terminal, frame)));
    edges
}

fn supply_seeds(machine: &Machine, energy: &Energy) -> Vec<(Reach, TerminalId)> {
    let plug_out = energy.plug_is_out(machine);
    let is_leg = |conductor: Conductor| matches!(conductor, Conductor::Leg1 | Conductor::Leg2);
    let reach_of = |conductor: Conductor| if is_leg(conductor) { Reach::Conductors } else { Reach::Wiring };
    let mut seeds: Vec<(Reach, TerminalId)> =
        machine.supply.slots.iter().map(|&(conductor, terminal)| (reach_of(conductor), terminal)).collect();
    if !plug_out {
        seeds.extend(machine.supply.block.iter().map(|&(conductor, terminal)| (reach_of(conductor), terminal)));
    }
    for branch in &machine.branches {
        // A source of the machine's own, such as a board's sensing voltage, lives on the feed.
        let feeds = of_house(machine, branch.from) || of_house(machine, branch.to) || !plug_out;
        if matches!(branch.law, Law::Source { .. }) && feeds {
            seeds.extend([(Reach::Conductors, branch.from), (Reach::Conductors, branch.to)]);
        }
    }
    seeds
}

fn charge_seeds(machine: &Machine, energy: &Energy) -> Vec<(Reach, TerminalId)> {
    let charged = stores(machine).into_iter().filter(|&store| !energy.is_bled(store));
    charged.flat_map(|store| store_terminals(machine, store)).map(|terminal| (Reach::Conductors, terminal)).collect()
}

/// Floods from the seeds, least wrong first, so that each terminal gets the least that must be wrong for it.
fn flood(machine: &Machine, edges: &[Edge], seeds: &[(Reach, TerminalId)]) -> Vec<Option<Reach>> {
    let count = machine.terminals.len();
    let passes = |terminal: TerminalId| terminal != machine.supply.earth && terminal.index() < count;
    let mut reached: Vec<Option<Reach>> = vec![None; count];
    for reach in REACHES {
        for &(_, terminal) in seeds.iter().filter(|(least, terminal)| *least <= reach && passes(*terminal)) {
            reached[terminal.index()].get_or_insert(reach);
        }
        loop {
            let mut grew = false;
            for &(_, a, b) in edges.iter().filter(|(least, a, b)| *least <= reach && passes(*a) && passes(*b)) {
                let (at_a, at_b) = (reached[a.index()].is_some(), reached[b.index()].is_some());
                if at_a != at_b {
                    let fresh = if at_a { b } else { a };
                    reached[fresh.index()] = Some(reach);
                    grew = true;
                }
            }
            if !grew {
                break;
            }
        }
    }
    reached
}

/// Says whether more than the mains can stand at the terminal: a source above the plate's volts is in the machine.
pub(crate) fn above_mains(machine: &Machine, terminal: TerminalId) -> bool {
    let own_source = |id: TerminalId| !of_house(machine, id);
    let high = machine.branches.iter().filter(|branch| own_source(branch.from) && own_source(branch.to));
    let limit = machine.plate_volts * MAINS_MARGIN;
    let mut high = high.filter(|branch| match branch.law {
        Law::Source { volts, .. } => volts.is_nan() || limit.is_nan() || volts.abs() > limit,
        _ => false,
    });
    high.any(|branch| {
        [branch.from, branch.to]
            .iter()
            .any(|&end| end == terminal || place_of(machine, end) == place_of(machine, terminal))
    })
}

/// A supply may stand this much above its plate; ANSI C84.1 range B allows 127/254 V on 120/240 V (from memory).
const MAINS_MARGIN: f64 = 1.06;
