//! Nodes, branches and their laws: what a network is made of. Knows nothing about solving.

use num_complex::Complex64;

use crate::error::CircuitError;
use crate::ideal;
use crate::solved::Solved;

/// Names a node. `Node(0)` is the reference, true earth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Node(pub u32);

/// Names a branch, in the order added.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Branch(pub u32);

impl Node {
    /// Gives the node's place in a list.
    pub(crate) const fn index(self) -> usize {
        self.0 as usize
    }
}

impl Branch {
    /// Gives the branch's place in a list.
    pub(crate) const fn index(self) -> usize {
        self.0 as usize
    }

    /// Numbers the branch at a place in a list.
    pub(crate) fn at(index: usize) -> Self {
        Self(u32::try_from(index).unwrap_or(u32::MAX))
    }
}

/// States how voltage and current of a branch go together.
///
/// The current is counted from the branch's first node, through it, to its second, for every law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Law {
    /// `v_first - v_second = impedance * current`, in ohms. Zero is allowed: an ammeter.
    Impedance(Complex64),
    /// No current, and no connection: a true open.
    Open,
    /// `v_first - v_second = emf + series * current`, in volts and ohms. `series` may be zero.
    Source {
        /// Voltage of the first node over the second with no current.
        emf: Complex64,
        /// Impedance in series with it.
        series: Complex64,
    },
}

/// A closed branch's two numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Closed {
    pub(crate) emf: Complex64,
    pub(crate) z: Complex64,
}

impl Law {
    /// Makes the law of a plain resistance in ohms.
    #[must_use]
    pub const fn ohms(resistance: f64) -> Self {
        Self::Impedance(Complex64::new(resistance, 0.0))
    }

    /// Tells whether the branch ties its two nodes together.
    #[must_use]
    pub const fn conducts(&self) -> bool {
        !matches!(self, Self::Open)
    }

    pub(crate) const fn closed(&self) -> Option<Closed> {
        match *self {
            Self::Impedance(z) => Some(Closed { emf: Complex64::new(0.0, 0.0), z }),
            Self::Source { emf, series } => Some(Closed { emf, z: series }),
            Self::Open => None,
        }
    }

    pub(crate) fn is_finite(&self) -> bool {
        self.closed().is_none_or(|c| c.emf.is_finite() && c.z.is_finite())
    }
}

/// Is one branch: where it lies and what it obeys.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Laid {
    pub(crate) a: usize,
    pub(crate) b: usize,
    pub(crate) law: Law,
}

/// Holds nodes and branches.
#[derive(Debug, Clone)]
pub struct Network {
    nodes: usize,
    branches: Vec<Laid>,
}

impl Network {
    /// Makes a network of `node_count` nodes, the reference included, without branches.
    #[must_use]
    pub fn new(node_count: u32) -> Self {
        Self { nodes: (node_count as usize).max(1), branches: Vec::new() }
    }

    /// Adds one more node.
    pub fn add_node(&mut self) -> Node {
        self.nodes += 1;
        Node(u32::try_from(self.nodes - 1).unwrap_or(u32::MAX))
    }

    /// Lays a branch from `a` to `b`. A node the network does not have is reported by [`Network::solve`].
    pub fn add(&mut self, a: Node, b: Node, law: Law) -> Branch {
        self.branches.push(Laid { a: a.index(), b: b.index(), law });
        Branch::at(self.branches.len() - 1)
    }

    /// Replaces the law of a branch.
    ///
    /// # Errors
    /// [`CircuitError::NoSuchBranch`].
    pub fn set_law(&mut self, branch: Branch, law: Law) -> Result<(), CircuitError> {
        let laid = self.branches.get_mut(branch.index()).ok_or(CircuitError::NoSuchBranch { branch })?;
        laid.law = law;
        Ok(())
    }

    /// Gives the law of a branch.
    #[must_use]
    pub fn law(&self, branch: Branch) -> Option<Law> {
        self.branches.get(branch.index()).map(|laid| laid.law)
    }

    /// Gives the two nodes of a branch.
    #[must_use]
    pub fn ends(&self, branch: Branch) -> Option<(Node, Node)> {
        let node = |i: usize| Node(u32::try_from(i).unwrap_or(u32::MAX));
        self.branches.get(branch.index()).map(|laid| (node(laid.a), node(laid.b)))
    }

    /// Counts the nodes, the reference included.
    #[must_use]
    pub const fn node_count(&self) -> usize {
        self.nodes
    }

    /// Counts the branches.
    #[must_use]
    pub const fn branch_count(&self) -> usize {
        self.branches.len()
    }

    /// Factors the network, so that readings and changes cost little afterwards.
    ///
    /// Work: one sparse factorisation; later one sparse solve for each unknown (node or branch) that a change or a
    /// reading touches for the first time.
    ///
    /// # Errors
    /// A node that does not exist, a value that is not finite, a loop of branches without impedance, or
    /// [`CircuitError::Singular`].
    pub fn solve(&self) -> Result<Solved, CircuitError> {
        Solved::of(self.clone())
    }

    pub(crate) fn branches(&self) -> &[Laid] {
        &self.branches
    }

    /// Puts other laws in and further branches on.
    pub(crate) fn replace(&mut self, laws: &[(usize, Law)], more: &[Laid]) {
        for &(k, law) in laws {
            if let Some(laid) = self.branches.get_mut(k) {
                laid.law = law;
            }
        }
        self.branches.extend_from_slice(more);
    }

    /// Checks everything that can be seen before the matrix.
    pub(crate) fn check(&self) -> Result<(), CircuitError> {
        for (i, laid) in self.branches.iter().enumerate() {
            for end in [laid.a, laid.b] {
                if end >= self.nodes {
                    return Err(CircuitError::NoSuchNode { node: Node(u32::try_from(end).unwrap_or(u32::MAX)) });
                }
            }
            if !laid.law.is_finite() {
                return Err(CircuitError::NotFinite { branch: Branch::at(i) });
            }
        }
        ideal::check(self.nodes, &self.branches)
    }
}
