//! What of a copy is filed away, as far as an exchange must know: which events, not what they say.
//!
//! Counters of one device's events lie close together, so runs of them are short where a name for each would be long.

use crate::have::Digest;
use book::{DeviceId, Event, EventId, Seen};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The events that are filed away.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Filed(BTreeMap<DeviceId, OfDevice>);

/// Those of one device.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
struct OfDevice {
    /// From and to, in order, none touching the next.
    runs: Vec<(u64, u64)>,
    /// Of their texts.
    digest: Digest,
}

impl Filed {
    /// Files an event; tells whether its name was not filed before.
    pub fn file(&mut self, event: &Event) -> bool {
        let new = !self.has(event.id());
        if new {
            let of = self.0.entry(event.id().device()).or_default();
            of.digest.add(event.sum());
            insert(&mut of.runs, event.id().counter());
        }
        new
    }

    /// Brings an event back.
    pub fn bring(&mut self, event: &Event) {
        let Some(of) = self.0.get_mut(&event.id().device()) else { return };
        if remove(&mut of.runs, event.id().counter()) {
            // Added a second time it is gone.
            of.digest.add(event.sum());
        }
    }

    /// Tells whether an event of this name is filed.
    #[must_use]
    pub fn has(&self, id: EventId) -> bool {
        self.run_over(id.device(), id.counter()).is_some()
    }

    /// Gives the end of the run that goes over a counter.
    pub(crate) fn run_over(&self, device: DeviceId, counter: u64) -> Option<u64> {
        let runs = &self.0.get(&device)?.runs;
        let at = runs.partition_point(|(from, _)| *from <= counter).checked_sub(1)?;
        runs.get(at).map(|(_, to)| *to).filter(|to| *to >= counter)
    }

    /// Tells whether anything of a device after a counter is filed.
    #[must_use]
    pub fn has_after(&self, device: DeviceId, counter: u64) -> bool {
        self.0.get(&device).and_then(|of| of.runs.last()).is_some_and(|(_, to)| *to > counter)
    }

    /// Gives the digest of what is filed of a device.
    pub(crate) fn digest_of(&self, device: DeviceId) -> Digest {
        self.0.get(&device).map_or_else(Digest::default, |of| of.digest)
    }

    /// Iterates over the devices of which anything is filed.
    pub(crate) fn devices(&self) -> impl Iterator<Item = DeviceId> + '_ {
        self.0.keys().copied()
    }

    /// Gives the highest counter of each device: none of them may be written anew.
    #[must_use]
    pub fn seen(&self) -> Seen {
        let mut seen = Seen::default();
        let last = self.0.iter().filter_map(|(device, of)| EventId::new(*device, of.runs.last()?.1));
        last.for_each(|id| seen.note(id));
        seen
    }
}

fn insert(runs: &mut Vec<(u64, u64)>, counter: u64) {
    let at = runs.partition_point(|(from, _)| *from <= counter);
    let joins_before = at > 0 && runs.get(at - 1).is_some_and(|(_, to)| to + 1 == counter);
    let joins_after = runs.get(at).is_some_and(|(from, _)| *from == counter + 1);
    match (joins_before, joins_after) {
        (true, true) => {
            let (_, to) = runs.remove(at);
            runs[at - 1].1 = to;
        }
        (true, false) => runs[at - 1].1 = counter,
        (false, true) => runs[at].0 = counter,
        (false, false) => runs.insert(at, (counter, counter)),
    }
}

fn remove(runs: &mut Vec<(u64, u64)>, counter: u64) -> bool {
    let Some(at) = runs.partition_point(|(from, _)| *from <= counter).checked_sub(1) else { return false };
    let (from, to) = runs[at];
    if to < counter {
        return false;
    }
    let before = (from < counter).then(|| (from, counter - 1));
    let after = (to > counter).then(|| (counter + 1, to));
    runs.splice(at..=at, before.into_iter().chain(after));
    true
}

#[cfg(test)]
mod tests {
    use super::{insert, remove};
    use std::collections::BTreeSet;

    #[test]
    fn runs_hold_what_a_set_of_counters_holds() {
        // A small generator, the same each time: drawn counters go in and out.
        let (mut runs, mut set, mut state) = (Vec::new(), BTreeSet::new(), 7_u64);
        for _ in 0..4_000 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let counter = 1 + (state >> 33) % 60;
            if set.contains(&counter) {
                assert!(remove(&mut runs, counter) && set.remove(&counter));
                assert!(!remove(&mut runs, counter));
            } else {
                insert(&mut runs, counter);
                set.insert(counter);
            }
            let spread: Vec<u64> = runs.iter().flat_map(|(from, to)| *from..=*to).collect();
            assert_eq!(spread, set.iter().copied().collect::<Vec<u64>>());
            assert!(runs.windows(2).all(|pair| pair[0].1 + 1 < pair[1].0), "runs that touch are one: {runs:?}");
        }
    }
}
