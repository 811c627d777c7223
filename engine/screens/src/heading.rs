//! What stands over the papers, and what ids are called in words.

use book::Person;
use documents::Heading;
use machine::model::{Machine, ObservedValue, TerminalId};
use std::collections::BTreeMap;

/// Gives the heading of the papers of a call on this machine.
#[must_use]
pub fn heading(machine: &Machine, customer: Option<Person>, demo: bool) -> Heading {
    let (shop, note) = if demo {
        ("Demo shop of Sampleton".to_owned(), Some("Shop, town, customer and appliance are invented.".to_owned()))
    } else {
        ("Service record".to_owned(), None)
    };
    Heading { shop, note, customer, appliance: machine.title.clone(), words: words(machine) }
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
