//! Symptoms: what differs from a sound machine, over all states, derived from the circuit.

use crate::observe::Seen;
use crate::predictor::Predictor;
use machine::model::{FaultId, StateId};

impl Predictor<'_> {
    /// Gives everything noticed over all states with these faults.
    #[must_use]
    pub fn observe_all(&self, faults: &[FaultId]) -> Vec<Seen> {
        self.state_ids().flat_map(|state| self.observe(state, faults)).collect()
    }

    /// Gives what is noticed with these faults and would not be on a sound machine.
    #[must_use]
    pub fn symptoms(&self, faults: &[FaultId]) -> Vec<Seen> {
        let sound = self.observe_all(&[]);
        self.observe_all(faults).into_iter().filter(|seen| !sound.contains(seen)).collect()
    }

    /// Gives every state's id in order.
    pub fn state_ids(&self) -> impl Iterator<Item = StateId> + use<> {
        (0..self.machine().states.len()).map(|index| StateId(u16::try_from(index).unwrap_or(u16::MAX)))
    }

    /// Gives every fault's id in order.
    pub fn fault_ids(&self) -> impl Iterator<Item = FaultId> + use<> {
        (0..self.machine().faults.len()).map(|index| FaultId(u16::try_from(index).unwrap_or(u16::MAX)))
    }
}
