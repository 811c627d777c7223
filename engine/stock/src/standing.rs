//! Standing stock of a part whose demand is a Poisson stream and which is reordered one for one.
//!
//! SOURCE: the base-stock and newsvendor models of any inventory textbook, from memory; checked in the tests against
//! `stockpyl` and `scipy`.

use statrs::distribution::{DiscreteCDF, Poisson};

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
    #[must_use]
    pub fn met(self, stock: u64) -> f64 {
        (0..stock).map(|pieces| 1.0 - self.at_most(pieces)).sum()
    }

    fn law(self) -> Option<Poisson> {
        Poisson::new(self.mean).ok()
    }
}

/// Gives the least stock that does not run out over the lead time with this probability.
#[must_use]
pub fn cycle_stock(lead: Demand, probability: f64) -> u64 {
    lead.least_for(probability)
}
