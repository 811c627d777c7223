//! The next step: read, look, try, strip down, change, refer or stop.
//!
//! [`advise::advise`] turns a belief and a bench into proposals. Knows no circuits beyond what `prediction` tells.

pub mod advise;
pub mod bench;
pub mod bins;
pub mod board;
pub mod candidates;
pub mod causes;
pub mod compile;
pub mod confirm;
pub mod intake;
pub mod plan;
pub mod prices;
pub mod proving;
pub mod step;
pub mod supply_check;
pub mod testability;

pub use advise::{Advice, Meaning, advise, advise_unconfirmed};
pub use bench::Bench;
pub use candidates::{Act, Hands};
pub use compile::foresee;
pub use prices::Prices;
pub use step::Step;
