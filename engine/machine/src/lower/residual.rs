//! Leakage to earth: the residual-current device with what else leaks behind it, and what sound parts leak to the frame.
//!
//! The device sits in the panel behind the breaker and takes the legs and the neutral through its core, not the ground
//! conductor: what comes back by earth is missing in the sum of its poles' currents.

use super::supply::of_installation;
use super::{Draft, Usual};
use crate::diagnostic::{CHOOSE_ONE, SUPPLY_MISMATCH, UNKNOWN_NAME};
use crate::faults::{Effect, RepairKind};
use crate::model::{BranchId, FlagId, FlagRule, Law, PartId, PartKind, PlaceId, Residual, Rule, TerminalId};
use crate::raw::{self, BranchLeak};
use crate::reader::list_words;

// Weights: common practice, no source.
const OFF: Usual = Usual::new("off", 1.0, "tripped or switched off").seen(0.9);
const TRIPS_EARLY: Usual = Usual::new("trips-early", 0.2, "tripping though nothing leaks");

/// Ohms of one closed pole: common practice, no source.
const POLE_OHMS: f64 = 0.002;
/// Relative half-width of a leak through a resistance, which comes and goes with moisture: common practice, no source.
const MOIST_TOLERANCE: f64 = 0.5;
/// Relative half-width of a leak through a capacitance: a suppression capacitor's usual 20 %, from memory.
const FILTER_TOLERANCE: f64 = 0.2;

/// Adds the device where the file has one; gives the points that the legs and the neutral go on from, and the device.
pub(crate) fn lower(
    draft: &mut Draft<'_, '_, '_>,
    place: PlaceId,
    legs: Vec<TerminalId>,
    neutral: TerminalId,
) -> (Vec<TerminalId>, TerminalId, Option<Residual>) {
    let file = draft.file;
    let Some(raw) = &file.supply.residual else { return (legs, neutral, None) };
    let device = of_installation("residual", PartKind::Breaker, "residual-current device", place);
    let part = draft.add_part(device, &(0..0));
    let flag = FlagId(draft.next_id(draft.flags.len()));
    let mut poles = Vec::new();
    let mut pole = |draft: &mut Draft<'_, '_, '_>, letter: &str, feed: TerminalId| {
        let load = draft.add_terminal(part, &format!("residual.{letter}"), place, false);
        let law = Law::Contact { rule: Rule::Flag { flag, inverted: true }, ohms: POLE_OHMS };
        poles.push(draft.branch(part, &format!("pole{letter}"), (feed, load), law));
        load
    };
    let loads: Vec<TerminalId> =
        (1..).zip(&legs).map(|(number, &leg)| pole(draft, &format!("{number}"), leg)).collect();
    let neutral_load = pole(draft, "N", neutral);
    let amps = **raw.trips_milliamps * 1e-3;
    let flag = draft.flag(part, "tripped", FlagRule::Residual { poles: poles.clone(), amps });
    draft.usual(part, &OFF, vec![Effect::Hold(flag, true)]);
    draft.mend_last(RepairKind::Clean);
    draft.usual(part, &TRIPS_EARLY, vec![Effect::Hold(flag, true)]);
    for (number, leak) in (1..).zip(raw.leaks.iter().flatten()) {
        leak_behind(draft, part, (number, leak), &loads, neutral);
    }
    (loads, neutral_load, Some(Residual { part, flag, poles, amps }))
}

/// Adds what something else leaks behind the device, from its load side to true earth.
fn leak_behind(
    draft: &mut Draft<'_, '_, '_>,
    part: PartId,
    (number, leak): (u32, &BranchLeak),
    loads: &[TerminalId],
    earth: TerminalId,
) {
    let leg = usize::from(leak.leg.value.0).checked_sub(1).and_then(|leg| loads.get(leg));
    let Some(&leg) = leg else {
        let message = format!("this supply has no leg {}", leak.leg.value.0);
        let hint = if loads.len() == 1 { "write `leg = 1`" } else { "write `leg = 1` or `leg = 2`" };
        draft.reader.error(SUPPLY_MISMATCH, &leak.leg.span, message, hint);
        return;
    };
    let ohms = draft.leg_volts() / (**leak.milliamps * 1e-3);
    let law = if leak.capacitive.as_ref().is_none_or(|word| word.value) {
        let omega = 2.0 * std::f64::consts::PI * draft.hertz();
        Law::Capacitor { farads: 1.0 / (omega * ohms), tolerance: FILTER_TOLERANCE }
    } else {
        super::supply::ohms(ohms, MOIST_TOLERANCE)
    };
    draft.branch(part, &format!("leak{number}"), (leg, earth), law);
}

/// Adds what every sound part leaks to the frame; gives the branches. Terminals must be there already.
pub(crate) fn leaks(draft: &mut Draft<'_, '_, '_>) -> Vec<BranchId> {
    let file = draft.file;
    let mut found = Vec::new();
    for part in file.part.iter() {
        let Some(id) = draft.part_names.get(&part.common.id.0).map(PartId) else { continue };
        for (number, leak) in (1..).zip(part.common.leaks.iter().flatten()) {
            found.extend(leak_of(draft, id, number, leak));
        }
    }
    found
}

fn leak_of(draft: &mut Draft<'_, '_, '_>, part: PartId, number: u32, leak: &raw::Leak) -> Option<BranchId> {
    let law = match (&leak.ohms, &leak.microfarads) {
        (Some(ohms), None) => super::supply::ohms(**ohms.0, MOIST_TOLERANCE),
        (None, Some(farads)) => Law::Capacitor { farads: **farads.0 * 1e-6, tolerance: FILTER_TOLERANCE },
        _ => {
            let message = "a leak needs one of `ohms` and `microfarads`";
            draft.reader.error(CHOOSE_ONE, &leak.from.span, message, "write `ohms = 200000`, say");
            return None;
        }
    };
    let owner = draft.parts.get(part.index())?;
    let full = format!("{}.{}", owner.id, leak.from.value);
    let Some(from) = draft.quiet_terminal(&full).filter(|id| owner.terminals.contains(id)) else {
        let names = owner.terminals.iter().filter_map(|id| draft.terminals.get(id.index()));
        let labels: Vec<&str> = names.filter_map(|t| t.name.split_once('.').map(|(_, label)| label)).collect();
        let message = format!("`{}` has no terminal `{}`", owner.id, leak.from.value);
        let hint = if labels.is_empty() {
            "leave the leak out: this part does not conduct".to_owned()
        } else {
            format!("known: {}", list_words(labels))
        };
        draft.reader.error(UNKNOWN_NAME, &leak.from.span, message, &hint);
        return None;
    };
    Some(draft.branch(part, &format!("leak{number}"), (from, draft.frame), law))
}
