//! A network factored once, with the columns of its inverse that were asked for, so that changes and readings are a few
//! multiply-adds.

use std::sync::OnceLock;

use num_complex::Complex64;

use crate::change::{Change, Folded};
use crate::changed::Changed;
use crate::correction::Correction;
use crate::cuts::Cuts;
use crate::equations::{Factored, Few};
use crate::error::CircuitError;
use crate::network::{Branch, Network, Node};
use crate::port::Port;

/// Is a solved network.
#[derive(Debug, Clone)]
pub struct Solved {
    network: Network,
    pub(crate) factored: Factored,
    /// Columns of the inverse, each found when it is first read.
    inverse: Vec<OnceLock<Box<[Complex64]>>>,
    cuts: OnceLock<Cuts>,
}

impl Solved {
    pub(crate) fn of(network: Network) -> Result<Self, CircuitError> {
        let factored = Factored::of(&network)?;
        let inverse = vec![OnceLock::new(); factored.size()];
        Ok(Self { network, factored, inverse, cuts: OnceLock::new() })
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

    /// Finds the loops and cuts of the network with changes laid over it, on the graph alone.
    ///
    /// # Errors
    /// A change that names what does not exist or has no finite value.
    pub fn cuts(&self, changes: &[Change]) -> Result<Cuts, CircuitError> {
        Ok(Cuts::of(&self.network, &Folded::of(&self.network, changes)?))
    }

    /// Gives the loops and cuts of the network as it was solved.
    pub(crate) fn own_cuts(&self) -> &Cuts {
        self.cuts.get_or_init(|| Cuts::of(&self.network, &Folded::default()))
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
        drive.combine(|i| few.dot(self.column(i)))
    }

    /// Gives a column of the inverse; without a number in it where it cannot be found, which no residual lets through.
    fn column(&self, i: usize) -> &[Complex64] {
        self.inverse[i].get_or_init(|| {
            let n = self.factored.size();
            let mut unit = vec![Complex64::ZERO; n];
            unit[i] = Complex64::ONE;
            let column = self.factored.solve(&unit);
            column.unwrap_or_else(|_| vec![Complex64::new(f64::NAN, f64::NAN); n]).into()
        })
    }
}
