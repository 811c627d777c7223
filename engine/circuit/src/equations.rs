//! Lays out the unknowns and equations of a network, factors them and solves for one right-hand side.
//!
//! Every branch has its own current `i`. Its row is `v_a - v_b - z i = emf`, or `i = 0` for an open; every node
//! has Kirchhoff's current law. Written as they stand, these lose digits where a whole cluster of nodes floats
//! behind a huge impedance: its potentials share a large part, and Kirchhoff's sums hide the small leak. So nodes
//! joined by less than [`STRONG`] ohms form a cluster with one root; the unknowns are the root's potential and
//! each node's difference from it, and the root's current law is replaced by the sum over the cluster, in which
//! the inner currents cancel on paper. The system stays sparse, and differences inside a cluster stay exact.
//!
//! An island with no path to the reference gets one fictitious tie of one ohm to it, which carries no current.

use num_complex::Complex64;

use crate::error::CircuitError;
use crate::islands::{self, Forest};
use crate::network::{Closed, Laid, Network};
use crate::sparse::{Lu, Matrix, reciprocal_power};

/// Impedance in ohms below which a branch makes one cluster of its ends: the middle, in ratio, between a closed
/// contact (1e-2) and the largest leak in use (1e12).
pub(crate) const STRONG: f64 = 1e5;

/// A correction by refinement above this share of the solution means that the solution is noise.
const NOISE: f64 = 1e-4;

/// Is a sparse row or column of at most four signed ones: a difference of two potentials, or a single current.
///
/// The same vector that reads `v_a - v_b` also injects one ampere at `a` and draws it at `b`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Few {
    plus: Part,
    minus: Part,
}

/// Is one sign's part: no, one or two indices.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Part {
    len: u8,
    at: [u32; 2],
}

impl Part {
    fn of(indices: [Option<usize>; 2]) -> Self {
        // A network has far fewer than 2^32 unknowns.
        let short = |i: usize| u32::try_from(i).unwrap_or(u32::MAX);
        match indices {
            [Some(i), Some(j)] => Self { len: 2, at: [short(i), short(j)] },
            [Some(i), None] | [None, Some(i)] => Self { len: 1, at: [short(i), 0] },
            [None, None] => Self { len: 0, at: [0, 0] },
        }
    }

    fn indices(&self) -> impl Iterator<Item = usize> {
        self.at[..usize::from(self.len)].iter().map(|&i| i as usize)
    }
}

impl Few {
    /// Lists indices and signs.
    pub(crate) fn entries(&self) -> impl Iterator<Item = (usize, f64)> {
        let plus = self.plus.indices().map(|i| (i, 1.0));
        plus.chain(self.minus.indices().map(|i| (i, -1.0)))
    }

    /// Reads a vector of unknowns.
    pub(crate) fn dot(&self, x: &[Complex64]) -> Complex64 {
        self.combine(|i| x[i])
    }

    /// Adds up what stands at the indices, with their signs.
    pub(crate) fn combine(&self, at: impl Fn(usize) -> Complex64) -> Complex64 {
        let mut sum = Complex64::ZERO;
        self.plus.indices().for_each(|i| sum += at(i));
        self.minus.indices().for_each(|i| sum -= at(i));
        sum
    }
}

/// Numbers the unknowns.
#[derive(Debug, Clone)]
pub(crate) struct Layout {
    /// Unknown of each node's difference from its root; none for a root.
    inner: Vec<Option<usize>>,
    /// Unknown of the potential of each node's root; none for the reference's cluster.
    outer: Vec<Option<usize>>,
    first_branch: usize,
    size: usize,
}

impl Layout {
    fn of(nodes: usize, branches: &[Laid]) -> Self {
        let mut clusters = Forest::new(nodes);
        for laid in branches {
            if laid.law.closed().is_some_and(|c| c.z.l1_norm() < STRONG) {
                clusters.join(laid.a, laid.b);
            }
        }
        let roots = clusters.labels();
        let mut size = 0;
        let mut next = || {
            size += 1;
            Some(size - 1)
        };
        let inner: Vec<_> = roots.iter().enumerate().map(|(i, &root)| if i == root { None } else { next() }).collect();
        let mut potential: Vec<Option<usize>> = vec![None; nodes];
        for (i, &root) in roots.iter().enumerate().skip(1) {
            if i == root {
                potential[i] = next();
            }
        }
        let outer = roots.iter().map(|&root| potential[root]).collect();
        let first_branch = size;
        Self { inner, outer, first_branch, size: first_branch + branches.len() }
    }

    /// Reads `v_a - v_b`, and equally injects at `a` and draws at `b`.
    pub(crate) fn pair(&self, a: usize, b: usize) -> Few {
        let roots = if self.outer[a] == self.outer[b] { [None; 2] } else { [self.outer[a], self.outer[b]] };
        let nodes = if a == b { [None; 2] } else { [self.inner[a], self.inner[b]] };
        Few { plus: Part::of([roots[0], nodes[0]]), minus: Part::of([roots[1], nodes[1]]) }
    }

    /// Reads the current of a branch; as a right-hand side, puts one volt of emf into its row.
    pub(crate) fn branch(&self, k: usize) -> Few {
        Few { plus: Part::of([Some(self.first_branch + k), None]), minus: Part::of([None; 2]) }
    }

    fn matrix(&self, branches: &[Laid]) -> Matrix {
        let mut rows = vec![Vec::new(); self.size];
        for (k, laid) in branches.iter().enumerate() {
            let (pair, own) = (self.pair(laid.a, laid.b), self.first_branch + k);
            for (i, sign) in pair.entries() {
                rows[i].push((own, Complex64::from(sign)));
            }
            let Some(closed) = laid.law.closed() else {
                rows[own].push((own, Complex64::ONE));
                continue;
            };
            rows[own].extend(pair.entries().map(|(i, sign)| (i, Complex64::from(sign))));
            if closed.z != Complex64::ZERO {
                rows[own].push((own, -closed.z));
            }
        }
        rows.iter_mut().for_each(|row| row.sort_unstable_by_key(|e| e.0));
        Matrix { rows }
    }
}

/// Weighs the unknowns for the choice of pivots: currents by the root of their branch's impedance.
///
/// So a current through a huge impedance is found from the voltage across it, not as the small rest of large
/// currents in Kirchhoff's sums; and a current through a small one the other way round.
fn weights(layout: &Layout, branches: &[Laid]) -> Vec<f64> {
    let mut weights = vec![1.0; layout.first_branch];
    weights.extend(branches.iter().map(|laid| {
        let ohms = laid.law.closed().map_or(1.0, |c| c.z.l1_norm());
        reciprocal_power(ohms.max(1.0).sqrt()).unwrap_or(1.0)
    }));
    weights
}

/// Is a network factored and solved once for its own sources.
#[derive(Debug, Clone)]
pub(crate) struct Factored {
    pub(crate) layout: Layout,
    pub(crate) x: Vec<Complex64>,
    /// Lowest node of each node's island, by conducting branches alone.
    pub(crate) islands: Vec<usize>,
    /// The branches of the network, followed by the fictitious ties.
    pub(crate) branches: Vec<Laid>,
    /// Count of the network's own branches.
    pub(crate) own: usize,
    matrix: Matrix,
    lu: Lu,
}

impl Factored {
    /// Factors a network.
    pub(crate) fn of(network: &Network) -> Result<Self, CircuitError> {
        network.check()?;
        let nodes = network.node_count();
        let islands = islands::conducting(nodes, network.branches()).labels();
        let mut branches = network.branches().to_vec();
        let own = branches.len();
        let mut places = Layout::of(nodes, &branches);
        branches.extend(ties(&islands));
        places.size = places.first_branch + branches.len();
        let matrix = places.matrix(&branches);
        let lu = Lu::of(&matrix, weights(&places, &branches)).ok_or(CircuitError::Singular)?;
        let mut factored = Self { layout: places, x: Vec::new(), islands, branches, own, matrix, lu };
        let mut b = vec![Complex64::ZERO; factored.layout.size];
        for (k, laid) in factored.branches.iter().enumerate() {
            b[factored.layout.first_branch + k] = laid.law.closed().map_or(Complex64::ZERO, |c| c.emf);
        }
        factored.x = factored.solve(&b)?;
        Ok(factored)
    }

    pub(crate) const fn size(&self) -> usize {
        self.layout.size
    }

    /// Gives the numbers of a closed branch or tie.
    pub(crate) fn closed(&self, k: usize) -> Option<Closed> {
        self.branches.get(k).and_then(|laid| laid.law.closed())
    }

    /// Gives the column of the inverse that belongs to a sparse right-hand side.
    pub(crate) fn column(&self, drive: &Few) -> Result<Vec<Complex64>, CircuitError> {
        let mut b = vec![Complex64::ZERO; self.size()];
        drive.entries().for_each(|(i, sign)| b[i] += sign);
        self.solve(&b)
    }

    /// Solves with one step of refinement.
    pub(crate) fn solve(&self, b: &[Complex64]) -> Result<Vec<Complex64>, CircuitError> {
        let mut scratch = vec![Complex64::ZERO; b.len()];
        let mut x = b.to_vec();
        self.lu.solve(&mut x, &mut scratch);
        let mut correction = b.to_vec();
        self.matrix.residual(&mut correction, &x);
        self.lu.solve(&mut correction, &mut scratch);
        let (mut size, mut change) = (0.0, 0.0);
        for (x, dx) in x.iter_mut().zip(&correction) {
            size = f64::max(size, x.l1_norm());
            change = f64::max(change, dx.l1_norm());
            *x += *dx;
        }
        if change.is_finite() && size.is_finite() && change <= NOISE * size {
            Ok(x)
        } else {
            Err(CircuitError::Singular)
        }
    }
}

/// Makes one tie for each island that does not hold the reference, from its lowest node.
fn ties(islands: &[usize]) -> impl Iterator<Item = Laid> + '_ {
    islands.iter().enumerate().skip(1).filter(|(i, label)| i == *label).map(|(a, _)| Laid {
        a,
        b: 0,
        law: crate::network::Law::ohms(1.0),
    })
}
