//! Lowers the raw description to the typed machine: names looked up, supply expanded, kinds turned into terminals,
//! branches, flags and faults. Complains about what does not hold together and goes on. Knows no TOML.

mod access;
mod copper;
mod draft;
mod faults;
mod intermittent;
mod leads;
mod observations;
mod parts;
mod proofs;
mod repairs;
mod residual;
mod states;
mod supply;
mod variants;
mod wear;
mod zones;

pub(crate) use draft::{ControlNeeds, Draft, DraftFault, Load, Usual, Way};
pub(crate) use parts::drivers;

use crate::check;
use crate::diagnostic::VERSION;
use crate::model::Machine;
use crate::raw::File;
use crate::reader::Reader;

/// Lowers the whole file; `None` if it is too big for ids. What comes back is sound only if the reader has no errors.
pub(crate) fn lower(reader: &mut Reader<'_>, file: &File) -> Option<Machine> {
    if file.callwright.value.0 != 1 {
        let message = format!("version {} of the format is not known", file.callwright.value.0);
        reader.error(VERSION, &file.callwright.span, message, "write `callwright = 1`");
    }
    let mut draft = Draft::new(reader, file);
    let access = access::lower(&mut draft);
    let supply = supply::lower(&mut draft);
    parts::lower(&mut draft);
    leads::lower(&mut draft);
    let leaks = residual::leaks(&mut draft);
    if draft.too_big {
        return None;
    }
    let states = states::lower(&mut draft);
    let observations = observations::lower(&mut draft);
    let proofs = proofs::lower(&mut draft);
    let faults = faults::lower(&mut draft);
    let (faults, repairs) = repairs::lower(&mut draft, faults);
    let zones = zones::lower(&mut draft);
    let variants = variants::lower(&mut draft, &faults);
    let settled = vec![None; variants.len()];
    let (builds, builds_left_out) = crate::builds::builds(&variants, &settled);
    let head = &file.machine;
    let machine = Machine {
        id: head.id.0.clone(),
        kind: head.kind.value.clone(),
        title: head.title.value.clone(),
        based_on: file.based_on.as_ref().map(|based_on| based_on.machine.0.clone()),
        note: head.note.as_ref().map(|note| note.value.clone()),
        plate_volts: **file.plate.volts,
        plate_watts: **file.plate.watts,
        hertz: draft.hertz(),
        supply,
        parts: std::mem::take(&mut draft.parts),
        terminals: std::mem::take(&mut draft.terminals),
        branches: std::mem::take(&mut draft.branches),
        leaks,
        flags: std::mem::take(&mut draft.flags),
        zones,
        states,
        observations,
        faults,
        repairs,
        access,
        proofs,
        variants,
        settled,
        builds,
        builds_left_out,
        currency: head.currency.as_ref().map_or_else(|| "USD".to_owned(), |c| c.value.clone()),
    };
    let spans = std::mem::take(&mut draft.part_spans);
    if draft.leads_resolved {
        check::shorts(draft.reader, &machine, &spans);
        check::floating(draft.reader, &machine, &spans);
    }
    Some(machine)
}
