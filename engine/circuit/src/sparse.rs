//! Sparse complex LU: Markowitz order with threshold pivoting on scaled rows and columns.
//!
//! Made for a few hundred unknowns with three or four entries in a row. An entry that cancels exactly is
//! dropped, which keeps the plus and minus ones of Kirchhoff's laws exact. Knows no circuits.

use num_complex::Complex64;

/// A pivot must be at least this share of the largest entry of its row.
const THRESHOLD: f64 = 0.1;

/// Is a square matrix by rows, columns ascending in each.
#[derive(Debug, Clone)]
pub(crate) struct Matrix {
    pub(crate) rows: Vec<Vec<(usize, Complex64)>>,
}

impl Matrix {
    /// Turns `x`'s right-hand side into its residual: `b - A x`, in place of `b`.
    ///
    /// Sums keep what rounding drops. Where the entries are plus and minus one, as in Kirchhoff's current law, the
    /// residual is exact, so that refinement finds a leak of picoamperes beside a hundred amperes.
    pub(crate) fn residual(&self, b: &mut [Complex64], x: &[Complex64]) {
        for (row, b) in self.rows.iter().zip(b) {
            let (mut sum, mut dropped) = (*b, Complex64::ZERO);
            for &(col, value) in row {
                let term = -(value * x[col]);
                let total = sum + term;
                dropped += rounding(sum, term, total);
                sum = total;
            }
            *b = sum + dropped;
        }
    }
}

/// Gives exactly what rounding dropped from `a + b = total`.
///
/// SOURCE: D. E. Knuth, The Art of Computer Programming, volume 2, section 4.2.2 (TwoSum), from memory.
fn rounding(a: Complex64, b: Complex64, total: Complex64) -> Complex64 {
    let of_b = total - a;
    (a - (total - of_b)) + (b - of_b)
}

/// One elimination step.
#[derive(Debug, Clone)]
struct Step {
    row: usize,
    col: usize,
    reciprocal: Complex64,
    /// End of this step's entries in `lower` and `upper`; they begin where the last step's end.
    lower_end: usize,
    upper_end: usize,
}

/// Is a factored matrix.
#[derive(Debug, Clone)]
pub(crate) struct Lu {
    row_scale: Vec<f64>,
    column_scale: Vec<f64>,
    steps: Vec<Step>,
    lower: Vec<(usize, Complex64)>,
    upper: Vec<(usize, Complex64)>,
}

impl Lu {
    /// Factors, or gives nothing if some row vanishes.
    ///
    /// `column_scale` weighs the unknowns for the choice of pivots: powers of two, so that nothing is rounded.
    /// Rows are then scaled to a largest entry near one.
    pub(crate) fn of(matrix: &Matrix, column_scale: Vec<f64>) -> Option<Self> {
        let mut work = Work::new(matrix, column_scale)?;
        let n = matrix.rows.len();
        let mut lu = Self {
            row_scale: core::mem::take(&mut work.row_scale),
            column_scale: core::mem::take(&mut work.column_scale),
            steps: Vec::with_capacity(n),
            lower: Vec::new(),
            upper: Vec::new(),
        };
        for _ in 0..n {
            let (row, col) = work.pivot()?;
            work.eliminate(row, col, &mut lu);
        }
        Some(lu)
    }

    /// Solves in place: `b` becomes the solution. `scratch` must be as long as `b`.
    pub(crate) fn solve(&self, b: &mut [Complex64], scratch: &mut [Complex64]) {
        for (b, s) in b.iter_mut().zip(&self.row_scale) {
            *b *= *s;
        }
        let mut begin = 0;
        for step in &self.steps {
            let value = b[step.row];
            if value != Complex64::ZERO {
                for &(row, factor) in &self.lower[begin..step.lower_end] {
                    b[row] -= factor * value;
                }
            }
            begin = step.lower_end;
        }
        for (s, step) in self.steps.iter().enumerate().rev() {
            let begin = if s == 0 { 0 } else { self.steps[s - 1].upper_end };
            let mut value = b[step.row];
            for &(col, entry) in &self.upper[begin..step.upper_end] {
                value -= entry * scratch[col];
            }
            scratch[step.col] = value * step.reciprocal;
        }
        for ((b, x), s) in b.iter_mut().zip(scratch).zip(&self.column_scale) {
            *b = *x * *s;
        }
    }
}

/// Is the part of the matrix not yet eliminated.
struct Work {
    row_scale: Vec<f64>,
    column_scale: Vec<f64>,
    rows: Vec<Vec<(usize, Complex64)>>,
    active: Vec<bool>,
    /// Rows that hold an entry in a column; kept exact.
    columns: Vec<Vec<usize>>,
    merged: Vec<(usize, Complex64)>,
}

impl Work {
    fn new(matrix: &Matrix, column_scale: Vec<f64>) -> Option<Self> {
        let n = matrix.rows.len();
        let mut columns = vec![Vec::new(); n];
        let (mut row_scale, mut rows) = (Vec::with_capacity(n), Vec::with_capacity(n));
        for (r, row) in matrix.rows.iter().enumerate() {
            let mut scaled: Vec<(usize, Complex64)> = row.iter().map(|&(c, v)| (c, v * column_scale[c])).collect();
            let s = reciprocal_power(scaled.iter().map(|(_, v)| v.l1_norm()).fold(0.0, f64::max))?;
            for (c, v) in &mut scaled {
                *v *= s;
                columns[*c].push(r);
            }
            row_scale.push(s);
            rows.push(scaled);
        }
        Some(Self { row_scale, column_scale, rows, active: vec![true; n], columns, merged: Vec::new() })
    }

    /// Picks the entry with the least Markowitz cost among the shortest rows, ties to the lowest row.
    fn pivot(&self) -> Option<(usize, usize)> {
        let lengths = || self.rows.iter().zip(&self.active).filter(|(_, on)| **on).map(|(row, _)| row.len());
        let shortest = lengths().min()?;
        let mut best: Option<(usize, usize, usize)> = None;
        for (r, row) in self.rows.iter().enumerate() {
            if !self.active[r] || row.len() > shortest + 1 {
                continue;
            }
            let floor = THRESHOLD * row.iter().map(|(_, v)| v.l1_norm()).fold(0.0, f64::max);
            for &(c, v) in row {
                let cost = (row.len() - 1) * (self.columns[c].len() - 1);
                if v.l1_norm() >= floor && best.is_none_or(|(least, ..)| cost < least) {
                    best = Some((cost, r, c));
                }
            }
            if best.is_some_and(|(cost, ..)| cost == 0) {
                break;
            }
        }
        best.map(|(_, r, c)| (r, c))
    }

    /// Eliminates a column from every other active row and records the step.
    fn eliminate(&mut self, row: usize, col: usize, lu: &mut Lu) {
        let pivot_row = core::mem::take(&mut self.rows[row]);
        self.active[row] = false;
        for &(c, _) in &pivot_row {
            self.columns[c].retain(|&r| r != row);
        }
        let pivot = pivot_row.iter().find(|(c, _)| *c == col).map_or(Complex64::ONE, |(_, v)| *v);
        for target in core::mem::take(&mut self.columns[col]) {
            let entry = self.rows[target].iter().find(|(c, _)| *c == col).map_or(Complex64::ZERO, |(_, v)| *v);
            let factor = entry / pivot;
            lu.lower.push((target, factor));
            self.subtract(target, &pivot_row, col, factor);
        }
        lu.upper.extend(pivot_row.into_iter().filter(|(c, _)| *c != col));
        lu.steps.push(Step { row, col, reciprocal: pivot.inv(), lower_end: lu.lower.len(), upper_end: lu.upper.len() });
    }

    /// Takes `factor` times the pivot row from a row, leaving out the eliminated column.
    fn subtract(&mut self, target: usize, pivot_row: &[(usize, Complex64)], col: usize, factor: Complex64) {
        let old = core::mem::take(&mut self.rows[target]);
        self.merged.clear();
        let (mut i, mut j) = (0, 0);
        while i < old.len() || j < pivot_row.len() {
            let left = old.get(i).map_or(usize::MAX, |e| e.0);
            let right = pivot_row.get(j).map_or(usize::MAX, |e| e.0);
            let c = left.min(right);
            let mut value = Complex64::ZERO;
            if left == c {
                value = old[i].1;
                i += 1;
            }
            if right == c {
                value -= factor * pivot_row[j].1;
                j += 1;
            }
            if c == col {
                continue;
            }
            if value != Complex64::ZERO {
                self.merged.push((c, value));
                if left != c {
                    self.columns[c].push(target);
                }
            } else if left == c {
                self.columns[c].retain(|&r| r != target);
            }
        }
        let mut row = old;
        row.clear();
        row.extend_from_slice(&self.merged);
        self.rows[target] = row;
    }
}

/// Gives the power of two that brings a size near one: scaling by it rounds nothing.
pub(crate) fn reciprocal_power(size: f64) -> Option<f64> {
    (size.is_finite() && size > 0.0).then(|| libm::ldexp(1.0, -libm::frexp(size).1))
}
