//! Repairs: faults that the same work cures share one. Parts changed in the same go are one repair.

use super::{Draft, DraftFault};
use crate::access::Hazard;
use crate::faults::{Fault, Repair, RepairKind};
use crate::kinds::usual_spare;
use crate::model::{PartId, PartKind, PlaceId, RepairId};
use crate::raw::{MendWord, Spare};
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// Most minutes for a cure other than the part's own, such as plugging the machine in: common practice, no source.
const OTHER_MINUTES: f64 = 3.0;

/// What curing one part takes, the file's words laid over the kind's.
#[derive(Clone, Debug)]
struct Cure {
    price: Decimal,
    minutes: f64,
    stocked: bool,
    mend: RepairKind,
}

pub(crate) fn repair_kind(word: MendWord) -> RepairKind {
    match word {
        MendWord::Replace => RepairKind::Replace,
        MendWord::Mend => RepairKind::Mend,
        MendWord::Clean => RepairKind::Clean,
        MendWord::Refer => RepairKind::Refer,
    }
}

/// Gives every fault its repair.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>, faults: Vec<(DraftFault<'_>, Fault)>) -> (Vec<Fault>, Vec<Repair>) {
    let cures = cures(draft);
    let groups = groups(draft);
    let mut repairs: Vec<Repair> = Vec::new();
    let mut by_id: BTreeMap<String, RepairId> = BTreeMap::new();
    let mut done = Vec::new();
    for (words, fault) in faults {
        let Some(cure) = cures.get(fault.part.index()) else { continue };
        let trained_only = draft.parts.get(fault.part.index()).is_some_and(|part| high_voltage(draft, part.place));
        let kind = if trained_only { RepairKind::Refer } else { words.mend.unwrap_or(cure.mend) };
        let members = match kind {
            RepairKind::Replace => groups.get(fault.part.index()).cloned().unwrap_or_default(),
            // Whatever is wrong on the house's side of the plug is one errand for an electrician.
            RepairKind::Refer => vec![house_of(draft, fault.part)],
            RepairKind::Mend | RepairKind::Clean => vec![fault.part],
        };
        let repair = make(draft, &cures, &members, kind);
        let id = *by_id.entry(repair.id.clone()).or_insert_with(|| {
            let id = RepairId(u16::try_from(repairs.len()).unwrap_or(u16::MAX));
            repairs.push(repair);
            id
        });
        done.push(Fault { repair: id, ..fault });
    }
    (done, repairs)
}

/// Says whether only who is trained for it works at this place.
fn high_voltage(draft: &Draft<'_, '_, '_>, place: PlaceId) -> bool {
    let described = draft.file.place.get(place.index());
    described.is_some_and(|place| place.hazards.iter().flatten().any(|hazard| hazard.value == Hazard::HighVoltage))
}

/// Gives the house for a part of the installation, and any other part itself.
fn house_of(draft: &Draft<'_, '_, '_>, part: PartId) -> PartId {
    let installation = draft.parts.get(part.index()).is_some_and(|part| part.installation);
    let house = (0..).zip(&draft.parts).find(|(_, part)| part.kind == PartKind::House).map(|(id, _)| PartId(id));
    if installation { house.unwrap_or(part) } else { part }
}

/// Gives for each part what curing it takes.
fn cures(draft: &Draft<'_, '_, '_>) -> Vec<Cure> {
    let spares: BTreeMap<&str, &Spare> =
        draft.file.part.iter().filter_map(|part| Some((&**part.common.id, part.common.spare.as_ref()?))).collect();
    let fixed = draft.file.supply.receptacle.is_none();
    draft
        .parts
        .iter()
        .map(|part| {
            let usual = usual_spare(part.kind);
            let spare = spares.get(part.id.as_str());
            Cure {
                price: spare.and_then(|s| s.price.as_ref()).map_or(Decimal::new(usual.cents, 2), |price| price.value.0),
                minutes: spare.and_then(|s| s.minutes.as_ref()).map_or(usual.minutes, |minutes| ***minutes),
                stocked: spare.and_then(|s| s.stocked.as_ref()).map_or(usual.stocked, |stocked| stocked.value),
                mend: match spare.and_then(|s| s.mend.as_ref()) {
                    Some(mend) => repair_kind(mend.value),
                    // A cable that is wired in for good belongs to the house's fixed wiring.
                    None if part.kind == PartKind::Cord && fixed => RepairKind::Refer,
                    None => usual.mend,
                },
            }
        })
        .collect()
}

/// Gives for each part all the parts changed in the same go, itself included, in the order of the parts.
fn groups(draft: &mut Draft<'_, '_, '_>) -> Vec<Vec<PartId>> {
    let file = draft.file;
    let mut root: Vec<usize> = (0..draft.parts.len()).collect();
    for part in file.part.iter() {
        let Some(own) = draft.part_names.get(&part.common.id).map(usize::from) else { continue };
        for name in part.common.replace_together.iter().flatten() {
            let Some(other) = draft.part(name) else { continue };
            let (a, b) = (root.get(own).copied().unwrap_or(own), root.get(other.index()).copied().unwrap_or(own));
            for entry in &mut root {
                if *entry == a || *entry == b {
                    *entry = a.min(b);
                }
            }
        }
    }
    let members = |of: usize| -> Vec<PartId> {
        (0..).zip(&root).filter(|(_, root)| **root == of).map(|(part, _)| PartId(part)).collect()
    };
    root.iter().map(|of| members(*of)).collect()
}

fn make(draft: &Draft<'_, '_, '_>, cures: &[Cure], members: &[PartId], kind: RepairKind) -> Repair {
    let part = members.first().copied().unwrap_or(PartId(0));
    let all: Vec<&Cure> = members.iter().filter_map(|member| cures.get(member.index())).collect();
    let paid = |cure: &&Cure| if cure.mend == kind { cure.price } else { Decimal::ZERO };
    let word = match kind {
        RepairKind::Replace => "replace",
        RepairKind::Mend => "mend",
        RepairKind::Clean => "clean",
        RepairKind::Refer => "refer",
    };
    let owner = draft.parts.get(part.index()).map_or("", |part| part.id.as_str());
    Repair {
        id: format!("{owner}:{word}"),
        say: say(draft, members, kind),
        part,
        kind,
        price: all.iter().map(paid).sum(),
        minutes: all
            .iter()
            .map(|cure| if cure.mend == kind { cure.minutes } else { cure.minutes.min(OTHER_MINUTES) })
            .sum(),
        stocked: all.iter().all(|cure| cure.stocked),
        together: members.iter().skip(1).copied().collect(),
    }
}

/// Says a repair in a sentence: `replace the thermal cut-off together with the high-limit thermostat`.
fn say(draft: &Draft<'_, '_, '_>, members: &[PartId], kind: RepairKind) -> String {
    let name = |part: &PartId| draft.parts.get(part.index()).map_or("part", |part| part.name.as_str());
    let first = members.first().map_or("part", name);
    let part_kind = members.first().and_then(|part| draft.parts.get(part.index())).map(|part| part.kind);
    let rest: Vec<String> = members.iter().skip(1).map(|part| format!("the {}", name(part))).collect();
    let with = if rest.is_empty() { String::new() } else { format!(" together with {}", rest.join(" and ")) };
    match (kind, part_kind) {
        (RepairKind::Replace, _) => format!("replace the {first}{with}"),
        (RepairKind::Mend, Some(PartKind::Drum)) => format!("free the {first}"),
        (RepairKind::Mend, _) => format!("mend the {first}"),
        (RepairKind::Clean, Some(PartKind::Breaker)) => format!("reset the {first}"),
        (RepairKind::Clean, Some(PartKind::Cord)) => match draft.file.supply.receptacle {
            Some(_) => "plug the machine in".to_owned(),
            None => "switch the disconnect on".to_owned(),
        },
        (RepairKind::Clean, _) => format!("clean the {first}"),
        (RepairKind::Refer, Some(PartKind::House)) => {
            "have the power company or an electrician see to the supply".to_owned()
        }
        (RepairKind::Refer, _) => format!("have the {first} put right by someone licensed for it"),
    }
}
