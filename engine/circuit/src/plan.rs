//! Turns changes into operations on the equations, and decides which cuts need not be made at all.
//!
//! The changed solution is `x' = x - sum_j P_j c_j` with `P_j = A^-1 p_j`, one `c_j` an operation:
//! - an added admittance (a bridge, or the parallel part of a lowered branch): `p = f` is the pair of its ends,
//!   `c` its own current, and `f x' - zb c = emf`;
//! - a raised branch: `p` is its row, `f` its current, `c` the emf that stands for the added impedance `dz`:
//!   `f x' + c / dz = de / dz`, `de` the old emf less the new;
//! - an opened branch is the limit of that: `f x' = 0`;
//! - a branch with another emf alone: `c = de`.
//!
//! None of them subtracts near-equals. A branch whose opening cuts the graph carries no current already, and
//! opening it by numbers would make the system singular: it is held closed, and its two sides are two islands.

use num_complex::Complex64;
use smallvec::SmallVec;

use crate::change::Folded;
use crate::equations::Few;
use crate::islands::Forest;
use crate::network::{Branch, Closed, Laid, Law};
use crate::solved::Solved;

/// Says what an operation demands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Demand {
    Emf { de: Complex64 },
    Raise { dz: Complex64, de: Complex64 },
    Open,
    Add { zb: Complex64, emf: Complex64 },
}

/// Is one operation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Operation {
    /// Branch it acts on; a bridge counts on after the network's own.
    pub(crate) branch: usize,
    pub(crate) drive: Few,
    /// What it demands something of. The network is reciprocal: what `drive` gives at a pair of nodes is what one
    /// ampere into that pair gives at `read`.
    pub(crate) read: Few,
    pub(crate) demand: Demand,
}

/// Is the list of operations, and the islands if they are not the base's.
#[derive(Debug, Clone, Default)]
pub(crate) struct Plan {
    pub(crate) operations: SmallVec<[Operation; 2]>,
    pub(crate) islands: Option<Vec<usize>>,
    /// Something conducts that did not in the base.
    pub(crate) adds: bool,
}

impl Plan {
    /// Plans the changes.
    pub(crate) fn of(base: &Solved, folded: &Folded) -> Self {
        let mut plan = Self::default();
        for &(k, law) in &folded.laws {
            plan.change_law(base, k, law);
        }
        let own = base.factored.own;
        for (j, laid) in folded.bridges.iter().enumerate() {
            if let Some(closed) = laid.law.closed() {
                plan.add(base, own + j, (laid.a, laid.b), closed);
            }
        }
        let closes = |&(k, law): &(usize, Law)| law.conducts() && base.factored.closed(k).is_none();
        plan.adds = !folded.bridges.is_empty() || folded.laws.iter().any(closes);
        let regroups = !folded.bridges.is_empty()
            || folded.laws.iter().any(|&(k, law)| law.conducts() != base.factored.closed(k).is_some());
        if regroups && !plan.keeps_islands(base, folded) {
            plan.regroup(base, folded);
        }
        plan
    }

    /// Says whether the islands stay as they are though something opens or closes: whatever is added lies inside an
    /// island, and at most one branch opens, on a loop; it is opened then.
    fn keeps_islands(&mut self, base: &Solved, folded: &Folded) -> bool {
        let factored = &base.factored;
        let inside = |laid: &Laid| factored.islands[laid.a] == factored.islands[laid.b];
        let mut opened = None;
        for &(k, law) in &folded.laws {
            let laid = &factored.branches[k];
            match (laid.law.conducts(), law.conducts()) {
                (true, false) if opened.is_some() || base.own_cuts().is_cut(Branch::at(k)) => return false,
                (true, false) => opened = Some(k),
                (false, true) if !inside(laid) => return false,
                _ => {}
            }
        }
        if !folded.bridges.iter().all(inside) {
            return false;
        }
        if let Some(k) = opened {
            self.on_row(base, k, Demand::Open);
        }
        true
    }

    /// Plans a closed branch's new law; openings wait for [`Plan::regroup`].
    fn change_law(&mut self, base: &Solved, k: usize, law: Law) {
        let laid = &base.factored.branches[k];
        let (old, new) = (laid.law.closed(), law.closed());
        let Some(new) = new else { return };
        let Some(old) = old else {
            self.add(base, k, (laid.a, laid.b), new);
            return;
        };
        let (de, dz) = (old.emf - new.emf, new.z - old.z);
        if dz == Complex64::ZERO {
            if de != Complex64::ZERO {
                self.on_row(base, k, Demand::Emf { de });
            }
        } else if new.z.l1_norm() >= old.z.l1_norm() {
            self.on_row(base, k, Demand::Raise { dz, de });
        } else {
            if de != Complex64::ZERO {
                self.on_row(base, k, Demand::Emf { de });
            }
            // In parallel with the old impedance this makes the new one.
            let zb = old.z * (new.z / -dz);
            self.add(base, k, (laid.a, laid.b), Closed { emf: new.emf, z: zb });
        }
    }

    fn on_row(&mut self, base: &Solved, branch: usize, demand: Demand) {
        let row = base.factored.layout.branch(branch);
        self.operations.push(Operation { branch, drive: row, read: row, demand });
    }

    fn add(&mut self, base: &Solved, branch: usize, ends: (usize, usize), closed: Closed) {
        let pair = base.factored.layout.pair(ends.0, ends.1);
        let demand = Demand::Add { zb: closed.z, emf: closed.emf };
        self.operations.push(Operation { branch, drive: pair, read: pair, demand });
    }

    /// Finds the islands after the changes, then opens what closes a loop and holds what cuts.
    ///
    /// INVARIANT: the branches left closed by number, ties included, join all nodes, and each of them that does
    /// not conduct is a cut of that graph, so that its current is zero without any equation saying so.
    fn regroup(&mut self, base: &Solved, folded: &Folded) {
        let factored = &base.factored;
        let nodes = factored.islands.len();
        let mut groups = Forest::new(nodes);
        let mut opened: SmallVec<[usize; 4]> = SmallVec::new();
        for (k, laid) in factored.branches[..factored.own].iter().enumerate() {
            if folded.law(base.network(), k).conducts() {
                groups.join(laid.a, laid.b);
            } else if laid.law.conducts() {
                opened.push(k);
            }
        }
        for laid in &folded.bridges {
            groups.join(laid.a, laid.b);
        }
        self.islands = Some(groups.labels());
        for k in opened.into_iter().chain(factored.own..factored.branches.len()) {
            let laid = &factored.branches[k];
            if !groups.join(laid.a, laid.b) {
                self.on_row(base, k, Demand::Open);
            }
        }
    }
}
