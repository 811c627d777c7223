//! From how the machine stands to how a step needs it: isolated, open, proved dead, closed, switched on. One thing done
//! by hand at a time, each permitted by the gate. Chooses no steps.

use crate::ask::{About, Answer, Ask, Sort, Wants};
use crate::session::{Next, Said, Session};
use book::{Isolated, MadeSafe, Role, Stage};
use danger::{
    DeadFact, DeadRecord, Feed, Isolator, Refusal, StepRequest, Store, WhyNot, WorkPoint, energy_sources, judge_dead,
};
use machine::model::{Conductor, CoverId, PartKind, PlaceId, TerminalId};
use quantity::{Unit, show, show_range};
use repair::supply_check;
use teardown::{Act, must_close_to_run, plan_teardown, way_back};

/// Says what parts this machine from its feed now.
pub(crate) fn isolator(s: &Session<'_, '_>) -> Isolator {
    let wet = s.situation().wet;
    match &s.machine().supply.receptacle {
        Some(_) if !wet && slots_reached(s, None) => Isolator::Plug,
        Some(_) => Isolator::Breaker,
        None => Isolator::Disconnect,
    }
}

/// The way to the first proof of deadness is a stage of its own.
fn safe(s: &Session<'_, '_>, stage: Stage) -> Stage {
    if stage == Stage::Find && !s.now.was_made_safe { Stage::MakeSafe } else { stage }
}

/// Isolates and secures.
pub(crate) fn isolate(s: &Session<'_, '_>, stage: Stage) -> Option<Next> {
    let stage = safe(s, stage);
    if s.now.energy.isolated_and_secured() {
        return None;
    }
    let plugged = s.machine().supply.receptacle.is_some() && !s.situation().wet;
    let cover = slot_covers(s).first().copied().filter(|_| plugged);
    if let Some(ask) = cover.and_then(|cover| open_ask(s, cover, stage)) {
        return Next::ask(ask.line(Sort::Why, "to get at the plug"));
    }
    let by = isolator(s);
    let (say, lines): (&str, &[&str]) = match by {
        Isolator::Plug => (
            "Pull the plug.",
            &[
                "switch it off at its own control first",
                "see its bare pins",
                "lay it where you see it while you work, tag it",
            ],
        ),
        Isolator::Disconnect => (
            "Switch the disconnect off, lock and tag it.",
            &["switch it off at its own control first", "see the open blades where a window lets you"],
        ),
        Isolator::Breaker => (
            "Switch the breaker off, lock and tag it, tell the household.",
            &["switch it off at its own control first", "try to start it: nothing may run"],
        ),
    };
    let permit = s.permit(StepRequest::Isolate(by));
    let mut ask =
        Ask::new(About::Isolate, stage, say, Wants::Done).on_enter(Answer::Done).lines(Sort::Do, lines.iter().copied());
    if !s.now.did("isolate") {
        let others = energy_sources(s.machine())
            .into_iter()
            .filter(|source| !matches!(source.kind, danger::EnergyKind::Feed | danger::EnergyKind::Charge(_)));
        ask = ask.lines(Sort::Do, others.map(|source| format!("{}; proof: {}", source.isolator, source.proof)));
    }
    Next::ask(ask.caution(permit.map(|p| p.cautions().to_vec()).unwrap_or_default()))
}

/// Covers before the slots of the supply.
fn slot_covers(s: &Session<'_, '_>) -> Vec<CoverId> {
    let places: Vec<PlaceId> = s.machine().supply.slots.iter().map(|(_, slot)| s.machine()[*slot].place).collect();
    plan_teardown(&s.machine().access, &places, &s.now.open()).map(|plan| plan.opens()).unwrap_or_default()
}

/// Says whether the slots of the supply can be reached, once this cover is on again.
pub(crate) fn slots_reached(s: &Session<'_, '_>, without: Option<CoverId>) -> bool {
    let mut open = s.now.open();
    if let Some(cover) = without {
        open.closed(cover);
    }
    s.machine()
        .supply
        .slots
        .iter()
        .all(|(_, slot)| teardown::exposed(&s.machine().access, s.machine()[*slot].place, &open))
}

/// Opens what hides these places.
pub(crate) fn covers(s: &Session<'_, '_>, places: &[PlaceId], stage: Stage, why: &str) -> Option<Next> {
    let stage = safe(s, stage);
    let plan = plan_teardown(&s.machine().access, places, &s.now.open()).ok()?;
    let cover = plan.opens().first().copied()?;
    match open_ask(s, cover, stage) {
        Some(ask) => Next::ask(ask.line(Sort::Why, why)),
        None => isolate(s, stage).or_else(|| Next::ask(blocked(s, &Refusal::CoverHeld(cover), stage))),
    }
}

fn open_ask(s: &Session<'_, '_>, cover: CoverId, stage: Stage) -> Option<Ask> {
    let permit = s.permit(StepRequest::OpenCover(cover)).ok()?;
    let step = s.machine().access.steps.get(cover.index())?;
    let count = step.fasteners.iter().map(|fastener| fastener.count).sum();
    let say = format!("{}.", super::intake::capital(&step.say));
    let mut ask = Ask::new(About::Open(cover), stage, say, Wants::Count(count))
        .on_enter(Answer::Count { count, short: false })
        .lines(Sort::Do, step.fasteners.iter().map(|f| format!("{} x {}, {}", f.count, f.what, f.tool)))
        .caution(permit.cautions().iter().copied());
    if let Some(last) = &step.keep_for_last {
        ask = ask.line(Sort::Do, last.clone());
    }
    if step.people > 1 {
        ask = ask.line(Sort::Notice, format!("takes {} people", step.people));
    }
    Some(ask)
}

/// Puts one cover back.
pub(crate) fn close(s: &Session<'_, '_>, cover: CoverId, stage: Stage) -> Option<Next> {
    let permit = match s.permit(StepRequest::CloseCover(cover)) {
        Ok(permit) => permit,
        Err(refusal) => return isolate(s, stage).or_else(|| Next::ask(blocked(s, &refusal, stage))),
    };
    let access = &s.machine().access;
    let out = s.now.opened.iter().find(|(id, _)| *id == cover).map_or(0, |(_, out)| *out);
    let steps = way_back(access, &[cover]);
    let closing = steps.iter().find(|step| matches!(step.act, Act::Close(_)))?;
    let say = format!("{}.", super::intake::capital(&closing.say));
    let before = steps.iter().filter(|step| matches!(step.act, Act::OnlyBack(_))).map(|step| step.say.clone());
    let fasteners = closing.fasteners.iter().map(|f| format!("{} x {}, {}", f.count, f.what, f.tool));
    let ask = Ask::new(About::Close(cover), stage, say, Wants::Count(out))
        .on_enter(Answer::Count { count: out, short: false })
        .lines(Sort::Do, before)
        .lines(Sort::Do, fasteners)
        .caution(permit.cautions().iter().copied());
    Next::ask(ask)
}

/// Closes what must be closed to run, or with `all` everything; the receptacle's side last and with the plug in.
pub(crate) fn close_up(s: &Session<'_, '_>, all: bool, power: bool, stage: Stage) -> Option<Next> {
    if let Some(refit) = refit(s, stage) {
        return Some(refit);
    }
    let must = must_close_to_run(&s.machine().access, &s.now.open());
    let cover = if all { s.now.opened.last().map(|(cover, _)| *cover) } else { must.first().copied() }?;
    let hides_plug = s.machine().supply.receptacle.is_some() && !slots_reached(s, Some(cover));
    if all && power && hides_plug && s.now.energy.feed() != Feed::On {
        return energise(s, "to run it", stage);
    }
    close(s, cover, stage)
}

/// Puts lifted leads back.
pub(crate) fn refit(s: &Session<'_, '_>, stage: Stage) -> Option<Next> {
    if s.now.lifted.is_empty() {
        return None;
    }
    let machine = s.machine();
    let leads = s.now.lifted.iter().map(|(at, lead)| format!("{} on {}", machine[*lead].name, machine[*at].name));
    let say = format!("Put back: {}.", leads.collect::<Vec<_>>().join(", "));
    Next::ask(Ask::new(About::Refit, stage, say, Wants::Done).on_enter(Answer::Done))
}

/// Switches on for a run: closed, everyone clear.
pub(crate) fn switch_on(s: &Session<'_, '_>, why: &str, stage: Stage) -> Option<Next> {
    if s.now.energy.feed() == Feed::On {
        return None;
    }
    close_up(s, false, true, stage).or_else(|| energise(s, why, stage))
}

/// Switches on.
pub(crate) fn energise(s: &Session<'_, '_>, why: &str, stage: Stage) -> Option<Next> {
    if s.now.energy.feed() == Feed::On {
        return None;
    }
    let standing_clear = !must_close_to_run(&s.machine().access, &s.now.open()).is_empty();
    let permit = match s.permit(StepRequest::Energise { standing_clear }) {
        Ok(permit) => permit,
        Err(refusal) => return Next::ask(blocked(s, &refusal, stage)),
    };
    let say = match s.machine().supply.receptacle {
        Some(_) => "Tell everyone, stand clear, plug it in.",
        None => "Tell everyone, stand clear, switch the disconnect on.",
    };
    let ask = Ask::new(About::Energise { why: why.to_owned() }, stage, say, Wants::Done).on_enter(Answer::Done);
    let ask = ask.line(Sort::Do, "see that nobody else is at the machine").caution(permit.cautions().iter().copied());
    Next::ask(ask.line(Sort::Why, why))
}

/// The line that leaves out what the gate does not let pass.
pub(crate) const SET_ASIDE: &str = "set-aside";

/// Says that the gate does not let this pass, and gives the way out.
pub(crate) fn blocked(s: &Session<'_, '_>, refusal: &Refusal, stage: Stage) -> Ask {
    let words = refusal.say(s.machine());
    match refusal {
        Refusal::DangerousHazard(_) => {
            let say = "A dangerous fault is open and not mended: disconnect it and tag it.";
            let permit = s.permit(StepRequest::Disconnect);
            let ask = super::arrive::line("disconnect", stage, say).line(Sort::Notice, words);
            ask.caution(permit.map(|p| p.cautions().to_vec()).unwrap_or_default())
        }
        Refusal::Wet => {
            super::arrive::line("dried", stage, "Dry it up: floor, machine, hands.").line(Sort::Notice, words)
        }
        _ => {
            let say = format!("This cannot be done as it stands: {words}. Leave it out, or stop.");
            super::arrive::line(SET_ASIDE, stage, say).with_own_way()
        }
    }
}

/// Proves these terminals dead, each to every other, the frame and a proven earth.
pub(crate) fn dead(s: &Session<'_, '_>, terminals: &[TerminalId], stage: Stage) -> Option<Next> {
    let (machine, stage) = (s.machine(), safe(s, stage));
    let work = WorkPoint::at(machine, terminals);
    let all: Vec<TerminalId> = work.terminals().collect();
    let holds = s.now.dead.iter().any(|proof| proof.holds(machine, &s.now.energy) && proof.covers(&all));
    if terminals.is_empty() || holds {
        return None;
    }
    let places: Vec<PlaceId> = all.iter().map(|&at| machine[at].place).collect();
    if let Some(open) = covers(s, &places, stage, "to prove it dead, the frame with it") {
        return Some(open);
    }
    if let Some(store) = charged(s, &work) {
        return Next::ask(discharge(s, store, stage));
    }
    let measured = s.now.work.as_ref() == Some(&work);
    let meter = s.now.record.iter().any(|fact| matches!(fact, DeadFact::Meter(_)));
    if !measured && !meter {
        return Next::ask(known_source(s, stage, "Prove the meter on a live source"));
    }
    if !s.now.record.iter().any(|fact| matches!(fact, DeadFact::Earth(_))) {
        return Next::ask(earth(s, stage));
    }
    if !measured {
        return Next::ask(dead_test(s, all, stage));
    }
    match s.now.dead_proof(machine) {
        Ok(_) => Next::due(Said::call(made_safe(s))),
        Err(why) if why == [WhyNot::MeterNotProvedAfter] => {
            Next::ask(known_source(s, stage, "Prove the meter on the live source again"))
        }
        Err(why) => {
            let lacking = why.iter().take(3).map(|why| why.say(machine));
            Next::ask(dead_test(s, all, stage).lines(Sort::Notice, lacking))
        }
    }
}

fn charged(s: &Session<'_, '_>, work: &WorkPoint) -> Option<Store> {
    let record = DeadRecord { work: work.clone(), epoch: s.now.energy.epoch(), facts: Vec::new() };
    let why = judge_dead(s.machine(), &s.now.energy, &record).err().unwrap_or_default();
    let stores = why.into_iter().filter_map(|why| if let WhyNot::Charged(store) = why { Some(store) } else { None });
    stores.into_iter().find(|&store| s.permit(StepRequest::Discharge(store)).is_ok())
}

fn discharge(s: &Session<'_, '_>, store: Store, stage: Stage) -> Ask {
    let say = format!("Discharge {} through 20 kohm, then measure DC volts across it.", store.say(s.machine()));
    let cautions = s.permit(StepRequest::Discharge(store)).map(|p| p.cautions().to_vec()).unwrap_or_default();
    Ask::new(About::Discharge(store), stage, say, Wants::Reading(Unit::Volt))
        .line(Sort::Expect, format!("under {}", show(danger::DEAD_LIMIT_VOLTS, Unit::Volt)))
        .caution(cautions)
}

/// The legs at the slots, where they showed what they must.
fn live_slots(s: &Session<'_, '_>) -> Option<(TerminalId, TerminalId, f64)> {
    let slots = &s.machine().supply.slots;
    let leg = slots.iter().filter(|(of, _)| matches!(of, Conductor::Leg1 | Conductor::Leg2));
    let mut legs: Vec<(Conductor, TerminalId)> = leg.copied().collect();
    legs.extend(slots.iter().find(|(of, _)| *of == Conductor::Neutral).copied());
    let &[(first, a), (second, b), ..] = legs.as_slice() else { return None };
    let expected = supply_check::nominal(s.machine(), Some(first), Some(second))?;
    let shown = s.now.taken.iter().rev().find(|taken| {
        taken.kept.instrument.function == crate::now::function::SUPPLY
            && taken.reading.probe == prediction::Probe::Across(a, b)
    })?;
    match shown.measured {
        diagnosis::Measured::Value(volts) if (volts - expected).abs() <= 0.1 * expected => Some((a, b, expected)),
        _ => None,
    }
}

fn known_source(s: &Session<'_, '_>, stage: Stage, say: &str) -> Ask {
    let machine = s.machine();
    let (at, expected, place) = match live_slots(s) {
        Some((a, b, expected)) => (Some((a, b)), expected, format!("{} to {}", machine[a].name, machine[b].name)),
        None => (None, 120.0, "another receptacle that is known to be live, or a proving unit".to_owned()),
    };
    let cautions = s.permit(StepRequest::ProveMeter).map(|p| p.cautions().to_vec()).unwrap_or_default();
    Ask::new(About::KnownSource { at, expected }, stage, format!("{say}: {place}."), Wants::Reading(Unit::Volt))
        .line(Sort::Expect, show_range(0.9 * expected, 1.1 * expected, Unit::Volt))
        .caution(cautions)
}

fn earth(s: &Session<'_, '_>, stage: Stage) -> Ask {
    let say = "Prove the earth you will measure to: a live leg against it, at this receptacle or another.";
    let leg = supply_check::nominal(s.machine(), Some(Conductor::Leg1), Some(Conductor::Neutral)).unwrap_or(120.0);
    let cautions = s.permit(StepRequest::ProveMeter).map(|p| p.cautions().to_vec()).unwrap_or_default();
    Ask::new(About::Earth, stage, say, Wants::Reading(Unit::Volt))
        .line(Sort::Expect, show_range(0.9 * leg, 1.1 * leg, Unit::Volt))
        .caution(cautions)
}

fn dead_test(s: &Session<'_, '_>, all: Vec<TerminalId>, stage: Stage) -> Ask {
    let machine = s.machine();
    let names: Vec<String> = all.iter().map(|&at| diagnosis::words::terminal(machine, at)).collect();
    let first = danger::required_measurements(&WorkPoint::at(machine, &all)).first().copied();
    let permit = first.and_then(|pair| s.permit(StepRequest::ProveDead(pair)).ok());
    let say = "Prove it dead: measure every one of these to every other and to the proven earth. Type the highest.";
    let ask = Ask::new(About::DeadTest(all), stage, say, Wants::Reading(Unit::Volt))
        .line(Sort::Plain, names.join(", "))
        .line(Sort::Expect, format!("under {}", show(danger::DEAD_LIMIT_VOLTS, Unit::Volt)));
    match permit {
        Some(permit) => ask.lines(Sort::Do, permit.order().iter().copied()).caution(permit.cautions().iter().copied()),
        None => ask,
    }
}

fn made_safe(s: &Session<'_, '_>) -> MadeSafe {
    let how = match s.now.said("isolate") {
        Some("plug") => ("plug pulled", "plug in sight"),
        Some("disconnect") => ("disconnect off", "locked and tagged"),
        _ => ("breaker off", "locked and tagged"),
    };
    let isolated = Isolated {
        source: "mains".to_owned(),
        how: how.0.to_owned(),
        secured: Some(how.1.to_owned()),
        could_restore: Some(Role::Occupant),
    };
    let kept = &s.now.kept_proofs;
    let is_dead = |reading: &&book::Reading| reading.instrument.function == crate::now::function::DEAD;
    let first = kept.iter().position(|reading| is_dead(&reading)).unwrap_or(kept.len());
    MadeSafe {
        isolated: vec![isolated],
        meter_proved_before: kept.iter().take(first).next_back().cloned(),
        dead: kept.iter().filter(is_dead).cloned().collect(),
        meter_proved_after: kept.iter().skip(first).rfind(|reading| !is_dead(reading)).cloned(),
    }
}

/// Gives the terminals to prove dead for a step that touches these: all of their places while they are few.
pub(crate) fn work_terminals(s: &Session<'_, '_>, touched: &[TerminalId]) -> Vec<TerminalId> {
    let machine = s.machine();
    let places: std::collections::BTreeSet<PlaceId> = touched.iter().map(|&at| machine[at].place).collect();
    let house = |at: TerminalId| {
        matches!(machine[machine[at].part].kind, PartKind::House | PartKind::Breaker | PartKind::Receptacle)
    };
    let ids = (0..machine.terminals.len()).filter_map(|at| u16::try_from(at).ok()).map(TerminalId);
    let here: Vec<TerminalId> =
        ids.filter(|&at| !machine[at].hidden && places.contains(&machine[at].place) && !house(at)).collect();
    if here.len() <= 20 && touched.iter().all(|at| here.contains(at)) { here } else { touched.to_vec() }
}
