//! The rules of the gate, one per kind of step. The first that speaks against a step names the refusal.

use crate::energy::{Feed, Isolator, Store, Valve, WhyNotDone, place_of, stores};
use crate::found::{HazardFound, may_end};
use crate::gate::refusal::Refusal;
use crate::gate::request::{IsolatedReading, LastResort, Situation, StepRequest};
use crate::gate::shape;
use crate::live::above_mains;
use machine::access::Hazard;
use machine::faults::RepairKind;
use machine::model::{BranchId, CoverId, Law, Machine, PartId, PartKind, PlaceId, StateId, TerminalId};
use std::collections::BTreeSet;
use teardown::{can_open, exposed, must_close_to_run};

type Judged = Result<(), Refusal>;

/// Checks one step.
pub(super) fn check(machine: &Machine, request: &StepRequest, now: &Situation) -> Judged {
    let rules = Rules { machine, now, request };
    match request {
        StepRequest::Evacuate | StepRequest::ProveMeter | StepRequest::Disconnect => Ok(()),
        StepRequest::Isolate(by) => rules.isolate(*by),
        StepRequest::ReadSupply { from, to } => rules.read_supply(*from, *to),
        StepRequest::Discharge(store) => rules.discharge(*store),
        StepRequest::ProveDead(_) => rules.prove_dead(),
        StepRequest::OpenCover(cover) => rules.open_cover(*cover),
        StepRequest::CloseCover(cover) => rules.close_cover(*cover),
        StepRequest::Look(place) => rules.look(*place),
        StepRequest::ReadIsolated { how, .. } => rules.read_isolated(*how),
        StepRequest::ReadClipped { state, .. } => rules.read_clipped(*state),
        StepRequest::ProbeEnergised { state, reason, .. } => rules.probe_energised(*state, reason),
        StepRequest::Clamp { branch, state } => rules.clamp(*branch, *state),
        StepRequest::Try { state, standing_clear } => {
            rules.known_state(*state)?;
            rules.start(*standing_clear)
        }
        StepRequest::Energise { standing_clear } => rules.start(*standing_clear),
        StepRequest::LiftLead { lead, at } => rules.lift_lead(*lead, *at),
        StepRequest::Unplug(part) => rules.unplug(*part),
        StepRequest::Change(part) => rules.change(*part, true),
        StepRequest::Repair(_) => rules.repair(),
        StepRequest::End(_) => may_end(&now.hazards).map_err(Refusal::End),
    }
}

struct Rules<'a> {
    machine: &'a Machine,
    now: &'a Situation,
    request: &'a StepRequest,
}

impl Rules<'_> {
    fn isolate(&self, by: Isolator) -> Judged {
        let plug = by == Isolator::Plug;
        if plug && self.machine.supply.receptacle.is_none() {
            return Err(Refusal::Unknown);
        }
        // A plug is not pulled out of a receptacle in the wet; the breaker, in the dry, is switched off.
        if plug && self.now.wet { Err(Refusal::Wet) } else { Ok(()) }
    }

    fn read_supply(&self, from: TerminalId, to: TerminalId) -> Judged {
        let supply = &self.machine.supply;
        let of_supply = |id: TerminalId| id == supply.earth || supply.slots.iter().any(|&(_, slot)| slot == id);
        if let Some(stranger) = [from, to].into_iter().find(|&id| !of_supply(id)) {
            return Err(Refusal::NotASupplyTerminal(stranger));
        }
        if self.now.wet {
            return Err(Refusal::Wet);
        }
        self.two_points()?;
        let slots: Vec<TerminalId> = [from, to].into_iter().filter(|&id| id != supply.earth).collect();
        self.reached(&slots)
    }

    fn discharge(&self, store: Store) -> Judged {
        if !stores(self.machine).contains(&store) {
            return Err(Refusal::NoSuchStore(store));
        }
        self.secured()?;
        self.reached(&shape::store_ends(self.machine, store))
    }

    fn prove_dead(&self) -> Judged {
        self.two_points()?;
        self.secured()?;
        self.reached(&self.touched())
    }

    fn open_cover(&self, cover: CoverId) -> Judged {
        if !can_open(&self.machine.access, cover, &self.now.open) {
            return Err(Refusal::CoverHeld(cover));
        }
        if shape::harmless_cover(self.machine, cover) { Ok(()) } else { self.secured() }
    }

    fn close_cover(&self, cover: CoverId) -> Judged {
        if !self.now.open.has(cover) {
            return Err(Refusal::CoverIsOn(cover));
        }
        if shape::harmless_cover(self.machine, cover) { Ok(()) } else { self.secured() }
    }

    fn look(&self, place: PlaceId) -> Judged {
        self.exposed(place)?;
        if shape::is_inside(self.machine, place) { self.secured() } else { Ok(()) }
    }

    fn read_isolated(&self, how: IsolatedReading) -> Judged {
        self.two_points()?;
        self.reached(&self.touched())?;
        self.secured()?;
        self.dead(&self.touched())?;
        if how == IsolatedReading::Insulation { self.boards_lifted() } else { Ok(()) }
    }

    fn read_clipped(&self, state: StateId) -> Judged {
        self.known_state(state)?;
        self.two_points()?;
        self.reached(&self.touched())?;
        for terminal in self.touched() {
            if above_mains(self.machine, terminal) || self.on_a_bus(terminal) {
                return Err(Refusal::HighVoltage(terminal));
            }
        }
        self.secured()?;
        self.dead(&self.touched())?;
        self.quiet()
    }

    fn probe_energised(&self, state: StateId, reason: &LastResort) -> Judged {
        self.known_state(state)?;
        if reason.no_dead_test.trim().is_empty() || reason.no_clips.trim().is_empty() {
            return Err(Refusal::NoReason);
        }
        self.two_points()?;
        self.reached(&self.touched())?;
        for terminal in self.touched() {
            if above_mains(self.machine, terminal) || self.on_a_bus(terminal) || self.on_a_capacitor(terminal) {
                return Err(Refusal::HighVoltage(terminal));
            }
            if self.place_warns(terminal, Hazard::Water) {
                return Err(Refusal::Wet);
            }
        }
        if self.now.energy.feed() != Feed::On {
            return Err(Refusal::NotEnergised);
        }
        self.quiet()
    }

    fn clamp(&self, branch: BranchId, state: StateId) -> Judged {
        self.known_state(state)?;
        let branch = self.machine.branches.get(branch.index()).ok_or(Refusal::Unknown)?;
        self.licence(branch.part)?;
        self.secured()?;
        let ends = self.touched();
        let places: Vec<PlaceId> = ends.iter().filter_map(|&end| place_of(self.machine, end)).collect();
        if places.iter().any(|&place| shape::warns(self.machine, place, Hazard::HighVoltage)) {
            return Err(Refusal::Licensed(branch.part));
        }
        let open = places.iter().any(|&place| exposed(&self.machine.access, place, &self.now.open));
        if let (false, Some(&place)) = (open, places.first()) {
            return Err(Refusal::NotExposed(place));
        }
        // On the cord outside, a line splitter goes between plug and receptacle; no hand comes to a conductor.
        if self.kind(branch.part) != Some(PartKind::Cord) {
            if ends.is_empty() {
                return Err(Refusal::Unknown);
            }
            self.dead(&ends)?;
        }
        self.quiet()
    }

    fn start(&self, standing_clear: bool) -> Judged {
        self.quiet()?;
        let covers = must_close_to_run(&self.machine.access, &self.now.open);
        if covers.is_empty() || standing_clear { Ok(()) } else { Err(Refusal::CloseFirst(covers)) }
    }

    fn lift_lead(&self, lead: PartId, at: TerminalId) -> Judged {
        self.licence(lead)?;
        let ends = self.machine.branches.iter().filter(|branch| branch.part == lead);
        if !ends.flat_map(|branch| [branch.from, branch.to]).any(|end| end == at) {
            return Err(Refusal::NotItsEnd);
        }
        self.reached(&[at])?;
        self.secured()?;
        self.dead(&[at])
    }

    fn unplug(&self, part: PartId) -> Judged {
        self.licence(part)?;
        if self.kind(part) != Some(PartKind::Connector) {
            return Err(Refusal::NotItsEnd);
        }
        self.reached(&self.touched())?;
        self.secured()?;
        self.work_dead(part)
    }

    /// A part comes out, or hands work on it. `condemned` asks evidence against a board.
    fn change(&self, part: PartId, condemned: bool) -> Judged {
        let kind = self.kind(part).ok_or(Refusal::Unknown)?;
        self.licence(part)?;
        let place = shape::part_place(self.machine, part).ok_or(Refusal::Unknown)?;
        if shape::warns(self.machine, place, Hazard::HighVoltage) {
            return Err(Refusal::Licensed(part));
        }
        self.exposed(place)?;
        for terminal in shape::part_terminals(self.machine, part) {
            self.reached(&[terminal])?;
        }
        self.secured()?;
        self.work_dead(part)?;
        if shape::warns(self.machine, place, Hazard::FuelGas) && self.now.energy.gas() != Valve::Shut {
            return Err(Refusal::ShutGas);
        }
        let evidence = self.now.boards.iter().any(|evidence| evidence.board() == part);
        if condemned && kind == PartKind::Control && !evidence {
            return Err(Refusal::NoBoardEvidence(part));
        }
        Ok(())
    }

    fn repair(&self) -> Judged {
        let StepRequest::Repair(id) = self.request else { return Err(Refusal::Unknown) };
        let repair = self.machine.repairs.get(id.index()).ok_or(Refusal::Unknown)?;
        let handled = matches!(self.kind(repair.part), Some(PartKind::Breaker | PartKind::Cord));
        if repair.kind == RepairKind::Clean && handled && repair.together.is_empty() {
            // To plug in or reset is to energise, whatever else it mends.
            return self.start(false);
        }
        for part in shape::repair_parts(self.machine, self.request).ok_or(Refusal::Unknown)? {
            if repair.kind == RepairKind::Refer {
                return Err(Refusal::Licensed(part));
            }
            self.change(part, repair.kind == RepairKind::Replace)?;
        }
        Ok(())
    }

    /// What hands, probes or clips come to; the proven earth is none of it.
    fn touched(&self) -> Vec<TerminalId> {
        let all = shape::terminals(self.machine, self.request);
        all.into_iter().filter(|&id| id != self.machine.supply.earth).collect()
    }

    fn kind(&self, part: PartId) -> Option<PartKind> {
        self.machine.parts.get(part.index()).map(|part| part.kind)
    }

    fn known_state(&self, state: StateId) -> Judged {
        if state.index() < self.machine.states.len() { Ok(()) } else { Err(Refusal::Unknown) }
    }

    fn two_points(&self) -> Judged {
        let points = shape::terminals(self.machine, self.request);
        if matches!(points.as_slice(), [a, b] if a == b) { Err(Refusal::SamePoint) } else { Ok(()) }
    }

    fn exposed(&self, place: PlaceId) -> Judged {
        if exposed(&self.machine.access, place, &self.now.open) { Ok(()) } else { Err(Refusal::NotExposed(place)) }
    }

    fn reached(&self, terminals: &[TerminalId]) -> Judged {
        for &id in terminals {
            let terminal = self.machine.terminals.get(id.index()).ok_or(Refusal::Unknown)?;
            if terminal.hidden {
                return Err(Refusal::Hidden(id));
            }
            let house =
                self.kind(terminal.part).is_some_and(|kind| matches!(kind, PartKind::House | PartKind::Breaker));
            if house || self.place_warns(id, Hazard::HighVoltage) {
                return Err(Refusal::Licensed(terminal.part));
            }
            self.exposed(terminal.place)?;
        }
        Ok(())
    }

    fn secured(&self) -> Judged {
        match self.now.energy.require_isolated(self.machine) {
            Ok(()) => Ok(()),
            Err(WhyNotDone::FeedOn) => Err(Refusal::NotIsolated),
            Err(_) => Err(Refusal::NotSecured),
        }
    }

    /// One proof must cover them all, the frame with them: two proofs say nothing of the volts between them.
    fn dead(&self, terminals: &[TerminalId]) -> Judged {
        let proofs = self.now.dead.iter().filter(|proof| proof.holds(self.machine, &self.now.energy));
        let mut proofs = proofs.filter(|proof| proof.covers(terminals));
        if proofs.next().is_some() { Ok(()) } else { Err(Refusal::NotProvedDead(terminals.to_vec())) }
    }

    /// Dead where hands work on the part: its own terminals; for a part without any, all terminals of its place or
    /// all the machine's supply terminals. A part of a place without wiring needs none.
    fn work_dead(&self, part: PartId) -> Judged {
        let own = shape::part_terminals(self.machine, part);
        if !own.is_empty() {
            return self.dead(&own);
        }
        let here = shape::part_place(self.machine, part).map(|place| shape::place_terminals(self.machine, place));
        let here = here.unwrap_or_default();
        let block: Vec<TerminalId> = self.machine.supply.block.iter().map(|&(_, terminal)| terminal).collect();
        if here.is_empty() || (!block.is_empty() && self.dead(&block).is_ok()) { Ok(()) } else { self.dead(&here) }
    }

    /// Nobody is hurt when the machine comes alive.
    fn quiet(&self) -> Judged {
        if self.now.wet {
            return Err(Refusal::Wet);
        }
        if !self.now.people_clear {
            return Err(Refusal::PeopleNotClear);
        }
        let bare: Vec<TerminalId> = self.now.lifted.difference(&self.now.capped).copied().collect();
        if !bare.is_empty() {
            return Err(Refusal::BareEnds(bare));
        }
        let open = self.now.hazards.iter().enumerate().filter(|(_, hazard)| not_mended(hazard));
        let open: Vec<usize> = open.map(|(index, _)| index).collect();
        if open.is_empty() { Ok(()) } else { Err(Refusal::DangerousHazard(open)) }
    }

    fn licence(&self, part: PartId) -> Judged {
        let fixed = self.machine.supply.receptacle.is_none();
        match self.kind(part) {
            Some(PartKind::House | PartKind::Breaker | PartKind::Receptacle) => Err(Refusal::Licensed(part)),
            Some(PartKind::Cord) if fixed => Err(Refusal::Licensed(part)),
            _ => Ok(()),
        }
    }

    fn on_a_bus(&self, terminal: TerminalId) -> bool {
        stores(self.machine).iter().any(|&store| match store {
            Store::Bus(place) => place_of(self.machine, terminal) == Some(place),
            Store::Capacitor(_) => false,
        })
    }

    fn on_a_capacitor(&self, terminal: TerminalId) -> bool {
        let mut capacitors = self.machine.branches.iter().filter(|b| matches!(b.law, Law::Capacitor { .. }));
        capacitors.any(|branch| branch.from == terminal || branch.to == terminal)
    }

    fn place_warns(&self, terminal: TerminalId, of: Hazard) -> bool {
        place_of(self.machine, terminal).is_some_and(|place| shape::warns(self.machine, place, of))
    }

    /// An insulation test may not reach a board: every board is cut off by lifted leads from what is tested.
    fn boards_lifted(&self) -> Judged {
        let stressed = self.stressed();
        let kind = |terminal: &TerminalId| {
            let terminal = self.machine.terminals.get(terminal.index())?;
            (self.kind(terminal.part) == Some(PartKind::Control)).then_some(terminal.part)
        };
        let boards: BTreeSet<PartId> = stressed.iter().filter_map(kind).collect();
        if boards.is_empty() { Ok(()) } else { Err(Refusal::LiftBoards(boards.into_iter().collect())) }
    }

    /// Terminals that conductors tie to the tested points, lifted leads taken away; the frame carries nothing on.
    fn stressed(&self) -> BTreeSet<TerminalId> {
        let frame = self.machine.supply.frame;
        let mut reached: BTreeSet<TerminalId> = self.touched().into_iter().filter(|&id| id != frame).collect();
        loop {
            let before = reached.len();
            for branch in &self.machine.branches {
                let lead =
                    matches!(self.kind(branch.part), Some(PartKind::Lead | PartKind::Joint | PartKind::Connector));
                let ends = [branch.from, branch.to];
                let off = lead && ends.iter().any(|end| self.now.lifted.contains(end));
                if !off && !ends.contains(&frame) && ends.iter().any(|end| reached.contains(end)) {
                    reached.extend(ends);
                }
            }
            if reached.len() == before {
                return reached;
            }
        }
    }
}

/// Until it is mended a dangerous hazard keeps the machine off, disconnected or not.
fn not_mended(hazard: &HazardFound) -> bool {
    hazard.dangerous && hazard.action != crate::found::HazardAction::Mended
}
