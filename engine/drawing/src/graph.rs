//! What is drawn: every stretch of a part between two terminals, every lead, and the chains that they make between
//! the points where more than two of them meet. Knows no coordinates.

mod chains;
mod fold;
mod items;

pub(crate) use chains::{Bar, Chain, Net, Step};
pub(crate) use fold::kept;
pub(crate) use items::{Item, ItemKind, closed_at_rest, items};

use machine::model::{Conductor, Machine, TerminalId};

/// Lists the rails: the machine's supply terminals, and the frame where leads or parts end on it.
pub(crate) fn rails(machine: &Machine, items: &[Item]) -> Vec<(Conductor, TerminalId)> {
    let mut rails = machine.supply.block.clone();
    let frame = machine.supply.frame;
    let used = items.iter().any(|item| item.from == frame || item.to == frame);
    if used && rails.iter().all(|(_, terminal)| *terminal != frame) {
        rails.push((Conductor::Ground, frame));
    }
    rails.sort_unstable();
    rails
}
