//! The sheets that are worked out only while they are open: the drawing and the papers.

use crate::desk::Desk;
use crate::heading::heading;
use crate::ruler;
use crate::screen::{Choice, Drawing, Paper, Screen};
use crate::touch::Sheet;
use book::{Entry, QuoteGiven, fold_job};
use call::{About, Ask};
use danger::LiveMap;
use diagnosis::{Evidence, words};
use documents::{quote_html, quote_text, record_html, record_text};
use drawing::{Layers, Question};
use machine::model::{Machine, PartId, StateId, TerminalId};
use prediction::{Condition, Probe, Quantity, Reading};
use std::collections::BTreeMap;

/// Parts of this share or more stay drawn when the rest is folded away.
const MATTERS: f64 = 0.01;

/// Works out the sheet that is open.
pub(crate) fn open(desk: &Desk<'_, '_>, ask: &Ask, screen: &mut Screen) {
    match desk.sheet {
        Sheet::None => {}
        Sheet::Drawing => screen.drawing = Some(drawing(desk, ask)),
        Sheet::Papers => screen.papers = papers(desk),
    }
}

fn drawing(desk: &Desk<'_, '_>, ask: &Ask) -> Drawing {
    let (machine, belief) = (desk.session.machine(), desk.session.belief());
    let state = state_of(desk, ask);
    let mut shares: BTreeMap<PartId, f64> = BTreeMap::new();
    for (suspect, share) in belief.shares() {
        for fault in suspect.0.iter() {
            *shares.entry(machine[*fault].part).or_default() += share;
        }
    }
    let suspects: Vec<(PartId, f64)> = shares.into_iter().filter(|(_, share)| *share >= MATTERS).collect();
    let asked = match &ask.about {
        About::Read(Reading { probe: Probe::Across(a, b), .. }) if desk.probes.is_empty() => vec![*a, *b],
        _ => desk.probes.clone(),
    };
    let live = LiveMap::of(machine, &desk.session.situation().energy);
    let layers = Layers {
        state: Some(machine[state].say.clone()),
        closed: Some(belief.predictor().closed_contacts(state, &[])),
        live: Some(terminals(machine).filter(|terminal| live.may_be_live(*terminal)).collect()),
        red: asked.first().copied(),
        black: asked.get(1).copied(),
        suspects: suspects.clone(),
        ..Layers::default()
    };
    let mut only: Vec<PartId> = suspects.into_iter().map(|(part, _)| part).collect();
    only.extend(asked.iter().map(|terminal| machine[*terminal].part));
    let folded = desk.folded && !only.is_empty();
    let scene = drawing::draw(machine, &Question { only: folded.then_some(only), layers });
    let own = own_reading(desk, state);
    Drawing {
        svg: drawing::svg::svg(&scene, None),
        state: machine[state].say.clone(),
        words: scene.words.into_iter().map(|line| line.text).collect(),
        folded,
        probes: asked.iter().map(|terminal| words::terminal(machine, *terminal)).collect(),
        ruler: own.as_ref().map(|reading| ruler::asked(desk, reading)),
        take: own.filter(|_| ask.own_way).map(|reading| take(machine, &reading)),
    }
}

/// Gives the state that is drawn: the one asked about, else the one in which the trouble was reported.
fn state_of(desk: &Desk<'_, '_>, ask: &Ask) -> StateId {
    let reported = desk.session.belief().evidence().iter().find_map(|weighed| match &weighed.item {
        Evidence::Reported(seen) | Evidence::Answered(seen) => Some(seen.state),
        _ => None,
    });
    match &ask.about {
        About::Read(reading) => reading.condition.state,
        About::Try(state) | About::Report(state, _) => *state,
        _ => reported.unwrap_or(StateId(0)),
    }
}

fn terminals(machine: &Machine) -> impl Iterator<Item = TerminalId> + '_ {
    (0..).map(TerminalId).zip(&machine.terminals).filter(|(_, terminal)| !terminal.hidden).map(|(id, _)| id)
}

/// Gives the reading between the two probes that were put down: ohms, the machine isolated and its controls as drawn.
fn own_reading(desk: &Desk<'_, '_>, state: StateId) -> Option<Reading> {
    let [a, b] = desk.probes[..] else { return None };
    let condition = Condition::isolated(state);
    Some(Reading { quantity: Quantity::Ohms, probe: Probe::Across(a.min(b), a.max(b)), condition })
}

fn take(machine: &Machine, reading: &Reading) -> Choice {
    let Probe::Across(a, b) = reading.probe else { return Choice { answer: String::new(), say: String::new() } };
    let state = &machine[reading.condition.state].id;
    Choice {
        answer: format!("ohms {} {} {state}", machine[a].name, machine[b].name),
        say: "take this reading, unplugged".to_owned(),
    }
}

fn papers(desk: &Desk<'_, '_>) -> Vec<Paper> {
    let Some(job) = desk.session.job().and_then(|job| fold_job(&desk.book, job)) else { return Vec::new() };
    let heading = heading(desk.session.machine(), desk.customer(), desk.signed(), desk.is_demo());
    let mut papers = Vec::new();
    if let Some((entry, quote)) = job.all::<QuoteGiven>().last() {
        let quote = Entry { event: entry.event, call: entry.call, at: entry.at.clone(), fact: quote.clone() };
        papers.push(Paper {
            title: "Quote".to_owned(),
            file: format!("quote-{}.html", entry.event.counter()),
            html: quote_html(&quote, &heading),
            text: quote_text(&quote, &heading),
        });
    }
    papers.push(Paper {
        title: "Record".to_owned(),
        file: "record.html".to_owned(),
        html: record_html(&job, &heading),
        text: record_text(&job, &heading),
    });
    papers
}
