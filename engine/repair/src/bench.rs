//! How the machine on the bench stands: covers, energy, what was done. Decides nothing.

use machine::model::{PartId, RepairId, StateId, TerminalId};
use prediction::Reading;
use std::collections::BTreeSet;
use teardown::Open;

/// Where the call stands at the machine.
#[derive(Clone, Debug, Default)]
pub struct Bench {
    /// Covers that are off.
    pub open: Open,
    /// Isolated and measured dead at the places that are open.
    pub isolated: bool,
    /// States in which the trouble shows, by what was reported or watched.
    pub trouble: Vec<StateId>,
    /// States that were run and watched since the last repair.
    pub watched: BTreeSet<StateId>,
    /// Readings taken since the last repair.
    pub read: Vec<Reading>,
    /// Parts looked at.
    pub looked: BTreeSet<PartId>,
    /// The use was explained since the last repair, and the trouble shows all the same.
    pub explained: bool,
    /// Repairs done.
    pub repaired: Vec<RepairId>,
    /// Points the technician cannot reach.
    pub out_of_reach: BTreeSet<TerminalId>,
    /// Repairs whose part is not on the van.
    pub not_on_van: BTreeSet<RepairId>,
}
