//! A real unit with a hidden fault, solved afresh and apart from the reasoner.
//!
//! [`Unit`] is one appliance as it stands in a house: its values lie somewhere within tolerance, its fault has a size,
//! its technician has one meter with its own error. It answers what happens in a state, what the meter shows, what a
//! look shows and what a repair cures. It is the slow and readable twin of `prediction`, which it must not use: every
//! answer comes from a network built whole, with the values and the meter in it, and factored afresh.
//!
//! It knows no beliefs, no prices and no plans.

mod dice;
mod draw;
mod expected;
mod fickle;
mod meter;
mod misdescribed;
mod notice;
mod planted;
mod settle;
mod touch;
mod unit;
mod values;
mod warm;
mod wire;

pub use dice::Dice;
pub use draw::{DrawSettings, Workshop};
pub use expected::{Asked, Expected};
pub use meter::{MeterKind, Probe, Quantity, Shown};
pub use misdescribed::Peculiarity;
pub use unit::{Repaired, Unit};
