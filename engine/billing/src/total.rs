//! Sums of charges, and of taxed lines as EN 16931 wants them: tax by rate, each rounded once.

use book::{Charge, Currency, Money, TaxCategory, TaxedCharge};
use rust_decimal::Decimal;
use rust_decimal::RoundingStrategy;
use std::collections::{BTreeMap, BTreeSet};

/// Adds lines up; one sum for each currency, which is one as a rule.
#[must_use]
pub fn total(lines: &[Charge]) -> Vec<Money> {
    let currencies: BTreeSet<Currency> = lines.iter().map(|line| line.amount.currency).collect();
    let sum = |currency: &Currency| -> Decimal {
        lines.iter().filter(|line| line.amount.currency == *currency).map(|line| line.amount.amount).sum()
    };
    currencies.iter().map(|currency| Money { amount: sum(currency), currency: *currency }).collect()
}

/// What taxed lines come to; all in one currency.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// Lines together, without tax.
    pub net: Decimal,
    /// Each category and rate: what is taxed, and the tax of it.
    pub taxes: BTreeMap<(TaxCategory, Decimal), (Decimal, Decimal)>,
    /// All taxes.
    pub tax: Decimal,
    /// With tax.
    pub gross: Decimal,
}

/// Rounds money to the cent, halves away from nothing as trade does. SOURCE: EN 16931, 6.5.3 leaves amounts at two decimals;
/// from memory.
#[must_use]
pub fn cents(amount: Decimal) -> Decimal {
    amount.round_dp_with_strategy(2, RoundingStrategy::MidpointAwayFromZero)
}

/// Adds taxed lines up. SOURCE: EN 16931, rules BR-CO-10 (lines), BR-CO-13 and BR-CO-15 (totals), BR-CO-14 and BR-CO-17 (the tax
/// of a rate is what it taxes times the rate, rounded to two decimals); from memory.
#[must_use]
pub fn totals(lines: &[TaxedCharge]) -> Totals {
    let mut sum = Totals::default();
    for line in lines {
        let amount = cents(line.charge.amount.amount);
        sum.net += amount;
        sum.taxes.entry((line.category, line.percent.normalize())).or_default().0 += amount;
    }
    for ((_, percent), (taxed, tax)) in &mut sum.taxes {
        *tax = cents(*taxed * *percent / Decimal::ONE_HUNDRED);
    }
    sum.tax = sum.taxes.values().map(|(_, tax)| *tax).sum();
    sum.gross = sum.net + sum.tax;
    sum
}
