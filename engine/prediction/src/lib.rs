//! What a machine does and what a meter shows on it, sound or faulted. Knows no probabilities.
//!
//! The way in is [`Predictor`]: it holds one machine, factors each configuration once and answers every question about
//! a set of faults by a low-rank change: [`Predictor::settle`] (which contacts end up where), [`Predictor::observe`]
//! (what a person would notice) and [`Predictor::predict`] (what the meter would show, with its tolerance).

pub mod check;
mod heat;
mod idle;
pub mod meters;
mod moment;
pub mod observe;
pub mod predictor;
pub mod reading;
pub mod settle;
pub mod symptoms;
pub mod thermometer;
pub mod warm_up;
pub mod wiring;

pub use meters::{Accuracy, Functions, Insulation, Meter};
pub use observe::{Seen, Way};
pub use predictor::Predictor;
pub use reading::{Condition, Prediction, Probe, Quantity, Reading, Shown};
pub use settle::{Config, Settled};
pub use thermometer::{ZoneReading, ZoneTemperature};
pub use warm_up::{NoWarmUp, WarmUp};
