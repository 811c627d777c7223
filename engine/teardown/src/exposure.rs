//! What is open and what that exposes. Knows no costs and no order beyond "this must come first".

use machine::access::Access;
use machine::model::{CoverId, PlaceId};
use std::collections::BTreeSet;

/// The covers that are off now.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Open(BTreeSet<CoverId>);

impl Open {
    /// Nothing is off: the machine as it stands.
    #[must_use]
    pub fn nothing() -> Self {
        Self::default()
    }

    /// Says whether the cover is off.
    #[must_use]
    pub fn has(&self, cover: CoverId) -> bool {
        self.0.contains(&cover)
    }

    /// Says whether every one of the covers is off.
    #[must_use]
    pub fn has_all(&self, covers: &[CoverId]) -> bool {
        covers.iter().all(|&cover| self.has(cover))
    }

    /// Notes that the cover came off.
    pub fn opened(&mut self, cover: CoverId) {
        self.0.insert(cover);
    }

    /// Notes that the cover is back on.
    pub fn closed(&mut self, cover: CoverId) {
        self.0.remove(&cover);
    }

    /// Lists the covers that are off, lowest id first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = CoverId> + '_ {
        self.0.iter().copied()
    }

    /// Counts the covers that are off.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Says whether nothing is off.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }
}

impl FromIterator<CoverId> for Open {
    fn from_iter<I: IntoIterator<Item = CoverId>>(covers: I) -> Self {
        Self(covers.into_iter().collect())
    }
}

/// Says whether the place can be reached with what is off now.
///
/// A place of no alternatives at all is exposed by nothing; one of an empty alternative is open as it stands. A place
/// that the machine does not have is not exposed.
#[must_use]
pub fn exposed(access: &Access, place: PlaceId, open: &Open) -> bool {
    access.places.get(place.index()).is_some_and(|place| place.exposed_by.iter().any(|way| open.has_all(way)))
}

/// Says whether the cover can come off next: it is on, and what must come first is off.
///
/// A cover of no alternatives needs nothing first.
#[must_use]
pub fn can_open(access: &Access, cover: CoverId, open: &Open) -> bool {
    let Some(step) = access.steps.get(cover.index()) else { return false };
    !open.has(cover) && (step.needs.is_empty() || step.needs.iter().any(|way| open.has_all(way)))
}

/// Lists the covers that can come off next, lowest id first.
#[must_use]
pub fn openable(access: &Access, open: &Open) -> Vec<CoverId> {
    cover_ids(access).filter(|&cover| can_open(access, cover, open)).collect()
}

/// Numbers the covers; more than an id can number are left out, which the reader of a machine refuses anyway.
pub(crate) fn cover_ids(access: &Access) -> impl Iterator<Item = CoverId> + use<> {
    (0..access.steps.len()).map_while(|index| u16::try_from(index).ok()).map(CoverId)
}

/// Numbers the places, likewise.
pub(crate) fn place_ids(access: &Access) -> impl Iterator<Item = PlaceId> + use<> {
    (0..access.places.len()).map_while(|index| u16::try_from(index).ok()).map(PlaceId)
}
