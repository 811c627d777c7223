//! Electronic controls: declared black boxes with needs and outputs. What is inside is not described.

use super::contacts::CONTACT_OHMS;
use super::passive::steady;
use crate::diagnostic::{BACKWARD, DUPLICATE_ID, MISSING_KEY};
use crate::faults::Effect;
use crate::lower::{ControlNeeds, Draft, Usual};
use crate::model::{CodeRule, FlagId, FlagRule, Law, Need, PartId, Rule, StateId};
use crate::raw::{self, Common};
use crate::reader::{At, Label, Text};
use std::collections::BTreeMap;

const DEAD: Usual = Usual::new("dead", 4.0, "dead").seen(0.1);
const OUTPUT_OPEN: Usual = Usual::new("open", 2.0, "output {} not closing").seen(0.1);
const OUTPUT_WELDED: Usual = Usual::new("welded", 1.0, "output {} not opening").seen(0.1);
const SENSE_BLIND: Usual = Usual::new("blind", 0.5, "blind on {}");

/// What an input draws from the line it watches, ohms.
const INPUT_OHMS: f64 = 100e3;
/// Relative half-width of a control's own reference voltage.
const REFERENCE_TOLERANCE: f64 = 0.01;

/// Lowers a control: supply, inputs, senses, outputs, and the flag that says it is alive.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Control) {
    draft.list_ends(id, common);
    let supply = lower_supply(draft, id, common, &body.supply);
    let mut needs: BTreeMap<String, Need> = BTreeMap::new();
    for input in body.inputs.iter().flatten() {
        let (from, to) = draft.named_ends(id, common, &input.from, &input.to);
        draft.way(id, &input.id, (from, to), steady(INPUT_OHMS, 0.1));
        take_need(draft, &mut needs, &input.id, Need::Volts { from, to, at_least: **input.at_least_volts });
    }
    let mut senses = Vec::new();
    for sense in body.senses.iter().flatten() {
        let need = lower_sense(draft, id, common, sense);
        senses.push(need.clone());
        take_need(draft, &mut needs, &sense.id, need);
    }
    for feel in body.feels.iter().flatten() {
        if let Some(part) = draft.part(&feel.part) {
            let all = feel.at_least.as_ref().is_some_and(|word| word.value == raw::WorkWord::All);
            let asked_in = states_of(draft, feel.asked_in.as_deref());
            take_need(draft, &mut needs, &feel.id, Need::Works { part, all, asked_in });
        }
    }
    let rules = body.codes.iter().flatten().filter_map(|code| lower_code(draft, code, &needs)).collect();
    let rule = FlagRule::Output { requested_in: states_of(draft, None), needs: vec![supply.clone()] };
    let alive = draft.flag(id, "alive", rule);
    let mut held = vec![Effect::Hold(alive, false)];
    let mut faults = Vec::new();
    let mut seen: Vec<&Label> = Vec::new();
    for output in body.outputs.iter().flatten() {
        if seen.contains(&&output.id.value) {
            complain_twice(draft, &output.id);
            continue;
        }
        seen.push(&output.id.value);
        let flag = lower_output(draft, id, common, output, &supply, &needs, &mut faults);
        held.push(Effect::Hold(flag, false));
    }
    draft.usual(id, &DEAD, held);
    for (key, usual, effect) in faults {
        draft.usual_of(id, &key, &key, &usual, vec![effect]);
    }
    for sense in body.senses.iter().flatten() {
        if let Some(Need::Sense { source, .. }) = needs.get(&sense.id.value.0) {
            draft.usual_of(id, &sense.id, &sense.id, &SENSE_BLIND, vec![Effect::Open(*source)]);
        }
    }
    let display = body.display.as_ref().is_none_or(|flag| flag.value);
    draft.controls.insert(id, ControlNeeds { supply, senses, rules, alive, display });
}

/// Gives the named states, all of them where none are named.
fn states_of(draft: &mut Draft<'_, '_, '_>, names: Option<&[Text]>) -> Vec<StateId> {
    match names {
        Some(names) => names.iter().filter_map(|name| draft.state(name)).collect(),
        None => (0..draft.file.state.len()).filter_map(|at| u16::try_from(at).ok()).map(StateId).collect(),
    }
}

fn lower_code(
    draft: &mut Draft<'_, '_, '_>,
    code: &raw::CodeWords,
    known: &BTreeMap<String, Need>,
) -> Option<(String, CodeRule)> {
    let states = states_of(draft, code.r#in.as_deref());
    let with = named(draft, code.with.iter().flatten(), known);
    let without = named(draft, code.without.iter().flatten(), known);
    if code.with.iter().chain(&code.without).all(Vec::is_empty) {
        let message = format!("nothing says when `{}` is shown", code.code.value.0);
        draft.reader.error(MISSING_KEY, &code.code.span, message, "add `without = [\"...\"]`");
        return None;
    }
    // Its value is known where the display's codes are numbered.
    Some((code.code.value.0.clone(), CodeRule { states, with, without, value: 0 }))
}

/// Looks up what a code or an output needs.
fn named<'a>(
    draft: &mut Draft<'_, '_, '_>,
    names: impl IntoIterator<Item = &'a Text>,
    known: &BTreeMap<String, Need>,
) -> Vec<Need> {
    let mut needs = Vec::new();
    for name in names {
        match known.get(&name.value) {
            Some(need) => needs.push(need.clone()),
            None => draft.reader.unknown_name("input, sense or feel", name, known.keys().map(String::as_str)),
        }
    }
    needs
}

fn complain_twice(draft: &mut Draft<'_, '_, '_>, id: &At<Label>) {
    let message = format!("there are two of `{}`", id.value.0);
    draft.reader.error(DUPLICATE_ID, &id.span, message, "give this one another id");
}

fn take_need(draft: &mut Draft<'_, '_, '_>, needs: &mut BTreeMap<String, Need>, id: &At<Label>, need: Need) {
    if needs.insert(id.value.0.clone(), need).is_some() {
        complain_twice(draft, id);
    }
}

fn lower_supply(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, supply: &raw::ControlSupply) -> Need {
    let (from, to) = draft.named_ends(id, common, &supply.from, &supply.to);
    let volts = supply.volts.as_ref().map_or(draft.leg_volts(), |volts| ***volts);
    draft.way(id, "supply", (from, to), steady(volts * volts / **supply.watts, 0.2));
    Need::Volts { from, to, at_least: **supply.at_least_volts }
}

fn lower_sense(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, sense: &raw::Sense) -> Need {
    let (from, to) = draft.named_ends(id, common, &sense.from, &sense.to);
    let open_volts = sense.open_volts.as_ref().map_or(5.0, |volts| ***volts);
    let reference_ohms = **sense.reference_ohms;
    let (low_ohms, high_ohms) = (**sense.low_ohms, **sense.high_ohms);
    if low_ohms >= high_ohms {
        let message = format!("`low_ohms` of `{}` is not below its `high_ohms`", sense.id.value.0);
        draft.reader.error(BACKWARD, &sense.low_ohms.span, message, "give the lower one first");
    }
    let law =
        Law::Source { volts: open_volts, degrees: 0.0, series_ohms: reference_ohms, tolerance: REFERENCE_TOLERANCE };
    let source = draft.way(id, &sense.id, (from, to), law);
    let word = |code: &Option<At<Label>>| code.as_ref().map(|code| code.value.0.clone());
    let (code, code_low) = (word(&sense.code), word(&sense.code_low));
    Need::Sense { source, open_volts, reference_ohms, low_ohms, high_ohms, code, code_low }
}

fn lower_output(
    draft: &mut Draft<'_, '_, '_>,
    id: PartId,
    common: &Common,
    output: &raw::Output,
    supply: &Need,
    known: &BTreeMap<String, Need>,
    faults: &mut Vec<(String, Usual, Effect)>,
) -> FlagId {
    let ends = draft.named_ends(id, common, &output.from, &output.to);
    let requested_in = output.requested_in.iter().filter_map(|state| draft.state(state)).collect();
    let mut needs = vec![supply.clone()];
    needs.extend(named(draft, output.needs.iter().flatten(), known));
    let key = &output.id.value.0;
    let flag = draft.flag(id, key, FlagRule::Output { requested_in, needs });
    let ohms = output.ohms.as_ref().map_or(CONTACT_OHMS, |ohms| ***ohms);
    let law = Law::Contact { rule: Rule::Flag { flag, inverted: false }, ohms };
    let branch = draft.way(id, key, ends, law);
    faults.push((key.clone(), OUTPUT_OPEN, Effect::Open(branch)));
    faults.push((key.clone(), OUTPUT_WELDED, Effect::Ohms(branch, ohms)));
    flag
}
