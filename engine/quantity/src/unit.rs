//! Units a technician reads or writes, and the prefixes the trade uses with each. Knows no values and no meters.

use serde::{Deserialize, Serialize};

/// Names the unit of a reading; values are always kept in this base unit (ohms, not kilohms).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Resistance.
    Ohm,
    /// Voltage, AC r.m.s. or DC.
    Volt,
    /// Current.
    Amp,
    /// Power.
    Watt,
    /// Capacitance.
    Farad,
    /// Frequency.
    Hertz,
    /// Temperature in degrees Celsius.
    Celsius,
    /// Temperature in degrees Fahrenheit.
    Fahrenheit,
    /// Time in minutes.
    Minute,
    /// Time in seconds.
    Second,
}

impl Unit {
    /// Every unit, in a fixed order.
    pub const ALL: [Self; 10] = [
        Self::Ohm,
        Self::Volt,
        Self::Amp,
        Self::Watt,
        Self::Farad,
        Self::Hertz,
        Self::Celsius,
        Self::Fahrenheit,
        Self::Minute,
        Self::Second,
    ];

    /// Says the unit as a person would: `ohms`, `volts`, `degrees Celsius`.
    #[must_use]
    pub fn plural(self) -> &'static str {
        match self {
            Self::Ohm => "ohms",
            Self::Volt => "volts",
            Self::Amp => "amps",
            Self::Watt => "watts",
            Self::Farad => "microfarads",
            Self::Hertz => "hertz",
            Self::Celsius => "degrees Celsius",
            Self::Fahrenheit => "degrees Fahrenheit",
            Self::Minute => "minutes",
            Self::Second => "seconds",
        }
    }

    /// Tells whether two units measure the same kind of thing (Celsius and Fahrenheit do, minutes and seconds do).
    #[must_use]
    pub fn same_kind(self, other: Self) -> bool {
        self.kind() == other.kind()
    }

    fn kind(self) -> u8 {
        match self {
            Self::Ohm => 0,
            Self::Volt => 1,
            Self::Amp => 2,
            Self::Watt => 3,
            Self::Farad => 4,
            Self::Hertz => 5,
            Self::Celsius | Self::Fahrenheit => 6,
            Self::Minute | Self::Second => 7,
        }
    }

    /// Lists the scales a reading in this unit is written in: power of ten and symbol, smallest first.
    ///
    /// A milliohm is spelled out and a capacitor is never written in whole farads: `m` and `F` alone are too easily
    /// taken for mega and Fahrenheit.
    #[must_use]
    pub fn scales(self) -> &'static [(i8, &'static str)] {
        match self {
            Self::Ohm => &[(-3, "milliohm"), (0, "ohm"), (3, "kohm"), (6, "Mohm"), (9, "Gohm")],
            Self::Volt => &[(-6, "uV"), (-3, "mV"), (0, "V"), (3, "kV")],
            Self::Amp => &[(-6, "uA"), (-3, "mA"), (0, "A"), (3, "kA")],
            Self::Watt => &[(-3, "mW"), (0, "W"), (3, "kW")],
            Self::Farad => &[(-12, "pF"), (-9, "nF"), (-6, "uF")],
            Self::Hertz => &[(0, "Hz"), (3, "kHz")],
            Self::Celsius => &[(0, "C")],
            Self::Fahrenheit => &[(0, "F")],
            Self::Minute => &[(0, "min")],
            Self::Second => &[(0, "s")],
        }
    }
}
