//! Finding: one proposal after the other, each recorded as it was shown, until the fault is found or nothing is left.

use crate::ask::{About, Answer, Ask, Choice, Sort, Wants};
use crate::now::Goal;
use crate::session::{Next, Said, Session};
use crate::stages::{fit, pursue};
use crate::steps::id_of;
use book::{Number, Outcome, Shown, Stage, StepProposed, SuspectShown};
use danger::{Feed, StepRequest};
use diagnosis::intermittent::provocations;
use diagnosis::{Evidence, Suspect, words};
use machine::faults::RepairKind;
use repair::causes::{Causes, of_mended};
use repair::{Act, Advice, Hands, advise};
use std::collections::BTreeMap;

/// Says what finding asks; nothing once a repair holds in the states that showed the trouble.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.way_out.is_some() {
        return None;
    }
    if let Some(goal) = &s.now.goal {
        return towards(s, goal);
    }
    if let Some(again) = again(s) {
        return Some(again);
    }
    if let Some(repair) = s.now.approved_open() {
        return fit::next(s, repair);
    }
    if !s.now.changes.is_empty() {
        let trouble = s.trouble();
        if let Some(&state) = trouble.iter().find(|&&state| s.now.seen_since_change(state).is_none()) {
            return pursue::step(s, &Act::Try(state), Stage::Repair, false);
        }
        if works_again(s) && of_mended(&s.belief, &s.bench(), &s.settings.prices) != Causes::LeftOpen {
            return None;
        }
    }
    Next::due(Said::call(proposal(s)))
}

/// Says whether what was mended holds: the states that showed the trouble go as they should, and no proof sends back to
/// finding.
fn works_again(s: &Session<'_, '_>) -> bool {
    let sent_back =
        s.now.proofs.iter().any(|(id, outcome)| {
            matches!(outcome, Outcome::Failed) && s.now.said(&format!("failed/{id}")) == Some("find")
        });
    !s.now.changes.is_empty() && !sent_back && s.trouble().iter().all(|&state| sound_again(s, state))
}

/// Says whether everything seen in a state since the last repair is as on a sound machine.
pub(crate) fn sound_again(s: &Session<'_, '_>, state: machine::model::StateId) -> bool {
    let sound = s.predictor.observe(state, &[]);
    s.now.seen_since_change(state).is_some_and(|seen| seen.iter().all(|seen| sound.contains(seen)))
}

fn towards(s: &Session<'_, '_>, goal: &Goal) -> Option<Next> {
    match &goal.act {
        Act::Change(repair) if s.machine()[*repair].kind == RepairKind::Refer => {
            Next::ask(refer(s, &s.machine()[*repair].say))
        }
        Act::Change(repair) => fit::next(s, *repair),
        Act::Explain => explain(s),
        Act::Refer => Next::ask(refer(s, "nothing described explains this at a price worth paying")),
        act => pursue::step(s, act, Stage::Find, true),
    }
}

/// A reading that clashes with the rest is taken again before anything rests on it; a clipped one is let stand.
fn again(s: &Session<'_, '_>) -> Option<Next> {
    let index = s.belief.to_take_again()?;
    let Evidence::Read { reading, measured } = &s.belief.evidence().get(index)?.item else { return None };
    let mut taken = s.now.taken.iter().filter(|taken| taken.reading == *reading);
    let last = taken.next_back()?;
    if taken.count() > 1 || s.now.did(&format!("again/{index}")) {
        return None;
    }
    let hands = match last.kept.instrument.function.as_str() {
        crate::now::function::SUPPLY => Hands::Supply,
        _ if reading.condition.plugged => return None,
        _ => Hands::Isolated,
    };
    let next = pursue::step(s, &Act::Read(reading.clone(), hands), Stage::Find, true)?;
    let Next::Ask(mut ask) = next else { return Some(next) };
    if matches!(ask.about, About::Read(_)) {
        let shown = words::measured(*measured, reading.quantity);
        ask.say = format!("{shown} does not fit the rest. Take it again: {}", ask.say);
        ask.enter = Some(Answer::Skip);
        ask.lines.push(crate::ask::Line { sort: Sort::Plain, say: "Enter keeps it as it was read".to_owned() });
    }
    Some(Next::Ask(ask))
}

fn proposal(s: &Session<'_, '_>) -> StepProposed {
    let machine = s.machine();
    let advice = advise(&s.belief, &s.bench(), &s.settings.prices, s.settings.nodes).unwrap_or_default();
    let mut fit = advice.into_iter().filter(|advice| feasible(s, &advice.act));
    let first = fit.next();
    let act = first.as_ref().map_or(Act::Refer, |advice| advice.act.clone());
    let sentence = first.as_ref().map_or_else(|| advise::sentence(&s.belief, &act), priced);
    let changes_if = fit.next().map(|other| format!("otherwise: {}", priced(&other)));
    StepProposed { step: id_of(machine, &act), shown: shown(s, sentence, changes_if) }
}

fn priced(advice: &Advice) -> String {
    format!("{} {:.0} min.", advice.say, advice.minutes.max(1.0))
}

/// Says whether a step may be proposed: not set aside, and nothing is switched on over a dangerous fault.
fn feasible(s: &Session<'_, '_>, act: &Act) -> bool {
    if s.now.set_aside.contains(&id_of(s.machine(), act)) {
        return false;
    }
    match act {
        Act::Try(_) | Act::Explain | Act::Read(_, Hands::Clipped) => {
            s.permit(StepRequest::Energise { standing_clear: true }).is_ok()
        }
        _ => true,
    }
}

/// Writes down what was shown.
pub(crate) fn shown(s: &Session<'_, '_>, sentence: String, changes_if: Option<String>) -> Shown {
    let machine = s.machine();
    let shares = s.belief.shares();
    let number = |share: f64| Number::new((share * 1e6).round() / 1e6).unwrap_or(Number::from(0));
    let suspects: Vec<SuspectShown> = shares
        .iter()
        .take(6)
        .map(|(suspect, share)| SuspectShown {
            faults: suspect.0.iter().map(|&fault| machine[fault].id.clone()).collect(),
            words: words::suspect(machine, suspect),
            probability: number(*share),
        })
        .collect();
    let rest = 1.0 - shares.iter().take(6).map(|(_, share)| share).sum::<f64>();
    Shown {
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        machine: s.settings.file.clone(),
        suspects,
        rest: Some(number(rest.max(0.0))),
        sentence,
        changes_if,
    }
}

fn explain(s: &Session<'_, '_>) -> Option<Next> {
    // What works once a part was mended was not the use.
    if works_again(s) {
        return None;
    }
    let state = s.trouble().first().copied()?;
    if s.now.seen_since_change(state).is_none() && feasible(s, &Act::Explain) {
        return pursue::step(s, &Act::Try(state), Stage::Find, true);
    }
    let choices = vec![
        Choice::new("explained", "it was the use; shown to the customer"),
        Choice::new("not-reproduced", "the complaint did not show"),
        Choice::new("go-on", "look further"),
    ];
    let say = "Nothing points to a fault. Go through the use with the customer. What was it?";
    let ask = Ask::new(About::Explain, Stage::Find, say, Wants::Choice(choices));
    Next::ask(ask.lines(Sort::Otherwise, to_make_it_show(s)).with_own_way())
}

/// Says what may bring out a fault that comes and goes and does not show now.
fn to_make_it_show(s: &Session<'_, '_>) -> Vec<String> {
    let ways = provocations(&s.belief).into_iter().take(2);
    ways.map(|way| format!("to make it show: {} (brings it out {})", way.say, odds(way.brings_out))).collect()
}

fn refer(s: &Session<'_, '_>, why: &str) -> Ask {
    let say = format!("Refer it: {why}.");
    let ask = Ask::new(
        About::Line("refer".to_owned()),
        Stage::Find,
        say,
        Wants::Choice(vec![Choice::new("refer", "refer it"), Choice::new("go-on", "look further")]),
    );
    let ask = ask.line(Sort::Plain, top_suspects(s, 3));
    let licensed = "gas, sealed systems and fixed wiring are for those licensed for them";
    let ask = ask.line(Sort::Plain, licensed).lines(Sort::Otherwise, to_make_it_show(s)).with_own_way();
    if s.now.energy.feed() == Feed::On { ask } else { ask.line(Sort::Plain, "it stays isolated until then") }
}

/// Lists the leading suspects in one line.
pub(crate) fn top_suspects(s: &Session<'_, '_>, count: usize) -> String {
    let shares = s.belief.shares();
    let named = shares.iter().take(count).filter(|(_, share)| *share >= 0.005);
    named
        .map(|(suspect, share)| format!("{} ({})", words::suspect(s.machine(), suspect), odds(*share)))
        .collect::<Vec<_>>()
        .join("; ")
}

/// Says a share as people do: `3 in 4`.
pub(crate) fn odds(share: f64) -> String {
    const WORDS: [(f64, &str); 9] = [
        (0.985, "nearly certain"),
        (0.93, "19 in 20"),
        (0.85, "9 in 10"),
        (0.7, "3 in 4"),
        (0.58, "2 in 3"),
        (0.42, "1 in 2"),
        (0.29, "1 in 3"),
        (0.15, "1 in 5"),
        (0.07, "1 in 10"),
    ];
    let word = WORDS.iter().find(|(least, _)| share >= *least).map(|(_, word)| *word);
    word.map_or_else(|| format!("1 in {:.0}", (1.0 / share.max(1e-4)).round()), str::to_owned)
}

/// Says what each outcome of a step would mean, likeliest first: the leading suspects in groups that the step cannot
/// tell apart.
pub(crate) fn meanings(s: &Session<'_, '_>, act: &Act) -> Vec<String> {
    let shares = s.belief.shares();
    let mut groups: Vec<(String, f64, Vec<&Suspect>)> = Vec::new();
    for (suspect, share) in shares.iter().take(24) {
        let Some(outcome) = outcome(s, act, suspect) else { continue };
        match groups.iter_mut().find(|(of, _, _)| *of == outcome) {
            Some((_, sum, members)) => {
                *sum += share;
                members.push(suspect);
            }
            None => groups.push((outcome, *share, vec![suspect])),
        }
    }
    groups.sort_by(|a, b| b.1.total_cmp(&a.1));
    groups
        .iter()
        .filter(|(_, share, _)| *share >= 0.01)
        .take(4)
        .map(|(outcome, share, members)| {
            let names: Vec<String> = members.iter().take(2).map(|m| words::suspect(s.machine(), m)).collect();
            let more = if members.len() > 2 { format!(" or {} more", members.len() - 2) } else { String::new() };
            format!("{outcome}: {}{more} ({})", names.join(" or "), odds(*share))
        })
        .collect()
}

fn outcome(s: &Session<'_, '_>, act: &Act, suspect: &Suspect) -> Option<String> {
    match act {
        Act::Read(reading, _) => {
            let predicted = s.predictor.predict(reading, &suspect.0);
            Some(words::expected(&predicted, reading.quantity, s.predictor.meter()))
        }
        Act::Look(part) => {
            let shows = s.belief.damage_shows(*part, suspect);
            Some(if shows > 0.5 { "damaged" } else { "looks sound" }.to_owned())
        }
        Act::Try(state) => {
            let sound = s.predictor.observe(*state, &[]);
            let seen = s.predictor.observe(*state, &suspect.0);
            let differs: Vec<String> = seen
                .into_iter()
                .filter(|seen| !sound.contains(seen))
                .map(|seen| words::seen(s.machine(), seen))
                .collect();
            Some(if differs.is_empty() { "all as it should".to_owned() } else { differs.join(", ") })
        }
        Act::Change(_) | Act::Explain | Act::Refer => None,
    }
}

/// Adds why this and the runner-up, as they were shown when the step was proposed.
pub(crate) fn why(s: &Session<'_, '_>, ask: Ask, act: &Act) -> Ask {
    let Some(goal) = s.now.goal.as_ref().filter(|goal| goal.act == *act) else { return ask };
    let Some(event) = goal.proposal else { return ask };
    let proposed = s.events().iter().rev().find(|of| of.id() == event).and_then(|of| match of.body() {
        book::Body::Call { fact: book::CallFact::StepProposed(proposed), .. } => Some(proposed),
        _ => None,
    });
    let Some(proposed) = proposed else { return ask };
    let ask = match settles(s, act) {
        Some(settles) => ask.line(Sort::Why, settles),
        None => ask,
    };
    match &proposed.shown.changes_if {
        Some(other) => ask.line(Sort::Otherwise, other.clone()),
        None => ask,
    }
}

/// Names the two leading suspects that the step tells apart.
fn settles(s: &Session<'_, '_>, act: &Act) -> Option<String> {
    let mut by_outcome: BTreeMap<String, String> = BTreeMap::new();
    let mut order = Vec::new();
    for (suspect, _) in s.belief.shares().iter().take(12) {
        let outcome = outcome(s, act, suspect)?;
        if !by_outcome.contains_key(&outcome) {
            by_outcome.insert(outcome.clone(), words::suspect(s.machine(), suspect));
            order.push(outcome);
        }
    }
    let (first, second) = (by_outcome.get(order.first()?)?, by_outcome.get(order.get(1)?)?);
    Some(format!("settles {first} against {second}"))
}
