//! Operating states with everything they take over from the state they are entered from.

use super::Draft;
use crate::diagnostic::{REST_STATE, STATE_CYCLE, WRONG_KIND};
use crate::kinds::check_position;
use crate::model::{PartId, State, StateId};
use crate::raw;
use crate::reader::{Map, Text, list_words};
use std::collections::BTreeMap;

/// What a state sets by itself.
#[derive(Clone, Debug, Default)]
struct Own {
    positions: BTreeMap<PartId, String>,
    pressed: BTreeMap<PartId, String>,
    temperatures: BTreeMap<u16, f64>,
    holds: BTreeMap<u16, f64>,
    from: Option<u16>,
}

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) -> Vec<State> {
    let file = draft.file;
    let own: Vec<Own> = file.state.iter().enumerate().map(|(at, state)| read_own(draft, at, state)).collect();
    check_rest(draft, own.first());
    let rest_c: Vec<f64> = draft.zones().iter().map(|zone| zone.rest_c).collect();
    let mut states = Vec::new();
    for (at, raw) in file.state.iter().enumerate() {
        let Some(line) = ancestry(&own, at) else {
            let message = format!("`{}` is entered from itself in the end", &**raw.id);
            draft.reader.error(
                STATE_CYCLE,
                &raw.id.span,
                message,
                "make one of these states start `from` the rest state",
            );
            continue;
        };
        states.push(inherit(raw, at, &line, &rest_c));
    }
    states
}

fn read_own(draft: &mut Draft<'_, '_, '_>, at: usize, raw: &raw::State) -> Own {
    let mut own = Own {
        positions: read_positions(draft, raw.set.as_ref()),
        pressed: read_positions(draft, raw.press.as_ref()),
        ..Own::default()
    };
    for (zone, celsius) in raw.temperatures.iter().flat_map(|map| &map.0) {
        if let Some(zone) = draft.zone_names.find(draft.reader, zone) {
            own.temperatures.insert(zone, ***celsius);
        }
    }
    for (zone, celsius) in raw.holds.iter().flat_map(|map| &map.0) {
        if let Some(zone) = draft.zone_names.find(draft.reader, zone) {
            own.holds.insert(zone, ***celsius);
        }
    }
    own.from = match &raw.from {
        Some(name) if at == 0 => {
            draft.reader.error(
                STATE_CYCLE,
                &name.span,
                "the first state is the rest state: it is entered from none",
                "leave `from` out",
            );
            None
        }
        Some(name) => draft.state(name).map(|state| state.0),
        None => (at > 0).then_some(0),
    };
    own
}

fn read_positions(draft: &mut Draft<'_, '_, '_>, map: Option<&Map<Text>>) -> BTreeMap<PartId, String> {
    let mut found = BTreeMap::new();
    for (name, position) in map.iter().flat_map(|map| &map.0) {
        let Some(id) = draft.part(name) else { continue };
        let Some(part) = draft.parts.get(id.index()) else { continue };
        if part.positions.is_empty() {
            let message = format!("nobody can set `{}`", name.value);
            draft.reader.error(WRONG_KIND, &name.span, message, "name a switch, timer, door switch or button");
            continue;
        }
        check_position(draft.reader, &part.positions, position, &part.id);
        found.insert(id, position.value.clone());
    }
    found
}

/// The rest state says where every part stands that a person sets.
fn check_rest(draft: &mut Draft<'_, '_, '_>, rest: Option<&Own>) {
    let Some(rest) = rest else {
        // If no section is there at all, that is complained about already.
        if draft.reader.has_broken() {
            return;
        }
        let span = draft.file.machine.id.span.clone();
        draft.reader.error(REST_STATE, &span, "no state is described", "add `[[state]]` with the rest state first");
        return;
    };
    let unset: Vec<&str> = (0..)
        .zip(&draft.parts)
        .filter(|(id, part)| !part.positions.is_empty() && !rest.positions.contains_key(&PartId(*id)))
        .map(|(_, part)| part.id.as_str())
        .collect();
    // A misspelt name in `set` is complained about already.
    let state = draft.file.state.first();
    let resolved = state.and_then(|state| state.set.as_ref()).is_none_or(|set| set.0.len() == rest.positions.len());
    if let Some(state) = state.filter(|_| resolved && !unset.is_empty()) {
        let message = format!("the rest state `{}` leaves {} unset", &**state.id, list_words(unset));
        draft.reader.error(REST_STATE, &state.id.span, message, "add them to its `set`");
    }
}

/// Gives the states from the rest state down to this one; `None` if they go round in a ring.
fn ancestry(own: &[Own], at: usize) -> Option<Vec<&Own>> {
    let mut line = Vec::new();
    let mut next = Some(at);
    while let Some(state) = next.and_then(|at| own.get(at)) {
        if line.len() == own.len() {
            return None;
        }
        line.push(state);
        next = state.from.map(usize::from);
    }
    line.reverse();
    Some(line)
}

fn inherit(raw: &raw::State, at: usize, line: &[&Own], rest_c: &[f64]) -> State {
    let mut positions = BTreeMap::new();
    let mut temperatures_c = rest_c.to_vec();
    let mut holds_c = vec![None; rest_c.len()];
    for own in line {
        positions.extend(own.positions.clone());
        for (zone, celsius) in &own.temperatures {
            if let Some(entry) = temperatures_c.get_mut(usize::from(*zone)) {
                *entry = *celsius;
            }
        }
        for (zone, celsius) in &own.holds {
            if let Some(entry) = holds_c.get_mut(usize::from(*zone)) {
                *entry = Some(*celsius);
            }
        }
    }
    let pressed = line.last().map(|own| own.pressed.clone()).unwrap_or_default();
    State {
        id: raw.id.0.clone(),
        say: raw.say.value.clone(),
        entered_from: line.last().and_then(|own| own.from).map(StateId),
        events: raw.r#do.iter().flatten().map(|event| event.value.clone()).collect(),
        positions: positions.into_iter().collect(),
        pressed: pressed.into_iter().collect(),
        temperatures_c,
        holds_c,
        minutes: raw.minutes.as_ref().map_or(if at == 0 { 0.0 } else { 1.0 }, |minutes| ***minutes),
    }
}
