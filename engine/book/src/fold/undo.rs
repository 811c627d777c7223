//! Which events no longer count.
//!
//! Refuses to know what they say, except that they undo.

use std::collections::{BTreeMap, BTreeSet};

use crate::event::{Body, Event, Rank};
use crate::ids::EventId;

/// Finds the events that an undo which itself counts has taken back. `sorted` is in order of rank.
///
/// An undo reaches only backwards: one whose target is not before it in the order does nothing. So whether an undo
/// counts depends on later ones alone, and one pass from the end settles all of them.
pub(super) fn undone_among(sorted: &[&Event]) -> BTreeSet<EventId> {
    let target = |event: &&Event| match event.body() {
        Body::Undo { undone, .. } => Some(undone.event),
        _ => None,
    };
    let targets: BTreeSet<EventId> = sorted.iter().filter_map(target).collect();
    let mut earliest: BTreeMap<EventId, Rank> = BTreeMap::new();
    for event in sorted.iter().filter(|event| targets.contains(&event.id())) {
        earliest.entry(event.id()).or_insert_with(|| event.rank());
    }
    let mut undone = BTreeSet::new();
    for event in sorted.iter().rev() {
        let Body::Undo { undone: undo, .. } = event.body() else { continue };
        let reaches_back = earliest.get(&undo.event).is_some_and(|target| *target < event.rank());
        if reaches_back && !undone.contains(&event.id()) {
            undone.insert(undo.event);
        }
    }
    undone
}
