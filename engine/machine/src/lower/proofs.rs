//! Proofs with their terminals, conductors and states looked up.

use super::Draft;
use crate::diagnostic::{BACKWARD, CHOOSE_ONE, NO_LIMIT};
use crate::model::{BranchId, Proof, ProofHow};
use crate::raw;
use crate::reader::{At, AtLeast0, Num, Span, Strict, Text};

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) -> Vec<Proof> {
    let file = draft.file;
    let mut ids: Vec<&str> = Vec::new();
    let mut found = Vec::new();
    for raw in file.proof.iter().flatten() {
        if ids.contains(&raw.id.0.as_str()) {
            draft.complain_twice(&raw.id.value.0, &raw.id.span);
        }
        ids.push(&raw.id.0);
        let Some(how) = how(draft, raw) else { continue };
        found.push(Proof {
            id: raw.id.0.clone(),
            say: raw.say.value.clone(),
            how,
            source: raw.source.as_ref().map_or_else(String::new, |source| source.value.clone()),
            deferred_hours: raw.deferred_hours.as_ref().map_or(0.0, |hours| ***hours),
            minutes: raw.minutes.as_ref().map_or(1.0, |minutes| ***minutes),
        });
    }
    found
}

fn how(draft: &mut Draft<'_, '_, '_>, raw: &raw::Proof) -> Option<ProofHow> {
    let look = raw.look.as_ref().is_some_and(|flag| flag.value);
    let given = [raw.ohms.is_some(), raw.volts.is_some(), raw.amps.is_some(), raw.run.is_some(), look];
    if given.iter().filter(|given| **given).count() != 1 {
        let message = format!("proof `{}` must be decided in exactly one way", &**raw.id);
        draft.reader.error(
            CHOOSE_ONE,
            &raw.id.span,
            message,
            "give one of `ohms`, `volts`, `amps`, `run`, `look = true`",
        );
        return None;
    }
    if let Some(Strict(ohms)) = &raw.ohms {
        let (at_least, at_most) = limits(draft, &raw.id.span, ohms.at_least.as_ref(), ohms.at_most.as_ref());
        let insulation_test = ohms.insulation_test.as_ref().is_some_and(|flag| flag.value);
        let (from, to) = (draft.terminal(&ohms.from), draft.terminal(&ohms.to));
        return Some(ProofHow::Ohms { from: from?, to: to?, at_least, at_most, insulation_test });
    }
    if let Some(Strict(volts)) = &raw.volts {
        let (at_least, at_most) = limits(draft, &raw.id.span, volts.at_least.as_ref(), volts.at_most.as_ref());
        let (from, to) = (draft.terminal(&volts.from), draft.terminal(&volts.to));
        let state = draft.state(&volts.state)?;
        return Some(ProofHow::Volts { from: from?, to: to?, state, at_least, at_most });
    }
    if let Some(Strict(amps)) = &raw.amps {
        let branch = conductor(draft, &amps.branch);
        let state = draft.state(&amps.state)?;
        return Some(ProofHow::Amps { branch: branch?, state });
    }
    if let Some(Strict(run)) = &raw.run {
        return draft.state(&run.state).map(|state| ProofHow::Run { state });
    }
    Some(ProofHow::Look)
}

type Limit<'a> = Option<&'a Strict<At<Num<AtLeast0>>>>;

fn limits(draft: &mut Draft<'_, '_, '_>, span: &Span, least: Limit<'_>, most: Limit<'_>) -> (Option<f64>, Option<f64>) {
    let (at_least, at_most) = (least.map(|n| **n.0), most.map(|n| **n.0));
    match (at_least, at_most, least) {
        (None, None, _) => {
            draft.reader.error(NO_LIMIT, span, "this proof has no limit", "give `at_least`, `at_most` or both");
        }
        (Some(low), Some(high), Some(place)) if low > high => {
            draft.reader.error(
                BACKWARD,
                &place.0.span,
                "`at_least` is above `at_most`",
                "give the lower limit as `at_least`",
            );
        }
        _ => {}
    }
    (at_least, at_most)
}

/// Finds the branch that a clamp goes around: a lead, or the cord's conductor at a terminal of the plug or block.
fn conductor(draft: &mut Draft<'_, '_, '_>, name: &Text) -> Option<BranchId> {
    let lead = |draft: &Draft<'_, '_, '_>| {
        let part = draft.part_names.get(name)?;
        draft.branches.iter().position(|branch| branch.part.0 == part && branch.name == name.value)
    };
    let at = match lead(draft) {
        Some(at) => Some(at),
        None => {
            let terminal = draft.terminal(name)?;
            draft.branches.iter().position(|branch| {
                branch.name.starts_with("cord:")
                    && !branch.name.contains("plug")
                    && (branch.from == terminal || branch.to == terminal)
            })
        }
    };
    if at.is_none() {
        draft.reader.unknown_name("conductor", name, ["plug.X", "plug.W"]);
    }
    at.and_then(|at| u16::try_from(at).ok()).map(BranchId)
}
