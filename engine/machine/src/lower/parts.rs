//! Takes in every part of the file, then lowers each by its kind; driven parts last, when their motors are known.

use super::Draft;
use crate::diagnostic::{DRIVE_CYCLE, TOO_BIG, WRONG_KIND};
use crate::kinds;
use crate::model::{Part, PartId, Rated};
use crate::raw::{self, Body};
use crate::reader::Names;

/// Parts of a file, leads apart.
const MOST_PARTS: usize = 400;

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) {
    let file = draft.file;
    if let Some(extra) = file.part.get(MOST_PARTS) {
        let message = format!("more than {MOST_PARTS} parts are described");
        draft.reader.error(TOO_BIG, &extra.span, message, "describe one machine in a file");
    }
    let parts: Vec<(PartId, &raw::Part)> =
        file.part.iter().take(MOST_PARTS).map(|part| (declare(draft, part), part)).collect();
    for (id, part) in &parts {
        kinds::lower(draft, *id, part);
    }
    for (id, part) in &parts {
        if let Body::Starter(body) = &part.body {
            kinds::lower_starter(draft, *id, &part.common, body);
        }
        link(draft, *id, drivers_of(&part.body));
        light(draft, *id, &part.body);
    }
    for (id, part) in &parts {
        if !draft.parts[id.index()].driven_by.is_empty() || conducts_nothing(&part.body) {
            check_ring(draft, *id, part);
            kinds::lower_driven(draft, *id, &part.body);
        }
    }
}

fn declare(draft: &mut Draft<'_, '_, '_>, raw: &raw::Part) -> PartId {
    let common = &raw.common;
    refuse_terminals(draft, raw);
    let kind = kinds::kind_of(common.kind.value);
    let place = draft.place(&common.place);
    let part = Part {
        id: common.id.0.clone(),
        kind,
        name: common.name.as_ref().map_or_else(|| kind.to_string(), |name| name.value.clone()),
        terminals: Vec::new(),
        positions: kinds::positions(draft.reader, &raw.body),
        driven_by: Vec::new(),
        lit_by: None,
        rated: None,
        color: None,
        note: common.note.as_ref().map(|note| note.value.clone()),
        place,
        installation: false,
        line: u32::try_from(draft.reader.line(raw.span.start)).unwrap_or(u32::MAX),
    };
    draft.add_part(part, &common.id.span)
}

/// A connector's terminals follow from its pins, and driven parts have none.
fn refuse_terminals(draft: &mut Draft<'_, '_, '_>, raw: &raw::Part) {
    let without = conducts_nothing(&raw.body) || matches!(raw.body, Body::Connector(_));
    if let Some(first) = raw.common.terminals.iter().flatten().next().filter(|_| without) {
        let message = format!("`{}` takes no `terminals`", &**raw.common.id);
        draft.reader.error(WRONG_KIND, &first.span, message, "leave them out");
    }
}

fn driven_of(body: &Body) -> Option<&raw::Driven> {
    match body {
        Body::Belt(driven) | Body::Drum(driven) | Body::Blower(driven) | Body::Vent(driven) => Some(driven),
        Body::Tap(driven) | Body::Pipe(driven) | Body::Pump(driven) | Body::Assembly(driven) => Some(driven),
        _ => None,
    }
}

fn conducts_nothing(body: &Body) -> bool {
    driven_of(body).is_some() || matches!(body, Body::Burner(_))
}

/// Gives the names of what drives a part.
fn drivers_of(body: &Body) -> Option<&Names> {
    match body {
        Body::Valve(valve) => valve.driven_by.as_ref(),
        Body::Winding(winding) => winding.driven_by.as_ref(),
        Body::Burner(burner) => burner.driven_by.as_ref(),
        body => driven_of(body)?.driven_by.as_ref(),
    }
}

fn link(draft: &mut Draft<'_, '_, '_>, id: PartId, names: Option<&Names>) {
    let names = names.iter().flat_map(|names| &names.0);
    let by: Vec<PartId> = names.filter_map(|name| draft.part(name)).collect();
    if let Some(part) = draft.parts.get_mut(id.index()) {
        part.driven_by = by;
    }
}

/// Notes what lights a burner, and what a heater or a timer's motor is rated for.
fn light(draft: &mut Draft<'_, '_, '_>, id: PartId, body: &Body) {
    let lit_by = match body {
        Body::Burner(burner) => burner.lit_by.as_ref().and_then(|name| draft.part(name)),
        _ => None,
    };
    let load = draft.loads.get(&id).filter(|_| matches!(body, Body::Heater(_) | Body::Timer(_)));
    let rated = load.map(|load| Rated { branches: load.branches.clone(), watts: load.watts });
    if let Some(part) = draft.parts.get_mut(id.index()) {
        (part.lit_by, part.rated) = (lit_by, rated);
    }
}

/// Complains if going up the drive from the part comes back to it.
fn check_ring(draft: &mut Draft<'_, '_, '_>, id: PartId, raw: &raw::Part) {
    if drivers(&draft.parts, id).contains(&id) {
        let message = format!("`{}` drives itself in the end", &**raw.common.id);
        draft.reader.error(DRIVE_CYCLE, &raw.common.id.span, message, "take one `driven_by` out of the ring");
    }
}

/// Gives everything that drives the part, near ones first.
pub(crate) fn drivers(parts: &[Part], id: PartId) -> Vec<PartId> {
    let mut found: Vec<PartId> = Vec::new();
    let mut next = vec![id];
    while let Some(at) = next.pop() {
        for driver in parts.get(at.index()).iter().flat_map(|part| part.driven_by.iter().chain(&part.lit_by)) {
            if !found.contains(driver) {
                found.push(*driver);
                next.push(*driver);
            }
        }
    }
    found
}
