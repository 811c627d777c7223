//! A network factored once, with its inverse at hand, so that changes and readings are a few multiply-adds.

use num_complex::Complex64;

use crate::change::{Change, Folded};
use crate::changed::Changed;
use crate::correction::Correction;
use crate::equations::{Factored, Few};
use crate::error::CircuitError;
use crate::network::{Branch, Network, Node};
use crate::port::Port;

/// Is a solved network.
#[derive(Debug, Clone)]
pub struct Solved {
    network: Network,
    pub(crate) factored: Factored,
    /// Column after column.
    inverse: Vec<Complex64>,
}

impl Solved {
    pub(crate) fn of(network: Network) -> Result<Self, CircuitError> {
        let factored = Factored::of(&network)?;
        let n = factored.size();
        let mut inverse = Vec::with_capacity(n * n);
        let mut unit = vec![Complex64::ZERO; n];
        for i in 0..n {
            unit[i] = Complex64::ONE;
            inverse.extend(factored.solve(&unit)?);
            unit[i] = Complex64::ZERO;
        }
        Ok(Self { network, factored, inverse })
    }

    /// Gives the network as it was solved.
    #[must_use]
    pub const fn network(&self) -> &Network {
        &self.network
    }

    /// Answers for the network with changes laid over it; an empty list is allowed.
    ///
    /// Work: a union-find over the branches if a change opens or closes anything, and a system of as many
    /// unknowns as changes. Where that system has lost its digits the changed network is factored afresh:
    /// see [`Changed::refactored`].
    ///
    /// # Errors
    /// A change that names what does not exist or has no finite value; a loop of branches without impedance
    /// that the changes bring about; [`CircuitError::Singular`].
    pub fn with(&self, changes: &[Change]) -> Result<Changed<'_>, CircuitError> {
        Changed::of(self, Folded::of(&self.network, changes)?)
    }

    /// Answers for the network as it is.
    #[must_use]
    pub fn unchanged(&self) -> Changed<'_> {
        Changed::unchanged(Correction::none(self))
    }

    /// Gives the current of a branch from its first node to its second, in amperes. See [`Changed::current`].
    #[must_use]
    pub fn current(&self, branch: Branch) -> Complex64 {
        self.unchanged().current(branch)
    }

    /// Gives `v_a - v_b` in volts, or nothing across islands.
    #[must_use]
    pub fn voltage(&self, a: Node, b: Node) -> Option<Complex64> {
        self.unchanged().voltage(a, b)
    }

    /// Gives what a meter sees from `a` (red) to `b` (black).
    #[must_use]
    pub fn port(&self, a: Node, b: Node) -> Port {
        self.unchanged().port(a, b)
    }

    /// Tells whether a conductive path ties two nodes.
    #[must_use]
    pub fn same_island(&self, a: Node, b: Node) -> bool {
        self.unchanged().same_island(a, b)
    }

    /// Reads `few` from the inverse's column for `drive`.
    pub(crate) fn form(&self, few: &Few, drive: &Few) -> Complex64 {
        let n = self.factored.size();
        drive.combine(|i| few.dot(&self.inverse[i * n..(i + 1) * n]))
    }
}
