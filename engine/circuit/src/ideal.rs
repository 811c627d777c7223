//! Finds loops of branches without any impedance, before a matrix is made. Names the branches of the loop.

use num_complex::Complex64;

use crate::error::CircuitError;
use crate::network::{Branch, Laid};

/// One step of the forest of ideal branches: neighbour, branch, and emf met going there.
type Step = (usize, usize, Complex64);

/// Refuses a network in which ideal branches close a loop.
pub(crate) fn check(nodes: usize, branches: &[Laid]) -> Result<(), CircuitError> {
    let mut forest: Vec<Vec<Step>> = vec![Vec::new(); nodes];
    for (k, laid) in branches.iter().enumerate() {
        let Some(closed) = laid.law.closed() else { continue };
        if closed.z != Complex64::ZERO {
            continue;
        }
        if let Some((mut path, drop)) = path(&forest, laid.a, laid.b) {
            // `drop` is v_a - v_b along the forest; the new branch wants it to be its own emf.
            let scale = closed.emf.l1_norm() + drop.l1_norm();
            let contradictory = (drop - closed.emf).l1_norm() > 1e-9 * scale;
            path.push(Branch::at(k));
            return Err(CircuitError::IdealLoop { branches: path, contradictory });
        }
        forest[laid.a].push((laid.b, k, closed.emf));
        forest[laid.b].push((laid.a, k, -closed.emf));
    }
    Ok(())
}

/// Walks the forest from `a` to `b`: the branches met and `v_a - v_b`.
fn path(forest: &[Vec<Step>], a: usize, b: usize) -> Option<(Vec<Branch>, Complex64)> {
    let mut came: Vec<Option<Step>> = vec![None; forest.len()];
    let mut stack = vec![a];
    while let Some(at) = stack.pop() {
        if at == b {
            break;
        }
        for &(next, k, emf) in &forest[at] {
            if next != a && came[next].is_none() {
                came[next] = Some((at, k, emf));
                stack.push(next);
            }
        }
    }
    let (mut at, mut branches, mut drop) = (b, Vec::new(), Complex64::ZERO);
    while at != a {
        let (before, k, emf) = came[at]?;
        branches.push(Branch::at(k));
        drop += emf;
        at = before;
    }
    branches.reverse();
    Some((branches, drop))
}
