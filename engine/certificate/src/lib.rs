//! Certificates of strong claims as plain data, and the checker that verifies them by a route of its own.
//!
//! A claim is strong when a part is bought or a call is closed on it: "the fault is one that this repair cures", "nothing
//! is wrong". A [`Certificate`] carries what excludes everything else: for every other single fault and every pair the
//! items of evidence that speak against it, and the most that is left of it. [`check`] lists every suspect anew from the
//! description, solves every one that is named afresh and whole with `truth`, and adds up.
//!
//! It refuses to know how a certificate was found: nothing of `prediction`, `diagnosis` or `repair` is in it.

mod check;
mod data;
mod likelihood;
mod refused;

pub use check::{Checked, check, most_likely, read};
pub use data::{
    Assumed, BuiltWay, Certificate, Claim, Excluded, Function, Given, Item, Meter, Quantity, Read, Rival, Seen, Support,
};
pub use refused::Refused;
