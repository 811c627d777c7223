//! What can be wrong with a network that settles in time. Knows nodes by number only; names are the caller's.

use crate::network::Node;

/// Says why a network has no course in time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TransientError {
    /// The network has no such node; the reference is none with a value of its own.
    NoSuchNode {
        /// The missing node.
        node: Node,
    },
    /// A capacity is not above zero, or is no finite number.
    BadCapacity {
        /// The node with that capacity.
        node: Node,
    },
    /// A conductance is below zero, or is no finite number.
    BadConductance {
        /// One end.
        a: Node,
        /// The other.
        b: Node,
    },
    /// A node is joined to itself.
    JoinedToItself {
        /// The node.
        node: Node,
    },
    /// An inflow is no finite number.
    BadInflow {
        /// The node it flows into.
        node: Node,
    },
    /// A start has another number of values than the network has nodes.
    WrongLength {
        /// Values given.
        given: usize,
        /// Nodes of the network, the reference left out.
        nodes: usize,
    },
    /// A start has a value that is no finite number.
    BadStart,
    /// A target is no finite number.
    BadTarget,
    /// A time is below zero, or is no finite number.
    BadTime,
}

impl core::fmt::Display for TransientError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NoSuchNode { node } => write!(f, "no node {} with a capacity in the network", node.0),
            Self::BadCapacity { node } => write!(f, "node {} has a capacity that is not above zero", node.0),
            Self::BadConductance { a, b } => {
                write!(f, "what joins nodes {} and {} is no conductance of zero or above", a.0, b.0)
            }
            Self::JoinedToItself { node } => write!(f, "node {} is joined to itself", node.0),
            Self::BadInflow { node } => write!(f, "what flows into node {} is not a finite number", node.0),
            Self::WrongLength { given, nodes } => {
                write!(f, "the start has {given} values for {nodes} nodes; give one for each")
            }
            Self::BadStart => write!(f, "the start has a value that is not a finite number"),
            Self::BadTarget => write!(f, "the target is not a finite number"),
            Self::BadTime => write!(f, "the time is not a number of zero or above"),
        }
    }
}

impl core::error::Error for TransientError {}
