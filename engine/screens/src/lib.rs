//! The app as pure state machines: a [`Counter`] for everything outside of a call, a [`Desk`] for one call, over the same
//! [`call::Session`] that the terminal drives; a [`Study`] of a machine as described, and [`Practice`] on a hidden fault.
//!
//! A shell reads the book once and hands its events to a counter or a desk. Then, for each [`Touch`]: [`Desk::touch`] understands it;
//! [`Desk::owes`] gives what must be made durable, the shell keeps it and says [`Desk::kept`], until nothing is owed; then
//! [`Desk::screen`] says all that is shown. So nothing is shown as done before it is durable, and a call taken up again
//! from its events shows the same screen.
//!
//! Refuses to know browsers, terminals, files, clocks (the time is handed in) and randomness (a source is handed in).

mod counter;
mod curves;
mod demo_shop;
mod desk;
mod drawn;
mod durable;
mod face;
mod heading;
mod kit;
pub mod layers;
mod lesson;
mod outbox;
mod probing;
mod procedure;
mod ruler;
pub mod screen;
mod sheet;
mod shelf;
mod study;
mod touch;
mod typesetter;
mod vault;
mod worth;

pub use counter::{Counter, DeviceLine, Draft, Leave, Opening, ShareAsk, Sharing};
pub use demo_shop::demo_shop;
pub use desk::{Begin, Behind, Desk};
pub use durable::Durable;
pub use heading::{heading, signatures};
pub use kit::meter;
pub use lesson::{Practice, Script};
pub use procedure::procedure;
pub use screen::{Screen, locked, one_moment};
pub use shelf::own_machine;
pub use study::Study;
pub use touch::{Sheet, Touch};
pub use typesetter::{Typesetter, file_of};
pub use worth::worth;
