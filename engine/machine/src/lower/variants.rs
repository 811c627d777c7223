//! In what units commonly differ, lowered to effects as faults have them; and the builds that follow from it.

use super::Draft;
use crate::builds::{DESCRIBED, Variant, VariantOption};
use crate::diagnostic::{MISSING_KEY, OUT_OF_RANGE, SHARES, WRONG_KIND};
use crate::faults::{Effect, Fault};
use crate::model::{BranchId, Law, PartId};
use crate::raw;
use crate::reader::{At, Map, Num, Text};

/// Variants of one machine.
const MOST_VARIANTS: usize = 6;

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>, faults: &[Fault]) -> Vec<Variant> {
    let file = draft.file;
    let mut ids: Vec<&str> = Vec::new();
    let mut found = Vec::new();
    for raw in file.variant.iter().flatten() {
        if ids.contains(&raw.id.0.as_str()) {
            draft.complain_twice(&raw.id.value.0, &raw.id.span);
        }
        ids.push(&raw.id.0);
        found.push(lower_one(draft, raw, faults));
    }
    if let Some(extra) = file.variant.iter().flatten().nth(MOST_VARIANTS) {
        let message = format!("more than {MOST_VARIANTS} variants are described");
        draft.reader.error(OUT_OF_RANGE, &extra.id.span, message, "keep those that are common and matter");
    }
    found
}

fn lower_one(draft: &mut Draft<'_, '_, '_>, raw: &raw::Variant, faults: &[Fault]) -> Variant {
    let look = raw.look.as_ref().map(|place| draft.place(place));
    let mut ids = vec![DESCRIBED];
    for option in &raw.options {
        if ids.contains(&option.id.0.as_str()) {
            draft.complain_twice(&option.id.value.0, &option.id.span);
        }
        ids.push(&option.id.0);
    }
    let options: Vec<VariantOption> = raw.options.iter().map(|option| lower_option(draft, option, faults)).collect();
    let sum: f64 = options.iter().map(|option| option.share).sum();
    match raw.options.last() {
        None => {
            let message = format!("variant `{}` has no options", &**raw.id);
            draft.reader.error(
                MISSING_KEY,
                &raw.id.span,
                message,
                "add `options = [{ id = ..., say = ..., share = ... }]`",
            );
        }
        Some(last) if sum >= 1.0 => {
            let message = format!("the options of `{}` leave no units as described", &**raw.id);
            draft.reader.error(SHARES, &last.share.span, message, "make the shares add up to less than 1");
        }
        Some(_) => {}
    }
    Variant { id: raw.id.0.clone(), say: raw.say.value.clone(), described: raw.described.value.clone(), look, options }
}

fn lower_option(draft: &mut Draft<'_, '_, '_>, raw: &raw::VariantOption, faults: &[Fault]) -> VariantOption {
    let mut effects: Vec<Effect> = Vec::new();
    for name in raw.like.iter().flatten() {
        match faults.iter().find(|fault| fault.id == name.value) {
            Some(fault) => effects.extend(fault.effects.iter().copied()),
            None => draft.reader.unknown_name("fault", name, faults.iter().map(|fault| fault.id.as_str())),
        }
    }
    for (name, watts) in entries(raw.watts.as_ref()) {
        let Some(part) = draft.part(name) else { continue };
        match draft.loads.get(&part).cloned() {
            // Watts fall as ohms rise.
            Some(load) => effects.extend(load.branches.iter().map(|&b| Effect::Scale(b, load.watts / ***watts))),
            None => complain(draft, name, "draws no power of its own", "name a heater or a lamp"),
        }
    }
    for (name, times) in entries(raw.times.as_ref()) {
        let Some(part) = draft.part(name) else { continue };
        let valued = valued(draft, part);
        if valued.is_empty() {
            complain(draft, name, "has no value of its own", "name a heater, sensor, motor, winding or capacitor");
        }
        effects.extend(valued.into_iter().map(|branch| Effect::Scale(branch, ***times)));
    }
    if raw.like.is_none() && raw.watts.is_none() && raw.times.is_none() {
        let message = format!("nothing says in what `{}` differs", &**raw.id);
        draft.reader.error(MISSING_KEY, &raw.id.span, message, "add `like`, `watts` or `times`");
    }
    VariantOption { id: raw.id.0.clone(), say: raw.say.value.clone(), share: **raw.share, effects }
}

fn entries<T>(map: Option<&Map<At<Num<T>>>>) -> impl Iterator<Item = &(Text, At<Num<T>>)> {
    map.into_iter().flat_map(|map| &map.0)
}

/// Gives the branches of a part that have a value: all but its contacts.
fn valued(draft: &Draft<'_, '_, '_>, part: PartId) -> Vec<BranchId> {
    let all = (0..).map(BranchId).zip(&draft.branches);
    let of_part = all.filter(|(_, branch)| branch.part == part && !matches!(branch.law, Law::Contact { .. }));
    of_part.map(|(id, _)| id).collect()
}

fn complain(draft: &mut Draft<'_, '_, '_>, name: &Text, what: &str, mend: &str) {
    let message = format!("`{}` {what}", name.value);
    draft.reader.error(WRONG_KIND, &name.span, message, mend);
}
