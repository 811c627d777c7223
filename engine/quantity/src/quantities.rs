//! Values with their unit in the type, so that volts cannot be passed for ohms. Knows how they print, no formulas.

use crate::show::show;
use crate::unit::Unit;
use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit the value is in.
            pub const UNIT: Unit = $unit;

            /// The bare value in that unit.
            #[must_use]
            pub fn value(self) -> f64 {
                self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&show(self.0, $unit))
            }
        }
    };
}

quantity!(
    /// Resistance in ohms; infinity is an open circuit.
    Ohms,
    Unit::Ohm
);
quantity!(
    /// Voltage in volts, r.m.s. where it alternates.
    Volts,
    Unit::Volt
);
quantity!(
    /// Current in amps, r.m.s. where it alternates.
    Amps,
    Unit::Amp
);
quantity!(
    /// Power in watts.
    Watts,
    Unit::Watt
);
quantity!(
    /// Capacitance in farads; shown in microfarads.
    Farads,
    Unit::Farad
);
quantity!(
    /// Frequency in hertz.
    Hertz,
    Unit::Hertz
);
quantity!(
    /// Temperature in degrees Celsius.
    Celsius,
    Unit::Celsius
);
quantity!(
    /// Temperature in degrees Fahrenheit.
    Fahrenheit,
    Unit::Fahrenheit
);
quantity!(
    /// Time in minutes.
    Minutes,
    Unit::Minute
);
quantity!(
    /// Time in seconds.
    Seconds,
    Unit::Second
);

impl From<Fahrenheit> for Celsius {
    fn from(f: Fahrenheit) -> Self {
        Self((f.0 - 32.0) / 1.8)
    }
}

impl From<Celsius> for Fahrenheit {
    fn from(c: Celsius) -> Self {
        Self(c.0 * 1.8 + 32.0)
    }
}

impl From<Seconds> for Minutes {
    fn from(s: Seconds) -> Self {
        Self(s.0 / 60.0)
    }
}

/// A closed range of values in one base unit; `high` may be infinite.
///
/// INVARIANT: `low <= high`, neither is not-a-number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    low: f64,
    high: f64,
}

impl Interval {
    /// Makes a range from its two ends in either order; `None` if one is not a number.
    #[must_use]
    pub fn new(one: f64, other: f64) -> Option<Self> {
        let known = !one.is_nan() && !other.is_nan();
        known.then(|| Self::ordered(one, other))
    }

    /// Makes a range of two ends known to be numbers.
    pub(crate) fn ordered(one: f64, other: f64) -> Self {
        Self { low: one.min(other), high: one.max(other) }
    }

    /// Makes the range `nominal` plus and minus a share of it: 0.05 for 5 %.
    #[must_use]
    pub fn around(nominal: f64, share: f64) -> Option<Self> {
        Self::new(nominal * (1.0 - share), nominal * (1.0 + share))
    }

    /// The lower end.
    #[must_use]
    pub fn low(self) -> f64 {
        self.low
    }

    /// The upper end.
    #[must_use]
    pub fn high(self) -> f64 {
        self.high
    }

    /// Tells whether a value lies within, ends included.
    #[must_use]
    pub fn contains(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    /// Writes the range in a unit, such as `9.6 to 11.2 ohm`.
    #[must_use]
    pub fn show(self, unit: Unit) -> String {
        crate::show::show_range(self.low, self.high, unit)
    }
}
