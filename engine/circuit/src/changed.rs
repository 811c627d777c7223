//! A solved network under changes: readings by a small correction of the base, and sensitivities by the adjoint.
//!
//! Each value is the base's less one product an operation. If what is left is so small beside the terms that
//! rounding could show, the changed network is factored afresh, once, and answers from then on.

use std::sync::OnceLock;

use num_complex::Complex64;

use crate::change::Folded;
use crate::equations::{Factored, Few};
use crate::error::CircuitError;
use crate::ideal;
use crate::network::{Branch, Law, Node};
use crate::plan::{Demand, Operation, Plan};
use crate::port::{Port, magnitude};
use crate::small::SmallLu;
use crate::solved::Solved;

/// Rounding of one term, with room for the digits lost on the way to it.
const ROUNDING: f64 = 1e-15;
/// Share of a result that rounding may reach.
const SHARE: f64 = 1e-9;
/// Rounding below these is of no account: volts, amperes, ohms.
const FLOOR_VOLTS: f64 = 1e-9;
const FLOOR_AMPERES: f64 = 1e-12;
const FLOOR_OHMS: f64 = 1e-7;

/// Is what drives an answer: the network's own sources, or a unit put in from outside.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Drive {
    Sources,
    /// One ampere into a pair of nodes.
    Ampere(Few),
    /// One volt more emf in a branch.
    Volt(usize),
}

/// Is a solved network with changes laid over it.
#[derive(Debug)]
pub struct Changed<'a> {
    base: &'a Solved,
    folded: Folded,
    plan: Plan,
    small: Option<SmallLu>,
    /// The operations' currents and emfs under the network's own sources.
    c: Vec<Complex64>,
    fresh: OnceLock<Option<Box<Factored>>>,
    potentials: OnceLock<Vec<Complex64>>,
}

impl<'a> Changed<'a> {
    pub(crate) fn nothing(base: &'a Solved) -> Self {
        Self::raw(base, Folded::default(), Plan::default())
    }

    fn raw(base: &'a Solved, folded: Folded, plan: Plan) -> Self {
        Self { base, folded, plan, small: None, c: Vec::new(), fresh: OnceLock::new(), potentials: OnceLock::new() }
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
        let plan = Plan::of(base, &folded);
        let mut changed = Self::raw(base, folded, plan);
        changed.small = SmallLu::of(changed.plan.operations.len(), changed.system());
        if changed.small.is_some() {
            changed.c = changed.respond(&Drive::Sources);
        }
        if changed.small.is_none() || !changed.holds() {
            let fresh = Factored::of(&changed.folded.apply(network))?;
            changed.fresh = OnceLock::from(Some(Box::new(fresh)));
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
        Branch::at(self.base.factored.own + index)
    }

    /// Gives the current of a branch from its first node to its second, in amperes.
    ///
    /// Exactly zero in an open branch, and in a branch that does not exist.
    #[must_use]
    pub fn current(&self, branch: Branch) -> Complex64 {
        let k = branch.index();
        self.answer(
            FLOOR_AMPERES,
            |fresh| self.fresh_current(fresh, k, &fresh.x),
            || self.branch_current(k, &Drive::Sources, &self.c),
        )
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
        let source_impedance = self.answer(
            FLOOR_OHMS,
            |fresh| {
                let pair = fresh.layout.pair(a, b);
                fresh.column(&pair).map_or(Complex64::ZERO, |column| pair.dot(&column))
            },
            || {
                let pair = self.base.factored.layout.pair(a, b);
                let drive = Drive::Ampere(pair);
                self.corrected(&pair, &drive, &self.respond(&drive))
            },
        );
        Port::Tied { open_volts: self.volts(a, b), source_impedance }
    }

    /// Tells whether a conductive path ties two nodes. A node that does not exist is tied to itself alone.
    #[must_use]
    pub fn same_island(&self, a: Node, b: Node) -> bool {
        let islands = self.islands();
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
        let drive = self.same_island(a, b).then(|| self.base.factored.layout.pair(a.index(), b.index()))?;
        let fresh = self.taken().and_then(|fresh| fresh.column(&fresh.layout.pair(a.index(), b.index())).ok());
        Some(Adjoint::of(Owned::Borrowed(self), Drive::Ampere(drive), fresh))
    }

    pub(crate) fn into_port_adjoint(self, a: Node, b: Node) -> Option<Adjoint<'a>> {
        let drive = self.same_island(a, b).then(|| self.base.factored.layout.pair(a.index(), b.index()))?;
        Some(Adjoint::of(Owned::Owned(Box::new(self)), Drive::Ampere(drive), None))
    }

    /// Prepares the sensitivities of a branch's current.
    #[must_use]
    pub fn current_adjoint(&self, branch: Branch) -> Adjoint<'_> {
        let k = branch.index();
        let fresh = self.taken().map(|fresh| {
            if self.law(k).conducts() {
                fresh.column(&fresh.layout.branch(k)).unwrap_or_else(|_| vec![Complex64::ZERO; fresh.size()])
            } else {
                vec![Complex64::ZERO; fresh.size()]
            }
        });
        Adjoint::of(Owned::Borrowed(self), Drive::Volt(k), fresh)
    }
}

/// The small system and what is read through it.
impl Changed<'_> {
    fn islands(&self) -> &[usize] {
        self.plan.islands.as_deref().unwrap_or(&self.base.factored.islands)
    }

    fn law(&self, k: usize) -> Law {
        let own = self.base.factored.own;
        if k < own {
            self.folded.law(self.base.network(), k)
        } else {
            self.folded.bridges.get(k - own).map_or(Law::Open, |laid| laid.law)
        }
    }

    /// Builds the matrix of the operations' demands, by rows.
    fn system(&self) -> Vec<Complex64> {
        let operations = &self.plan.operations;
        let mut m = Vec::with_capacity(operations.len() * operations.len());
        for (j, row) in operations.iter().enumerate() {
            for (l, column) in operations.iter().enumerate() {
                let own = if j == l { Complex64::ONE } else { Complex64::ZERO };
                m.push(match row.demand {
                    Demand::Emf { .. } => own,
                    Demand::Open => self.base.form(&row.read, &column.drive),
                    Demand::Raise { dz, .. } => self.base.form(&row.read, &column.drive) - own / dz,
                    Demand::Add { zb, .. } => self.base.form(&row.read, &column.drive) + own * zb,
                });
            }
        }
        m
    }

    /// Finds the operations' currents and emfs under a drive.
    fn respond(&self, drive: &Drive) -> Vec<Complex64> {
        let Some(small) = &self.small else { return Vec::new() };
        let sources = *drive == Drive::Sources;
        let rhs: Vec<Complex64> = self
            .plan
            .operations
            .iter()
            .map(|op| {
                let read = || self.base_value(&op.read, drive);
                match op.demand {
                    Demand::Emf { de } if sources => de,
                    Demand::Emf { .. } => Complex64::ZERO,
                    Demand::Raise { dz, de } if sources => read() - de / dz,
                    Demand::Add { emf, .. } if sources => read() - emf,
                    Demand::Add { .. } if *drive == Drive::Volt(op.branch) => read() - Complex64::ONE,
                    Demand::Raise { .. } | Demand::Open | Demand::Add { .. } => read(),
                }
            })
            .collect();
        small.solve(&rhs)
    }

    /// Reads the base under a drive.
    fn base_value(&self, few: &Few, drive: &Drive) -> Complex64 {
        match drive {
            Drive::Sources => few.dot(&self.base.factored.x),
            Drive::Ampere(pair) => self.base.form(few, pair),
            Drive::Volt(k) if *k < self.base.factored.own && self.base.factored.closed(*k).is_some() => {
                self.base.form(few, &self.base.factored.layout.branch(*k))
            }
            Drive::Volt(_) => Complex64::ZERO,
        }
    }

    /// Reads the changed solution under a drive, and the size of the terms it came from.
    fn corrected(&self, few: &Few, drive: &Drive, c: &[Complex64]) -> (Complex64, f64) {
        let mut value = self.base_value(few, drive);
        let mut size = value.l1_norm();
        for (op, c) in self.plan.operations.iter().zip(c) {
            let term = self.base.form(few, &op.drive) * c;
            value -= term;
            size += term.l1_norm();
        }
        (value, size)
    }

    /// Gives the current of a branch under a drive, and the size of the terms it came from.
    fn branch_current(&self, k: usize, drive: &Drive, c: &[Complex64]) -> (Complex64, f64) {
        if !self.law(k).conducts() {
            return (Complex64::ZERO, 0.0);
        }
        let mut added = Complex64::ZERO;
        for (op, &c) in self.plan.operations.iter().zip(c).filter(|(op, _)| op.branch == k) {
            match op.demand {
                Demand::Raise { dz, de } if de == Complex64::ZERO || *drive != Drive::Sources => {
                    return (-c / dz, 0.0);
                }
                Demand::Add { .. } => added = c,
                Demand::Raise { .. } | Demand::Emf { .. } | Demand::Open => {}
            }
        }
        if k >= self.base.factored.own {
            return (added, 0.0);
        }
        let (value, size) = self.corrected(&self.base.factored.layout.branch(k), drive, c);
        (value + added, size)
    }

    fn volts(&self, a: usize, b: usize) -> Complex64 {
        self.answer(
            FLOOR_VOLTS,
            |fresh| fresh.layout.pair(a, b).dot(&fresh.x),
            || self.corrected(&self.base.factored.layout.pair(a, b), &Drive::Sources, &self.c),
        )
    }

    fn fresh_current(&self, fresh: &Factored, k: usize, x: &[Complex64]) -> Complex64 {
        if self.law(k).conducts() { fresh.layout.branch(k).dot(x) } else { Complex64::ZERO }
    }

    /// Checks the changed rows against the changed solution by a way other than the small system's.
    fn holds(&self) -> bool {
        self.plan.operations.iter().all(|op| match op.demand {
            Demand::Raise { .. } | Demand::Add { .. } => self.law_holds(op),
            Demand::Open => {
                let (value, size) = self.corrected(&op.read, &Drive::Sources, &self.c);
                value.l1_norm() <= SHARE * size + FLOOR_AMPERES
            }
            Demand::Emf { .. } => true,
        })
    }

    /// Checks `v_a - v_b = emf + z i` of a changed branch.
    fn law_holds(&self, op: &Operation) -> bool {
        let own = self.base.factored.own;
        let Some(closed) = self.law(op.branch).closed() else { return true };
        let laid =
            if op.branch < own { self.base.factored.branches[op.branch] } else { self.folded.bridges[op.branch - own] };
        let pair = self.base.factored.layout.pair(laid.a, laid.b);
        let (volts, size) = self.corrected(&pair, &Drive::Sources, &self.c);
        let (current, _) = self.branch_current(op.branch, &Drive::Sources, &self.c);
        let drop = closed.z * current;
        let off = (volts - closed.emf - drop).l1_norm();
        off <= SHARE * (size + drop.l1_norm() + closed.emf.l1_norm()) + FLOOR_VOLTS
    }

    /// Gives the fresh factorisation if there is one already.
    fn taken(&self) -> Option<&Factored> {
        self.fresh.get().and_then(Option::as_deref)
    }

    /// Answers by the low-rank path if its digits suffice, else afresh.
    fn answer(
        &self,
        floor: f64,
        afresh: impl Fn(&Factored) -> Complex64,
        low_rank: impl Fn() -> (Complex64, f64),
    ) -> Complex64 {
        if let Some(fresh) = self.taken() {
            return afresh(fresh);
        }
        let (value, size) = low_rank();
        if self.plan.operations.is_empty() || size * ROUNDING <= SHARE * value.l1_norm() + floor {
            return value;
        }
        let fresh = self.fresh.get_or_init(|| Factored::of(&self.folded.apply(self.base.network())).ok().map(Box::new));
        fresh.as_deref().map_or(value, afresh)
    }

    /// Bounds what can stand between two islands; see [`Port::Floating`].
    fn highest_volts(&self, a: usize, b: usize) -> f64 {
        let islands = self.islands();
        let (Some(&of_a), Some(&of_b)) = (islands.get(a), islands.get(b)) else { return 0.0 };
        let potentials = self
            .potentials
            .get_or_init(|| islands.iter().enumerate().map(|(i, &label)| self.volts(i, label)).collect());
        let mut boxes = vec![None; islands.len()];
        let (mut near_a, mut near_b) = (0.0, 0.0);
        for (i, &label) in islands.iter().enumerate() {
            if label == of_a {
                near_a = f64::max(near_a, magnitude(potentials[i] - potentials[a]));
            } else if label == of_b {
                near_b = f64::max(near_b, magnitude(potentials[i] - potentials[b]));
            } else {
                let p = potentials[i];
                let (low, high): &mut (Complex64, Complex64) = boxes[label].get_or_insert((p, p));
                *low = Complex64::new(low.re.min(p.re), low.im.min(p.im));
                *high = Complex64::new(high.re.max(p.re), high.im.max(p.im));
            }
        }
        near_a + near_b + boxes.into_iter().flatten().map(|(low, high)| magnitude(high - low)).sum::<f64>()
    }
}

/// Holds a changed network, or borrows it.
#[derive(Debug)]
enum Owned<'a> {
    Borrowed(&'a Changed<'a>),
    Owned(Box<Changed<'a>>),
}

/// Is how a port, or a branch's current, moves with each branch's values.
///
/// With one unit put in at the port, the current it drives through a branch is the weight of that branch: the
/// adjoint of the network is the network itself. Each query costs a multiply-add for each change.
///
/// SOURCE: S. W. Director, R. A. Rohrer, "The generalized adjoint network and network sensitivities", IEEE
/// Transactions on Circuit Theory 16 (1969), from memory.
#[derive(Debug)]
pub struct Adjoint<'a> {
    changed: Owned<'a>,
    drive: Drive,
    c: Vec<Complex64>,
    fresh: Option<Vec<Complex64>>,
}

impl<'a> Adjoint<'a> {
    fn of(changed: Owned<'a>, drive: Drive, fresh: Option<Vec<Complex64>>) -> Self {
        let mut adjoint = Self { changed, drive, c: Vec::new(), fresh };
        adjoint.c = adjoint.changed().respond(&drive);
        adjoint
    }

    fn changed(&self) -> &Changed<'a> {
        match &self.changed {
            Owned::Borrowed(changed) => changed,
            Owned::Owned(changed) => changed,
        }
    }

    /// Gives the derivative of the open voltage (or of the current) by a branch's impedance, per ohm.
    ///
    /// A branch that is open has none: zero.
    #[must_use]
    pub fn per_ohm(&self, branch: Branch) -> Complex64 {
        self.per_emf(branch) * self.changed().current(branch)
    }

    /// Gives the derivative of the open voltage (or of the current) by a branch's emf, per volt.
    #[must_use]
    pub fn per_emf(&self, branch: Branch) -> Complex64 {
        let (changed, k) = (self.changed(), branch.index());
        match (&self.fresh, changed.taken()) {
            (Some(column), Some(fresh)) => changed.fresh_current(fresh, k, column),
            _ => changed.branch_current(k, &self.drive, &self.c).0,
        }
    }

    /// Gives the derivative of a port's source impedance by a branch's impedance, ohms per ohm.
    ///
    /// Of a branch's current it is the derivative of the admittance seen by an emf in that branch.
    #[must_use]
    pub fn source_impedance_per_ohm(&self, branch: Branch) -> Complex64 {
        let weight = self.per_emf(branch);
        weight * weight
    }
}
