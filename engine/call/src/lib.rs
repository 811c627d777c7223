//! One call as a pure state machine, from the complaint to the signed record.
//!
//! [`Session`] folds the facts of a call and says what is asked now ([`Ask`]); [`typed::read_line`] understands what a
//! person typed; [`Session::answer`] gives the fact of an answer, which is made durable in the book before
//! [`Session::apply`] takes it. [`unfinished`] finds the call to go on with, [`waiting`] the jobs
//! that wait for another visit. [`demo`] answers for an invented customer
//! and a machine with a hidden fault. [`callfile`] reads the record of a call as a text file.
//!
//! Refuses to know files, screens and clocks. Every hands-on step passes the gate of `danger`.

mod answers;
pub mod ask;
mod at_hand;
pub mod callfile;
pub mod demo;
mod now;
mod outlook;
pub mod rates;
mod session;
mod settings;
mod stages;
pub mod steps;
pub mod typed;
mod unfinished;
mod weighing;

pub use ask::{About, Answer, Ask, Choice, Learned, Line, Observed, OwnWay, PHOTO, Refused, Sort, Wants};
pub use at_hand::{adapt, take_up};
pub use outlook::{Outlook, TO_FIRST_PART, Turn};
pub use rates::Rates;
pub use session::Session;
pub use settings::{Settings, Shop, Van, usual_set};
pub use stages::intake::capital;
pub use stages::telephone::window_of;
pub use unfinished::{
    Unfinished, Waiting, events_of, jobs_beside, machine_of, other_jobs_of, say_window, unfinished, waiting,
};
pub use weighing::{Supposed, Weighed, weigh};
