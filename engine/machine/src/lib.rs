//! The machine description: text to diagnostics and a typed model.

pub mod access;
pub mod faults;
pub mod model;
