//! The unit at hand: what the book has learned of it, laid over the description of its machine. Keeps nothing itself.

use crate::settings::Shop;
use book::{Body, Event, ShopFact};
use machine::Machine;

/// Settles the variants and puts on the labels that these events have learned of the unit, the latest last.
///
/// What the description no longer has is passed over: it was learned under an older text.
pub fn adapt(machine: &mut Machine, events: &[Event]) {
    for event in events {
        let Body::Shop(ShopFact::ApplianceLearned(learned)) = event.body() else { continue };
        let settled: Vec<_> =
            learned.variants.iter().filter_map(|(id, way)| machine.variant_way(id, way).ok()).collect();
        machine.settle(&settled);
        for (name, printed) in &learned.labels {
            machine.print_label(name, printed);
        }
    }
}

/// Takes up the weights that the shop's own jobs taught of this machine, where it took them up.
pub fn take_up(machine: &mut Machine, shop: &Shop) {
    let Some(learned) = shop.learned.get(&machine.id) else { return };
    for of in &learned.weights {
        let id = format!("{}:{}", of.fault.part, of.fault.fault);
        for fault in machine.faults.iter_mut().filter(|fault| fault.id == id) {
            fault.weight = of.weight.get();
        }
    }
}
