//! Conjugate updates: a share by counts (beta and binomial), a rate by events over time (gamma and Poisson).

use statrs::distribution::{Beta, ContinuousCDF, Gamma};
use statrs::function::beta::ln_beta;
use statrs::function::factorial::ln_binomial;

/// A share, believed as a beta distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    yes: f64,
    no: f64,
}

impl Share {
    /// Begins with so many cases for and against that were never seen; `None` unless both are above 0.
    #[must_use]
    pub fn prior(yes: f64, no: f64) -> Option<Self> {
        let sound = |of: f64| of.is_finite() && of > 0.0;
        (sound(yes) && sound(no)).then_some(Self { yes, no })
    }

    /// Takes in so many of so many.
    #[must_use]
    pub fn seen(self, yes: u32, of: u32) -> Self {
        Self { yes: self.yes + f64::from(yes), no: self.no + f64::from(of.saturating_sub(yes)) }
    }

    /// Gives the mean.
    #[must_use]
    pub fn mean(self) -> f64 {
        self.yes / (self.yes + self.no)
    }

    /// Gives the share that is not exceeded with this probability.
    #[must_use]
    pub fn quantile(self, probability: f64) -> f64 {
        Beta::new(self.yes, self.no).map_or(f64::NAN, |law| law.inverse_cdf(probability))
    }

    /// Chance of none among so many more.
    #[must_use]
    pub fn none_of_next(self, count: u32) -> f64 {
        libm::exp(ln_beta(self.yes, self.no + f64::from(count)) - ln_beta(self.yes, self.no))
    }

    /// Logarithm of the chance of having seen so many of so many under this belief, nat.
    #[must_use]
    pub fn evidence(self, yes: u32, of: u32) -> f64 {
        let after = self.seen(yes, of);
        ln_binomial(u64::from(of), u64::from(yes)) + ln_beta(after.yes, after.no) - ln_beta(self.yes, self.no)
    }
}

/// A rate of events a unit of time, believed as a gamma distribution.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    events: f64,
    time: f64,
}

impl Rate {
    /// Begins with so many events over so much time that were never seen; `None` unless both are above 0.
    #[must_use]
    pub fn prior(events: f64, time: f64) -> Option<Self> {
        let sound = |of: f64| of.is_finite() && of > 0.0;
        (sound(events) && sound(time)).then_some(Self { events, time })
    }

    /// Takes in so many events over so much time.
    #[must_use]
    pub fn seen(self, events: u32, time: f64) -> Self {
        Self { events: self.events + f64::from(events), time: self.time + time.max(0.0) }
    }

    /// Gives the mean.
    #[must_use]
    pub fn mean(self) -> f64 {
        self.events / self.time
    }

    /// Gives the rate that is not exceeded with this probability.
    #[must_use]
    pub fn quantile(self, probability: f64) -> f64 {
        Gamma::new(self.events, self.time).map_or(f64::NAN, |law| law.inverse_cdf(probability))
    }

    /// Chance of no event in so much time to come.
    #[must_use]
    pub fn none_within(self, time: f64) -> f64 {
        libm::pow(self.time / (self.time + time), self.events)
    }
}
