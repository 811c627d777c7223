//! Fitting: evidence against a board, agreement, the part at hand, the way in, a photo, the change itself.

use crate::ask::{About, Answer, Ask, Choice, PHOTO, Sort, Wants};
use crate::session::{Next, Session};
use crate::stages::{agree, arrive, board, route};
use book::Stage;
use danger::StepRequest;
use machine::faults::RepairKind;
use machine::model::{PartId, PartKind, PlaceId, RepairId, TerminalId};

/// Says what this repair asks next.
pub(crate) fn next(s: &Session<'_, '_>, repair: RepairId) -> Option<Next> {
    let chosen = &s.machine()[repair];
    if let Some(next) = board::next(s, repair).or_else(|| agree::next(s, repair)).or_else(|| van(s, repair)) {
        return Some(next);
    }
    if switches_on(s, repair) {
        return Next::ask(change(s, repair));
    }
    let parts = parts_of(s, repair);
    let places: Vec<PlaceId> = parts.iter().map(|&part| s.machine()[part].place).collect();
    let why = format!("to {}", chosen.say);
    None.or_else(|| route::refit(s, Stage::Repair))
        .or_else(|| route::isolate(s, Stage::Repair))
        .or_else(|| route::covers(s, &places, Stage::Repair, &why))
        .or_else(|| route::dead(s, &terminals(s, &parts), Stage::Repair))
        .or_else(|| photo(s, repair))
        .or_else(|| Next::ask(change(s, repair)))
}

/// Plugging in and resetting a breaker is switching on.
fn switches_on(s: &Session<'_, '_>, repair: RepairId) -> bool {
    let chosen = &s.machine()[repair];
    chosen.kind == RepairKind::Clean && matches!(s.machine()[chosen.part].kind, PartKind::Breaker | PartKind::Cord)
}

/// The parts that a repair is done to.
pub(crate) fn parts_of(s: &Session<'_, '_>, repair: RepairId) -> Vec<PartId> {
    let chosen = &s.machine()[repair];
    std::iter::once(chosen.part).chain(chosen.together.iter().copied()).collect()
}

/// What hands come to: the parts' own terminals, or where they have none those of their place.
fn terminals(s: &Session<'_, '_>, parts: &[PartId]) -> Vec<TerminalId> {
    let mut all: Vec<TerminalId> =
        parts.iter().flat_map(|&part| crate::now::part_terminals(s.machine(), part)).collect();
    for &part in parts.iter().filter(|&&part| crate::now::part_terminals(s.machine(), part).is_empty()) {
        let place = s.machine()[part].place;
        let ids = (0..s.machine().terminals.len()).filter_map(|at| u16::try_from(at).ok()).map(TerminalId);
        all.extend(ids.filter(|&at| s.machine()[at].place == place && !s.machine()[at].hidden));
    }
    all.sort_unstable();
    all.dedup();
    if all.is_empty() { all } else { route::work_terminals(s, &all) }
}

fn van(s: &Session<'_, '_>, repair: RepairId) -> Option<Next> {
    let chosen = &s.machine()[repair];
    let settled =
        s.now.did("fit/van") || s.settings.van.holds(s.machine(), chosen) || chosen.kind != RepairKind::Replace;
    if settled || s.now.calls > 1 {
        return None;
    }
    let counted = s.settings.van.counted(s.machine(), chosen);
    let missing = if counted { "none was left on the van" } else { "it is not stocked as a rule" };
    let say = format!("The {}: {missing}. Is it on the van?", s.machine()[chosen.part].name);
    let choices = vec![Choice::new("yes", "it is here"), Choice::new("no", "order it and come back")];
    Next::ask(Ask::new(About::Line("fit/van".to_owned()), Stage::Agree, say, Wants::Choice(choices)))
}

fn photo(s: &Session<'_, '_>, repair: RepairId) -> Option<Next> {
    let chosen = &s.machine()[repair];
    let wired = !crate::now::part_terminals(s.machine(), chosen.part).is_empty();
    if wired { before_lifting(s, Stage::Repair) } else { None }
}

/// Asks for a photo of the wiring, once a visit.
pub(crate) fn before_lifting(s: &Session<'_, '_>, stage: Stage) -> Option<Next> {
    if s.now.did(PHOTO) {
        return None;
    }
    Next::ask(arrive::line(PHOTO, stage, "Take a photo of the wiring before the first lead lifts."))
}

fn change(s: &Session<'_, '_>, repair: RepairId) -> Ask {
    let chosen = &s.machine()[repair];
    let permit = match s.permit(StepRequest::Repair(repair)) {
        Ok(permit) => permit,
        Err(refusal) => return route::blocked(s, &refusal, Stage::Repair),
    };
    let say = format!("{}.", super::intake::capital(&chosen.say));
    let leads: Vec<String> = parts_of(s, repair)
        .into_iter()
        .flat_map(|part| s.machine()[part].terminals.clone())
        .flat_map(|at| s.machine().leads_at(at).into_iter().map(move |lead| (at, lead)))
        .map(|(at, lead)| format!("{} on {}", s.machine()[lead].name, s.machine()[at].name))
        .collect();
    let ask = Ask::new(About::Change(repair), Stage::Repair, say, Wants::Done)
        .on_enter(Answer::Done)
        .caution(permit.cautions().iter().copied());
    let replaced = chosen.kind == RepairKind::Replace;
    let ask = if replaced && !leads.is_empty() {
        ask.line(Sort::Do, format!("leads go back where they were: {}", leads.join(", ")))
    } else {
        ask
    };
    if replaced { ask.line(Sort::Do, "pull each terminal by hand: it must not move") } else { ask }
}
