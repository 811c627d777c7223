//! Temperature sensors whose resistance falls with heat: the beta equation and the Steinhart-Hart equation, both ways.
//! Knows no tolerance of a real sensor: its sheet states that.

use crate::quantities::{Celsius, Ohms};

const ZERO_CELSIUS: f64 = 273.15;

/// A sensor described by one point and its beta.
///
/// SOURCE: R = R0 exp(B (1/T - 1/T0)), temperatures in kelvins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BetaCurve {
    /// Resistance at the stated temperature.
    pub ohms: Ohms,
    /// The stated temperature, mostly 25 °C.
    pub at: Celsius,
    /// Beta in kelvins.
    pub beta: f64,
}

impl BetaCurve {
    /// Makes a curve stated at 25 °C.
    #[must_use]
    pub fn at_25(ohms: Ohms, beta: f64) -> Self {
        Self { ohms, at: Celsius(25.0), beta }
    }

    /// Gives the resistance at a temperature.
    #[must_use]
    pub fn resistance(self, at: Celsius) -> Ohms {
        let inverse = 1.0 / (at.0 + ZERO_CELSIUS) - 1.0 / (self.at.0 + ZERO_CELSIUS);
        Ohms(self.ohms.0 * libm::exp(self.beta * inverse))
    }

    /// Gives the temperature that a resistance above zero stands for.
    #[must_use]
    pub fn temperature(self, reading: Ohms) -> Celsius {
        let inverse = 1.0 / (self.at.0 + ZERO_CELSIUS) + libm::log(reading.0 / self.ohms.0) / self.beta;
        Celsius(1.0 / inverse - ZERO_CELSIUS)
    }
}

/// Gives beta, in kelvins, from two points at different temperatures.
#[must_use]
pub fn beta_from_points(one: (Celsius, Ohms), other: (Celsius, Ohms)) -> f64 {
    let inverse = 1.0 / (one.0.0 + ZERO_CELSIUS) - 1.0 / (other.0.0 + ZERO_CELSIUS);
    libm::log(one.1.0 / other.1.0) / inverse
}

/// A sensor described by three coefficients.
///
/// SOURCE: Steinhart and Hart 1968, 1/T = A + B ln R + C (ln R)³, temperatures in kelvins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteinhartHart {
    /// Coefficient A.
    pub a: f64,
    /// Coefficient B.
    pub b: f64,
    /// Coefficient C, not zero.
    pub c: f64,
}

impl SteinhartHart {
    /// Gives the temperature that a resistance above zero stands for.
    #[must_use]
    pub fn temperature(self, reading: Ohms) -> Celsius {
        let log = libm::log(reading.0);
        Celsius(1.0 / (self.a + self.b * log + self.c * log * log * log) - ZERO_CELSIUS)
    }

    /// Gives the resistance at a temperature: the cubic in ln R solved by Cardano's formula.
    #[must_use]
    pub fn resistance(self, at: Celsius) -> Ohms {
        let half = (self.a - 1.0 / (at.0 + ZERO_CELSIUS)) / (2.0 * self.c);
        let third = self.b / (3.0 * self.c);
        let root = (third * third * third + half * half).sqrt();
        Ohms(libm::exp(libm::cbrt(root - half) - libm::cbrt(root + half)))
    }

    /// Fits the three coefficients to three points; `None` if two share a resistance.
    #[must_use]
    pub fn from_points(points: [(Celsius, Ohms); 3]) -> Option<Self> {
        let [(l1, y1), (l2, y2), (l3, y3)] = points.map(|(at, ohms)| (libm::log(ohms.0), 1.0 / (at.0 + ZERO_CELSIUS)));
        // Divided differences; the cubic has no quadratic term, which fixes the third coefficient.
        let g2 = (y2 - y1) / (l2 - l1);
        let g3 = (y3 - y1) / (l3 - l1);
        let c = (g3 - g2) / (l3 - l2) / (l1 + l2 + l3);
        let b = g2 - c * (l1 * l1 + l1 * l2 + l2 * l2);
        let a = y1 - (b + l1 * l1 * c) * l1;
        [a, b, c].iter().all(|x| x.is_finite()).then_some(Self { a, b, c })
    }
}
