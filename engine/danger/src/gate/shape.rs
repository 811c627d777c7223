//! What a step touches: terminals, places, hazards. Permits and refuses nothing.

use crate::dead::WorkPoint;
use crate::energy::{Store, kind_of, place_of, store_terminals, terminal_ids};
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
    let branches = machine.branches.iter().filter(|branch| branch.part == part);
    visible(machine, own.into_iter().chain(branches.flat_map(|branch| [branch.from, branch.to])).collect())
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

/// A place that some cover hides.
pub(super) fn is_inside(machine: &Machine, place: PlaceId) -> bool {
    machine.access.places.get(place.index()).is_none_or(|place| place.exposed_by.iter().all(|way| !way.is_empty()))
}

/// A cover that lays no wiring of the machine open: a drawer, pulling the machine out from the wall.
pub(super) fn harmless_cover(machine: &Machine, cover: CoverId) -> bool {
    let Some(step) = machine.access.steps.get(cover.index()) else { return false };
    let grave = [Hazard::Shock, Hazard::StoredCharge, Hazard::MovingParts];
    if step.closed_to_run || step.hazards.iter().any(|hazard| grave.contains(hazard)) {
        return false;
    }
    let behind = |place: PlaceId| {
        let ways = machine.access.places.get(place.index()).map(|place| place.exposed_by.as_slice());
        ways.unwrap_or_default().iter().any(|way| way.contains(&cover))
    };
    let wired = terminal_ids(machine).filter(|&terminal| !is_house(machine, terminal));
    !wired.filter_map(|terminal| place_of(machine, terminal)).any(behind)
}

fn is_house(machine: &Machine, terminal: TerminalId) -> bool {
    matches!(kind_of(machine, terminal), Some(PartKind::House | PartKind::Breaker | PartKind::Receptacle))
}
