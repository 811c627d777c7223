//! What to load: the kit for tomorrow's calls ([`kit`]), and the standing stock of the van ([`standing`]).
//!
//! Parts and calls are numbers here; machines, beliefs and the book are not known.

pub mod kit;
pub mod standing;

pub use kit::{CallToCome, Kit, Limits, Loadable, Need, NoKit, best_kit};
pub use standing::{Demand, cycle_stock};
