//! The file's own words about faults laid over the usual ones, and causes looked up.

use super::repairs::repair_kind;
use super::{Draft, DraftFault};
use crate::diagnostic::{CAUSE_CYCLE, CHOOSE_ONE, MISSING_KEY, SHARES, UNKNOWN_NAME, WRONG_KIND};
use crate::faults::{Effect, Fault};
use crate::model::{BranchId, FaultId, PartId, RepairId, TerminalId};
use crate::raw::{EffectWords, FaultWords};
use crate::reader::{At, Map, Text, guess, list_words};
use std::collections::BTreeMap;

/// Finishes the list of faults, in the order of the parts; their repairs are still to be given.
pub(crate) fn lower<'f>(draft: &mut Draft<'f, '_, '_>) -> Vec<(DraftFault<'f>, Fault)> {
    apply_file(draft);
    let mut drafts = std::mem::take(&mut draft.faults);
    drafts.retain(|fault| fault.weight > 0.0);
    drafts.sort_by_key(|fault| fault.part);
    draft.next_id(drafts.len());
    let faults: Vec<Fault> = drafts.iter().map(|fault| start(draft, fault)).collect();
    let index: BTreeMap<&str, FaultId> =
        (0..).zip(&faults).map(|(at, fault)| (fault.id.as_str(), FaultId(at))).collect();
    let causes: Vec<Vec<(FaultId, f64)>> = drafts.iter().map(|fault| causes_of(draft, fault, &index)).collect();
    check_ring(draft, &drafts, &faults, &causes);
    let with_causes = faults.iter().zip(causes).map(|(fault, caused_by)| Fault { caused_by, ..fault.clone() });
    drafts.into_iter().zip(with_causes).collect()
}

fn start(draft: &Draft<'_, '_, '_>, fault: &DraftFault<'_>) -> Fault {
    let owner = draft.parts.get(fault.part.index());
    let (part, kind) = (owner.map_or("", |part| part.id.as_str()), owner.map(|part| part.kind));
    Fault {
        id: format!("{part}:{}", fault.mode),
        part: fault.part,
        say: fault.say.clone(),
        weight: fault.weight,
        wear: super::wear::of(kind, owner.is_some_and(|part| part.installation), fault),
        at_ages: Vec::new(),
        effects: fault.effects.clone(),
        caused_by: Vec::new(),
        visible: fault.visible,
        repair: RepairId(0),
        dangerous: fault.dangerous,
        intermittent: super::intermittent::of(kind, fault),
    }
}

/// Goes over every `fault` table of the file: parts, leads, supply.
fn apply_file(draft: &mut Draft<'_, '_, '_>) {
    let file = draft.file;
    let parts = file.part.iter().filter_map(|part| Some((&*part.common.id.0, part.common.fault.as_ref()?)));
    let leads = file.lead.iter().filter_map(|lead| Some((&*lead.id.0, lead.fault.as_ref()?)));
    for (id, words) in parts.chain(leads) {
        if let Some(part) = draft.part_names.get(id) {
            apply(draft, PartId(part), words);
        }
    }
    for (name, words) in file.supply.fault.iter().flat_map(|map| &map.0) {
        let Some(part) = draft.part(name) else { continue };
        if draft.parts.get(part.index()).is_some_and(|part| part.installation) {
            apply(draft, part, words);
        } else {
            let message = format!("`{}` is no part of the supply", name.value);
            draft.reader.error(WRONG_KIND, &name.span, message, "write its faults under the part: `[part.fault.MODE]`");
        }
    }
}

fn apply<'f>(draft: &mut Draft<'f, '_, '_>, part: PartId, map: &'f Map<FaultWords>) {
    for (mode, words) in &map.0 {
        let effects = words.effects.as_ref().map(|list| {
            let effects: Vec<Effect> = list.iter().flat_map(|effect| effect_of(draft, part, effect, mode)).collect();
            effects
        });
        let Some(at) = draft.faults.iter().position(|fault| fault.part == part && fault.mode == mode.value) else {
            add_own(draft, part, mode, words, effects);
            continue;
        };
        let Some(fault) = draft.faults.get_mut(at) else { continue };
        if let Some(effects) = effects {
            fault.effects = effects;
        }
        overlay(fault, words);
    }
}

fn overlay<'f>(fault: &mut DraftFault<'f>, words: &'f FaultWords) {
    if let Some(weight) = &words.weight {
        fault.weight = ***weight;
    }
    if let Some(wear) = &words.wear {
        fault.wear = Some(***wear);
    }
    if let Some(say) = &words.say {
        fault.say.clone_from(&say.value);
    }
    if let Some(visible) = &words.visible {
        fault.visible = ***visible;
    }
    if let Some(dangerous) = &words.dangerous {
        fault.dangerous = dangerous.value;
    }
    if let Some(mend) = &words.mend {
        fault.mend = Some(repair_kind(mend.value));
    }
    if let Some(causes) = &words.caused_by {
        fault.causes = causes;
    }
    if let Some(intermittent) = &words.intermittent {
        fault.intermittent = Some(intermittent);
    }
}

/// Adds a fault that the kind does not have; it must say what changes.
fn add_own<'f>(
    draft: &mut Draft<'f, '_, '_>,
    part: PartId,
    mode: &At<String>,
    words: &'f FaultWords,
    effects: Option<Vec<Effect>>,
) {
    if draft.is_full(draft.faults.len()) {
        return;
    }
    let Some(effects) = effects else {
        let known: Vec<&str> =
            draft.faults.iter().filter(|fault| fault.part == part).map(|fault| fault.mode.as_str()).collect();
        let hint = guess(mode, known.iter().copied())
            .unwrap_or_else(|| format!("known: {}; a fault of your own needs `effects`", list_words(known)));
        let name = draft.parts.get(part.index()).map_or("", |part| part.id.as_str());
        let message = format!("`{name}` has no usual fault `{}`", mode.value);
        draft.reader.error(UNKNOWN_NAME, &mode.span, message, &hint);
        return;
    };
    let mut fault = DraftFault {
        part,
        mode: mode.value.clone(),
        say: mode.value.replace('-', " "),
        weight: 1.0,
        effects,
        visible: 0.0,
        dangerous: false,
        mend: None,
        causes: &[],
        wear: None,
        intermittent: None,
    };
    overlay(&mut fault, words);
    draft.faults.push(fault);
}

/// Reads one change of the wiring.
fn effect_of(draft: &mut Draft<'_, '_, '_>, part: PartId, raw: &EffectWords, mode: &Text) -> Vec<Effect> {
    let verbs = [raw.open.is_some(), raw.ohms.is_some(), raw.scale.is_some(), raw.bridge.is_some()];
    let given = verbs.iter().filter(|given| **given).count()
        + usize::from(raw.stops.is_some())
        + usize::from(raw.weakens.is_some())
        + usize::from(raw.stalls.is_some());
    if given != 1 {
        let message = format!("an effect of `{}` says {given} things", mode.value);
        let hint = "write one of `open`, `ohms`, `scale`, `bridge`, `stops`, `weakens`, `stalls` in each `{ }`";
        draft.reader.error(CHOOSE_ONE, &mode.span, message, hint);
        return Vec::new();
    }
    let needs_value = raw.ohms.as_ref().or(raw.scale.as_ref()).or(raw.bridge.as_ref());
    let value = raw.value.as_ref().map_or(1.0, |value| ***value);
    if let Some(words) = needs_value.filter(|_| raw.value.is_none()) {
        let message = format!("`value` is missing beside `{}`", words.value);
        draft.reader.error(MISSING_KEY, &words.span, message, "add `value = ...`, in ohms or as a factor");
    }
    if let Some(ends) = &raw.bridge {
        return bridge_ends(draft, part, ends).map(|(a, b)| Effect::Bridge(a, b, value)).into_iter().collect();
    }
    if let Some(motor) = &raw.stalls {
        return stall(draft, motor).into_iter().collect();
    }
    if let Some(ends) = &raw.open {
        return way(draft, part, ends).first().map(|branch| Effect::Open(*branch)).into_iter().collect();
    }
    if let Some(ends) = &raw.scale {
        return way(draft, part, ends).into_iter().map(|branch| Effect::Scale(branch, value)).collect();
    }
    if let Some(ends) = &raw.ohms {
        let branches = way(draft, part, ends);
        let each = value / branches.iter().map(|_| 1.0).sum::<f64>().max(1.0);
        return branches.into_iter().map(|branch| Effect::Ohms(branch, each)).collect();
    }
    let said = |flag: &Option<At<bool>>| flag.as_ref().is_some_and(|flag| flag.value);
    let stops = said(&raw.stops).then_some(Effect::Stops(part));
    stops.or(said(&raw.weakens).then_some(Effect::Weakens(part))).into_iter().collect()
}

fn stall(draft: &mut Draft<'_, '_, '_>, name: &Text) -> Option<Effect> {
    let motor = draft.part(name)?;
    let flag = draft.motors.get(&motor).copied();
    if flag.is_none() {
        draft.reader.error(
            WRONG_KIND,
            &name.span,
            format!("`{}` is no motor", name.value),
            "name a part of kind `motor`",
        );
    }
    flag.map(|flag| Effect::Hold(flag, false))
}

/// Finds a terminal by the part's own label or by its full name.
fn terminal_near(draft: &Draft<'_, '_, '_>, part: PartId, label: &str) -> Option<TerminalId> {
    let owner = draft.parts.get(part.index())?;
    draft.quiet_terminal(&format!("{}.{label}", owner.id)).or_else(|| draft.quiet_terminal(label))
}

/// Splits `A-B` at the hyphen that leaves a terminal on either side.
fn split_ends(draft: &Draft<'_, '_, '_>, part: PartId, ends: &str) -> Option<(TerminalId, TerminalId)> {
    ends.match_indices('-').find_map(|(at, _)| {
        let one = terminal_near(draft, part, ends.get(..at)?)?;
        let two = terminal_near(draft, part, ends.get(at + 1..)?)?;
        Some((one, two))
    })
}

fn bridge_ends(draft: &mut Draft<'_, '_, '_>, part: PartId, ends: &Text) -> Option<(TerminalId, TerminalId)> {
    let found = split_ends(draft, part, ends).filter(|(one, two)| one != two);
    if found.is_none() {
        let message = format!("`{}` names no two terminals", ends.value);
        draft.reader.error(
            UNKNOWN_NAME,
            &ends.span,
            message,
            "write `A-B` with the part's terminals, `CH` for the frame",
        );
    }
    found
}

/// Finds the branches of the part's way between the two terminals that `A-B` names.
fn way(draft: &mut Draft<'_, '_, '_>, part: PartId, ends: &Text) -> Vec<BranchId> {
    let pair = split_ends(draft, part, ends);
    let ways = draft.ways.get(&part).map(Vec::as_slice).unwrap_or_default();
    let found = ways.iter().find(|way| {
        let (a, b) = way.ends;
        pair == Some((a, b)) || pair == Some((b, a))
    });
    let Some(found) = found else {
        let labels: Vec<String> = ways.iter().map(|way| draft.say_ends(way.ends)).collect();
        let message = format!("the part has no way `{}`", ends.value);
        let hint = format!("known: {}", list_words(labels.iter().map(String::as_str)));
        draft.reader.error(UNKNOWN_NAME, &ends.span, message, &hint);
        return Vec::new();
    };
    found.branches.clone()
}

fn causes_of(
    draft: &mut Draft<'_, '_, '_>,
    fault: &DraftFault<'_>,
    index: &BTreeMap<&str, FaultId>,
) -> Vec<(FaultId, f64)> {
    let mut found = Vec::new();
    for cause in fault.causes {
        match index.get(cause.fault.as_str()) {
            Some(id) => found.push((*id, **cause.share)),
            None => draft.reader.unknown_name("fault", &cause.fault, index.keys().copied()),
        }
    }
    let sum: f64 = fault.causes.iter().map(|cause| **cause.share).sum();
    if let Some(last) = fault.causes.last().filter(|_| sum > 1.0 + 1e-9) {
        let message = format!("the causes of `{}` explain {:.0} % of its cases", fault.mode, sum * 100.0);
        draft.reader.error(SHARES, &last.share.span, message, "make the shares add up to 1 at most");
    }
    found
}

/// Complains about faults that bring themselves about in the end.
fn check_ring(
    draft: &mut Draft<'_, '_, '_>,
    drafts: &[DraftFault<'_>],
    faults: &[Fault],
    causes: &[Vec<(FaultId, f64)>],
) {
    for (start, (fault, done)) in drafts.iter().zip(faults).enumerate() {
        let mut seen = vec![false; causes.len()];
        let mut next: Vec<usize> = causes.get(start).into_iter().flatten().map(|(id, _)| id.index()).collect();
        while let Some(at) = next.pop() {
            match seen.get_mut(at) {
                Some(seen) if !*seen => *seen = true,
                _ => continue,
            }
            next.extend(causes.get(at).into_iter().flatten().map(|(id, _)| id.index()));
        }
        if let Some(cause) = fault.causes.first().filter(|_| seen.get(start) == Some(&true)) {
            let message = format!("`{}` brings itself about in the end", done.id);
            draft.reader.error(CAUSE_CYCLE, &cause.fault.span, message, "take one cause out of the ring");
        }
    }
}
