//! Proving: each proof of the machine decided by what was read against its limit, or said to be not decided with this
//! meter, or put off with the job kept open.

use crate::ask::{About, Ask, Choice, Sort, Wants};
use crate::now::Taken;
use crate::session::{Next, Said, Session};
use crate::stages::{find, pursue, route};
use book::{Outcome, ProofResult, Role, Stage, ZonedTime};
use danger::{IsolatedReading, StepRequest};
use diagnosis::{Suspect, words};
use machine::model::{Proof, ProofHow, StateId};
use prediction::{Probe, Reading};
use quantity::{Unit, show, show_range};
use repair::causes::{Causes, of_mended};
use repair::proving::{self, Proved};
use repair::{Act, Hands};
use std::time::Duration;

/// What the look of a proof begins with in the book.
pub(crate) const LOOK: &str = "proof:";

/// Says what proving asks.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.way_out.is_some() || s.now.changes.is_empty() {
        return None;
    }
    if let Some(asked) = failed(s) {
        return Some(asked);
    }
    if let Some(asked) = cause(s) {
        return Some(asked);
    }
    let open: Vec<usize> =
        (0..s.machine().proofs.len()).filter(|&at| !s.now.proofs.contains_key(&s.machine().proofs[at].id)).collect();
    let of = |at: &usize| &s.machine().proofs[*at];
    if let Some(at) = open.iter().find(|at| of(at).deferred_hours > 0.0 && !s.now.for_deferred) {
        return Next::due(Said::job(deferred(s, of(at))));
    }
    let mut readings: Vec<(usize, Reading, Hands)> =
        open.iter().filter_map(|&at| reading_of(s, of(&at)).map(|(reading, hands)| (at, reading, hands))).collect();
    readings.sort_by_key(|(at, reading, hands)| (proving::turn(reading, *hands), *at));
    if let Some((at, reading, hands)) = readings.first() {
        if let Some(taken) = taken(s, reading, *hands) {
            let proof = &s.machine().proofs[*at];
            let tested = insulation_of(s, reading);
            if tested.is_none()
                && let Some(ask) = insulation(s, *at, reading, taken)
            {
                return Some(about_proof(s, ask, proof));
            }
            return Next::due(Said::job(decide(s, proof, taken, tested)));
        }
        let next = pursue::step(s, &Act::Read(reading.clone(), *hands), Stage::Prove, false)?;
        let proof = &s.machine().proofs[*at];
        return match held_once(s, next, &proof.id) {
            Some(next) => Some(about_proof(s, next, proof)),
            None => {
                let outcome = not_decided("what it takes is for those licensed for it");
                Next::due(Said::job(simple(s, proof, "not taken", outcome)))
            }
        };
    }
    let run =
        open.iter().find_map(|at| if let ProofHow::Run { state } = of(at).how { Some((*at, state)) } else { None });
    if let Some((at, state)) = run {
        return run_proof(s, at, state);
    }
    let look = open.first().copied()?;
    look_proof(s, look)
}

/// Has the cause of what was mended looked at before anything is proved: what only its effect was cured of comes back.
fn cause(s: &Session<'_, '_>) -> Option<Next> {
    let causes = of_mended(&s.belief, &s.bench(), &s.settings.prices);
    let Causes::Owed { act, cause, share } = causes else { return None };
    let next = pursue::step(s, &act, Stage::Prove, false)?;
    let next = held_once(s, next, &s.machine()[cause].id)?;
    let Next::Ask(mut ask) = next else { return Some(next) };
    let machine = s.machine();
    let say = format!(
        "What was mended may have been brought about by this: {} ({})",
        words::suspect(machine, &Suspect::of(&[cause])),
        find::odds(share)
    );
    ask.lines.insert(0, crate::ask::Line { sort: Sort::Why, say });
    Some(Next::Ask(ask))
}

/// Asks once whether to leave out what the gate does not let pass; `None` where that was answered for this very thing.
fn held_once(s: &Session<'_, '_>, next: Next, what: &str) -> Option<Next> {
    let Next::Ask(mut ask) = next else { return Some(next) };
    if ask.about == About::Line(route::SET_ASIDE.to_owned()) {
        let line = format!("left-out/{what}");
        if s.now.did(&line) {
            return None;
        }
        ask.about = About::Line(line);
    }
    Some(Next::Ask(ask))
}

/// Gives the reading that decides a proof, where one does.
pub(crate) fn reading_of(s: &Session<'_, '_>, proof: &Proof) -> Option<(Reading, Hands)> {
    proving::reading_of(s.machine(), proof)
}

/// Asks for the insulation tester where the ohm-meter leaves its proof open, one is owned and no board is in its way.
fn insulation(s: &Session<'_, '_>, at: usize, reading: &Reading, taken: &Taken) -> Option<Next> {
    let proof = &s.machine().proofs[at];
    let ProofHow::Ohms { from, to, insulation_test: true, .. } = proof.how else { return None };
    let tester = s.predictor.meter().insulation.filter(|of| of.test_volts >= proving::TEST_VOLTS)?;
    if !matches!(outcome(s, proof, taken), Outcome::NotDecided { .. }) {
        return None;
    }
    if let Some(first) = pursue::ready_isolated(s, reading, Stage::Prove) {
        return Some(first);
    }
    let how = IsolatedReading::Insulation;
    let permit = s.permit(StepRequest::ReadIsolated { from, to, how }).ok()?;
    let say = format!(
        "Insulation tester, {} DC: {}. Hands off the machine while it tests; let it discharge before you touch.",
        show(tester.test_volts, Unit::Volt),
        words::probe(s.machine(), reading.probe)
    );
    let ask = Ask::new(About::Insulation(at), Stage::Prove, say, Wants::Reading(Unit::Ohm));
    let ask = ask.lines(Sort::Do, permit.order().iter().copied()).caution(permit.cautions().iter().copied());
    Next::ask(ask)
}

/// Gives what the insulation tester showed there since the last repair of this visit.
fn insulation_of<'s>(s: &'s Session<'_, '_>, reading: &Reading) -> Option<&'s Taken> {
    let counts = |taken: &&Taken| {
        taken.reading.probe == reading.probe && taken.call == s.now.calls && taken.after_changes == s.now.changes.len()
    };
    s.now.insulation.iter().rev().find(counts)
}

/// A reading of this visit counts if no repair came after it; at the supply, if none of the installation did.
fn taken<'s>(s: &'s Session<'_, '_>, reading: &Reading, hands: Hands) -> Option<&'s Taken> {
    let after = s.now.changes.len();
    let of_house = |at: usize| {
        s.now.changes.iter().skip(at).any(|change| s.machine()[s.machine()[change.repair].part].installation)
    };
    let counts = |taken: &&Taken| {
        let same = taken.reading.probe == reading.probe || flipped(taken.reading.probe) == reading.probe;
        let alike = Reading { probe: reading.probe, ..taken.reading.clone() } == *reading;
        same && alike
            && taken.call == s.now.calls
            && (taken.after_changes == after || (hands == Hands::Supply && !of_house(taken.after_changes)))
    };
    s.now.taken.iter().rev().find(counts)
}

fn flipped(probe: Probe) -> Probe {
    match probe {
        Probe::Across(a, b) => Probe::Across(b, a),
        Probe::Around(branch) => Probe::Around(branch),
    }
}

fn about_proof(s: &Session<'_, '_>, next: Next, proof: &Proof) -> Next {
    let Next::Ask(mut ask) = next else { return next };
    let limit = limit(s, proof);
    let head = if matches!(ask.about, About::Read(_)) { "proof" } else { "for the proof" };
    ask.lines.insert(
        0,
        crate::ask::Line { sort: Sort::Plain, say: format!("{head}: {}; limit {limit} ({})", proof.say, proof.source) },
    );
    Next::Ask(ask)
}

/// Says the limit of a proof in words with units.
pub(crate) fn limit(s: &Session<'_, '_>, proof: &Proof) -> String {
    let of = |low: Option<f64>, high: Option<f64>, unit| match (low, high) {
        (Some(low), Some(high)) => show_range(low, high, unit),
        (Some(low), None) => format!("at least {}", show(low, unit)),
        (None, Some(high)) => format!("at most {}", show(high, unit)),
        (None, None) => "as computed".to_owned(),
    };
    match &proof.how {
        ProofHow::Ohms { at_least, at_most, insulation_test, .. } => {
            let limit = of(*at_least, *at_most, Unit::Ohm);
            if *insulation_test { format!("{limit} by insulation tester") } else { limit }
        }
        ProofHow::Volts { at_least, at_most, .. } => of(*at_least, *at_most, Unit::Volt),
        ProofHow::Amps { .. } => match reading_of(s, proof) {
            Some((reading, _)) => pursue::expected(s, &reading),
            None => "as computed".to_owned(),
        },
        ProofHow::Run { .. } => "all as on a sound machine".to_owned(),
        ProofHow::Look => "yes".to_owned(),
    }
}

fn decide(s: &Session<'_, '_>, proof: &Proof, taken: &Taken, tested: Option<&Taken>) -> ProofResult {
    let by_tester = |tested: &Taken| kept(proving::judge_insulation(s.predictor.meter(), proof, tested.measured));
    let outcome = tested.map_or_else(|| outcome(s, proof, taken), by_tester);
    let method = match &proof.how {
        ProofHow::Ohms { .. } if tested.is_some() => "insulation test, isolated and proved dead",
        ProofHow::Ohms { .. } => "resistance, isolated and proved dead",
        ProofHow::Volts { .. } if taken.kept.energised => "volts, clipped on dead, read standing clear",
        ProofHow::Volts { .. } => "volts at the supply, machine parted from it",
        ProofHow::Amps { .. } => "clamp",
        ProofHow::Run { .. } | ProofHow::Look => "seen",
    };
    ProofResult {
        proof: proof.id.clone(),
        limit: limit(s, proof),
        source: proof.source.clone(),
        method: method.to_owned(),
        instrument: Some(tested.unwrap_or(taken).kept.instrument.clone()),
        readings: std::iter::once(taken).chain(tested).map(|of| of.kept.clone()).collect(),
        outcome,
    }
}

/// Compares what was read with the limit, the meter's uncertainty on both sides.
fn outcome(s: &Session<'_, '_>, proof: &Proof, taken: &Taken) -> Outcome {
    kept(proving::judge(s.predictor, proof, &taken.reading, taken.measured))
}

fn kept(proved: Proved) -> Outcome {
    match proved {
        Proved::Passed => Outcome::Passed,
        Proved::Failed => Outcome::Failed,
        Proved::NotDecided(why) => not_decided(why),
    }
}

fn not_decided(why: &str) -> Outcome {
    Outcome::NotDecided { why: why.to_owned() }
}

fn deferred(s: &Session<'_, '_>, proof: &Proof) -> ProofResult {
    let outcome = match later(s.now.at.as_ref(), proof.deferred_hours) {
        Some(until) => Outcome::Deferred { until, by: Role::Technician },
        None => not_decided("it has to wait, and no time is known to wait until"),
    };
    simple(s, proof, "later", outcome)
}

fn later(at: Option<&ZonedTime>, hours: f64) -> Option<ZonedTime> {
    let seconds = Duration::try_from_secs_f64(hours * 3600.0).ok()?;
    let moment = at?.moment()?.checked_add(seconds).ok()?;
    moment.to_string().parse().ok()
}

fn simple(s: &Session<'_, '_>, proof: &Proof, method: &str, outcome: Outcome) -> ProofResult {
    ProofResult {
        proof: proof.id.clone(),
        limit: limit(s, proof),
        source: proof.source.clone(),
        method: method.to_owned(),
        instrument: None,
        readings: Vec::new(),
        outcome,
    }
}

fn run_proof(s: &Session<'_, '_>, at: usize, state: StateId) -> Option<Next> {
    let proof = &s.machine().proofs[at];
    if s.now.seen_since_change(state).is_some() {
        let outcome = if find::sound_again(s, state) { Outcome::Passed } else { Outcome::Failed };
        return Next::due(Said::job(simple(s, proof, "run and watched", outcome)));
    }
    let next = route::close_up(s, true, true, Stage::Prove)
        .or_else(|| pursue::step(s, &Act::Try(state), Stage::Prove, false))?;
    Some(about_proof(s, next, proof))
}

fn look_proof(s: &Session<'_, '_>, at: usize) -> Option<Next> {
    let proof = &s.machine().proofs[at];
    if let Some(said) = s.now.said(&format!("proof/{}", proof.id)) {
        let outcome = if said == "yes" { Outcome::Passed } else { Outcome::Failed };
        return Next::due(Said::job(simple(s, proof, "looked at", outcome)));
    }
    let say = format!("{}. Is it so?", super::intake::capital(&proof.say));
    Next::ask(
        Ask::new(About::ProofLook(at), Stage::Prove, say, Wants::YesNo)
            .line(Sort::Plain, format!("source: {}", proof.source)),
    )
}

/// A proof that does not hold: look further, or refer what is left.
fn failed(s: &Session<'_, '_>) -> Option<Next> {
    let failing = |proof: &&Proof| s.now.proofs.get(&proof.id) == Some(&Outcome::Failed);
    let proof = s.machine().proofs.iter().filter(failing).find(|proof| !s.now.did(&format!("failed/{}", proof.id)))?;
    let readings = s.now.taken.last().map(|taken| words::measured(taken.measured, taken.reading.quantity));
    let say = format!("Does not hold: {}. What now?", proof.say);
    let choices = vec![
        Choice::new("find", "look further"),
        Choice::new("refer", "tell the customer and refer it; it is not part of this repair"),
    ];
    let ask = Ask::new(About::Line(format!("failed/{}", proof.id)), Stage::Prove, say, Wants::Choice(choices));
    let ask = ask.line(Sort::Plain, format!("limit {} ({})", limit(s, proof), proof.source));
    Next::ask(match readings {
        Some(last) if !matches!(proof.how, ProofHow::Run { .. } | ProofHow::Look) => {
            ask.line(Sort::Notice, format!("last reading: {last}"))
        }
        _ => ask,
    })
}
