//! What works by a winding of its own: valves, which let water and gas through, and windings as such. Taps, pipes, pumps
//! and burners are driven parts.

use crate::faults::Effect;
use crate::lower::{Draft, Usual};
use crate::model::{FlagId, FlagRule, Law, PartId};
use crate::raw::{self, Common};

const STUCK_SHUT: Usual = Usual::new("stuck-shut", 1.5, "not opening, its coil good").seen(0.1);
const STUCK_OPEN: Usual = Usual::new("stuck-open", 1.0, "not closing").seen(0.1).dangerous();
const OPEN: Usual = Usual::new("open", 2.0, "open").seen(0.1);
const PART_SHORTED: Usual = Usual::new("part-shorted", 0.5, "turns touching").seen(0.2);
const GROUNDED: Usual = Usual::new("grounded", 0.3, "touching the frame").seen(0.1).dangerous();
const RESTRICTED: Usual = Usual::new("restricted", 1.0, "letting little through").seen(0.3);

/// Lowers a valve: its coil pulls a flag, and while that stands it lets through what comes to it.
pub(crate) fn valve(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Valve) {
    draft.list_ends(id, common);
    let flag = super::relay::coil(draft, id, common, &body.coil);
    draft.usual(id, &STUCK_SHUT, vec![Effect::Stops(id)]);
    draft.usual(id, &STUCK_OPEN, vec![Effect::Hold(flag, true)]);
    draft.usual(id, &RESTRICTED, vec![Effect::Weakens(id)]);
}

/// Impedance left when turns of a winding touch, of the whole.
const SHORTED_TURNS_RATIO: f64 = 0.5;
/// Ohms from a grounded winding to the frame.
const GROUNDED_OHMS: f64 = 50.0;
/// Volts at which a winding stops working, of those from which it works.
const LETS_GO_RATIO: f64 = 0.7;

/// Lowers a winding: with `works_volts` it pulls a flag as a coil does, and does its work while that stands; without, it
/// gives what its driver brings, unless it is open or its turns touch.
pub(crate) fn winding(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Winding) {
    let ends = draft.two_ends(id, common);
    let (ohms, reactance) = (**body.ohms, body.reactance.as_ref().map_or(0.0, |x| ***x));
    let tolerance = body.tolerance.as_ref().map_or(0.1, |share| ***share);
    let running_ohms = body.running_ohms.as_ref().map_or(ohms, |x| ***x);
    let running = (running_ohms, body.running_reactance.as_ref().map_or(reactance, |x| ***x));
    let works = body.works_volts.as_ref().map(|volts| (***volts, FlagId(draft.next_id(draft.flags.len()))));
    let law = Law::Winding { ohms, reactance, running, flag: works.map(|(_, flag)| flag), tolerance };
    let branch = draft.way(id, "", ends, law);
    let (mut open, mut shorted) = (vec![Effect::Open(branch)], vec![Effect::Scale(branch, SHORTED_TURNS_RATIO)]);
    if let Some((volts, _)) = works {
        let rule = FlagRule::Coil { branch, pull_in_volts: volts, drop_out_volts: volts * LETS_GO_RATIO };
        draft.flag(id, "energised", rule);
    } else {
        open.push(Effect::Stops(id));
    }
    shorted.push(Effect::Stops(id));
    draft.usual(id, &OPEN, open);
    draft.usual(id, &PART_SHORTED, shorted);
    draft.usual(id, &GROUNDED, vec![Effect::Bridge(ends.0, draft.frame, GROUNDED_OHMS)]);
}
