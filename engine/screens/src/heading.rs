//! What stands over the papers, and what ids are called in words.

use book::{Body, Event, JobFact, Person, RecordId, Signature, Signed};
use documents::Heading;
use machine::model::{Machine, ObservedValue, TerminalId};
use std::collections::BTreeMap;

/// Gives the heading of the papers of a call on this machine.
#[must_use]
pub fn heading(machine: &Machine, customer: Option<Person>, signed: BTreeMap<RecordId, Signed>, demo: bool) -> Heading {
    let (shop, note) = if demo {
        ("Demo shop of Sampleton".to_owned(), Some("Shop, town, customer and appliance are invented.".to_owned()))
    } else {
        ("Service record".to_owned(), None)
    };
    Heading { shop, note, customer, signed, appliance: machine.title.clone(), words: words(machine) }
}

/// Gives the sealed records of the signatures among these events.
pub fn signatures(events: &[Event]) -> impl Iterator<Item = RecordId> {
    events.iter().filter_map(|event| {
        let Body::Job { fact, .. } = event.body() else { return None };
        let signature = match fact {
            JobFact::ApprovalRecorded(approval) => approval.signature,
            JobFact::HazardFound(found) => found.signature,
            JobFact::HandedOver(handed) => handed.signature?,
            _ => return None,
        };
        match signature {
            Signature::Signed { record } | Signature::Remote { record } => Some(record),
            Signature::Refused | Signature::NobodyThere => None,
        }
    })
}

fn words(machine: &Machine) -> BTreeMap<String, String> {
    let mut words = BTreeMap::new();
    for (id, terminal) in (0..).map(TerminalId).zip(&machine.terminals) {
        words.insert(terminal.name.clone(), diagnosis::words::terminal(machine, id));
    }
    for branch in &machine.branches {
        words.insert(branch.name.clone(), format!("the conductor {}", branch.name));
    }
    words.extend(machine.parts.iter().map(|part| (part.id.clone(), part.name.clone())));
    words.extend(machine.states.iter().map(|state| (state.id.clone(), state.say.clone())));
    words.extend(machine.access.steps.iter().map(|cover| (cover.id.clone(), cover.say.clone())));
    words.extend(machine.proofs.iter().map(|proof| (format!("proof:{}", proof.id), proof.say.clone())));
    for observation in &machine.observations {
        let of = |value: &ObservedValue| (format!("{}={}", observation.id, value.id), value.say.clone());
        words.extend(observation.values.iter().map(of));
    }
    words
}
