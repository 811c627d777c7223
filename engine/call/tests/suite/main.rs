//! The call played through, broken off, taken up again, declined, stopped: on the demo's appliance and by hand.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test that cannot go on has failed")]

mod at_hand;
mod ends;
mod fickle;
mod gate;
mod insulation;
mod judge;
mod play;
mod resume;
mod telephone;
