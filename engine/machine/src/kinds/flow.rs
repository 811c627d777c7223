//! What lets water and gas through by electricity: valves. Taps, pipes, pumps and burners are driven parts.

use crate::faults::Effect;
use crate::lower::{Draft, Usual};
use crate::model::PartId;
use crate::raw::{self, Common};

const STUCK_SHUT: Usual = Usual::new("stuck-shut", 1.5, "not opening, its coil good").seen(0.1);
const STUCK_OPEN: Usual = Usual::new("stuck-open", 1.0, "not closing").seen(0.1).dangerous();
const RESTRICTED: Usual = Usual::new("restricted", 1.0, "letting little through").seen(0.3);

/// Lowers a valve: its coil pulls a flag, and while that stands it lets through what comes to it.
pub(crate) fn valve(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Valve) {
    draft.list_ends(id, common);
    let flag = super::relay::coil(draft, id, common, &body.coil);
    draft.usual(id, &STUCK_SHUT, vec![Effect::Stops(id)]);
    draft.usual(id, &STUCK_OPEN, vec![Effect::Hold(flag, true)]);
    draft.usual(id, &RESTRICTED, vec![Effect::Weakens(id)]);
}
