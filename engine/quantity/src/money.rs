//! Money in exact decimals with its currency. Knows no prices, no taxes and no exchange rates; never touches a float.
//!
//! Sums are exact; a product keeps every digit until [`Money::rounded`] is called, which rounds half away from zero
//! to the currency's smallest unit, as a till does: 0.125 becomes 0.13 and -0.125 becomes -0.13.

use rust_decimal::{Decimal, RoundingStrategy};
use serde::{Deserialize, Serialize};
use std::fmt;

/// An ISO 4217 currency code: three capital letters.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Currency([u8; 3]);

impl Currency {
    /// United States dollar.
    pub const USD: Self = Self(*b"USD");
    /// Canadian dollar.
    pub const CAD: Self = Self(*b"CAD");
    /// Euro.
    pub const EUR: Self = Self(*b"EUR");
    /// Pound sterling.
    pub const GBP: Self = Self(*b"GBP");

    /// Reads a three-letter code in either case; `None` for anything else.
    #[must_use]
    pub fn from_code(code: &str) -> Option<Self> {
        let bytes: [u8; 3] = code.as_bytes().try_into().ok()?;
        bytes.iter().all(u8::is_ascii_alphabetic).then(|| Self(bytes.map(|b| b.to_ascii_uppercase())))
    }

    /// The three-letter code.
    #[must_use]
    pub fn code(&self) -> &str {
        // INVARIANT: always three ASCII letters, so this never falls back.
        std::str::from_utf8(&self.0).unwrap_or_default()
    }

    /// The decimals of the smallest unit.
    ///
    /// SOURCE: ISO 4217 list one (from memory): two unless listed here.
    #[must_use]
    pub fn decimals(self) -> u32 {
        match &self.0 {
            b"CLP" | b"ISK" | b"JPY" | b"KRW" | b"PYG" | b"UGX" | b"VND" | b"XAF" | b"XOF" | b"XPF" => 0,
            b"BHD" | b"IQD" | b"JOD" | b"KWD" | b"LYD" | b"OMR" | b"TND" => 3,
            _ => 2,
        }
    }

    fn from_sign(sign: char) -> Option<Self> {
        match sign {
            '$' => Some(Self::USD),
            '€' => Some(Self::EUR),
            '£' => Some(Self::GBP),
            _ => None,
        }
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.code())
    }
}

/// An exact amount in one currency; prints as `129.95 USD` and is kept as that text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct Money {
    amount: Decimal,
    currency: Currency,
}

/// Says why an amount of money cannot be read or worked out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum MoneyError {
    /// The text is no amount.
    Unreadable {
        /// What was typed.
        typed: String,
        /// What to type instead.
        mend: &'static str,
    },
    /// Two currencies met in one sum.
    TwoCurrencies(Currency, Currency),
    /// The result has more digits than can be kept exactly.
    TooLarge,
}

impl fmt::Display for MoneyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable { typed, mend } => write!(f, "`{typed}` is no amount of money; {mend}"),
            Self::TwoCurrencies(one, other) => {
                write!(f, "`{one}` and `{other}` cannot be added; give every price in one currency")
            }
            Self::TooLarge => f.write_str("the amount is too large to keep exactly; check the quantity and the price"),
        }
    }
}

impl std::error::Error for MoneyError {}

impl Money {
    /// Makes an amount.
    #[must_use]
    pub fn new(amount: Decimal, currency: Currency) -> Self {
        Self { amount, currency }
    }

    /// Nothing, in a currency.
    #[must_use]
    pub fn zero(currency: Currency) -> Self {
        Self::new(Decimal::ZERO, currency)
    }

    /// The exact amount.
    #[must_use]
    pub fn amount(self) -> Decimal {
        self.amount
    }

    /// The currency.
    #[must_use]
    pub fn currency(self) -> Currency {
        self.currency
    }

    /// Adds two amounts exactly.
    ///
    /// # Errors
    /// The currencies differ, or the sum has too many digits.
    pub fn plus(self, other: Self) -> Result<Self, MoneyError> {
        self.same_currency(other)?;
        let amount = self.amount.checked_add(other.amount).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount, ..self })
    }

    /// Takes one amount from another exactly.
    ///
    /// # Errors
    /// As for [`Money::plus`].
    pub fn minus(self, other: Self) -> Result<Self, MoneyError> {
        self.same_currency(other)?;
        let amount = self.amount.checked_sub(other.amount).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount, ..self })
    }

    /// Multiplies by a quantity, hours or a rate; call [`Money::rounded`] where the paper shows the result.
    ///
    /// # Errors
    /// The product is too large.
    pub fn times(self, factor: Decimal) -> Result<Self, MoneyError> {
        let amount = self.amount.checked_mul(factor).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount, ..self })
    }

    /// Rounds half away from zero to the currency's smallest unit, and shows exactly that many decimals.
    #[must_use]
    pub fn rounded(self) -> Self {
        let places = self.currency.decimals();
        let mut amount = self.amount.round_dp_with_strategy(places, RoundingStrategy::MidpointAwayFromZero);
        amount.rescale(places);
        Self { amount, ..self }
    }

    /// Adds a list of amounts exactly; nothing at all gives zero in `currency`.
    ///
    /// # Errors
    /// As for [`Money::plus`].
    pub fn sum(currency: Currency, amounts: impl IntoIterator<Item = Self>) -> Result<Self, MoneyError> {
        amounts.into_iter().try_fold(Self::zero(currency), Self::plus)
    }

    /// Reads `129.95`, `$129.95`, `1,299.95`, `129.95 EUR`; without a currency `usual` is meant.
    ///
    /// # Errors
    /// Says what to type instead. A comma may only stand between thousands.
    pub fn parse(text: &str, usual: Currency) -> Result<Self, MoneyError> {
        let fail = |mend| MoneyError::Unreadable { typed: text.trim().to_owned(), mend };
        let (rest, negative) = match text.trim().strip_prefix('-') {
            Some(rest) => (rest.trim_start(), true),
            None => (text.trim(), false),
        };
        let (rest, signed) = match rest.chars().next().and_then(Currency::from_sign) {
            Some(currency) => (rest.trim_start_matches(['$', '€', '£']).trim_start(), Some(currency)),
            None => (rest, None),
        };
        let (number, coded) = split_code(rest);
        let coded = match coded {
            None => None,
            Some(code) => {
                Some(Currency::from_code(code).ok_or_else(|| fail("end with a code such as `USD`, or nothing"))?)
            }
        };
        let plain = without_thousands(number).ok_or_else(|| fail("type it like `129.95` or `1,299.95`"))?;
        let amount: Decimal = plain.parse().map_err(|_| fail("type it like `129.95`"))?;
        let amount = if negative { -amount } else { amount };
        Ok(Self::new(amount, coded.or(signed).unwrap_or(usual)))
    }

    fn same_currency(self, other: Self) -> Result<(), MoneyError> {
        if self.currency == other.currency {
            return Ok(());
        }
        Err(MoneyError::TwoCurrencies(self.currency, other.currency))
    }
}

fn split_code(text: &str) -> (&str, Option<&str>) {
    let number = text.trim_end_matches(|c: char| !c.is_ascii_digit() && c != '.');
    let code = text.strip_prefix(number).map_or("", str::trim);
    (number, (!code.is_empty()).then_some(code))
}

/// Takes commas out where they part thousands; `None` where they do not, or where the digits are not plain.
fn without_thousands(number: &str) -> Option<String> {
    let (whole, part) = number.split_once('.').map_or((number, None), |(whole, part)| (whole, Some(part)));
    let digits = |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit());
    let groups: Vec<&str> = whole.split(',').collect();
    let first = groups.first().copied().unwrap_or_default();
    let grouped = groups.len() == 1 || first.len() <= 3;
    let sound = digits(first) && grouped && groups.iter().skip(1).all(|g| g.len() == 3 && digits(g));
    if !sound || !part.is_none_or(digits) {
        return None;
    }
    Some(part.map_or_else(|| groups.concat(), |part| format!("{}.{part}", groups.concat())))
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let places = self.currency.decimals();
        let mut amount = self.amount;
        if amount.scale() < places {
            amount.rescale(places);
        }
        f.pad(&format!("{amount} {}", self.currency))
    }
}

impl From<Money> for String {
    fn from(money: Money) -> Self {
        money.to_string()
    }
}

impl TryFrom<String> for Money {
    type Error = MoneyError;

    fn try_from(text: String) -> Result<Self, MoneyError> {
        // Kept text always carries its code; a missing one must not turn into dollars in silence.
        let mend = "end with a code such as `USD`";
        if split_code(text.trim()).1.is_none() {
            return Err(MoneyError::Unreadable { typed: text, mend });
        }
        Self::parse(&text, Currency::USD)
    }
}
