//! Solves a network in exact arithmetic: complex rationals, dense elimination, islands by flooding.
//!
//! Written apart from the solver: plain potentials, no clusters, no ties, no updates.

use circuit::{Branch, Complex64, Law, Network, Node};
use num_bigint::BigInt;
use num_complex::Complex;
use num_rational::BigRational;

pub(crate) type Exact = Complex<BigRational>;

/// Is a network solved exactly for one set of sources.
pub(crate) struct ExactSolution {
    pub(crate) island: Vec<usize>,
    volts: Vec<Exact>,
    amperes: Vec<Exact>,
}

pub(crate) fn exact(value: Complex64) -> Exact {
    let part = |v: f64| BigRational::from_float(v).unwrap();
    Complex::new(part(value.re), part(value.im))
}

fn zero() -> Exact {
    exact(Complex64::ZERO)
}

/// Rounds to doubles.
pub(crate) fn rounded(value: &Exact) -> Complex64 {
    Complex64::new(to_f64(&value.re), to_f64(&value.im))
}

/// Divides with 80 digits after the binary point of the quotient, which leaves more than a double holds.
fn to_f64(value: &BigRational) -> f64 {
    let (numer, denom) = (value.numer(), value.denom());
    let bits = |v: &BigInt| i64::try_from(v.bits()).unwrap();
    let shift = 80 - (bits(numer) - bits(denom));
    let scaled = if shift >= 0 { (numer << shift) / denom } else { numer / (denom << -shift) };
    let whole: i128 = scaled.try_into().unwrap();
    // Two halves, so that the conversion to a double rounds once in the last place at most.
    #[allow(clippy::cast_precision_loss, reason = "rounding to a double is what is wanted")]
    libm::ldexp(whole as f64, i32::try_from(-shift).unwrap())
}

/// Solves with the sources as they are; `scale` multiplies every emf, `inject` puts one ampere from a to b.
pub(crate) fn solve(network: &Network, laws: &[Option<(Exact, Exact)>], inject: Option<(Node, Node)>) -> ExactSolution {
    let (nodes, branches) = (network.node_count(), network.branch_count());
    let ends: Vec<(usize, usize)> = (0..branches)
        .map(|k| network.ends(Branch(u32::try_from(k).unwrap())).unwrap())
        .map(|(a, b)| (a.0 as usize, b.0 as usize))
        .collect();
    let island = flood(nodes, &ends, laws);
    let n = nodes + branches;
    let mut rows = vec![vec![zero(); n + 1]; n];
    let one = exact(Complex64::ONE);
    for (k, (&(a, b), law)) in ends.iter().zip(laws).enumerate() {
        let own = nodes + k;
        if let Some((emf, z)) = law {
            rows[a][own] += &one;
            rows[b][own] -= &one;
            rows[own][a] += &one;
            rows[own][b] -= &one;
            rows[own][own] -= z;
            rows[own][n] = emf.clone();
        } else {
            rows[own][own] = one.clone();
        }
    }
    if let Some((a, b)) = inject {
        rows[a.0 as usize][n] += &one;
        rows[b.0 as usize][n] -= &one;
    }
    for (i, label) in island.iter().enumerate() {
        if i == *label {
            // The island's lowest node is its zero; its current law follows from the others'.
            rows[i] = vec![zero(); n + 1];
            rows[i][i] = one.clone();
        }
    }
    let mut x = eliminate(rows);
    let amperes = x.split_off(nodes);
    ExactSolution { island, volts: x, amperes }
}

/// Turns a network's laws into exact numbers: emf and impedance, or nothing for an open.
pub(crate) fn laws(network: &Network) -> Vec<Option<(Exact, Exact)>> {
    (0..network.branch_count())
        .map(|k| match network.law(Branch(u32::try_from(k).unwrap())).unwrap() {
            Law::Impedance(z) => Some((zero(), exact(z))),
            Law::Source { emf, series } => Some((exact(emf), exact(series))),
            Law::Open => None,
        })
        .collect()
}

impl ExactSolution {
    pub(crate) fn tied(&self, a: Node, b: Node) -> bool {
        self.island[a.0 as usize] == self.island[b.0 as usize]
    }

    pub(crate) fn volts(&self, a: Node, b: Node) -> Exact {
        &self.volts[a.0 as usize] - &self.volts[b.0 as usize]
    }

    pub(crate) fn amperes(&self, branch: Branch) -> &Exact {
        &self.amperes[branch.0 as usize]
    }
}

/// Looks into a port: the voltage at a unit current with every emf at zero.
pub(crate) fn source_impedance(network: &Network, laws: &[Option<(Exact, Exact)>], a: Node, b: Node) -> Exact {
    let dead: Vec<_> = laws.iter().map(|law| law.as_ref().map(|(_, z)| (zero(), z.clone()))).collect();
    solve(network, &dead, Some((a, b))).volts(a, b)
}

fn flood(nodes: usize, ends: &[(usize, usize)], laws: &[Option<(Exact, Exact)>]) -> Vec<usize> {
    let mut label: Vec<usize> = (0..nodes).collect();
    loop {
        let mut moved = false;
        for (&(a, b), _) in ends.iter().zip(laws).filter(|(_, law)| law.is_some()) {
            let low = label[a].min(label[b]);
            moved |= label[a] != low || label[b] != low;
            label[a] = low;
            label[b] = low;
        }
        if !moved {
            return label;
        }
    }
}

/// Gauss-Jordan elimination, exact, on the sparsest row that has the column.
fn eliminate(mut rows: Vec<Vec<Exact>>) -> Vec<Exact> {
    let n = rows.len();
    let nil = zero();
    for col in 0..n {
        let filled = |row: &Vec<Exact>| row.iter().filter(|v| **v != nil).count();
        let pivot = (col..n).filter(|&r| rows[r][col] != nil).min_by_key(|&r| filled(&rows[r])).unwrap();
        rows.swap(col, pivot);
        let lead = rows[col].clone();
        for (r, row) in rows.iter_mut().enumerate() {
            if r == col || row[col] == nil {
                continue;
            }
            let factor = &row[col] / &lead[col];
            for (value, taken) in row.iter_mut().zip(&lead).skip(col) {
                if *taken != nil {
                    *value -= &factor * taken;
                }
            }
        }
    }
    rows.iter().enumerate().map(|(i, row)| &row[n] / &row[i]).collect()
}
