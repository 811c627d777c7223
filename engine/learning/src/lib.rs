//! What a shop's closed jobs teach.
//!
//! [`closed`] reads them out of the book; [`months`] gives figures by month and a report in plain words; [`score`] says how
//! well the advice was calibrated; [`weights`] updates weights of faults by conjugate counting, [`ages`] their rates by age,
//! [`hands`] the minutes of hands' work, never silently: each says from which jobs; [`ords`] hands out repair records without
//! personal data.
//!
//! Refuses to know machines (weights come in by name), sealed records and clocks.

pub mod ages;
pub mod closed;
pub mod conjugate;
pub mod hands;
pub mod months;
pub mod ords;
pub mod score;
pub mod weights;

pub use ages::{AGE_STRENGTH, AtAge, at_ages};
pub use closed::{Closed, closed_jobs};
pub use conjugate::Share;
pub use hands::{HANDS_STRENGTH, Pace, Took, paces};
pub use months::{Figures, figures, report};
pub use score::{Bin, Score, score};
pub use weights::{Learned, STRENGTH, drift, learned, slower};
