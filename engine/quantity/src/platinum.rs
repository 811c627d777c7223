//! Platinum temperature sensors (Pt100, Pt1000) by the Callendar-Van Dusen equation, both ways. Knows no wiring.
//!
//! R(t) = R0 (1 + A t + B t² + C (t - 100) t³), the last term only below 0 °C.
//! SOURCE: IEC 60751 (coefficients and printed table read on pages that reprint them).

use crate::quantities::{Celsius, Ohms};

/// Coefficient A, per kelvin.
pub const A: f64 = 3.9083e-3;
/// Coefficient B, per kelvin squared.
pub const B: f64 = -5.775e-7;
/// Coefficient C, per kelvin to the fourth; zero from 0 °C up.
pub const C: f64 = -4.183e-12;

/// The lowest and highest temperature the equation is defined for, in °C.
const DEFINED: (f64, f64) = (-200.0, 850.0);

/// Gives the resistance of a sensor of `at_zero` ohms at 0 °C.
#[must_use]
pub fn resistance(at_zero: Ohms, at: Celsius) -> Ohms {
    Ohms(at_zero.0 * ratio(at.0))
}

fn ratio(t: f64) -> f64 {
    let cold = if t < 0.0 { C * (t - 100.0) * t * t * t } else { 0.0 };
    1.0 + A * t + B * t * t + cold
}

fn slope(t: f64) -> f64 {
    let cold = if t < 0.0 { C * (4.0 * t * t * t - 300.0 * t * t) } else { 0.0 };
    A + 2.0 * B * t + cold
}

/// Gives the temperature that a resistance stands for; `None` outside -200 to 850 °C.
#[must_use]
pub fn temperature(at_zero: Ohms, reading: Ohms) -> Option<Celsius> {
    let wanted = reading.0 / at_zero.0;
    if !(ratio(DEFINED.0)..=ratio(DEFINED.1)).contains(&wanted) {
        return None;
    }
    // The quadratic is exact from 0 °C up and a close start below, where four steps of Newton settle it.
    let mut t = (-A + (A * A - 4.0 * B * (1.0 - wanted)).sqrt()) / (2.0 * B);
    if t < 0.0 {
        for _ in 0..4 {
            t -= (ratio(t) - wanted) / slope(t);
        }
    }
    Some(Celsius(t))
}

/// A tolerance class of IEC 60751.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// 0.15 + 0.002 |t|.
    A,
    /// 0.3 + 0.005 |t|.
    B,
}

impl Class {
    /// The permitted error either way, in kelvins.
    #[must_use]
    pub fn tolerance_kelvins(self, at: Celsius) -> f64 {
        match self {
            Self::A => 0.15 + 0.002 * at.0.abs(),
            Self::B => 0.3 + 0.005 * at.0.abs(),
        }
    }

    /// The permitted error either way, in ohms.
    #[must_use]
    pub fn tolerance(self, at_zero: Ohms, at: Celsius) -> Ohms {
        Ohms(self.tolerance_kelvins(at) * at_zero.0 * slope(at.0))
    }
}
