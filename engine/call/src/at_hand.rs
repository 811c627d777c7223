//! The unit at hand: what the book has learned of it, laid over the description of its machine. Keeps nothing itself.

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
