//! Eigenvectors of a small symmetric matrix. Knows nothing of what it stands for.
//!
//! The cyclic Jacobi method: each rotation turns one pair of axes so that their entry off the diagonal vanishes; the
//! sum of squares off the diagonal falls with each, in the end quadratically. Blocks that share nothing never mix.
//!
//! SOURCE: Golub and Van Loan, Matrix Computations, "Jacobi methods" (from memory).

/// Sweeps after which rounding is all that is left; a dozen are enough for any matrix of this size.
const MOST_SWEEPS: usize = 60;

/// Gives the eigenvectors, each of length 1, in no particular order.
pub(super) fn vectors(mut matrix: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let count = matrix.len();
    let mut vectors: Vec<Vec<f64>> =
        (0..count).map(|n| (0..count).map(|m| f64::from(u8::from(n == m))).collect()).collect();
    for _ in 0..MOST_SWEEPS {
        let mut turned = false;
        for p in 0..count {
            for q in p + 1..count {
                turned |= turn(&mut matrix, &mut vectors, p, q);
            }
        }
        if !turned {
            break;
        }
    }
    vectors
}

/// Turns axes `p` and `q` until their entry vanishes; says whether there was anything to turn.
fn turn(matrix: &mut [Vec<f64>], vectors: &mut [Vec<f64>], p: usize, q: usize) -> bool {
    let off = matrix[p][q];
    // Relative to both diagonals, so that a slow mode beside a fast one comes out as sharply.
    if off * off <= 1e-34 * (matrix[p][p] * matrix[q][q]).abs() {
        matrix[p][q] = 0.0;
        matrix[q][p] = 0.0;
        return false;
    }
    let theta = (matrix[q][q] - matrix[p][p]) / (2.0 * off);
    let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
    let c = 1.0 / (t * t + 1.0).sqrt();
    let s = t * c;
    matrix[p][p] -= t * off;
    matrix[q][q] += t * off;
    matrix[p][q] = 0.0;
    matrix[q][p] = 0.0;
    for n in (0..matrix.len()).filter(|&n| n != p && n != q) {
        let (a, b) = (matrix[n][p], matrix[n][q]);
        matrix[n][p] = c * a - s * b;
        matrix[n][q] = s * a + c * b;
        matrix[p][n] = matrix[n][p];
        matrix[q][n] = matrix[n][q];
    }
    let (low, high) = vectors.split_at_mut(q);
    for (a, b) in low[p].iter_mut().zip(&mut high[0]) {
        (*a, *b) = (c * *a - s * *b, s * *a + c * *b);
    }
    true
}
