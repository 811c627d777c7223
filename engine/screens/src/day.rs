//! The day: the call to go on with, the jobs that wait, and a new call. Opens no sealed record but the name it shows.

use crate::screen::{Choice, Day, Place, Screen};
use crate::shipped::SHIPPED;
use book::{Body, Event, JobFact, Purpose};
use call::{unfinished, waiting};

/// Shows the day. `damaged` says which records could not be read; `name_of` gives the customer of these events.
#[must_use]
pub fn screen(events: &[Event], damaged: &[String], name_of: &dyn Fn(&[Event]) -> Option<String>) -> Screen {
    let named = |events: &[Event]| name_of(events).unwrap_or_else(|| "a customer without a name here".to_owned());
    let waits = |of: &call::Waiting| {
        let what = if of.purpose == Purpose::WithPart { "a part" } else { "a proof that was put off" };
        format!("{}: waits for {what}", named(&of.events))
    };
    let title = |text: &str| machine::read(text).machine.map(|machine| machine.title).unwrap_or_default();
    let machines = SHIPPED.iter().map(|(id, text)| Choice { answer: (*id).to_owned(), say: title(text) });
    let closed = |event: &&Event| matches!(event.body(), Body::Job { fact: JobFact::JobClosed(_), .. });
    let mut screen = Screen::of(Place::Day);
    "The day".clone_into(&mut screen.say);
    screen.day = Some(Day {
        unfinished: unfinished(events).map(|call| named(&call.events)),
        waiting: waiting(events).iter().map(waits).collect(),
        machines: machines.collect(),
        closed: events.iter().filter(closed).count(),
        damaged: damaged.to_vec(),
    });
    screen
}
