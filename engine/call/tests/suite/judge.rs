//! A judge of fact logs, written apart from the session and from the gate: plays the facts on plain sets and lists every
//! step that was not prepared as it must be.

use book::{Body, CallFact, Connection, Decision, Event, HazardAction, JobFact, Parsed, Reading, Signature};
use machine::Machine;
use machine::model::PartKind;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Default)]
struct Bench {
    off: bool,
    /// Sets proved dead since the machine was last on.
    dead: Vec<BTreeSet<String>>,
    /// The sets when it was last switched on.
    dead_before: Vec<BTreeSet<String>>,
    switched_on_for: String,
    covers: BTreeMap<String, u32>,
    lifted: BTreeSet<String>,
    hazards: BTreeMap<String, String>,
    approved: bool,
}

/// Lists everything that was done without what must come first.
pub(crate) fn wrong_steps(machine: &Machine, events: &[Event]) -> Vec<String> {
    let mut bench = Bench::default();
    let mut wrong = Vec::new();
    for event in events {
        match event.body() {
            Body::Job { fact, .. } => job(&mut bench, event, fact, &mut wrong),
            Body::Call { fact, .. } => call(machine, &mut bench, fact, &mut wrong),
            _ => {}
        }
    }
    wrong
}

fn job(bench: &mut Bench, event: &Event, fact: &JobFact, wrong: &mut Vec<String>) {
    match fact {
        JobFact::CallOpened(_) => {
            bench.off = false;
            bench.dead.clear();
        }
        JobFact::QuoteGiven(_) => bench.approved = false,
        JobFact::ApprovalRecorded(approval) => {
            bench.approved = approval.decision == Decision::Approved;
            let named = matches!(approval.signature, Signature::Signed { .. } | Signature::Remote { .. });
            if bench.approved && !named {
                wrong.push("approved without a name".to_owned());
            }
        }
        JobFact::HazardFound(found) if found.dangerous => {
            bench.hazards.insert(event.id().to_string(), found.what.clone());
            if found.action == HazardAction::None && found.told.is_empty() {
                wrong.push(format!("hazard told to nobody: {}", found.what));
            }
        }
        JobFact::HazardCleared(cleared) => {
            bench.hazards.remove(&cleared.hazard.to_string());
        }
        _ => {}
    }
}

fn call(machine: &Machine, bench: &mut Bench, fact: &CallFact, wrong: &mut Vec<String>) {
    match fact {
        CallFact::StepDone(done) if done.step == "isolate" => bench.off = true,
        CallFact::MadeSafe(safe) => {
            if !bench.off
                || safe.meter_proved_before.is_none()
                || safe.meter_proved_after.is_none()
                || safe.dead.is_empty()
            {
                wrong
                    .push("said to be safe without isolation, or without the meter proved before and after".to_owned());
            }
            for reading in &safe.dead {
                let dead = matches!(&reading.parsed, Parsed::Between { high, .. } if high.get() <= 3.0);
                if !dead || !reading.places.iter().any(|place| place.id == "proven earth") {
                    wrong.push(format!("not dead: {}", reading.typed));
                }
                bench.dead.push(reading.places.iter().map(|place| place.id.clone()).collect());
            }
        }
        CallFact::Energised(on) => {
            if !bench.hazards.is_empty() {
                wrong.push(format!("switched on over {:?}", bench.hazards));
            }
            if !bench.lifted.is_empty() {
                wrong.push(format!("switched on with leads off: {:?}", bench.lifted));
            }
            bench.off = false;
            bench.dead_before = std::mem::take(&mut bench.dead);
            bench.switched_on_for = on.why.clone();
        }
        CallFact::ReadingTaken(taken) => reading(machine, bench, &taken.reading, wrong),
        CallFact::LookTaken(look) => looked(machine, bench, &look.look, wrong),
        CallFact::TryTaken(tried) if bench.off => wrong.push(format!("run with the plug out: {}", tried.state)),
        CallFact::CoverOpened(cover) => {
            if !bench.off && hides_wiring(machine, &cover.cover) {
                wrong.push(format!("opened while on: {}", cover.cover));
            }
            bench.covers.insert(cover.cover.clone(), cover.screws_out);
        }
        CallFact::CoverClosed(cover) => {
            bench.covers.remove(&cover.cover);
        }
        CallFact::LeadsLifted(lifted) => {
            for lead in &lifted.leads {
                let (_, at) = lead.id.split_once('@').unwrap();
                covered(bench, &[at], &format!("lead lifted: {}", lead.id), wrong);
                bench.lifted.insert(lead.id.clone());
            }
        }
        CallFact::LeadsRefitted(_) => bench.lifted.clear(),
        CallFact::PartChanged(changed) => changed_part(machine, bench, changed, wrong),
        _ => {}
    }
}

fn covered(bench: &Bench, places: &[&str], what: &str, wrong: &mut Vec<String>) {
    if !bench.off {
        wrong.push(format!("on: {what}"));
    }
    if !bench.dead.iter().any(|set| places.iter().all(|place| set.contains(*place))) {
        wrong.push(format!("not proved dead: {what} at {places:?}"));
    }
}

fn reading(machine: &Machine, bench: &Bench, reading: &Reading, wrong: &mut Vec<String>) {
    let places: Vec<&str> = reading.places.iter().map(|place| place.id.as_str()).collect();
    match reading.instrument.function.as_str() {
        "ohm" => covered(bench, &places, "ohms", wrong),
        "volt_dead_test" | "volt_ac_supply" if !bench.off => wrong.push(format!("on: {places:?}")),
        "volt_ac" => {
            let prepared = bench.dead_before.iter().any(|set| places.iter().all(|place| set.contains(*place)));
            let meant = bench.switched_on_for.contains(&places.join(","));
            if bench.off || !prepared || !meant || reading.connection != Connection::Clip {
                wrong.push(format!("volts without clips put on dead: {places:?}, {}", bench.switched_on_for));
            }
        }
        "amp_ac" => {
            let branch = machine.branch(places[0]).unwrap();
            let cord = machine[machine[branch].part].kind == PartKind::Cord;
            if bench.off || !cord && bench.dead_before.is_empty() || !bench.switched_on_for.contains(places[0]) {
                wrong.push(format!("amperes without the clamp laid dead: {places:?}"));
            }
        }
        _ => {}
    }
}

fn looked(machine: &Machine, bench: &Bench, look: &str, wrong: &mut Vec<String>) {
    let Ok(part) = machine.part(look) else { return };
    let place = &machine.access.places[usize::from(machine[part].place.0)];
    let inside = place.exposed_by.iter().all(|way| !way.is_empty());
    if inside && !bench.off {
        wrong.push(format!("looked inside while on: {look}"));
    }
    let open = place
        .exposed_by
        .iter()
        .any(|way| way.iter().all(|cover| bench.covers.contains_key(&machine.access.steps[usize::from(cover.0)].id)));
    if !open {
        wrong.push(format!("looked at what is hidden: {look}"));
    }
}

fn hides_wiring(machine: &Machine, cover: &str) -> bool {
    let of = machine.access.steps.iter().position(|step| step.id == cover).unwrap();
    let hides = |place: &machine::access::Place| {
        place.exposed_by.iter().any(|way| way.iter().any(|cover| usize::from(cover.0) == of))
    };
    let house = [PartKind::House, PartKind::Breaker, PartKind::Receptacle, PartKind::Cord];
    let wired = machine.terminals.iter().filter(|terminal| !house.contains(&machine[terminal.part].kind));
    let step = &machine.access.steps[of];
    step.hazards.contains(&machine::access::Hazard::Shock)
        || wired.into_iter().any(|terminal| {
            let place = &machine.access.places[usize::from(terminal.place.0)];
            hides(place) && place.exposed_by.iter().any(|way| way.len() == 1 && usize::from(way[0].0) == of)
        })
}

fn changed_part(machine: &Machine, bench: &Bench, changed: &book::PartChanged, wrong: &mut Vec<String>) {
    let part = machine.part(&changed.part).unwrap();
    let switch = matches!(machine[part].kind, PartKind::Breaker | PartKind::Cord) && changed.spare.is_none();
    let costs = changed.price.is_some_and(|price| !price.amount.is_zero());
    if costs && !bench.approved {
        wrong.push(format!("changed without approval: {}", changed.part));
    }
    if switch {
        return;
    }
    if !bench.off {
        wrong.push(format!("changed while on: {}", changed.part));
    }
    let own: Vec<&str> = machine[part]
        .terminals
        .iter()
        .map(|&at| &machine[at])
        .filter(|at| !at.hidden)
        .map(|at| at.name.as_str())
        .collect();
    if !own.is_empty() {
        covered(bench, &own, &format!("changed {}", changed.part), wrong);
    }
}
