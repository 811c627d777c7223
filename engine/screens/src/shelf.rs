//! Machines at hand: the shop's own, kept in its book, and the shipped ones.

use crate::screen::Choice;
use call::{Refused, Shop};
use machine::{Machine, ReadMachine};
use shipped::Shipped;

/// Lists every machine, the shop's own first.
pub(crate) fn choices(shop: &Shop) -> Vec<Choice> {
    let title = |id: &String, text: &str| machine::title_in(text).unwrap_or_else(|| id.clone());
    let own = shop.machines.iter().map(|(id, text)| Choice { answer: id.clone(), say: title(id, text) });
    let shipped = shipped::ALL.iter().map(|one| Choice { answer: one.id.to_owned(), say: one.title() });
    own.chain(shipped).collect()
}

/// Gives the text of a machine, without what it builds on.
pub(crate) fn text(shop: &Shop, id: &str) -> Option<String> {
    shop.machines.get(id).cloned().or_else(|| shipped::find(id).map(|one| one.text.to_owned()))
}

/// Gives the text of a machine with all that it builds on, to tell versions apart by.
pub(crate) fn whole(shop: &Shop, id: &str) -> Option<String> {
    match shop.machines.get(id) {
        Some(own) => Some(machine::with_bases(own, &|base| text(shop, base))),
        None => shipped::find(id).map(Shipped::whole),
    }
}

/// Reads a description that may build on any machine at hand.
pub(crate) fn read_text(shop: &Shop, of: &str) -> ReadMachine {
    machine::read_with(of, &|base| text(shop, base))
}

/// Reads a machine.
pub(crate) fn read(shop: &Shop, id: &str) -> Result<Machine, Refused> {
    known(shop, id)?;
    let machine = text(shop, id).and_then(|text| read_text(shop, &text).machine);
    let mend = "open it under `describe a machine` and mend it";
    machine.ok_or_else(|| Refused::new(format!("the machine `{id}` cannot be read by this version"), mend))
}

/// Gives one of the shop's own machines with its text and all that it builds on; `None` for an id that is none of them.
///
/// # Errors
/// This version does not read it.
pub fn own_machine(shop: &Shop, id: &str) -> Option<Result<(Machine, String), Refused>> {
    let text = shop.machines.contains_key(id).then(|| whole(shop, id)).flatten()?;
    Some(read(shop, id).map(|machine| (machine, text)))
}

/// Refuses an id that no machine has.
pub(crate) fn known(shop: &Shop, id: &str) -> Result<(), Refused> {
    if shop.machines.contains_key(id) || shipped::find(id).is_some() {
        return Ok(());
    }
    Err(Refused::new(format!("there is no machine `{id}` in this version"), "take a newer version"))
}
