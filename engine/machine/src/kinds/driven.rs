//! Parts that are driven and do not conduct: belt, drum, blower, vent; tap, pipe, pump, burner, assembly.

use crate::faults::Effect;
use crate::lower::{Draft, Usual, drivers};
use crate::model::PartId;
use crate::raw::Body;

const BROKEN: Usual = Usual::new("broken", 4.0, "broken").seen(0.98);
const DRUM_SEIZED: Usual = Usual::new("seized", 1.0, "seized").seen(0.9);
const SLIPS: Usual = Usual::new("slips", 2.0, "slipping on its shaft").seen(0.8);
const JAMMED: Usual = Usual::new("jammed", 1.0, "jammed").seen(0.9);
const BLOCKED: Usual = Usual::new("blocked", 6.0, "blocked").seen(0.9);
const SHUT: Usual = Usual::new("shut", 1.5, "shut").seen(0.9);
const LOW: Usual = Usual::new("low", 0.5, "giving too little").seen(0.3);
const CLOGGED: Usual = Usual::new("blocked", 1.5, "blocked").seen(0.6);
const RESTRICTED: Usual = Usual::new("restricted", 1.5, "letting little through").seen(0.5);
const IMPELLER: Usual = Usual::new("broken", 1.0, "its impeller broken").seen(0.7);
const DEAD: Usual = Usual::new("dead", 2.0, "dead").seen(0.1);
const WEAK: Usual = Usual::new("weak", 0.5, "working weakly").seen(0.1);
const FOULED: Usual = Usual::new("fouled", 0.7, "fouled, burning weakly").seen(0.6);

/// Adds the usual faults of a driven part; one that stalls holds the motor that drives it.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>, id: PartId, body: &Body) {
    let stops = vec![Effect::Stops(id)];
    let mut stalls = stops.clone();
    let up = drivers(&draft.parts, id);
    stalls.extend(up.iter().filter_map(|part| draft.motors.get(part)).map(|flag| Effect::Hold(*flag, false)));
    match body {
        Body::Belt(_) => draft.usual(id, &BROKEN, stops),
        Body::Drum(_) => draft.usual(id, &DRUM_SEIZED, stalls),
        Body::Blower(_) => {
            draft.usual(id, &SLIPS, stops);
            draft.usual(id, &JAMMED, stalls);
        }
        Body::Vent(_) => draft.usual(id, &BLOCKED, stops),
        Body::Tap(_) => {
            draft.usual(id, &SHUT, stops);
            draft.usual(id, &LOW, vec![Effect::Weakens(id)]);
        }
        Body::Pipe(_) => {
            draft.usual(id, &CLOGGED, stops);
            draft.usual(id, &RESTRICTED, vec![Effect::Weakens(id)]);
        }
        Body::Pump(_) => {
            draft.usual(id, &IMPELLER, stops);
            draft.usual(id, &JAMMED, stalls);
        }
        Body::Assembly(_) => {
            draft.usual(id, &DEAD, stops);
            draft.usual(id, &WEAK, vec![Effect::Weakens(id)]);
        }
        Body::Burner(_) => draft.usual(id, &FOULED, vec![Effect::Weakens(id)]),
        _ => {}
    }
}
