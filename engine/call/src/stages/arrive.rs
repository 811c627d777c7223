//! Arrival: the floor, a photo, and the complaint seen with one's own eyes where that is safe.

use crate::ask::{About, Answer, Ask, Choice, Sort, Wants};
use crate::session::{Next, Session};
use crate::stages::{pursue, telephone};
use book::Stage;
use machine::model::PlaceId;

/// Says what arriving asks.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    if !s.now.arrived {
        let say = "Protect the floor and clear the way.";
        let ask = Ask::new(About::Arrive, Stage::Arrive, say, Wants::Done).on_enter(Answer::Done);
        let ask = if s.now.water == Some(true) {
            ask.line(Sort::Notice, "Water was reported: switch the breaker off from the dry before you step in.")
        } else {
            ask
        };
        let known = s.now.papers.iter().map(|(entry, text)| format!("{entry}: {text}"));
        return Next::ask(telephone::before_leaving(s, ask.lines(Sort::Plain, known)));
    }
    if s.now.water == Some(true) && !s.now.did("dried") {
        let say = "Dry it up: floor, machine, hands.";
        return Next::ask(line("dried", Stage::Arrive, say));
    }
    if !s.now.did("arrive/photo") {
        let say = "Take a photo of how it stands: plate, cord, vent, what is on it.";
        return Next::ask(line("arrive/photo", Stage::Arrive, say));
    }
    unit(s).or_else(|| see(s))
}

/// Asks how the unit has what a look tells, where nothing stands before the place.
fn unit(s: &Session<'_, '_>) -> Option<Next> {
    let machine = s.machine();
    let open = |place: PlaceId| teardown::exposed(&machine.access, place, &s.now.open());
    let asked = machine.open_variants().find(|(id, variant)| {
        let line = format!("unit/{}", variant.id);
        variant.look.is_some_and(open) && !s.now.units.contains(id) && !s.now.did(&line)
    });
    let (_, variant) = asked?;
    let choices = variant.ways().map(|way| Choice::new(variant.id_of(way), variant.say_of(way))).collect();
    let place = variant.look.map_or("", |place| machine.access.places[place.index()].say.as_str());
    let say = format!("Look {place}: what is {}?", variant.say);
    let ask = Ask::new(About::Unit(variant.id.clone()), Stage::Arrive, say, Wants::Choice(choices));
    Next::ask(ask.on_enter(Answer::Skip).line(Sort::Plain, "Enter if it cannot be told").with_own_way())
}

/// Sees the complaint, once, if nothing speaks against it.
fn see(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.did("arrive/see") || s.now.way_out.is_some() || s.now.supply.is_some() || s.now.calls > 1 {
        return None;
    }
    if s.now.energy.feed() != danger::Feed::On || s.now.dangerous() {
        return None;
    }
    let state = s.trouble().first().copied()?;
    if s.now.tries.iter().any(|(of, _, _)| *of == state) {
        return None;
    }
    let mut ask = pursue::watch(s, state, Stage::Arrive, false)?;
    ask.say = format!("See the complaint, if that is safe. {}", ask.say);
    ask.lines.insert(
        0,
        crate::ask::Line { sort: Sort::Do, say: "tell everyone, and see that nobody else is at it".to_owned() },
    );
    ask.lines.push(crate::ask::Line { sort: Sort::Plain, say: "`skip` if it is not safe or not possible".to_owned() });
    Next::ask(ask)
}

/// Asks for a line of a checklist.
pub(crate) fn line(id: &str, stage: Stage, say: impl Into<String>) -> Ask {
    Ask::new(About::Line(id.to_owned()), stage, say, Wants::Done).on_enter(Answer::Done)
}
