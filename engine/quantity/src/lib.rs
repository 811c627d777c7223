//! Ohms, volts, seconds and money; reading what a person typed; published tables and formulas.
//!
//! Refuses to know machines, parts, meters and beliefs. Every published figure carries its source.

pub mod branch;
pub mod copper;
pub mod discharge;
pub mod element;
pub mod fuel;
pub mod platinum;
pub mod receptacle;
pub mod safety;
pub mod supply;
pub mod thermistor;
pub mod thermocouple;

mod figure;
mod money;
mod published;
mod quantities;
mod show;
mod temperature;
mod typed;
mod unit;

pub use figure::Figure;
pub use money::{Currency, Money, MoneyError};
pub use published::{Published, Seen};
pub use quantities::{Amps, Celsius, Fahrenheit, Farads, Hertz, Interval, Minutes, Ohms, Seconds, Volts, Watts};
pub use show::{show, show_range};
pub use temperature::parse_celsius;
pub use typed::{Typed, TypedError, TypedErrorKind, parse_reading};
pub use unit::Unit;

/// Exact decimals, for the factors of [`Money::times`].
pub use rust_decimal::Decimal;
