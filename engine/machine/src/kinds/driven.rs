//! Parts that are driven and do not conduct: belt, drum, blower, vent.

use crate::faults::Effect;
use crate::lower::{Draft, Usual, drivers};
use crate::model::PartId;
use crate::raw::Body;

const BROKEN: Usual = Usual::new("broken", 4.0, "broken").seen(0.98);
const DRUM_SEIZED: Usual = Usual::new("seized", 1.0, "seized").seen(0.9);
const SLIPS: Usual = Usual::new("slips", 2.0, "slipping on its shaft").seen(0.8);
const JAMMED: Usual = Usual::new("jammed", 1.0, "jammed").seen(0.9);
const BLOCKED: Usual = Usual::new("blocked", 6.0, "blocked").seen(0.9);

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
        _ => {}
    }
}
