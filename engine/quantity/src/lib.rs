//! Ohms, volts, seconds and money; reading what a person typed; published tables and formulas.
//!
//! Refuses to know machines, parts, meters and beliefs. Every published figure carries its source.

mod figure;
mod money;
mod quantities;
mod show;
mod typed;
mod unit;

pub use figure::Figure;
pub use money::{Currency, Money, MoneyError};
pub use quantities::{Amps, Celsius, Fahrenheit, Farads, Hertz, Interval, Minutes, Ohms, Seconds, Volts, Watts};
pub use show::{show, show_range};
pub use typed::{Typed, TypedError, TypedErrorKind, parse_reading};
pub use unit::Unit;

/// Exact decimals, for the factors of [`Money::times`].
pub use rust_decimal::Decimal;
