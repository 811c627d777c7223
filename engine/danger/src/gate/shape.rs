//! What a step touches: terminals, places, hazards. Permits and refuses nothing.

use crate::dead::WorkPoint;
use crate::energy::{Store, kind_of, of_house, place_of, store_terminals, terminal_ids};
use crate::gate::request::StepRequest;
use machine::access::Hazard;
use machine::model::{CoverId, Machine, PartId, PartKind, PlaceId, TerminalId};
use std::collections::BTreeSet;

/// Hazards of the places and covers of a step.
pub(super) fn hazards(machine: &Machine, request: &StepRequest) -> BTreeSet<Hazard> {
    let of_places = places(machine, request).into_iter().filter_map(|id| machine.access.places.get(id.index()));
    let mut all: BTreeSet<Hazard> = of_places.flat_map(|place| place.hazards.iter().copied()).collect();
    if let StepRequest::OpenCover(id) | StepRequest::CloseCover(id) = request {
        all.extend(machine.access.steps.get(id.index()).into_iter().flat_map(|cover| cover.hazards.iter().copied()));
    }
    if matches!(request, StepRequest::Try { .. } | StepRequest::Energise { .. }) {
        all.insert(Hazard::MovingParts);
    }
    if matches!(request, StepRequest::Discharge(_)) {
        all.insert(Hazard::StoredCharge);
    }
    all
}

/// Says whether hands, probes or clips come to conductors, or the step makes them live.
pub(super) fn touches_wiring(machine: &Machine, request: &StepRequest) -> bool {
    match request {
        StepRequest::Evacuate | StepRequest::End(_) | StepRequest::Isolate(_) | StepRequest::Disconnect => false,
        StepRequest::OpenCover(id) | StepRequest::CloseCover(id) => !harmless_cover(machine, *id),
        StepRequest::Look(place) => is_inside(machine, *place),
        _ => true,
    }
}

/// Terminals that the step touches; the visible ones only.
pub(super) fn terminals(machine: &Machine, request: &StepRequest) -> Vec<TerminalId> {
    match request {
        StepRequest::ReadSupply { from, to }
        | StepRequest::ReadIsolated { from, to, .. }
        | StepRequest::ReadClipped { from, to, .. }
        | StepRequest::ProbeEnergised { from, to, .. } => vec![*from, *to],
        StepRequest::ProveDead(pair) => pair.terminals(),
        StepRequest::Discharge(store) => store_ends(machine, *store),
        StepRequest::Clamp { branch, .. } => {
            let ends = machine.branches.get(branch.index()).map(|b| vec![b.from, b.to]).unwrap_or_default();
            visible(machine, ends)
        }
        StepRequest::LiftLead { at, .. } => vec![*at],
        StepRequest::Unplug(part) | StepRequest::Change(part) => part_terminals(machine, *part),
        _ => Vec::new(),
    }
}

/// Visible terminals across which a store stands.
pub(super) fn store_ends(machine: &Machine, store: Store) -> Vec<TerminalId> {
    visible(machine, store_terminals(machine, store))
}

/// Terminals of a part and of the branches that are its own, the visible ones.
pub(super) fn part_terminals(machine: &Machine, part: PartId) -> Vec<TerminalId> {
    let own = machine.parts.get(part.index()).map(|part| part.terminals.clone()).unwrap_or_default();
    let ends = machine.branches.iter().filter(|branch| branch.part == part).flat_map(|branch| [branch.from, branch.to]);
    // The slots stay in the wall when a cord comes off; they are no part of it.
    let house =
        |id: &TerminalId| of_house(machine, *id) && machine.terminals.get(id.index()).is_some_and(|t| t.part != part);
    visible(machine, own.into_iter().chain(ends).filter(|id| !house(id)).collect())
}

/// Visible terminals at a place.
pub(super) fn place_terminals(machine: &Machine, place: PlaceId) -> Vec<TerminalId> {
    visible(machine, terminal_ids(machine).filter(|&id| place_of(machine, id) == Some(place)).collect())
}

fn visible(machine: &Machine, terminals: Vec<TerminalId>) -> Vec<TerminalId> {
    let work = WorkPoint::at(machine, &terminals);
    let kept: BTreeSet<TerminalId> = terminals.into_iter().collect();
    work.terminals().filter(|terminal| kept.contains(terminal)).collect()
}

/// Places that the step is done at.
pub(super) fn places(machine: &Machine, request: &StepRequest) -> BTreeSet<PlaceId> {
    let mut all: BTreeSet<PlaceId> =
        terminals(machine, request).into_iter().filter_map(|terminal| place_of(machine, terminal)).collect();
    match request {
        StepRequest::Look(place) => {
            all.insert(*place);
        }
        StepRequest::Change(part) | StepRequest::Unplug(part) => all.extend(part_place(machine, *part)),
        StepRequest::Repair(_) => {
            for part in repair_parts(machine, request).into_iter().flatten() {
                all.extend(part_place(machine, part));
            }
        }
        _ => {}
    }
    all
}

/// Parts that a repair is done to; `None` when the machine does not list it.
pub(super) fn repair_parts(machine: &Machine, request: &StepRequest) -> Option<Vec<PartId>> {
    let StepRequest::Repair(id) = request else { return None };
    let repair = machine.repairs.get(id.index())?;
    Some(std::iter::once(repair.part).chain(repair.together.iter().copied()).collect())
}

pub(super) fn part_place(machine: &Machine, part: PartId) -> Option<PlaceId> {
    machine.parts.get(part.index()).map(|part| part.place)
}

/// A place behind a cover that lays wiring open, or one that covers hide and that warns of charge or motion.
pub(super) fn is_inside(machine: &Machine, place: PlaceId) -> bool {
    let Some(place) = machine.access.places.get(place.index()) else { return true };
    if place.exposed_by.iter().any(Vec::is_empty) {
        return false;
    }
    let grave = [Hazard::StoredCharge, Hazard::MovingParts];
    let harmless = |way: &Vec<CoverId>| way.iter().all(|&cover| harmless_cover(machine, cover));
    place.hazards.iter().any(|hazard| grave.contains(hazard)) || !place.exposed_by.iter().any(harmless)
}

/// A cover that lays no wiring of the machine open: a drawer, pulling the machine out from the wall.
///
/// It warns of nothing grave, need not be closed to run, and is never the last cover before a place with wiring of
/// the machine.
pub(super) fn harmless_cover(machine: &Machine, cover: CoverId) -> bool {
    let Some(step) = machine.access.steps.get(cover.index()) else { return false };
    let grave = [Hazard::Shock, Hazard::StoredCharge, Hazard::MovingParts];
    if step.closed_to_run || step.hazards.iter().any(|hazard| grave.contains(hazard)) {
        return false;
    }
    let wired = terminal_ids(machine).filter(|&terminal| !is_outside(machine, terminal));
    let mut places = wired.filter_map(|terminal| machine.access.places.get(place_of(machine, terminal)?.index()));
    !places.any(|place| place.exposed_by.iter().any(|way| may_be_last(machine, way, cover)))
}

/// Says whether the cover may be the last of the way to come off: no other of the way waits for it.
fn may_be_last(machine: &Machine, way: &[CoverId], cover: CoverId) -> bool {
    let waits = |id: CoverId| {
        let needs = machine.access.steps.get(id.index()).map(|step| step.needs.as_slice()).unwrap_or_default();
        !needs.is_empty() && needs.iter().all(|way| way.contains(&cover))
    };
    way.contains(&cover) && !way.iter().any(|&other| other != cover && waits(other))
}

/// Of the installation or the cord: outside of every cover of the machine, or none of its wiring.
fn is_outside(machine: &Machine, terminal: TerminalId) -> bool {
    of_house(machine, terminal) || kind_of(machine, terminal) == Some(PartKind::Cord)
}

/// Says whether a place warns of this hazard.
pub(super) fn warns(machine: &Machine, place: PlaceId, of: Hazard) -> bool {
    machine.access.places.get(place.index()).is_some_and(|place| place.hazards.contains(&of))
}
