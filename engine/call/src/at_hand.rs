//! The unit at hand: what the book has learned of it, laid over the description of its machine. Keeps nothing itself.

use book::{Body, Event, ShopFact};
use machine::model::{Machine, VariantId};

/// Settles the variants and puts on the labels that these events have learned of the unit, the latest last.
///
/// What the description no longer has is passed over: it was learned under an older text.
pub fn adapt(machine: &mut Machine, events: &[Event]) {
    for event in events {
        let Body::Shop(ShopFact::ApplianceLearned(learned)) = event.body() else { continue };
        let settled: Vec<_> = learned.variants.iter().filter_map(|(id, way)| way_of(machine, id, way)).collect();
        machine.settle(&settled);
        for (name, printed) in &learned.labels {
            machine.print_label(name, printed);
        }
    }
}

/// Finds a variant and one of its ways by their ids.
pub(crate) fn way_of(machine: &Machine, variant: &str, way: &str) -> Option<(VariantId, Option<usize>)> {
    let (id, known) = (0..).map(VariantId).zip(&machine.variants).find(|(_, known)| known.id == variant)?;
    Some((id, known.find(way)?))
}
