//! A share by counts: the conjugate update of a beta belief by a binomial count.

use statrs::distribution::{Beta, ContinuousCDF};

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
}
