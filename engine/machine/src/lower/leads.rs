//! Leads: each a part, one branch, its own mend class.

use super::copper::lead_ohms;
use super::{Draft, Usual};
use crate::diagnostic::{LEAD_OUTSIDE, LEAD_TO_ITSELF, OUT_OF_RANGE, TOO_BIG, UNUSED_TERMINAL};
use crate::faults::Effect;
use crate::model::{BranchId, Law, Part, PartId, PartKind, PlaceId, Resistance, TerminalId};
use crate::raw;
use crate::reader::Text;

// Weights and chances: common practice, no source.
const OPEN: Usual = Usual::new("open", 0.4, "broken or off its terminal").seen(0.4);
const BURNT: Usual = Usual::new("burnt", 0.4, "burnt at one end").seen(0.8).dangerous();

/// Ohms of a burnt end: common practice, no source.
const BURNT_OHMS: f64 = 3.0;
/// Thinnest gauge that carries enough current to burn its joint.
const BURNS_UP_TO_AWG: u16 = 12;
/// Ohms of a lead too short to count.
const LEAST_OHMS: f64 = 1e-4;
/// Leads of a file.
const MOST_LEADS: usize = 800;

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) {
    let file = draft.file;
    if let Some(extra) = file.lead.get(MOST_LEADS) {
        let message = format!("more than {MOST_LEADS} leads are described");
        draft.reader.error(TOO_BIG, &extra.id.span, message, "describe one machine in a file");
    }
    let mut resolved = !draft.reader.has_broken();
    let mut used = vec![false; draft.terminals.len()];
    for lead in file.lead.iter().take(MOST_LEADS) {
        let ends = [end_of(draft, &lead.from), end_of(draft, &lead.to)];
        resolved &= ends.iter().all(Option::is_some);
        for end in ends.into_iter().flatten() {
            if let Some(flag) = used.get_mut(end.index()) {
                *flag = true;
            }
        }
        lower_one(draft, lead, ends);
    }
    // A lead that could not be placed is complained about already; what it leaves loose is no second mistake.
    if resolved {
        warn_unused(draft, &used);
    }
    draft.leads_resolved = resolved;
}

/// Looks one end up; a lead of the machine ends on the block or behind it.
fn end_of(draft: &mut Draft<'_, '_, '_>, name: &Text) -> Option<TerminalId> {
    let id = draft.terminal(name)?;
    let part = draft.terminals.get(id.index())?.part;
    let outside = draft.parts.get(part.index()).is_some_and(|part| part.installation && part.id != "block");
    let owner = name.split('.').next().unwrap_or("");
    if outside && !draft.reader.is_broken(owner) {
        let message = format!("a lead of the machine cannot end on `{}`", name.value);
        draft.reader.error(LEAD_OUTSIDE, &name.span, message, "take it to the terminal block, such as `block.L1`");
    }
    Some(id)
}

fn lower_one(draft: &mut Draft<'_, '_, '_>, raw: &raw::Lead, ends: [Option<TerminalId>; 2]) {
    let itself = raw.from.value == raw.to.value;
    if itself {
        let message = format!("lead `{}` is wired to itself", raw.id.value.0);
        draft.reader.error(LEAD_TO_ITSELF, &raw.to.span, message, "name the terminal at its other end");
    }
    let place = match (&raw.place, ends[0]) {
        (Some(place), _) => draft.place(place),
        (None, Some(from)) => draft.terminals.get(from.index()).map_or(PlaceId(0), |terminal| terminal.place),
        (None, None) => PlaceId(0),
    };
    let id = draft.add_part(
        Part {
            id: raw.id.value.0.clone(),
            kind: PartKind::Lead,
            name: name_of(draft, raw, ends),
            terminals: ends.into_iter().flatten().collect(),
            positions: Vec::new(),
            driven_by: Vec::new(),
            lit_by: None,
            rated: None,
            note: None,
            color: raw.color.as_ref().map(|color| color.value.clone()),
            place,
            installation: false,
            line: u32::try_from(draft.reader.line(raw.id.span.start)).unwrap_or(u32::MAX),
        },
        &raw.id.span,
    );
    let [Some(from), Some(to)] = ends else { return };
    let awg = raw.awg.as_ref().map_or(16, |awg| awg.value.0);
    let ohms = lead_ohms(awg, raw.metres.as_ref().map_or(0.6, |metres| ***metres));
    if let Some(gauge) = raw.awg.as_ref().filter(|_| ohms.is_none()) {
        draft.reader.error(OUT_OF_RANGE, &gauge.span, format!("`awg` cannot be {awg}"), "write a gauge from 0 to 40");
    }
    let ohms = ohms.unwrap_or(LEAST_OHMS).max(LEAST_OHMS);
    let law = Law::Resistance(Resistance { cold_ohms: ohms, hot_ohms: ohms, tolerance: 0.3 });
    let branch = draft.way(id, "", (from, to), law);
    add_faults(draft, id, branch, awg, raw.weight.as_ref().map_or(1.0, |weight| ***weight));
}

fn add_faults(draft: &mut Draft<'_, '_, '_>, id: PartId, branch: BranchId, awg: u16, scale: f64) {
    let open = Usual { weight: OPEN.weight * scale, ..OPEN };
    draft.usual(id, &open, vec![Effect::Open(branch)]);
    if awg <= BURNS_UP_TO_AWG {
        let burnt = Usual { weight: BURNT.weight * scale, ..BURNT };
        draft.usual(id, &burnt, vec![Effect::Ohms(branch, BURNT_OHMS)]);
    }
}

/// Says a lead as a person would: `red lead from timer H to cycling thermostat 1`.
fn name_of(draft: &Draft<'_, '_, '_>, raw: &raw::Lead, ends: [Option<TerminalId>; 2]) -> String {
    let color = raw.color.as_ref().map_or_else(String::new, |color| format!("{} ", color.value));
    let [from, to] = ends.map(|end| end.map_or_else(|| "?".to_owned(), |end| draft.say_terminal(end)));
    format!("{color}lead from {from} to {to}")
}

/// Warns of terminals of the machine's own parts on which no lead ends.
fn warn_unused(draft: &mut Draft<'_, '_, '_>, used: &[bool]) {
    for (terminal, used) in draft.terminals.iter().zip(used) {
        let installed = draft.parts.get(terminal.part.index()).is_none_or(|part| part.installation);
        if *used || terminal.hidden || installed {
            continue;
        }
        let span = draft.part_spans.get(terminal.part.index()).cloned().unwrap_or(0..0);
        let message = format!("no lead ends on `{}`", terminal.name);
        draft.reader.warn(UNUSED_TERMINAL, &span, message, "add the lead, or leave the terminal out");
    }
}
