//! Sensitivities of a port, or of a branch's current, to every branch's values, by the adjoint.

use num_complex::Complex64;

use crate::changed::Changed;
use crate::correction::Drive;
use crate::cuts::Cuts;
use crate::network::{Branch, Node};
use crate::small::Carried;

/// Is how a port, or a branch's current, moves with each branch's values.
///
/// With one unit put in at the port, the current it drives through a branch is the weight of that branch: the
/// adjoint of a reciprocal network is the network itself. Each query costs a multiply-add for each change.
///
/// SOURCE: S. W. Director, R. A. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
/// Transactions on Circuit Theory 16 (1969), from memory.
#[derive(Debug)]
pub struct Adjoint<'a> {
    changed: &'a Changed<'a>,
    drive: Drive,
    carried: Carried,
    fresh: Option<Vec<Complex64>>,
    /// The cuts of the base that the unit flows through; nothing where its cuts may be cuts no longer.
    through: Option<Vec<Branch>>,
}

impl<'a> Adjoint<'a> {
    /// Prepares for a drive; `ends` are the two nodes where an ampere is put in.
    pub(crate) fn of(
        changed: &'a Changed<'a>,
        drive: Drive,
        ends: Option<(Node, Node)>,
        fresh: Option<Vec<Complex64>>,
    ) -> Self {
        let between = |cuts: &Cuts| ends.map(|(a, b)| cuts.between(a, b)).unwrap_or_default();
        let through = changed.correction().cuts().map(between);
        Self { changed, drive, carried: changed.correction().respond(&drive), fresh, through }
    }

    /// Gives the derivative of the open voltage (or of the current) by a branch's impedance, per ohm.
    ///
    /// It is the weight times the branch's own current. A branch that is open has none: zero.
    #[must_use]
    pub fn per_ohm(&self, branch: Branch) -> Complex64 {
        let current = self.changed.current(branch);
        if current == Complex64::ZERO { current } else { self.per_emf(branch) * current }
    }

    /// Gives the derivative of the open voltage (or of the current) by a branch's emf, per volt: the weight.
    #[must_use]
    pub fn per_emf(&self, branch: Branch) -> Complex64 {
        let k = branch.index();
        let cut = self.changed.correction().cuts().is_some_and(|cuts| cuts.is_cut(branch));
        if cut && self.through.as_ref().is_some_and(|through| !through.contains(&branch)) {
            return Complex64::ZERO;
        }
        match (&self.fresh, self.changed.taken()) {
            (Some(column), Some(fresh)) => self.changed.fresh_current(fresh, k, column),
            _ => self.changed.correction().current(k, &self.drive, &self.carried).value,
        }
    }

    /// Gives the derivative of a port's source impedance by a branch's impedance, ohms per ohm: the weight squared.
    ///
    /// Of a branch's current it is the derivative of the admittance seen by an emf in that branch.
    #[must_use]
    pub fn source_impedance_per_ohm(&self, branch: Branch) -> Complex64 {
        let weight = self.per_emf(branch);
        weight * weight
    }
}
