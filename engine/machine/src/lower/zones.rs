//! Zones with how they warm up. Knows no temperatures but those at rest.

use super::Draft;
use crate::diagnostic::{HEAT_TRAPPED, HEATS_TWICE, WRONG_KIND};
use crate::model::{BranchId, Heat, HeatAir, HeatWall, Law, PartId, PartKind, Zone};
use crate::raw;
use crate::reader::Text;

/// Lowers the zones; needs the parts.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) -> Vec<Zone> {
    let file = draft.file;
    let mut zones = draft.zones();
    let mut taken: Vec<PartId> = Vec::new();
    for (zone, raw) in zones.iter_mut().zip(file.zone.iter().flatten()) {
        zone.heat = raw.heat.as_ref().map(|heat| lower_heat(draft, raw, heat, &mut taken));
    }
    zones
}

fn lower_heat(draft: &mut Draft<'_, '_, '_>, zone: &raw::Zone, raw: &raw::Heat, taken: &mut Vec<PartId>) -> Heat {
    let heaters = raw.heated_by.iter().filter_map(|name| heater(draft, name, taken)).collect();
    let wall = raw.wall.as_ref().map(|wall| HeatWall {
        capacity: **wall.capacity,
        couples: **wall.couples,
        loses: **wall.loses,
    });
    let loses = **raw.loses;
    if loses + wall.map_or(0.0, |wall| wall.loses) <= 0.0 {
        let message = format!("zone `{}` warms up and loses nothing", &**zone.id);
        draft.reader.error(HEAT_TRAPPED, &raw.loses.span, message, "give it or its wall a `loses` above 0");
    }
    let lag = raw.lag.as_ref().map(|lag| (**lag.capacity, **lag.couples));
    let felt_by = raw.felt_by.as_ref().and_then(|name| sensor(draft, name));
    let air = raw.air.as_ref().and_then(|air| {
        let part =
            named(draft, &air.part, &[PartKind::Vent, PartKind::Blower], "carries no air", "name a vent or blower")?;
        Some(HeatAir { part, weak: **air.weak })
    });
    Heat { capacity: **raw.capacity, loses, heaters, lag, wall, felt_by, air }
}

/// Looks the sensor up by which a control holds the zone, and gives its branch.
fn sensor(draft: &mut Draft<'_, '_, '_>, name: &Text) -> Option<BranchId> {
    let part = named(draft, name, &[PartKind::Sensor], "feels no temperature", "name a sensor")?;
    let branch = draft.branches.iter().position(|b| b.part == part && matches!(b.law, Law::Sensor { .. }))?;
    u16::try_from(branch).ok().map(BranchId)
}

/// Looks a part of one of these kinds up.
fn named(draft: &mut Draft<'_, '_, '_>, name: &Text, kinds: &[PartKind], is_not: &str, mend: &str) -> Option<PartId> {
    let part = draft.part(name)?;
    let kind = draft.parts.get(part.index())?.kind;
    if kinds.contains(&kind) {
        return Some(part);
    }
    if !draft.reader.is_broken(name) {
        let message = format!("`{}` is a {kind}, which {is_not}", name.value);
        draft.reader.error(WRONG_KIND, &name.span, message, mend);
    }
    None
}

/// Looks a heater up that no zone has taken yet, with its branches.
fn heater(draft: &mut Draft<'_, '_, '_>, name: &Text, taken: &mut Vec<PartId>) -> Option<(PartId, Vec<BranchId>)> {
    let part = draft.part(name)?;
    let kind = draft.parts.get(part.index())?.kind;
    if draft.reader.is_broken(name) {
        return None;
    }
    if kind != PartKind::Heater {
        let message = format!("`{}` is a {kind}, which warms no zone", name.value);
        draft.reader.error(WRONG_KIND, &name.span, message, "name a heater");
        return None;
    }
    if taken.contains(&part) {
        let message = format!("`{}` warms a zone already", name.value);
        draft.reader.error(HEATS_TWICE, &name.span, message, "name each heater in one `heated_by` only");
        return None;
    }
    taken.push(part);
    Some((part, draft.loads.get(&part)?.branches.clone()))
}
