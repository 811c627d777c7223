//! The sheets that are worked out only while they are open: the drawing, the papers,
//! the photos, the curves.

use crate::desk::Desk;
use crate::drawn::{self, Drawn};
use crate::heading::heading;
use crate::layers::{of_state, terminals};
use crate::ruler;
use crate::screen::{Choice, Drawing, Paper, Photo, Screen};
use crate::touch::Sheet;
use crate::{curves, worth};
use book::{Entry, QuoteGiven, fold_job};
use call::{About, Ask};
use danger::LiveMap;
use diagnosis::Evidence;
use documents::{Page, quote_page, record_page, to_html, to_text};
use drawing::Layers;
use machine::model::{Machine, PartId, StateId};
use prediction::{Probe, Reading};
use std::collections::BTreeMap;

/// Parts of this share or more stay drawn when the rest is folded away.
const MATTERS: f64 = 0.01;
/// The id of the record among a call's pages.
const RECORD: &str = "record";

/// Works out the sheet that is open.
pub(crate) fn open(desk: &Desk<'_, '_>, ask: &Ask, screen: &mut Screen) {
    match desk.sheet {
        Sheet::None => {}
        Sheet::Drawing => screen.drawing = Some(drawing(desk, ask)),
        Sheet::Papers => {
            screen.papers = papers(desk);
            if let Some(of) = desk.session.weighed(&desk.supposed) {
                screen.curves = vec![worth::worth(&of, &desk.session.settings().rates.currency.to_string())];
                screen.fields = vec![worth::fields(&of, &desk.supposed)];
            }
        }
        Sheet::Photos => screen.photos = photos(desk),
        Sheet::Curves => screen.curves = curves::of_call(desk),
    }
}

fn drawing(desk: &Desk<'_, '_>, ask: &Ask) -> Drawing {
    let (machine, belief) = (desk.session.machine(), desk.session.belief());
    let state = desk.probing.state.unwrap_or_else(|| state_in_question(desk, ask));
    let mut shares: BTreeMap<PartId, f64> = BTreeMap::new();
    for (suspect, share) in belief.shares() {
        for fault in suspect.0.iter() {
            *shares.entry(machine[*fault].part).or_default() += share;
        }
    }
    let suspects: Vec<(PartId, f64)> = shares.into_iter().filter(|(_, share)| *share >= MATTERS).collect();
    let live = LiveMap::of(machine, &desk.session.situation().energy);
    let layers = Layers {
        live: Some(terminals(machine).filter(|terminal| live.may_be_live(*terminal)).collect()),
        suspects: suspects.clone(),
        ..of_state(belief.predictor(), state, &[])
    };
    let asked = match &ask.about {
        About::Read(Reading { probe: Probe::Across(a, b), .. }) => vec![*a, *b],
        _ => Vec::new(),
    };
    let matters = suspects.into_iter().map(|(part, _)| part).collect();
    let own = drawn::ohms(&desk.probing, state);
    let rulers = own.iter().map(|reading| ruler::asked(desk, reading)).collect();
    let take = own.filter(|_| ask.own_way).map(|reading| take(machine, &reading));
    let note = "Thick is what may be live. Figures are the volts of a sound machine in this state. Tap two terminals to see \
                what each suspect would show there.";
    let drawn = Drawn { machine, probing: &desk.probing, state, layers, asked, matters, note };
    drawn.show(rulers, take.into_iter().collect())
}

/// Gives the state that is drawn: the one asked about, else the one in which the trouble was reported.
pub(crate) fn state_in_question(desk: &Desk<'_, '_>, ask: &Ask) -> StateId {
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

fn take(machine: &Machine, reading: &Reading) -> Choice {
    let Probe::Across(a, b) = reading.probe else { return Choice { answer: String::new(), say: String::new() } };
    let state = &machine[reading.condition.state].id;
    Choice {
        answer: format!("ohms {} {} {state}", machine[a].name, machine[b].name),
        say: "take this reading, unplugged".to_owned(),
    }
}

fn photos(desk: &Desk<'_, '_>) -> Vec<Photo> {
    let machine = desk.session.machine();
    let name =
        |id: &str| machine.parts.iter().find(|part| part.id == id).map_or(id.to_owned(), |part| part.name.clone());
    let photo = |(at, parts, jpeg): (&book::ZonedTime, Vec<&str>, String)| {
        let shown: Vec<String> = parts.into_iter().map(name).collect();
        let of = if shown.is_empty() { "the machine".to_owned() } else { shown.join(", ") };
        // The day and the time on the wall, without the zone.
        let when = at.as_str().get(..16).unwrap_or_default().replace('T', " ");
        Photo { say: format!("{when}: {of}"), jpeg }
    };
    desk.photos().map(photo).collect()
}

fn papers(desk: &Desk<'_, '_>) -> Vec<Paper> {
    let paper = |(id, page): (String, Page)| Paper {
        html: to_html(&page),
        text: to_text(&page),
        title: if id == RECORD { "Record" } else { "Quote" }.to_owned(),
        id,
    };
    pages(desk).into_iter().map(paper).collect()
}

/// Gives the pages of the call's job with the ids by which they are asked for: the last quote, and the record.
pub(crate) fn pages(desk: &Desk<'_, '_>) -> Vec<(String, Page)> {
    let Some(job) = desk.session.job().and_then(|job| fold_job(&desk.book, job)) else { return Vec::new() };
    let heading = heading(desk.session.machine(), desk.customer(), desk.signed(), desk.is_demo());
    let mut pages = Vec::new();
    if let Some((entry, quote)) = job.all::<QuoteGiven>().last() {
        let quote = Entry { event: entry.event, call: entry.call, at: entry.at.clone(), fact: quote.clone() };
        pages.push((format!("quote-{}", entry.event.counter()), quote_page(&quote, &heading)));
    }
    pages.push((RECORD.to_owned(), record_page(&job, &heading)));
    pages
}
