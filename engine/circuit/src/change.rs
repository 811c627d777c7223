//! What can be changed about a solved network, and the network that results.

use num_complex::Complex64;
use smallvec::SmallVec;

use crate::error::CircuitError;
use crate::network::{Branch, Laid, Law, Network, Node};

/// Is one change to a network.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Change {
    /// A branch obeys another law. Of several for one branch the last counts.
    Law(Branch, Law),
    /// One more branch, from `a` to `b`. It is numbered after the network's own branches and earlier bridges.
    Bridge {
        /// First node.
        a: Node,
        /// Second node.
        b: Node,
        /// Its impedance in ohms; zero is allowed.
        impedance: Complex64,
    },
}

/// Is a list of changes brought into order: one law a branch, ascending, and the bridges.
#[derive(Debug, Clone, Default)]
pub(crate) struct Folded {
    pub(crate) laws: SmallVec<[(usize, Law); 2]>,
    pub(crate) bridges: SmallVec<[Laid; 1]>,
}

impl Folded {
    /// Orders the changes and checks that they name what exists.
    pub(crate) fn of(network: &Network, changes: &[Change]) -> Result<Self, CircuitError> {
        let mut folded = Self::default();
        for change in changes {
            match *change {
                Change::Law(branch, law) => {
                    if branch.index() >= network.branch_count() {
                        return Err(CircuitError::NoSuchBranch { branch });
                    }
                    if !law.is_finite() {
                        return Err(CircuitError::NotFinite { branch });
                    }
                    match folded.laws.binary_search_by_key(&branch.index(), |l| l.0) {
                        Ok(i) => folded.laws[i].1 = law,
                        Err(i) => folded.laws.insert(i, (branch.index(), law)),
                    }
                }
                Change::Bridge { a, b, impedance } => folded.bridge(network, a, b, impedance)?,
            }
        }
        Ok(folded)
    }

    fn bridge(&mut self, network: &Network, a: Node, b: Node, impedance: Complex64) -> Result<(), CircuitError> {
        for node in [a, b] {
            if node.index() >= network.node_count() {
                return Err(CircuitError::NoSuchNode { node });
            }
        }
        if !impedance.is_finite() {
            return Err(CircuitError::NotFinite { branch: Branch::at(network.branch_count() + self.bridges.len()) });
        }
        self.bridges.push(Laid { a: a.index(), b: b.index(), law: Law::Impedance(impedance) });
        Ok(())
    }

    /// Gives the law of a branch after the changes.
    pub(crate) fn law(&self, network: &Network, k: usize) -> Law {
        self.laws
            .binary_search_by_key(&k, |l| l.0)
            .map_or_else(|_| network.branches().get(k).map_or(Law::Open, |laid| laid.law), |i| self.laws[i].1)
    }

    /// Builds the changed network, bridges last.
    pub(crate) fn apply(&self, network: &Network) -> Network {
        let mut changed = network.clone();
        changed.replace(&self.laws, &self.bridges);
        changed
    }
}
