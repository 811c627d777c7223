//! Dense complex systems of a handful of unknowns, with their inverse and a bound on what rounding did.
//!
//! What the operations see of themselves, impedances and admittances, may differ by a factor of 1e14. Row and column
//! of each are scaled alike, so that a weak coupling between two of them keeps its digits; one step of refinement
//! makes each unknown exact for a matrix whose every entry is off by rounding alone. How far that can move an
//! unknown `x` of `M x = b` is then bounded, in units of rounding, by `|M^-1| |M| |x|`.
//!
//! SOURCE: R. D. Skeel, "Scaling for numerical stability in Gaussian elimination", Journal of the ACM 26 (1979), and
//! "Iterative refinement implies numerical stability", Mathematics of Computation 35 (1980), from memory.

use num_complex::Complex64;
use smallvec::{SmallVec, smallvec};

use crate::sparse::reciprocal_power;

/// Below this share of the largest entry a pivot is rounding itself.
const LEAST_PIVOT: f64 = 1e-13;

/// Rounds of scaling; the scales settle like halving logarithms.
const BALANCING: usize = 4;

/// Is a short list of numbers, one an unknown.
pub(crate) type Numbers = SmallVec<[Complex64; 2]>;

/// Is a short list of sizes, one an unknown.
pub(crate) type Sizes = SmallVec<[f64; 2]>;

/// Is a small square matrix by rows.
pub(crate) type Matrix = SmallVec<[Complex64; 4]>;

/// Is a solution with a bound for each unknown on its rounding, in units of rounding.
#[derive(Debug, Clone, Default)]
pub(crate) struct Carried {
    pub(crate) c: Numbers,
    pub(crate) doubt: Sizes,
}

impl Carried {
    /// Lists unknowns and bounds.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (Complex64, f64)> {
        self.c.iter().copied().zip(self.doubt.iter().copied())
    }
}

/// Is a small system ready to be solved.
#[derive(Debug, Clone)]
pub(crate) struct Small {
    n: usize,
    matrix: Matrix,
    inverse: Matrix,
    /// `|M^-1| |M|`.
    condition: SmallVec<[f64; 4]>,
}

impl Small {
    /// Inverts a matrix given by rows, or gives nothing if it is singular but for rounding.
    pub(crate) fn of(n: usize, matrix: Matrix) -> Option<Self> {
        let inverse = invert(n, matrix.clone())?;
        let mut condition = smallvec![0.0; n * n];
        for i in 0..n {
            for l in 0..n {
                let size = inverse[i * n + l].l1_norm();
                for j in 0..n {
                    condition[i * n + j] += size * matrix[l * n + j].l1_norm();
                }
            }
        }
        Some(Self { n, matrix, inverse, condition })
    }

    /// Solves for one right-hand side.
    pub(crate) fn solve(&self, b: &[Complex64]) -> Carried {
        let mut c = self.times(&self.inverse, b);
        let product = self.times(&self.matrix, &c);
        let rest: Numbers = b.iter().zip(&product).map(|(b, p)| b - p).collect();
        let correction = self.times(&self.inverse, &rest);
        c.iter_mut().zip(&correction).for_each(|(c, d)| *c += d);
        let row = |i: usize| self.condition[i * self.n..(i + 1) * self.n].iter();
        let doubt = (0..self.n).map(|i| row(i).zip(&c).map(|(k, c)| k * c.l1_norm()).sum()).collect();
        Carried { c, doubt }
    }

    fn times(&self, m: &[Complex64], x: &[Complex64]) -> Numbers {
        let row = |i: usize| m[i * self.n..(i + 1) * self.n].iter();
        (0..self.n).map(|i| row(i).zip(x).map(|(m, x)| m * x).sum()).collect()
    }
}

/// Inverts in place of the matrix: Gauss-Jordan elimination with full pivoting, on balanced rows and columns.
fn invert(n: usize, mut m: Matrix) -> Option<Matrix> {
    if let [one] = m[..] {
        let sized = one.l1_norm();
        return (sized.is_finite() && sized > 0.0).then(|| smallvec![one.inv()]);
    }
    let mut scale: Sizes = smallvec![1.0; n];
    for _ in 0..BALANCING {
        if !balance(n, &mut m, &mut scale)? {
            break;
        }
    }
    let mut swaps: SmallVec<[(usize, usize); 2]> = SmallVec::new();
    for step in 0..n {
        let place = largest(n, &m, step)?;
        for k in 0..n {
            m.swap(step * n + k, place.0 * n + k);
        }
        for k in 0..n {
            m.swap(k * n + step, k * n + place.1);
        }
        swaps.push(place);
        eliminate(n, &mut m, step);
    }
    for (step, &(row, column)) in swaps.iter().enumerate().rev() {
        // Rows swapped are columns of the inverse, and the other way round.
        for k in 0..n {
            m.swap(k * n + step, k * n + row);
        }
        for k in 0..n {
            m.swap(step * n + k, column * n + k);
        }
    }
    for (i, row) in m.chunks_mut(n.max(1)).enumerate() {
        row.iter_mut().zip(&scale).for_each(|(v, s)| *v *= scale[i] * s);
    }
    Some(m)
}

/// Finds the largest entry of what is left, or nothing if it is no more than rounding.
fn largest(n: usize, m: &[Complex64], step: usize) -> Option<(usize, usize)> {
    let (mut best, mut place) = (LEAST_PIVOT, None);
    for i in step..n {
        for j in step..n {
            let size = m[i * n + j].l1_norm();
            if size > best {
                (best, place) = (size, Some((i, j)));
            }
        }
    }
    place
}

/// Exchanges the unknown of a step against its right-hand side.
fn eliminate(n: usize, m: &mut [Complex64], step: usize) {
    let reciprocal = m[step * n + step].inv();
    m[step * n + step] = Complex64::ONE;
    for k in 0..n {
        m[step * n + k] *= reciprocal;
    }
    for i in (0..n).filter(|i| *i != step) {
        let factor = m[i * n + step];
        m[i * n + step] = Complex64::ZERO;
        for k in 0..n {
            let taken = factor * m[step * n + k];
            m[i * n + k] -= taken;
        }
    }
}

/// Scales row and column of each unknown alike towards a largest entry of one, by powers of two; false if they are there.
fn balance(n: usize, m: &mut [Complex64], scale: &mut [f64]) -> Option<bool> {
    let mut factors: Sizes = smallvec![1.0; n];
    for (i, factor) in factors.iter_mut().enumerate() {
        let largest = (0..n).map(|j| m[i * n + j].l1_norm().max(m[j * n + i].l1_norm())).fold(0.0, f64::max);
        *factor = reciprocal_power(largest.sqrt())?;
        scale[i] *= *factor;
    }
    if factors.iter().all(|factor| factor.to_bits() == 1.0_f64.to_bits()) {
        return Some(false);
    }
    for (i, row) in m.chunks_mut(n.max(1)).enumerate() {
        row.iter_mut().zip(&factors).for_each(|(v, factor)| *v *= factors[i] * factor);
    }
    Some(true)
}

#[cfg(test)]
mod tests {
    use super::{Complex64, Matrix, Small};

    #[test]
    fn system_of_three_with_a_zero_diagonal_is_solved() {
        // Computed by hand: x = (1, 2, 3).
        let rows = [0.0, 1.0, 1.0, 2.0, 0.0, 1.0, 1.0, -1.0, 0.0];
        let matrix: Matrix = rows.iter().map(|v| Complex64::from(*v)).collect();
        let b = [5.0, 5.0, -1.0].map(Complex64::from);
        let carried = Small::of(3, matrix).unwrap().solve(&b);
        for (c, want) in carried.c.iter().zip([1.0, 2.0, 3.0]) {
            assert!((c - want).l1_norm() < 1e-14, "{c}");
        }
    }

    #[test]
    fn system_near_singular_doubts_what_it_says() {
        // Computed by hand: the two rows differ by 1e-9, so each unknown is known to 1e-9 at best.
        let rows = [1.0, 1.0, 1.0, 1.0 + 1e-9];
        let matrix: Matrix = rows.iter().map(|v| Complex64::from(*v)).collect();
        let carried = Small::of(2, matrix).unwrap().solve(&[1.0, 1.0].map(Complex64::from));
        assert!(carried.doubt.iter().all(|d| *d > 1e8), "{carried:?}");
        let rows = [1.0, 1.0, 1.0, 1.0 + 1e-15];
        assert!(Small::of(2, rows.iter().map(|v| Complex64::from(*v)).collect()).is_none());
    }
}
