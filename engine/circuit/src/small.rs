//! Dense complex systems of a handful of unknowns, with full pivoting.
//!
//! What the operations see of themselves, impedances and admittances, may differ by a factor of 1e14. Row and column
//! of each are scaled alike, so that a weak coupling between two of them keeps its digits.

use num_complex::Complex64;
use smallvec::{SmallVec, smallvec};

use crate::sparse::reciprocal_power;

/// Below this share of the largest entry a pivot has lost too many digits to be trusted.
const LEAST_PIVOT: f64 = 1e-5;

/// Rounds of scaling; the scales settle like halving logarithms.
const BALANCING: usize = 4;

/// Is a short list of numbers, one an unknown.
pub(crate) type Numbers = SmallVec<[Complex64; 4]>;

/// Is a small square matrix by rows.
pub(crate) type Matrix = SmallVec<[Complex64; 16]>;

/// Is a factored small system.
#[derive(Debug, Clone)]
pub(crate) struct SmallLu {
    n: usize,
    entries: Matrix,
    scale: SmallVec<[f64; 4]>,
    row_order: SmallVec<[usize; 4]>,
    column_order: SmallVec<[usize; 4]>,
}

impl SmallLu {
    /// Factors a matrix given by rows, or gives nothing if a pivot is too small to be trusted.
    pub(crate) fn of(n: usize, mut m: Matrix) -> Option<Self> {
        let mut scale: SmallVec<[f64; 4]> = smallvec![1.0; n];
        for _ in 0..BALANCING {
            balance(n, &mut m, &mut scale)?;
        }
        let mut lu = Self { n, entries: m, scale, row_order: (0..n).collect(), column_order: (0..n).collect() };
        (0..n).all(|step| lu.eliminate(step)).then_some(lu)
    }

    fn at(&self, i: usize, j: usize) -> Complex64 {
        self.entries[self.row_order[i] * self.n + self.column_order[j]]
    }

    fn eliminate(&mut self, step: usize) -> bool {
        let (mut best, mut place) = (0.0, (step, step));
        for i in step..self.n {
            for j in step..self.n {
                let size = self.at(i, j).l1_norm();
                if size > best {
                    (best, place) = (size, (i, j));
                }
            }
        }
        if best < LEAST_PIVOT {
            return false;
        }
        self.row_order.swap(step, place.0);
        self.column_order.swap(step, place.1);
        let pivot = self.at(step, step);
        for i in step + 1..self.n {
            let factor = self.at(i, step) / pivot;
            for j in step + 1..self.n {
                let taken = factor * self.at(step, j);
                self.entries[self.row_order[i] * self.n + self.column_order[j]] -= taken;
            }
            self.entries[self.row_order[i] * self.n + self.column_order[step]] = factor;
        }
        true
    }

    /// Solves for one right-hand side.
    pub(crate) fn solve(&self, b: &[Complex64]) -> Numbers {
        let n = self.n;
        let mut y: Numbers = smallvec![Complex64::ZERO; n];
        for i in 0..n {
            let mut value = b[self.row_order[i]] * self.scale[self.row_order[i]];
            for (j, known) in y.iter().enumerate().take(i) {
                value -= self.at(i, j) * known;
            }
            y[i] = value;
        }
        let mut x: Numbers = smallvec![Complex64::ZERO; n];
        for i in (0..n).rev() {
            let mut value = y[i];
            for (j, known) in y.iter().enumerate().skip(i + 1) {
                value -= self.at(i, j) * known;
            }
            y[i] = value / self.at(i, i);
            x[self.column_order[i]] = y[i] * self.scale[self.column_order[i]];
        }
        x
    }
}

/// Scales row and column of each unknown alike towards a largest entry of one, by powers of two.
fn balance(n: usize, m: &mut [Complex64], scale: &mut [f64]) -> Option<()> {
    let mut factors: SmallVec<[f64; 4]> = smallvec![1.0; n];
    for (i, factor) in factors.iter_mut().enumerate() {
        let largest = (0..n).map(|j| m[i * n + j].l1_norm().max(m[j * n + i].l1_norm())).fold(0.0, f64::max);
        *factor = reciprocal_power(largest.sqrt())?;
        scale[i] *= *factor;
    }
    for (i, row) in m.chunks_mut(n.max(1)).enumerate() {
        row.iter_mut().zip(&factors).for_each(|(v, factor)| *v *= factors[i] * factor);
    }
    Some(())
}
