//! What the work costs: lines of a quote, exact to the cent. Knows no taxes.

use book::{Charge, ChargeSort, Currency, Money};
use machine::faults::RepairKind;
use machine::model::{Machine, RepairId};
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;
use std::collections::BTreeMap;
use teardown::{Open, plan_teardown};

/// The shop's rates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rates {
    /// Currency of all of them.
    pub currency: Currency,
    /// Getting there and finding the fault.
    pub call_out: Decimal,
    /// An hour of repair.
    pub per_hour: Decimal,
    /// What one unit of the money of the machine's file comes to; 1 where both are the same money.
    pub exchange: Decimal,
    /// Per cent put on what a part costs the shop.
    pub mark_up: Decimal,
    /// What parts cost the shop, by id, where it has a price of its own.
    pub own_prices: BTreeMap<String, Decimal>,
}

impl Rates {
    /// Gives 95 for the call and 120 an hour; common practice, no source.
    #[must_use]
    pub fn usual(currency: Currency) -> Self {
        Self {
            currency,
            call_out: Decimal::from(95),
            per_hour: Decimal::from(120),
            exchange: Decimal::ONE,
            mark_up: Decimal::ZERO,
            own_prices: BTreeMap::new(),
        }
    }

    /// Gives what a part costs the shop: its own price, or that of the machine's file in the shop's money.
    #[must_use]
    pub fn cost(&self, part: &str, in_file: Decimal) -> Money {
        let amount = self.own_prices.get(part).copied().unwrap_or(in_file * self.exchange).round_dp(2);
        Money { amount, currency: self.currency }
    }

    /// Gives what a part costs the customer.
    #[must_use]
    pub fn price(&self, part: &str, in_file: Decimal) -> Money {
        let cost = self.cost(part, in_file);
        Money { amount: (cost.amount * (Decimal::ONE + self.mark_up / Decimal::ONE_HUNDRED)).round_dp(2), ..cost }
    }

    /// Gives the line for getting there and finding the fault.
    #[must_use]
    pub fn call_out_line(&self) -> Charge {
        let amount = Money { amount: self.call_out.round_dp(2), currency: self.currency };
        Charge { what: "call and finding the fault".to_owned(), sort: ChargeSort::Diagnosis, amount }
    }

    /// Gives the lines of one repair: labour with the way in and back from as the machine stood, and the part.
    #[must_use]
    pub fn repair_lines(&self, machine: &Machine, repair: RepairId) -> Vec<Charge> {
        let chosen = &machine[repair];
        if chosen.kind == RepairKind::Refer {
            return Vec::new();
        }
        let parts = std::iter::once(chosen.part).chain(chosen.together.iter().copied());
        let places: Vec<_> = parts.map(|part| machine[part].place).collect();
        let way = plan_teardown(&machine.access, &places, &Open::nothing()).map_or(0.0, |plan| plan.minutes());
        let minutes = Decimal::from_f64(chosen.minutes + way).unwrap_or_default().round_dp(0);
        let labour = (self.per_hour * minutes / Decimal::from(60)).round_dp(2);
        let labour = Money { amount: labour, currency: self.currency };
        let line = |what: String, sort, amount| Charge { what, sort, amount };
        let mut lines = vec![line(format!("labor: {}, {minutes} min", chosen.say), ChargeSort::Labour, labour)];
        if chosen.price > Decimal::ZERO {
            let what = if chosen.kind == RepairKind::Replace { "parts" } else { "material" };
            let name = &machine[chosen.part].name;
            lines.push(line(
                format!("{what}: {name}"),
                ChargeSort::Part,
                self.price(&machine[chosen.part].id, chosen.price),
            ));
        }
        lines
    }
}

/// Takes the charge off lines and says why, so that what was done stays on the paper.
pub(crate) fn without_charge(charges: &mut [Charge], why: &str) {
    for charge in charges {
        charge.what = format!("{} ({why})", charge.what);
        charge.amount.amount = Decimal::ZERO;
    }
}

/// Adds lines up.
#[must_use]
pub fn total(charges: &[Charge], currency: Currency) -> Money {
    Money { amount: charges.iter().map(|charge| charge.amount.amount).sum(), currency }
}

/// Shows money: `USD 169.00`.
#[must_use]
pub fn show_money(money: &Money) -> String {
    format!("{} {:.2}", money.currency, money.amount)
}
