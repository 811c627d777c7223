//! One step of the plan, from how the machine stands to its answer: readings, looks, runs. Chooses no steps.

use crate::ask::{About, Ask, Choice, Observed, Sort, Wants};
use crate::session::{Next, Session};
use crate::stages::{intake, route};
use crate::steps::id_of_reading;
use book::Stage;
use danger::{Feed, IsolatedReading, Permit, Refusal, StepRequest};
use diagnosis::words;
use machine::model::{BranchId, PartId, PartKind, StateId, TerminalId};
use prediction::{Probe, Quantity, Reading};
use repair::candidates::places;
use repair::{Act, Hands, advise};

/// Brings a reading, look or run about.
pub(crate) fn step(s: &Session<'_, '_>, act: &Act, stage: Stage, own_way: bool) -> Option<Next> {
    match act {
        Act::Read(reading, Hands::Isolated) => isolated(s, reading, act, stage, own_way),
        Act::Read(reading, Hands::Supply) => supply(s, reading, act, stage, own_way),
        Act::Read(reading, Hands::Clipped) => clipped(s, reading, act, stage, own_way),
        Act::Look(part) => look(s, *part, act, stage, own_way),
        Act::Try(state) => run(s, *state, stage, own_way),
        Act::Change(_) | Act::Explain | Act::Refer => None,
    }
}

/// After a clipped reading the machine still runs, so what it does is seen for nothing.
pub(crate) fn seen_running(s: &Session<'_, '_>) -> Option<Next> {
    let (reading, _) = s.now.clips_on.as_ref()?;
    let state = reading.condition.state;
    let unseen = s.now.energy.feed() == Feed::On && s.now.seen_since_change(state).is_none();
    watch(s, state, s.stage(), false).filter(|_| unseen).and_then(Next::ask)
}

/// Takes clips and clamp off after a reading: isolated, and dead again before a hand comes near.
pub(crate) fn clips_off(s: &Session<'_, '_>) -> Option<Next> {
    let (reading, _) = s.now.clips_on.as_ref()?;
    route::isolate(s, s.stage()).or_else(|| route::dead(s, &points(s, reading), s.stage()))
}

/// The terminals that a reading touches.
pub(crate) fn points(s: &Session<'_, '_>, reading: &Reading) -> Vec<TerminalId> {
    match reading.probe {
        Probe::Across(a, b) => vec![a, b],
        Probe::Around(branch) => {
            let branch = &s.machine()[branch];
            [branch.from, branch.to].into_iter().filter(|&at| !s.machine()[at].hidden).collect()
        }
    }
}

/// Brings about what an isolated reading without lifted leads needs: parted, open, proved dead. `None` once it is so.
pub(crate) fn ready_isolated(s: &Session<'_, '_>, reading: &Reading, stage: Stage) -> Option<Next> {
    if !s.now.lifted.is_empty() {
        return route::refit(s, stage);
    }
    let places = places(s.machine(), &Act::Read(reading.clone(), Hands::Isolated));
    let why = format!("for: {}", words::probe(s.machine(), reading.probe));
    route::isolate(s, stage)
        .or_else(|| route::covers(s, &places, stage, &why))
        .or_else(|| route::dead(s, &route::work_terminals(s, &points(s, reading)), stage))
}

fn isolated(s: &Session<'_, '_>, reading: &Reading, act: &Act, stage: Stage, own_way: bool) -> Option<Next> {
    let machine = s.machine();
    let wanted = lifts(s, reading);
    if s.now.lifted.iter().any(|lifted| !wanted.contains(lifted)) {
        return route::refit(s, stage);
    }
    let mut touched = points(s, reading);
    touched.extend(wanted.iter().map(|(at, _)| *at));
    let why = format!("for: {}", words::probe(machine, reading.probe));
    let ready = route::isolate(s, stage)
        .or_else(|| route::covers(s, &places(machine, act), stage, &why))
        .or_else(|| route::dead(s, &route::work_terminals(s, &touched), stage))
        .or_else(|| lift(s, &wanted, stage));
    if ready.is_some() {
        return ready;
    }
    let Probe::Across(from, to) = reading.probe else { return None };
    let how = IsolatedReading::Ohms;
    let permit = s.permit(StepRequest::ReadIsolated { from, to, how });
    let next = read_ask(s, reading, act, permit, stage, own_way)?;
    let inside = reading.condition.lifted.iter().any(|&of| machine[machine[of].part].kind != PartKind::Lead);
    match (next, wanted.first()) {
        (Next::Ask(mut ask), Some((at, lead))) if inside => {
            let say = format!(
                "for {} probe the end of the lifted lead {}",
                words::terminal(machine, *at),
                machine[*lead].name
            );
            ask.lines.push(crate::ask::Line { sort: Sort::Do, say });
            Some(Next::Ask(ask))
        }
        (next, _) => Some(next),
    }
}

/// Gives what is lifted for a reading: each lead at the probe's terminal it is on; for a branch inside a part, such as
/// the source by which a control senses, the leads at the terminal that it feeds.
fn lifts(s: &Session<'_, '_>, reading: &Reading) -> Vec<(TerminalId, BranchId)> {
    let machine = s.machine();
    let of = |&lifted: &BranchId| {
        let branch = &machine[lifted];
        if machine[branch.part].kind == PartKind::Lead {
            let at = if points(s, reading).contains(&branch.to) { branch.to } else { branch.from };
            return vec![(at, lifted)];
        }
        let at = [branch.from, branch.to].into_iter().find(|&at| !machine.leads_at(at).is_empty());
        at.map(|at| machine.leads_at(at).into_iter().map(|lead| (at, lead)).collect()).unwrap_or_default()
    };
    let mut all: Vec<(TerminalId, BranchId)> = reading.condition.lifted.iter().flat_map(of).collect();
    all.sort_unstable();
    all.dedup();
    all
}

fn lift(s: &Session<'_, '_>, wanted: &[(TerminalId, BranchId)], stage: Stage) -> Option<Next> {
    let (at, lead) = *wanted.iter().find(|lift| !s.now.lifted.contains(lift))?;
    if let Some(photo) = super::fit::before_lifting(s, stage) {
        return Some(photo);
    }
    let machine = s.machine();
    let request = StepRequest::LiftLead { lead: machine[lead].part, at };
    let permit = match s.permit(request) {
        Ok(permit) => permit,
        Err(refusal) => return Next::ask(route::blocked(s, &refusal, stage)),
    };
    let color = machine[machine[lead].part].color.as_deref().map_or(String::new(), |color| format!(" ({color})"));
    let say = format!("Lift lead {}{color} off {}.", machine[lead].name, words::terminal(machine, at));
    let ask = Ask::new(About::Lift(at, lead), stage, say, Wants::Done).on_enter(crate::ask::Answer::Done);
    Next::ask(ask.caution(permit.cautions().iter().copied()))
}

fn supply(s: &Session<'_, '_>, reading: &Reading, act: &Act, stage: Stage, own_way: bool) -> Option<Next> {
    let ready =
        route::isolate(s, stage).or_else(|| route::covers(s, &places(s.machine(), act), stage, "to get at the supply"));
    if ready.is_some() {
        return ready;
    }
    let Probe::Across(from, to) = reading.probe else { return None };
    let permit = s.permit(StepRequest::ReadSupply { from, to });
    read_ask(s, reading, act, permit, stage, own_way)
}

fn clipped(s: &Session<'_, '_>, reading: &Reading, act: &Act, stage: Stage, own_way: bool) -> Option<Next> {
    let machine = s.machine();
    let touched = points(s, reading);
    let state = reading.condition.state;
    let request = match reading.probe {
        Probe::Across(from, to) => StepRequest::ReadClipped { from, to, state },
        Probe::Around(branch) => StepRequest::Clamp { branch, state },
    };
    let attached = s.now.clips_on.as_ref().is_some_and(|(on, read)| on == reading && !read);
    if attached && s.now.energy.feed() == Feed::On {
        return running_ask(s, reading, act, stage, own_way);
    }
    let on_cord = matches!(reading.probe, Probe::Around(b) if machine[machine[b].part].kind == PartKind::Cord);
    let why = format!("for: {}", words::probe(machine, reading.probe));
    let ready = route::refit(s, stage)
        .or_else(|| route::isolate(s, stage))
        .or_else(|| if on_cord { None } else { route::covers(s, &places(machine, act), stage, &why) })
        .or_else(|| if on_cord { None } else { route::dead(s, &route::work_terminals(s, &touched), stage) });
    if ready.is_some() {
        return ready;
    }
    let permit = match s.permit(request) {
        Ok(permit) => permit,
        Err(refusal) => return Next::ask(route::blocked(s, &refusal, stage)),
    };
    let why = format!("to read {}", id_of_reading(machine, reading, Hands::Clipped));
    let say = match reading.probe {
        Probe::Across(a, b) => format!(
            "Clip on dead: red on {}, black on {}. Stand clear, tell everyone, switch on.",
            words::terminal(machine, a),
            words::terminal(machine, b)
        ),
        Probe::Around(branch) if on_cord => {
            format!(
                "Put the line splitter between plug and receptacle, clamp around {}. Stand clear, switch on.",
                machine[branch].name
            )
        }
        Probe::Around(_) => {
            format!("Lay the clamp dead: {}. Stand clear, switch on.", words::probe(machine, reading.probe))
        }
    };
    let ask = Ask::new(About::Energise { why }, stage, say, Wants::Done)
        .on_enter(crate::ask::Answer::Done)
        .lines(Sort::Do, permit.order().iter().copied())
        .caution(permit.cautions().iter().copied());
    let ask = if own_way { ask.with_own_way() } else { ask };
    Next::ask(explain(s, ask, act))
}

fn running_ask(s: &Session<'_, '_>, reading: &Reading, act: &Act, stage: Stage, own_way: bool) -> Option<Next> {
    let state = reading.condition.state;
    let say = format!(
        "{}. {}: {}. Hands off; read from where you stand.",
        intake::capital(&entering(s, state)),
        function(s, reading.quantity),
        words::probe(s.machine(), reading.probe)
    );
    let ask = Ask::new(About::Read(reading.clone()), stage, say, Wants::Reading(reading.quantity.unit()));
    let ask = ask.caution([danger::caution(machine::access::Hazard::Shock, true)]);
    Next::ask(explain(s, if own_way { ask.with_own_way() } else { ask }, act))
}

fn function(s: &Session<'_, '_>, quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Volts if s.predictor.meter().loads() => "AC volts, low-impedance input",
        Quantity::Volts => "AC volts",
        Quantity::Ohms => "Ohms",
        Quantity::Amps => "Amperes",
        Quantity::Farads => "Capacitance",
    }
}

fn read_ask(
    s: &Session<'_, '_>,
    reading: &Reading,
    act: &Act,
    permit: Result<Permit, Refusal>,
    stage: Stage,
    own_way: bool,
) -> Option<Next> {
    let permit = match permit {
        Ok(permit) => permit,
        Err(refusal) => return Next::ask(route::blocked(s, &refusal, stage)),
    };
    let sentence = advise::sentence(&s.belief, act);
    // What a sound machine shows stands on a line of its own.
    let say = sentence.split(" A sound machine").next().unwrap_or(&sentence).to_owned();
    let ask = Ask::new(About::Read(reading.clone()), stage, say, Wants::Reading(reading.quantity.unit()))
        .lines(Sort::Do, permit.order().iter().copied())
        .caution(permit.cautions().iter().copied());
    Next::ask(explain(s, if own_way { ask.with_own_way() } else { ask }, act))
}

/// Adds what is expected and what each outcome means.
fn explain(s: &Session<'_, '_>, ask: Ask, act: &Act) -> Ask {
    let ask = match act {
        Act::Read(reading, _) => ask.line(Sort::Expect, expected(s, reading)),
        _ => ask,
    };
    let meanings = super::find::meanings(s, act);
    let ask = ask.lines(Sort::Means, meanings);
    super::find::why(s, ask, act)
}

/// What a sound machine shows.
pub(crate) fn expected(s: &Session<'_, '_>, reading: &Reading) -> String {
    let sound = s.predictor.predict(reading, &[]);
    words::expected(&sound, reading.quantity, s.predictor.meter())
}

fn look(s: &Session<'_, '_>, part: PartId, act: &Act, stage: Stage, own_way: bool) -> Option<Next> {
    let machine = s.machine();
    let place = machine[part].place;
    let why = format!("to see the {}", machine[part].name);
    if let Some(open) = route::covers(s, &[place], stage, &why) {
        return Some(open);
    }
    let permit = match s.permit(StepRequest::Look(place)) {
        Ok(permit) => permit,
        Err(refusal) => return route::isolate(s, stage).or_else(|| Next::ask(route::blocked(s, &refusal, stage))),
    };
    let say = format!("{} Does it look damaged?", advise::sentence(&s.belief, act));
    let faults = machine.faults_of(part).into_iter().filter(|fault| machine[*fault].visible > 0.0);
    let signs = faults.map(|fault| format!("look for: {}", machine[fault].say));
    let ask = Ask::new(About::Look(part), stage, say, Wants::YesNo)
        .lines(Sort::Plain, signs)
        .caution(permit.cautions().iter().copied());
    Next::ask(explain(s, if own_way { ask.with_own_way() } else { ask }, act))
}

fn run(s: &Session<'_, '_>, state: StateId, stage: Stage, own_way: bool) -> Option<Next> {
    let why = format!("to run it: {}", s.machine()[state].say);
    if let Some(first) = route::switch_on(s, &why, stage) {
        return Some(first);
    }
    match watch(s, state, stage, own_way) {
        Some(ask) => Next::ask(explain(s, ask, &Act::Try(state))),
        None => {
            let standing_clear = !teardown::must_close_to_run(&s.machine().access, &s.now.open()).is_empty();
            let refusal = s.permit(StepRequest::Try { state, standing_clear }).err().unwrap_or(Refusal::Unknown);
            Next::ask(route::blocked(s, &refusal, stage))
        }
    }
}

/// Asks what is seen of a running state; `None` when the gate does not let it run.
pub(crate) fn watch(s: &Session<'_, '_>, state: StateId, stage: Stage, own_way: bool) -> Option<Ask> {
    let machine = s.machine();
    let standing_clear = !teardown::must_close_to_run(&machine.access, &s.now.open()).is_empty();
    let permit = s.permit(StepRequest::Try { state, standing_clear }).ok()?;
    let sound = s.predictor.observe(state, &[]);
    let observed: Vec<Observed> = sound
        .iter()
        .map(|seen| {
            let values = &machine[seen.what].values;
            let sound = values.get(usize::from(seen.value)).map_or_else(String::new, |value| value.id.clone());
            let values = values.iter().map(|value| Choice::new(&value.id, &value.say)).collect();
            Observed { what: seen.what, values, sound }
        })
        .collect();
    let say = format!("Run it: {}. What do you see?", entering(s, state));
    let sound_says = observed.iter().filter_map(|of| of.values.iter().find(|value| value.id == of.sound));
    let expect = sound_says.map(|value| value.say.clone()).collect::<Vec<_>>().join(", ");
    let ask = Ask::new(About::Try(state), stage, say, Wants::Seen(observed))
        .line(Sort::Expect, expect)
        .caution(permit.cautions().iter().copied());
    Some(if own_way { ask.with_own_way() } else { ask })
}

/// Says all that a person does from rest to bring a state about, and the state.
pub(crate) fn entering(s: &Session<'_, '_>, state: StateId) -> String {
    let machine = s.machine();
    let mut chain = vec![state];
    while let Some(before) = chain.last().and_then(|&at| machine[at].entered_from) {
        if chain.contains(&before) {
            break;
        }
        chain.push(before);
    }
    let events: Vec<&str> = chain.iter().rev().flat_map(|&at| machine[at].events.iter().map(String::as_str)).collect();
    if events.is_empty() { machine[state].say.clone() } else { events.join(", ") }
}
