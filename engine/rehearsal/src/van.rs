//! The van: which parts are on it, and which calls can be completed from it.

use machine::Machine;
use machine::faults::RepairKind;
use machine::model::{PartId, RepairId};
use std::collections::BTreeSet;

/// What is on the van for one machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Van(BTreeSet<PartId>);

impl Van {
    /// Takes what the description calls stocked as a rule.
    #[must_use]
    pub fn as_described(machine: &Machine) -> Self {
        let stocked = machine.repairs.iter().filter(|repair| repair.stocked);
        Self(stocked.map(|repair| repair.part).collect())
    }

    /// Reads a list: one part's id a line; what follows `#` is a remark.
    ///
    /// # Errors
    /// Every word that is no part of the machine.
    pub fn read(machine: &Machine, text: &str) -> Result<Self, Vec<String>> {
        let words =
            text.lines().map(|line| line.split('#').next().unwrap_or("").trim()).filter(|word| !word.is_empty());
        let mut on = BTreeSet::new();
        let mut strange = Vec::new();
        for word in words {
            let at = machine.parts.iter().position(|part| part.id == word).and_then(|at| u16::try_from(at).ok());
            match at {
                Some(at) => {
                    on.insert(PartId(at));
                }
                None => strange.push(word.to_owned()),
            }
        }
        if strange.is_empty() { Ok(Self(on)) } else { Err(strange) }
    }

    /// Says whether everything that a repair fits is on the van; what is mended or cleaned needs no part.
    #[must_use]
    pub fn has(&self, machine: &Machine, repair: RepairId) -> bool {
        let repair = &machine.repairs[repair.index()];
        let parts = std::iter::once(&repair.part).chain(&repair.together);
        repair.kind != RepairKind::Replace || parts.into_iter().all(|part| self.0.contains(part))
    }
}
