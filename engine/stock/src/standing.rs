//! Standing stock of a part whose demand is a Poisson stream and which is reordered one for one.
//!
//! SOURCE: the base-stock and newsvendor models of any inventory textbook, from memory; checked in the tests against
//! `stockpyl` and `scipy`.

use statrs::distribution::{Discrete, DiscreteCDF, Poisson};

/// Demand for a part over the time until what was ordered is there, as a Poisson count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Demand {
    mean: f64,
}

/// Most pieces that are counted up to: far beyond any van.
const MOST: u64 = 10_000;

impl Demand {
    /// Takes parts asked for a week and the weeks until an order is there; `None` unless both are finite and not negative.
    #[must_use]
    pub fn over(per_week: f64, lead_weeks: f64) -> Option<Self> {
        let sound = |of: f64| of.is_finite() && of >= 0.0;
        let mean = per_week * lead_weeks;
        (sound(per_week) && sound(lead_weeks) && mean < 1000.0).then_some(Self { mean })
    }

    /// Gives the mean.
    #[must_use]
    pub fn mean(self) -> f64 {
        self.mean
    }

    /// Chance of no more than `pieces`, 0 to 1.
    #[must_use]
    pub fn at_most(self, pieces: u64) -> f64 {
        self.law().map_or(1.0, |law| law.cdf(pieces))
    }

    /// Chance of just `pieces`, 0 to 1.
    #[must_use]
    pub fn exactly(self, pieces: u64) -> f64 {
        self.law().map_or(if pieces == 0 { 1.0 } else { 0.0 }, |law| law.pmf(pieces))
    }

    /// Pieces asked for and not there, on average, with this many on the shelf.
    #[must_use]
    pub fn missing(self, stock: u64) -> f64 {
        self.mean - self.met(stock)
    }

    /// Least count that demand stays at or under with this probability.
    #[must_use]
    pub fn least_for(self, probability: f64) -> u64 {
        // A sum of floats may fall short of a probability that it equals.
        (0..MOST).find(|pieces| self.at_most(*pieces) >= probability - 1e-12).unwrap_or(MOST)
    }

    /// Pieces met out of this stock, on average: the sum over k of P(demand >= k).
    fn met(self, stock: u64) -> f64 {
        (0..stock).map(|pieces| 1.0 - self.at_most(pieces)).sum()
    }

    fn law(self) -> Option<Poisson> {
        Poisson::new(self.mean).ok()
    }
}

/// Gives the base stock of least holding and shortage cost: continuous review, reordered one for one. `holding` and
/// `shortage` are money a piece and week.
#[must_use]
pub fn least_cost_stock(lead: Demand, holding: f64, shortage: f64) -> u64 {
    lead.least_for(shortage / (shortage + holding))
}

/// Gives what a base stock costs a week in holding and shortage.
#[must_use]
pub fn cost_rate(lead: Demand, stock: u64, holding: f64, shortage: f64) -> f64 {
    let pieces = u32::try_from(stock).map_or(f64::INFINITY, f64::from);
    holding * (pieces - lead.met(stock)) + shortage * lead.missing(stock)
}

/// Gives the least stock that does not run out over the lead time with this probability.
#[must_use]
pub fn cycle_stock(lead: Demand, probability: f64) -> u64 {
    lead.least_for(probability)
}

/// Gives the share of demands met from the shelf: who asks finds a piece where fewer than the stock are on order (arrivals
/// of a Poisson stream see time averages).
#[must_use]
pub fn fill_rate(lead: Demand, stock: u64) -> f64 {
    stock.checked_sub(1).map_or(0.0, |short| lead.at_most(short))
}

/// Gives how many to take along once where what is left comes back at `salvage`: the newsvendor's quantity.
#[must_use]
pub fn newsvendor(demand: Demand, price: f64, cost: f64, salvage: f64) -> u64 {
    demand.least_for((price - cost) / (price - salvage))
}

/// Gives what that brings on average.
#[must_use]
pub fn newsvendor_profit(demand: Demand, quantity: u64, price: f64, cost: f64, salvage: f64) -> f64 {
    let met = demand.met(quantity);
    let taken = u32::try_from(quantity).map_or(f64::INFINITY, f64::from);
    price * met + salvage * (taken - met) - cost * taken
}
