//! Contacts that a hand or a temperature moves: switch, door switch, button, timer, thermostat.

use super::passive::steady;
use crate::diagnostic::{BACKWARD, DUPLICATE_ID, UNKNOWN_POSITION};
use crate::faults::Effect;
use crate::lower::{Draft, Load, Usual};
use crate::model::{BranchId, Law, PartId, Rule};
use crate::raw::{self, Common, Contact};
use crate::reader::{Above0, At, Label, Num, Reader, guess, list_words};

/// The two usual faults of a contact.
#[derive(Clone, Copy, Debug)]
pub(crate) struct ContactFaults {
    pub(crate) open: Usual,
    pub(crate) welded: Usual,
}

/// A switch's, button's or timer's contact.
pub(crate) const SWITCH: ContactFaults = ContactFaults {
    open: Usual::new("open", 2.0, "contact {} not closing").seen(0.05),
    welded: Usual::new("welded", 0.5, "contact {} not opening").seen(0.05),
};
/// A door switch's contact: welded, the machine runs with its door open.
pub(crate) const DOOR_SWITCH: ContactFaults = ContactFaults {
    open: Usual::new("open", 4.0, "contact {} not closing").seen(0.1),
    welded: Usual::new("welded", 0.5, "contact {} not opening").seen(0.1).dangerous(),
};
const TIMER_STALLED: Usual = Usual::new("stalled", 2.0, "not advancing").seen(0.1);
const STUCK_OPEN: Usual = Usual::new("stuck-open", 4.0, "stuck open");
const WELDED: Usual = Usual::new("welded", 1.5, "stuck closed").dangerous();
const BURNT: Usual = Usual::new("burnt", 1.0, "contact burnt").seen(0.2);

/// Ohms of a sound closed contact.
pub(crate) const CONTACT_OHMS: f64 = 0.02;
/// Ohms of a burnt contact.
const BURNT_OHMS: f64 = 8.0;
/// Where a thermostat that never comes back by itself would come back, °C.
const NEVER_C: f64 = -300.0;

/// Gives the positions of an operated part, the kind's own if the file lists none.
pub(crate) fn positions(reader: &mut Reader<'_>, listed: Option<&Vec<At<Label>>>, usual: &[&str]) -> Vec<String> {
    let Some(listed) = listed else {
        return usual.iter().map(|position| (*position).to_owned()).collect();
    };
    let mut found: Vec<String> = Vec::new();
    for position in listed {
        if found.contains(&position.value.0) {
            let message = format!("there are two positions `{}`", position.value.0);
            reader.error(DUPLICATE_ID, &position.span, message, "name each position once");
        } else {
            found.push(position.value.0.clone());
        }
    }
    found
}

/// Complains about a position that the part does not have.
pub(crate) fn check_position(reader: &mut Reader<'_>, known: &[String], position: &At<String>, part: &str) {
    if known.contains(&position.value) {
        return;
    }
    let words = known.iter().map(String::as_str);
    let hint = guess(position, words.clone()).unwrap_or_else(|| format!("known: {}", list_words(words)));
    let message = format!("`{part}` has no position `{}`", position.value);
    reader.error(UNKNOWN_POSITION, &position.span, message, &hint);
}

/// Lowers the contacts of a part that a person sets.
pub(crate) fn operated(
    draft: &mut Draft<'_, '_, '_>,
    id: PartId,
    common: &Common,
    contacts: &[Contact],
    faults: &ContactFaults,
) {
    draft.list_ends(id, common);
    let known = draft.parts.get(id.index()).map(|part| part.positions.clone()).unwrap_or_default();
    for (number, contact) in (1..).zip(contacts) {
        for position in &contact.closed_in {
            check_position(draft.reader, &known, position, &common.id);
        }
        let closed_in = contact.closed_in.iter().map(|position| position.value.clone()).collect();
        let rule = Rule::Position { part: id, closed_in };
        contact_branch(
            draft,
            id,
            common,
            &Place { number, from: &contact.from, to: &contact.to },
            contact.ohms.as_ref(),
            rule,
            faults,
        );
    }
}

/// Which contact of its part it is, and between which terminals.
pub(crate) struct Place<'a> {
    pub(crate) number: usize,
    pub(crate) from: &'a At<Label>,
    pub(crate) to: &'a At<Label>,
}

/// Adds one contact with its rule and its two usual faults.
pub(crate) fn contact_branch(
    draft: &mut Draft<'_, '_, '_>,
    id: PartId,
    common: &Common,
    place: &Place<'_>,
    ohms: Option<&At<Num<Above0>>>,
    rule: Rule,
    faults: &ContactFaults,
) -> BranchId {
    let ends = draft.named_ends(id, common, place.from, place.to);
    let ohms = ohms.map_or(CONTACT_OHMS, |ohms| ***ohms);
    let key = format!("c{}", place.number);
    let branch = draft.way(id, &key, ends, Law::Contact { rule, ohms });
    let what = format!("{}-{}", place.from.value.0, place.to.value.0);
    draft.usual_of(id, &key, &what, &faults.open, vec![Effect::Open(branch)]);
    draft.usual_of(id, &key, &what, &faults.welded, vec![Effect::Ohms(branch, ohms)]);
    branch
}

/// Lowers a timer: its contacts and the motor that advances it.
pub(crate) fn timer(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Timer) {
    operated(draft, id, common, &body.contacts, &SWITCH);
    let Some(motor) = &body.motor else { return };
    let ends = draft.named_ends(id, common, &motor.from, &motor.to);
    let (watts, volts) = (**motor.watts, **motor.volts);
    let branch = draft.way(id, "motor", ends, steady(volts * volts / watts, 0.15));
    draft.usual(id, &TIMER_STALLED, vec![Effect::Open(branch), Effect::Stops(id)]);
    draft.loads.insert(id, Load { branches: vec![branch], watts, volts });
}

/// Lowers a thermostat.
pub(crate) fn thermostat(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Thermostat) {
    let ends = draft.two_ends(id, common);
    let zone = draft.zone(&body.zone);
    let trips_c = **body.trips_c;
    let resets_c = body.resets_c.as_ref().map_or(NEVER_C, |c| ***c);
    if let Some(resets) = body.resets_c.as_ref().filter(|_| resets_c >= trips_c) {
        let message =
            format!("`{}` comes back at {resets_c} °C, not below the {trips_c} °C at which it trips", &**common.id);
        draft.reader.error(BACKWARD, &resets.span, message, "give `resets_c` below `trips_c`");
    }
    let ohms = body.ohms.as_ref().map_or(CONTACT_OHMS, |ohms| ***ohms);
    let closed_cold = body.closed_cold.as_ref().is_none_or(|flag| flag.value);
    let rule = Rule::Temperature { zone, trips_c, resets_c, closed_cold };
    let branch = draft.way(id, "", ends, Law::Contact { rule, ohms });
    draft.usual(id, &STUCK_OPEN, vec![Effect::Open(branch)]);
    draft.usual(id, &WELDED, vec![Effect::Ohms(branch, ohms)]);
    draft.usual(id, &BURNT, vec![Effect::Ohms(branch, BURNT_OHMS)]);
}
