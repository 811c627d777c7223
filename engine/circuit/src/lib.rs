//! Linear networks in phasors, and in resistance by the same code. Knows no machines.
//!
//! A [`Network`] is nodes and branches. [`Network::solve`] factors it once; [`Solved::with`] answers for any
//! set of changes (a branch opened, closed, raised, lowered, a bridge added) by a small correction, not by a
//! new factorisation. What a meter sees between two nodes is a [`Port`].
//!
//! Sign convention, one for every branch: the current runs from the first node through the branch to the
//! second, and `v_first - v_second = emf + impedance * current`. A source that feeds a load therefore shows a
//! negative current, an ammeter laid from the supply to the load a positive one.
//!
//! Whether two nodes are tied at all is decided on the graph, never by the numbers: see [`Port::Floating`].
//!
//! What settles in time (heat, charge) is an [`RcNetwork`]; [`Transient`] answers for every moment of it.
//!
//! It refuses to know what a branch stands for, what a meter's display does, and where values come from.

mod adjoint;
mod change;
mod changed;
mod correction;
mod cuts;
mod equations;
mod error;
mod ideal;
mod islands;
mod network;
mod plan;
mod port;
mod small;
mod solved;
mod sparse;
mod transient;

pub use adjoint::Adjoint;
pub use change::Change;
pub use changed::Changed;
pub use cuts::Cuts;
pub use error::CircuitError;
pub use network::{Branch, Law, Network, Node};
pub use num_complex::Complex64;
pub use port::{OhmsRead, Port, VoltsRead, magnitude, ohms_read, volts_read};
pub use solved::Solved;
pub use transient::{RcNetwork, Transient, TransientError};
