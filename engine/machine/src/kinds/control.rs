//! Electronic controls: declared black boxes with needs and outputs. What is inside is not described.

use super::contacts::CONTACT_OHMS;
use super::passive::steady;
use crate::diagnostic::{BACKWARD, DUPLICATE_ID};
use crate::faults::Effect;
use crate::lower::{ControlNeeds, Draft, Usual};
use crate::model::{FlagId, FlagRule, Law, Need, PartId, Rule, StateId};
use crate::raw::{self, Common};
use crate::reader::{At, Label};
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
    let all = (0..draft.file.state.len()).map(|state| StateId(u16::try_from(state).unwrap_or(u16::MAX))).collect();
    let rule = FlagRule::Output { requested_in: all, needs: vec![supply.clone()] };
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
    draft.controls.insert(id, ControlNeeds { supply, senses, alive, display });
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
    for name in output.needs.iter().flatten() {
        match known.get(&name.value) {
            Some(need) => needs.push(need.clone()),
            None => draft.reader.unknown_name("input or sense", name, known.keys().map(String::as_str)),
        }
    }
    let key = &output.id.value.0;
    let flag = draft.flag(id, key, FlagRule::Output { requested_in, needs });
    let ohms = output.ohms.as_ref().map_or(CONTACT_OHMS, |ohms| ***ohms);
    let law = Law::Contact { rule: Rule::Flag { flag, inverted: false }, ohms };
    let branch = draft.way(id, key, ends, law);
    faults.push((key.clone(), OUTPUT_OPEN, Effect::Open(branch)));
    faults.push((key.clone(), OUTPUT_WELDED, Effect::Ohms(branch, ohms)));
    flag
}
