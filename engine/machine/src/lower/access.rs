//! Places and covers looked up, with the checks that each can be reached at all.

use super::Draft;
use crate::access::{Access, Cover, Fastener, Hazard, Place};
use crate::diagnostic::{CLOSED_PLACE, COVER_CYCLE};
use crate::model::{CoverId, PlaceId};
use crate::raw;
use crate::reader::{At, Text};

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) -> Access {
    let file = draft.file;
    for (index, cover) in (0..).zip(file.cover.iter().flatten()) {
        draft.cover_names.declare(draft.reader, &cover.id, &cover.id.span, index);
    }
    for (index, place) in (0..).zip(file.place.iter()) {
        draft.place_names.declare(draft.reader, &place.id, &place.id.span, index);
    }
    let steps: Vec<Cover> = file.cover.iter().flatten().map(|cover| lower_cover(draft, cover)).collect();
    let mut places: Vec<Place> = file.place.iter().map(|place| lower_place(draft, place)).collect();
    places.push(bare_frame());
    let access = Access { places, steps };
    check_reach(draft, &access);
    access
}

/// Gives the place of the frame, the last of all: bare metal can be touched wherever one stands.
fn bare_frame() -> Place {
    Place {
        id: "bare-frame".to_owned(),
        say: "on bare metal of the frame".to_owned(),
        exposed_by: vec![Vec::new()],
        hazards: Vec::new(),
    }
}

/// Gives the id of that place.
pub(crate) fn frame_place(file: &raw::File) -> PlaceId {
    PlaceId(u16::try_from(file.place.len()).unwrap_or(u16::MAX))
}

fn alternatives(draft: &mut Draft<'_, '_, '_>, lists: Option<&Vec<Vec<Text>>>) -> Vec<Vec<CoverId>> {
    let Some(lists) = lists else {
        return vec![Vec::new()];
    };
    lists
        .iter()
        .map(|list| list.iter().filter_map(|name| draft.cover_names.find(draft.reader, name)).map(CoverId).collect())
        .collect()
}

fn hazards(list: Option<&Vec<At<Hazard>>>) -> Vec<Hazard> {
    let mut found: Vec<Hazard> = list.into_iter().flatten().map(|hazard| hazard.value).collect();
    found.sort();
    found.dedup();
    found
}

fn lower_place(draft: &mut Draft<'_, '_, '_>, place: &raw::Place) -> Place {
    Place {
        id: place.id.0.clone(),
        say: place.say.value.clone(),
        exposed_by: alternatives(draft, place.exposed_by.as_ref()),
        hazards: hazards(place.hazards.as_ref()),
    }
}

fn lower_cover(draft: &mut Draft<'_, '_, '_>, cover: &raw::Cover) -> Cover {
    let minutes_off = **cover.minutes_off;
    let fastener = |raw: &raw::Fastener| Fastener {
        count: u32::from(raw.count.value.0),
        what: raw.what.value.clone(),
        tool: raw.tool.value.clone(),
    };
    Cover {
        id: cover.id.0.clone(),
        say: cover.say.value.clone(),
        say_back: cover.say_back.value.clone(),
        side: cover.side.value.clone(),
        needs: alternatives(draft, cover.needs.as_ref()),
        fasteners: cover.fasteners.iter().flatten().map(fastener).collect(),
        minutes_off,
        minutes_on: cover.minutes_on.as_ref().map_or(minutes_off, |m| ***m),
        people: cover.people.as_ref().map_or(1, |n| u8::try_from(n.value.0).unwrap_or(u8::MAX)),
        hazards: hazards(cover.hazards.as_ref()),
        keep_for_last: cover.keep_for_last.as_ref().map(|text| text.value.clone()),
        only_back: cover.only_back.iter().flatten().map(|text| text.value.clone()).collect(),
        closed_to_run: cover.closed_to_run.as_ref().is_some_and(|flag| flag.value),
    }
}

/// Opens whatever can be opened until nothing more gives way; what stays shut is complained about.
fn check_reach(draft: &mut Draft<'_, '_, '_>, access: &Access) {
    let mut open = vec![false; access.steps.len()];
    let any_open = |open: &[bool], lists: &[Vec<CoverId>]| {
        lists.iter().any(|list| list.iter().all(|cover| open.get(cover.index()) == Some(&true)))
    };
    loop {
        let now: Vec<bool> = access.steps.iter().map(|step| any_open(&open, &step.needs)).collect();
        if now == open {
            break;
        }
        open = now;
    }
    let file = draft.file;
    for (cover, is_open) in file.cover.iter().flatten().zip(&open) {
        if !is_open {
            let message = format!("`{}` can never be opened: what it needs first needs it in turn", &**cover.id);
            draft.reader.error(COVER_CYCLE, &cover.id.span, message, "take one `needs` out of the ring");
        }
    }
    for (place, raw) in access.places.iter().zip(file.place.iter()) {
        let shut_cover = place.exposed_by.iter().flatten().any(|cover| open.get(cover.index()) == Some(&false));
        if !any_open(&open, &place.exposed_by) && !shut_cover {
            let message = format!("no step exposes `{}`", &**raw.id);
            draft.reader.error(CLOSED_PLACE, &raw.id.span, message, "name a cover in `exposed_by`, or leave it out");
        }
    }
}
