//! The low-rank correction of a base: what the operations carry under a drive, and what is read through them.
//!
//! Each value comes with the size of the terms it was made of, so that lost digits can be seen.

use num_complex::Complex64;

use crate::change::Folded;
use crate::cuts::Cuts;
use crate::equations::{Few, STRONG};
use crate::network::{Branch, Closed, Laid};
use crate::plan::{Demand, Operation, Plan};
use crate::small::{Carried, Matrix, Numbers, Small};
use crate::solved::Solved;

/// Rounding of one term, with room for the digits lost on the way to it.
const ROUNDING: f64 = 1e-15;
/// Share of a result that rounding may reach.
const SHARE: f64 = 1e-9;
/// Rounding below these is of no account: volts, amperes, ohms.
pub(crate) const FLOOR_VOLTS: f64 = 1e-9;
pub(crate) const FLOOR_AMPERES: f64 = 1e-9;
pub(crate) const FLOOR_OHMS: f64 = 1e-7;

/// Is what drives an answer: the network's own sources, or a unit put in from outside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Drive {
    Sources,
    /// One ampere into a pair of nodes.
    Ampere(Few),
    /// One volt more emf in a branch.
    Volt(usize),
}

/// Is a value with the size of the terms it was made of: rounding's share of that is what it may be off.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sum {
    pub(crate) value: Complex64,
    pub(crate) size: f64,
}

/// Is a base with operations on it.
#[derive(Debug)]
pub(crate) struct Correction<'a> {
    pub(crate) base: &'a Solved,
    folded: Folded,
    plan: Plan,
    small: Option<Small>,
    /// The operations' currents and emfs under the network's own sources.
    sources: Carried,
}

/// Takes products from a value: what is seen of each operation times what it carries.
fn less(value: Complex64, seen: impl Iterator<Item = Complex64>, carried: &Carried) -> Sum {
    let mut sum = Sum { value, size: value.l1_norm() };
    for (seen, (c, doubt)) in seen.zip(carried.iter()) {
        sum.value -= seen * c;
        sum.size += seen.l1_norm() * doubt;
    }
    sum
}

impl<'a> Correction<'a> {
    /// Makes a correction that corrects nothing.
    pub(crate) fn none(base: &'a Solved) -> Self {
        let (folded, plan) = (Folded::default(), Plan::default());
        Self { base, folded, plan, small: None, sources: Carried::default() }
    }

    /// Plans the changes and solves for what the operations carry.
    pub(crate) fn of(base: &'a Solved, folded: Folded) -> Self {
        let plan = Plan::of(base, &folded);
        let mut correction = Self { base, folded, plan, small: None, sources: Carried::default() };
        correction.small = Small::of(correction.plan.operations.len(), correction.system());
        correction.sources = correction.respond(&Drive::Sources);
        correction
    }

    pub(crate) const fn folded(&self) -> &Folded {
        &self.folded
    }

    /// Tells whether rounding cannot show in a value.
    pub(crate) fn settles(&self, sum: Sum, floor: f64) -> bool {
        self.is_none() || sum.size * ROUNDING <= SHARE * sum.value.l1_norm() + floor
    }

    /// Tells whether there is nothing to correct.
    fn is_none(&self) -> bool {
        self.plan.operations.is_empty()
    }

    pub(crate) fn islands(&self) -> &[usize] {
        self.plan.islands.as_deref().unwrap_or(&self.base.factored.islands)
    }

    /// Gives a branch or bridge with its law after the changes.
    pub(crate) fn laid(&self, k: usize) -> Option<Laid> {
        let own = self.base.factored.own;
        if k < own {
            let law = self.folded.law(self.base.network(), k);
            Some(Laid { law, ..self.base.factored.branches[k] })
        } else {
            self.folded.bridges.get(k - own).copied()
        }
    }

    pub(crate) fn conducts(&self, k: usize) -> bool {
        self.laid(k).is_some_and(|laid| laid.law.conducts())
    }

    pub(crate) fn pair(&self, a: usize, b: usize) -> Few {
        self.base.factored.layout.pair(a, b)
    }

    /// Builds the matrix of the operations' demands, by rows.
    fn system(&self) -> Matrix {
        let operations = &self.plan.operations;
        let mut m = Matrix::with_capacity(operations.len() * operations.len());
        for (j, row) in operations.iter().enumerate() {
            for (l, column) in operations.iter().enumerate() {
                let own = if j == l { Complex64::ONE } else { Complex64::ZERO };
                let form = || self.base.form(&row.read, &column.drive);
                m.push(match row.demand {
                    Demand::Emf { .. } => own,
                    Demand::Open => form(),
                    Demand::Raise { dz, .. } => form() - own / dz,
                    Demand::Add { zb, .. } => form() + own * zb,
                });
            }
        }
        m
    }

    /// Finds the operations' currents and emfs under a drive.
    pub(crate) fn respond(&self, drive: &Drive) -> Carried {
        let Some(small) = &self.small else { return Carried::default() };
        let sources = *drive == Drive::Sources;
        let demanded = |op: &Operation| {
            let read = || self.base_value(&op.read, drive);
            match op.demand {
                Demand::Emf { de } if sources => de,
                Demand::Emf { .. } => Complex64::ZERO,
                Demand::Raise { dz, de } if sources => read() - de / dz,
                Demand::Add { emf, .. } if sources => read() - emf,
                Demand::Add { .. } if *drive == Drive::Volt(op.branch) => read() - Complex64::ONE,
                Demand::Raise { .. } | Demand::Open | Demand::Add { .. } => read(),
            }
        };
        let rhs: Numbers = self.plan.operations.iter().map(demanded).collect();
        small.solve(&rhs)
    }

    /// Reads the base under a drive.
    fn base_value(&self, few: &Few, drive: &Drive) -> Complex64 {
        let factored = &self.base.factored;
        match drive {
            Drive::Sources => few.dot(&factored.x),
            Drive::Ampere(pair) => self.base.form(few, pair),
            Drive::Volt(k) if *k < factored.own && factored.closed(*k).is_some() => {
                self.base.form(few, &factored.layout.branch(*k))
            }
            Drive::Volt(_) => Complex64::ZERO,
        }
    }

    /// Reads the changed solution under a drive, given what the operations carry under it.
    fn read(&self, few: &Few, drive: &Drive, carried: &Carried) -> Sum {
        let seen = self.plan.operations.iter().map(|op| self.base.form(few, &op.drive));
        less(self.base_value(few, drive), seen, carried)
    }

    /// Gives what each operation's demand sees of one ampere into a pair, and, the network being reciprocal, what
    /// the pair sees of each operation.
    fn transfers(&self, pair: &Few) -> Numbers {
        self.plan.operations.iter().map(|op| self.base.form(&op.read, pair)).collect()
    }

    /// Gives `v_a - v_b` under the network's own sources.
    pub(crate) fn volts(&self, a: usize, b: usize) -> Sum {
        let pair = self.pair(a, b);
        less(pair.dot(&self.base.factored.x), self.transfers(&pair).into_iter(), &self.sources)
    }

    /// Gives the voltage between two nodes of one island and the impedance seen there.
    pub(crate) fn port(&self, a: usize, b: usize) -> (Sum, Sum) {
        let pair = self.pair(a, b);
        let seen = self.transfers(&pair);
        let volts = less(pair.dot(&self.base.factored.x), seen.iter().copied(), &self.sources);
        let mut demanded = seen.clone();
        for (value, op) in demanded.iter_mut().zip(&self.plan.operations) {
            if matches!(op.demand, Demand::Emf { .. }) {
                *value = Complex64::ZERO;
            }
        }
        let carried = self.small.as_ref().map(|small| small.solve(&demanded)).unwrap_or_default();
        (volts, less(self.base.form(&pair, &pair), seen.into_iter(), &carried))
    }

    /// Gives the base's loops and cuts where each of its cuts still is one: nothing was added that could close a loop.
    pub(crate) fn cuts(&self) -> Option<&Cuts> {
        (!self.plan.adds).then(|| self.base.own_cuts())
    }

    /// Gives a branch's current under the network's own sources: exactly zero in a cut.
    pub(crate) fn source_current(&self, k: usize) -> Sum {
        if self.cuts().is_some_and(|cuts| cuts.is_cut(Branch::at(k))) {
            return Sum { value: Complex64::ZERO, size: 0.0 };
        }
        self.current(k, &Drive::Sources, &self.sources)
    }

    /// Gives a branch's current under a drive: exactly zero in an open one.
    pub(crate) fn current(&self, k: usize, drive: &Drive, carried: &Carried) -> Sum {
        let nothing = Sum { value: Complex64::ZERO, size: 0.0 };
        let Some((laid, closed)) = self.laid(k).and_then(|laid| Some((laid, laid.law.closed()?))) else {
            return nothing;
        };
        let mut added = nothing;
        for (op, (c, doubt)) in self.plan.operations.iter().zip(carried.iter()).filter(|(op, _)| op.branch == k) {
            match op.demand {
                Demand::Raise { dz, de } if de == Complex64::ZERO || *drive != Drive::Sources => {
                    return Sum { value: -c / dz, size: doubt / dz.l1_norm() };
                }
                Demand::Add { .. } => added = Sum { value: c, size: doubt },
                Demand::Raise { .. } | Demand::Emf { .. } | Demand::Open => {}
            }
        }
        if k >= self.base.factored.own {
            return added;
        }
        let own = self.read(&self.base.factored.layout.branch(k), drive, carried);
        let own = Sum { value: own.value + added.value, size: own.size + added.size };
        if closed.z.l1_norm() < STRONG {
            return own;
        }
        let weak = self.current_from_volts(&laid, k, drive, carried);
        if weak.size < own.size { weak } else { own }
    }

    /// Gives the current of a large impedance from the voltage across it, which keeps its digits where the
    /// current itself is a small rest of large ones.
    fn current_from_volts(&self, laid: &Laid, k: usize, drive: &Drive, carried: &Carried) -> Sum {
        let Closed { emf, z } = laid.law.closed().unwrap_or(Closed { emf: Complex64::ZERO, z: Complex64::ONE });
        let emf = match drive {
            Drive::Sources => emf,
            Drive::Volt(driven) if *driven == k => Complex64::ONE,
            Drive::Volt(_) | Drive::Ampere(_) => Complex64::ZERO,
        };
        let volts = self.read(&self.pair(laid.a, laid.b), drive, carried);
        Sum { value: (volts.value - emf) / z, size: (volts.size + emf.l1_norm()) / z.l1_norm() }
    }

    /// Checks the changed rows against the changed solution by a way other than the small system's.
    pub(crate) fn holds(&self) -> bool {
        self.small.is_some()
            && self.plan.operations.iter().all(|op| match op.demand {
                Demand::Raise { .. } | Demand::Add { .. } => self.law_holds(op.branch),
                Demand::Open => {
                    let Sum { value, size } = self.read(&op.read, &Drive::Sources, &self.sources);
                    value.l1_norm() <= SHARE * size + FLOOR_AMPERES
                }
                Demand::Emf { .. } => true,
            })
    }

    /// Checks `v_a - v_b = emf + z i` of a changed branch.
    fn law_holds(&self, k: usize) -> bool {
        let Some(Laid { a, b, law }) = self.laid(k) else { return true };
        let Some(Closed { emf, z }) = law.closed() else { return true };
        let (volts, drop) = (self.volts(a, b), z * self.source_current(k).value);
        let off = (volts.value - emf - drop).l1_norm();
        off <= SHARE * (volts.size + drop.l1_norm() + emf.l1_norm()) + FLOOR_VOLTS
    }
}
