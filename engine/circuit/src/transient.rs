//! What settles in time: linear networks of capacities, conductances and constant inflows, solved exactly.
//!
//! Heat (J/K, W/K, W, K) and charge (F, S, A, V) are the same network. With C the capacities, G the conductances
//! (a symmetric Laplacian, the reference left out) and q the inflows, C x' = -G x + q. The symmetric
//! C^-1/2 G C^-1/2 has modes v with rates a >= 0; along each, z' = -a z + p, so that
//! z(t) = z0 exp(-a t) + p (1 - exp(-a t)) / a, and p t for a = 0. *Exact* but for rounding at every t: no steps.
//!
//! It refuses to know what is stored, and any network whose values change with time or with the state.

mod crossing;
mod error;
mod jacobi;

pub use error::TransientError;

use crate::network::Node;
use crossing::Course;

/// Holds nodes with capacities, what joins them, and what flows in. `Node(0)` is the reference; its value is 0.
#[derive(Debug, Clone, Default)]
pub struct RcNetwork {
    capacities: Vec<f64>,
    inflows: Vec<f64>,
    joins: Vec<(Node, Node, f64)>,
}

impl RcNetwork {
    /// Makes a network of the reference alone.
    #[must_use]
    pub const fn new() -> Self {
        Self { capacities: Vec::new(), inflows: Vec::new(), joins: Vec::new() }
    }

    /// Adds a node with this capacity (J/K or F), which must be above zero.
    pub fn add_node(&mut self, capacity: f64) -> Node {
        self.capacities.push(capacity);
        self.inflows.push(0.0);
        Node(u32::try_from(self.capacities.len()).unwrap_or(u32::MAX))
    }

    /// Joins two nodes, or a node and the reference, by a conductance (W/K or S), zero or above.
    pub fn join(&mut self, a: Node, b: Node, conductance: f64) {
        self.joins.push((a, b, conductance));
    }

    /// Lets a constant flow (W or A) into a node, beside what flows in already.
    ///
    /// # Errors
    /// A node that the network does not have, the reference, or a flow that is no finite number.
    pub fn feed(&mut self, node: Node, inflow: f64) -> Result<(), TransientError> {
        let place = self.place(node)?;
        if !inflow.is_finite() {
            return Err(TransientError::BadInflow { node });
        }
        self.inflows[place] += inflow;
        Ok(())
    }

    /// Works out the modes.
    ///
    /// # Errors
    /// A capacity that is not above zero, a conductance below zero, a value that is no finite number, a join to a
    /// node that the network does not have or from a node to itself.
    pub fn solve(&self) -> Result<Transient, TransientError> {
        self.check()?;
        let count = self.capacities.len();
        let roots: Vec<f64> = self.capacities.iter().map(|c| c.sqrt()).collect();
        let mut matrix = vec![vec![0.0; count]; count];
        for &(a, b, g) in &self.joins {
            let (a, b) = (self.place(a).ok(), self.place(b).ok());
            for place in [a, b].into_iter().flatten() {
                matrix[place][place] += g / self.capacities[place];
            }
            if let (Some(a), Some(b)) = (a, b) {
                matrix[a][b] -= g / (roots[a] * roots[b]);
                matrix[b][a] = matrix[a][b];
            }
        }
        let vectors = jacobi::vectors(matrix);
        let mut modes: Vec<Mode> = vectors.into_iter().map(|vector| self.mode(vector, &roots)).collect();
        self.still(&mut modes);
        Ok(Transient { roots, modes })
    }

    fn check(&self) -> Result<(), TransientError> {
        for (node, capacity) in (1..).map(Node).zip(&self.capacities) {
            if !(capacity.is_finite() && *capacity > 0.0) {
                return Err(TransientError::BadCapacity { node });
            }
        }
        for &(a, b, g) in &self.joins {
            for node in [a, b] {
                if node != Node(0) {
                    self.place(node)?;
                }
            }
            if a == b {
                return Err(TransientError::JoinedToItself { node: a });
            }
            if !(g.is_finite() && g >= 0.0) {
                return Err(TransientError::BadConductance { a, b });
            }
        }
        Ok(())
    }

    fn place(&self, node: Node) -> Result<usize, TransientError> {
        let place = node.index().checked_sub(1).filter(|place| *place < self.capacities.len());
        place.ok_or(TransientError::NoSuchNode { node })
    }

    /// Reckons a mode's rate as the sum of what every join lets through, which cannot come out below zero.
    ///
    /// WHY NOT the eigenvalue: a loss far below the other conductances drowns in its rounding.
    fn mode(&self, vector: Vec<f64>, roots: &[f64]) -> Mode {
        let value = |node: Node| self.place(node).map_or(0.0, |place| vector[place] / roots[place]);
        let rate = self.joins.iter().map(|&(a, b, g)| g * (value(a) - value(b)) * (value(a) - value(b))).sum();
        let push = (0..roots.len()).map(|place| vector[place] * self.inflows[place] / roots[place]).sum();
        Mode { rate, push, vector }
    }

    /// Sets to zero the rate of the one mode that each island without a way to the reference keeps for ever; whether
    /// there is one is decided on the graph. Inflows that cancel out there push it not at all.
    fn still(&self, modes: &mut [Mode]) {
        let islands = self.islands();
        for island in 1..=self.capacities.len() {
            let members: Vec<usize> = (1..islands.len()).filter(|&n| islands[n] == island).map(|n| n - 1).collect();
            let inside = |mode: &&mut Mode| members.iter().any(|&place| mode.vector[place].abs() > 0.0);
            let slowest = modes.iter_mut().filter(inside).min_by(|a, b| a.rate.total_cmp(&b.rate));
            if let Some(mode) = slowest.filter(|_| !members.is_empty()) {
                mode.rate = 0.0;
                let gross: f64 = members.iter().map(|&place| self.inflows[place].abs()).sum();
                let net: f64 = members.iter().map(|&place| self.inflows[place]).sum();
                if net.abs() <= 1e-13 * gross {
                    mode.push = 0.0;
                }
            }
        }
    }

    /// Gives each node the lowest number among the nodes it is joined to, 0 for those with a way to the reference.
    fn islands(&self) -> Vec<usize> {
        let mut islands: Vec<usize> = (0..=self.capacities.len()).collect();
        for &(a, b, g) in &self.joins {
            let (low, high) = (islands[a.index()], islands[b.index()]);
            if g > 0.0 {
                islands.iter_mut().filter(|i| **i == low || **i == high).for_each(|i| *i = low.min(high));
            }
        }
        islands
    }
}

/// Is one mode: its shape (times the root of the capacity), how fast it dies away, and what pushes it.
#[derive(Debug, Clone)]
struct Mode {
    rate: f64,
    push: f64,
    vector: Vec<f64>,
}

/// Answers for every moment of one network. States are lists with one value a node, in the order added, over the
/// reference; times are seconds from the start, zero or above.
#[derive(Debug, Clone)]
pub struct Transient {
    roots: Vec<f64>,
    modes: Vec<Mode>,
}

impl Transient {
    /// Gives the number of nodes, the reference left out: the length of a state.
    #[must_use]
    pub fn node_count(&self) -> usize {
        self.roots.len()
    }

    /// Gives every node's value at a time.
    ///
    /// # Errors
    /// A start of another length or with a value that is no finite number, a time that is none or below zero.
    pub fn at(&self, start: &[f64], seconds: f64) -> Result<Vec<f64>, TransientError> {
        let amounts = self.amounts(start)?;
        if !(seconds.is_finite() && seconds >= 0.0) {
            return Err(TransientError::BadTime);
        }
        let now: Vec<f64> = self.modes.iter().zip(amounts).map(|(mode, z)| mode.amount(z, seconds)).collect();
        Ok(self.values(&now))
    }

    /// Gives every node's value after endless time; `None` if some node rises or falls for ever.
    ///
    /// The start matters only to what has no way to the reference.
    ///
    /// # Errors
    /// As [`Self::at`].
    pub fn steady(&self, start: &[f64]) -> Result<Option<Vec<f64>>, TransientError> {
        let amounts = self.amounts(start)?;
        let last: Option<Vec<f64>> = self.modes.iter().zip(amounts).map(|(mode, z)| mode.last(z)).collect();
        Ok(last.map(|last| self.values(&last)))
    }

    /// Gives the first time at which a node has the target's value; `None` if it never has.
    ///
    /// A target within 1e-12 of what the node ends at is never reached: it is only approached. A course that touches
    /// the target and turns back is not taken to reach it.
    ///
    /// # Errors
    /// As [`Self::at`], a node that the network does not have, a target that is no finite number.
    pub fn first_time(&self, start: &[f64], node: Node, target: f64) -> Result<Option<f64>, TransientError> {
        let amounts = self.amounts(start)?;
        let place = node.index().checked_sub(1).filter(|place| *place < self.roots.len());
        let place = place.ok_or(TransientError::NoSuchNode { node })?;
        if !target.is_finite() {
            return Err(TransientError::BadTarget);
        }
        if (start[place] - target).abs() <= 0.0 {
            return Ok(Some(0.0));
        }
        let mut course = Course::below(target);
        for (mode, z) in self.modes.iter().zip(amounts) {
            let share = mode.vector[place] / self.roots[place];
            if mode.rate > 0.0 {
                let last = mode.push / mode.rate;
                course.settle(share * last, share * (z - last), mode.rate);
            } else {
                course.settle(share * z, 0.0, 0.0);
                course.climb(share * mode.push);
            }
        }
        Ok(course.first_zero())
    }

    /// Gives one node's value at each of these times.
    ///
    /// # Errors
    /// As [`Self::at`], and a node that the network does not have.
    pub fn curve(&self, start: &[f64], node: Node, seconds: &[f64]) -> Result<Vec<f64>, TransientError> {
        let place = node.index().checked_sub(1).filter(|place| *place < self.roots.len());
        let place = place.ok_or(TransientError::NoSuchNode { node })?;
        seconds.iter().map(|&t| self.at(start, t).map(|values| values[place])).collect()
    }

    fn amounts(&self, start: &[f64]) -> Result<Vec<f64>, TransientError> {
        if start.len() != self.roots.len() {
            return Err(TransientError::WrongLength { given: start.len(), nodes: self.roots.len() });
        }
        if start.iter().any(|value| !value.is_finite()) {
            return Err(TransientError::BadStart);
        }
        let amount = |mode: &Mode| (0..start.len()).map(|n| mode.vector[n] * self.roots[n] * start[n]).sum();
        Ok(self.modes.iter().map(amount).collect())
    }

    fn values(&self, amounts: &[f64]) -> Vec<f64> {
        let value = |n: usize| self.modes.iter().zip(amounts).map(|(mode, z)| mode.vector[n] * z).sum::<f64>();
        (0..self.roots.len()).map(|n| value(n) / self.roots[n]).collect()
    }
}

impl Mode {
    fn amount(&self, z: f64, seconds: f64) -> f64 {
        let faded = self.rate * seconds;
        let pushed = if faded > 0.0 { -libm::expm1(-faded) / faded * seconds } else { seconds };
        z * libm::exp(-faded) + self.push * pushed
    }

    fn last(&self, z: f64) -> Option<f64> {
        match (self.rate > 0.0, self.push.abs() > 0.0) {
            (true, _) => Some(self.push / self.rate),
            (false, false) => Some(z),
            (false, true) => None,
        }
    }
}
