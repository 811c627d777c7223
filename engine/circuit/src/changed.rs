//! A solved network under changes: what is read anywhere in it.
//!
//! Each value is the base's less one product an operation. If what is left is so small beside the terms that
//! rounding could show, the changed network is factored afresh, once, and answers from then on.

use std::sync::OnceLock;

use num_complex::Complex64;

use crate::adjoint::Adjoint;
use crate::change::Folded;
use crate::correction::{Correction, Drive, FLOOR_AMPERES, FLOOR_OHMS, FLOOR_VOLTS, Sum};
use crate::equations::Factored;
use crate::error::CircuitError;
use crate::ideal;
use crate::network::{Branch, Law, Node};
use crate::port::{Port, highest_volts};
use crate::solved::Solved;

/// Is a solved network with changes laid over it.
#[derive(Debug)]
pub struct Changed<'a> {
    correction: Correction<'a>,
    fresh: OnceLock<Option<Box<Factored>>>,
    potentials: OnceLock<Vec<Complex64>>,
}

impl<'a> Changed<'a> {
    pub(crate) const fn unchanged(correction: Correction<'a>) -> Self {
        Self { correction, fresh: OnceLock::new(), potentials: OnceLock::new() }
    }

    pub(crate) fn of(base: &'a Solved, folded: Folded) -> Result<Self, CircuitError> {
        let network = base.network();
        let ideal = |law: Law| law.closed().is_some_and(|c| c.z == Complex64::ZERO);
        if folded.laws.iter().any(|&(k, law)| ideal(law) && !ideal(network.branches()[k].law))
            || folded.bridges.iter().any(|laid| ideal(laid.law))
        {
            let changed = folded.apply(network);
            ideal::check(changed.node_count(), changed.branches())?;
        }
        let mut changed = Self::unchanged(Correction::of(base, folded));
        if !changed.correction.holds() {
            changed.fresh = OnceLock::from(Some(Box::new(changed.afresh()?)));
        }
        Ok(changed)
    }

    /// Tells whether the low-rank path was left and the changed network factored afresh.
    ///
    /// It can turn true at a query: only a query shows which digits are needed.
    #[must_use]
    pub fn refactored(&self) -> bool {
        self.fresh.get().is_some_and(Option::is_some)
    }

    /// Names the branch that a bridge became, counting bridges from zero in the order given.
    #[must_use]
    pub fn bridge(&self, index: usize) -> Branch {
        Branch::at(self.correction.base.factored.own + index)
    }

    /// Gives the current of a branch from its first node to its second, in amperes.
    ///
    /// Exactly zero in an open branch, and in a branch that does not exist.
    #[must_use]
    pub fn current(&self, branch: Branch) -> Complex64 {
        let k = branch.index();
        let afresh = |fresh: &Factored| self.fresh_current(fresh, k, &fresh.x);
        self.answer(FLOOR_AMPERES, afresh, || self.correction.source_current(k))
    }

    /// Gives `v_a - v_b` in volts, or nothing if no conductive path ties the two nodes.
    #[must_use]
    pub fn voltage(&self, a: Node, b: Node) -> Option<Complex64> {
        self.same_island(a, b).then(|| self.volts(a.index(), b.index()))
    }

    /// Gives what a meter sees from `a` (red) to `b` (black).
    #[must_use]
    pub fn port(&self, a: Node, b: Node) -> Port {
        if !self.same_island(a, b) {
            return Port::Floating { highest_volts: self.highest_volts(a.index(), b.index()) };
        }
        let (a, b) = (a.index(), b.index());
        if self.taken().is_none() {
            let (volts, ohms) = self.correction.port(a, b);
            if self.correction.settles(volts, FLOOR_VOLTS) && self.correction.settles(ohms, FLOOR_OHMS) {
                return Port::Tied { open_volts: volts.value, source_impedance: ohms.value };
            }
        }
        let (open_volts, source_impedance) = match self.refactor() {
            Some(fresh) => {
                let pair = fresh.layout.pair(a, b);
                let ohms = fresh.column(&pair).map_or(Complex64::ZERO, |column| pair.dot(&column));
                (pair.dot(&fresh.x), ohms)
            }
            None => {
                let (volts, ohms) = self.correction.port(a, b);
                (volts.value, ohms.value)
            }
        };
        Port::Tied { open_volts, source_impedance }
    }

    /// Tells whether a conductive path ties two nodes. A node that does not exist is tied to nothing.
    #[must_use]
    pub fn same_island(&self, a: Node, b: Node) -> bool {
        let islands = self.correction.islands();
        match (islands.get(a.index()), islands.get(b.index())) {
            (Some(a), Some(b)) => a == b,
            _ => false,
        }
    }

    /// Prepares the sensitivities of a port's open voltage and source impedance.
    ///
    /// Nothing if no conductive path ties the two nodes.
    #[must_use]
    pub fn port_adjoint(&self, a: Node, b: Node) -> Option<Adjoint<'_>> {
        if !self.same_island(a, b) {
            return None;
        }
        let ends = Some((a, b));
        let (a, b) = (a.index(), b.index());
        let fresh = self.taken().and_then(|fresh| fresh.column(&fresh.layout.pair(a, b)).ok());
        Some(Adjoint::of(self, Drive::Ampere(self.correction.pair(a, b)), ends, fresh))
    }

    /// Prepares the sensitivities of a branch's current. Those of an open branch's are zero.
    #[must_use]
    pub fn current_adjoint(&self, branch: Branch) -> Adjoint<'_> {
        let k = branch.index();
        let fresh = self.taken().map(|fresh| {
            let none = || vec![Complex64::ZERO; fresh.size()];
            if self.correction.conducts(k) {
                fresh.column(&fresh.layout.branch(k)).unwrap_or_else(|_| none())
            } else {
                none()
            }
        });
        Adjoint::of(self, Drive::Volt(k), None, fresh)
    }

    pub(crate) const fn correction(&self) -> &Correction<'a> {
        &self.correction
    }

    /// Gives the fresh factorisation if there is one already.
    pub(crate) fn taken(&self) -> Option<&Factored> {
        self.fresh.get().and_then(Option::as_deref)
    }

    pub(crate) fn fresh_current(&self, fresh: &Factored, k: usize, x: &[Complex64]) -> Complex64 {
        if self.correction.conducts(k) { fresh.layout.branch(k).dot(x) } else { Complex64::ZERO }
    }

    /// Factors the changed network afresh if that has not been done; nothing if even that has no solution.
    fn refactor(&self) -> Option<&Factored> {
        self.fresh.get_or_init(|| self.afresh().ok().map(Box::new)).as_deref()
    }

    fn afresh(&self) -> Result<Factored, CircuitError> {
        Factored::of(&self.correction.folded().apply(self.correction.base.network()))
    }

    fn volts(&self, a: usize, b: usize) -> Complex64 {
        let afresh = |fresh: &Factored| fresh.layout.pair(a, b).dot(&fresh.x);
        self.answer(FLOOR_VOLTS, afresh, || self.correction.volts(a, b))
    }

    /// Answers by the low-rank path if its digits suffice, else afresh.
    fn answer(&self, floor: f64, afresh: impl Fn(&Factored) -> Complex64, low_rank: impl Fn() -> Sum) -> Complex64 {
        if let Some(fresh) = self.taken() {
            return afresh(fresh);
        }
        let sum = low_rank();
        if self.correction.settles(sum, floor) {
            return sum.value;
        }
        self.refactor().map_or(sum.value, afresh)
    }

    /// Bounds what can stand between two islands; see [`Port::Floating`].
    fn highest_volts(&self, a: usize, b: usize) -> f64 {
        let islands = self.correction.islands();
        let potentials = self
            .potentials
            .get_or_init(|| islands.iter().enumerate().map(|(i, &label)| self.volts(i, label)).collect());
        highest_volts(islands, potentials, a, b)
    }
}
