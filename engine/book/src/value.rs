//! Numbers, values with units, and money, as events carry them.
//!
//! Refuses to know arithmetic on them: the book records what was read and what was shown.

use core::fmt;
use core::str::FromStr;

use rust_decimal::Decimal;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A finite number. Written in JSON as the shortest decimal that reads back as the same bits; minus zero becomes zero.
#[derive(Debug, Clone, Copy, Serialize)]
#[serde(transparent)]
pub struct Number(f64);

impl Number {
    /// Takes a finite number; `None` for infinities and not-a-number, which JSON cannot write.
    #[must_use]
    pub fn new(number: f64) -> Option<Self> {
        // Adding plus zero turns minus zero into zero and changes nothing else.
        number.is_finite().then_some(Self(number + 0.0))
    }

    /// Returns the number.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl PartialEq for Number {
    fn eq(&self, other: &Self) -> bool {
        self.0.to_bits() == other.0.to_bits()
    }
}

impl Eq for Number {}

impl From<u32> for Number {
    fn from(whole: u32) -> Self {
        Self(f64::from(whole))
    }
}

impl<'de> Deserialize<'de> for Number {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let number = f64::deserialize(deserializer)?;
        Self::new(number).ok_or_else(|| serde::de::Error::custom("the number is not finite"))
    }
}

/// The unit of a value, by its full name so that no prefix can be misread. Values are never scaled: 4700 ohm, not 4.7 k.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the full name of its unit")]
pub enum Unit {
    Ohm,
    Siemens,
    Volt,
    Ampere,
    Watt,
    VoltAmpere,
    Joule,
    Hertz,
    Farad,
    Henry,
    Second,
    Kelvin,
    DegreeCelsius,
    Pascal,
    Metre,
    SquareMetre,
    CubicMetre,
    CubicMetrePerSecond,
    MetrePerSecond,
    Kilogram,
    Newton,
    NewtonMetre,
    RevolutionPerMinute,
    PartPerMillion,
    Percent,
    Count,
}

/// A number with its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Value {
    /// How many.
    pub amount: Number,
    /// Of what.
    pub unit: Unit,
}

impl Value {
    /// Takes a finite amount of a unit; `None` if it is not finite.
    #[must_use]
    pub fn new(amount: f64, unit: Unit) -> Option<Self> {
        Number::new(amount).map(|amount| Self { amount, unit })
    }
}

/// A currency by its three capital letters of ISO 4217, such as `USD`. The list itself is not checked.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency([u8; 3]);

impl Currency {
    /// No money at all. SOURCE: ISO 4217, code XXX.
    pub const NONE: Self = Self(*b"XXX");
}

/// Says that a text is not three capital letters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BadCurrency(String);

impl fmt::Display for BadCurrency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}` is not a currency; write three capital letters such as `USD`", self.0)
    }
}

impl core::error::Error for BadCurrency {}

impl FromStr for Currency {
    type Err = BadCurrency;

    fn from_str(text: &str) -> Result<Self, BadCurrency> {
        match <[u8; 3]>::try_from(text.as_bytes()) {
            Ok(letters) if letters.iter().all(u8::is_ascii_uppercase) => Ok(Self(letters)),
            _ => Err(BadCurrency(text.to_owned())),
        }
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|letter| write!(f, "{}", char::from(*letter)))
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Currency({self})")
    }
}

impl Serialize for Currency {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Currency {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

/// An exact decimal amount of a currency. Written as text, so that no reader turns it into a binary fraction.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Money {
    /// The amount in the currency's main unit, with as many decimals as were written.
    #[serde(with = "rust_decimal::serde::str")]
    pub amount: Decimal,
    /// The currency.
    pub currency: Currency,
}
