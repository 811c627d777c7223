//! The day: the call to go on with, the jobs that wait, and a new call. Opens no sealed record but the name it shows.

use crate::screen::Day;
use crate::shelf;
use crate::vault::Vault;
use book::{Body, DeviceId, Event, JobFact, ShopFact};
use call::{Shop, unfinished, waiting};

/// Gives the day. `damaged` says which records could not be read.
pub(super) fn day(events: &[Event], device: DeviceId, damaged: &[String], vault: &Vault, shop: &Shop) -> Day {
    let named =
        |events: &[Event]| name_of(events, vault).unwrap_or_else(|| "a customer without a name here".to_owned());
    let waits = |of: &call::Waiting| format!("{}: waits for {}", named(&of.events), of.waits_for());
    let closed = |event: &&Event| matches!(event.body(), Body::Job { fact: JobFact::JobClosed(_), .. });
    Day {
        unfinished: unfinished(events, device).map(|call| named(&call.events)),
        waiting: waiting(events).iter().map(waits).collect(),
        machines: shelf::choices(shop),
        closed: events.iter().filter(closed).count(),
        damaged: damaged.to_vec(),
    }
}

/// Gives the customer's name, where his record can be opened.
fn name_of(events: &[Event], vault: &Vault) -> Option<String> {
    let (key, record) = events.iter().find_map(|event| match event.body() {
        Body::Shop(ShopFact::CustomerAdded(added)) => Some((added.key, added.record)),
        _ => None,
    })?;
    vault.person(key, record).map(|person| person.name).filter(|name| !name.is_empty())
}
