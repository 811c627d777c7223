//! The app as a pure state machine over the same [`call::Session`] that the terminal drives.
//!
//! A shell reads the book once and hands its events to a [`Desk`]. Then, for each [`Touch`]: [`Desk::touch`] understands it;
//! [`Desk::owes`] gives what must be made durable, the shell keeps it and says [`Desk::kept`], until nothing is owed; then
//! [`Desk::screen`] says all that is shown. So nothing is shown as done before it is durable, and a call taken up again
//! from its events shows the same screen.
//!
//! Refuses to know browsers, terminals, files, clocks (the time is handed in) and randomness (a source is handed in).

pub mod day;
mod desk;
mod durable;
mod face;
mod heading;
mod ruler;
pub mod screen;
mod sheet;
pub mod shipped;
mod touch;

pub use desk::{Begin, Desk};
pub use durable::Durable;
pub use heading::{heading, signatures};
pub use screen::Screen;
pub use touch::{Sheet, Touch};
