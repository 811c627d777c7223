//! What can be wrong with a network. Knows branches and nodes by number only; names are the caller's.

use crate::network::{Branch, Node};

/// Says why a network has no single answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CircuitError {
    /// A branch or a bridge names a node that the network does not have.
    NoSuchNode {
        /// The missing node.
        node: Node,
    },
    /// A change names a branch that the network does not have.
    NoSuchBranch {
        /// The missing branch.
        branch: Branch,
    },
    /// A value is not a number, or is infinite. A true open is [`crate::Law::Open`].
    NotFinite {
        /// The branch with that value.
        branch: Branch,
    },
    /// Branches without any impedance form a loop.
    ///
    /// Nothing sets the current round the loop, or no current can satisfy it. Bridges of a change are numbered
    /// after the network's own branches, in the order given.
    IdealLoop {
        /// The branches of the loop, in the order met going round.
        branches: Vec<Branch>,
        /// True if the sources round the loop do not add up to zero.
        contradictory: bool,
    },
    /// The equations have no single solution though the structure is sound (a lossless resonance, for example).
    Singular,
}

impl core::fmt::Display for CircuitError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NoSuchNode { node } => write!(f, "no node {} in the network", node.0),
            Self::NoSuchBranch { branch } => write!(f, "no branch {} in the network", branch.0),
            Self::NotFinite { branch } => {
                write!(f, "branch {} has a value that is not a finite number", branch.0)
            }
            Self::IdealLoop { branches, contradictory } => {
                let list: Vec<String> = branches.iter().map(|b| b.0.to_string()).collect();
                let what = if *contradictory { "sources that contradict each other" } else { "no impedance at all" };
                write!(f, "branches {} form a loop with {what}; give one of them a resistance", list.join(", "))
            }
            Self::Singular => write!(
                f,
                "the network has no single solution; look for an inductance and a capacitance in resonance without resistance"
            ),
        }
    }
}

impl core::error::Error for CircuitError {}
