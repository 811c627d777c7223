//! A meter as a part of the circuit: what it can be set to, what it does to the circuit, how far its figures can be
//! trusted. Knows no files and no machines.

use crate::reading::{Quantity, Shown};

/// Percent of reading plus digits, as a meter's manual states it.
///
/// SOURCE: the usual statement of a digital meter's manual: "± (p % of reading + n digits)", one digit being the
/// resolution of the range in use.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Share of the reading; 0.009 for 0.9 %.
    pub share: f64,
    /// Digits of the last place.
    pub digits: f64,
    /// One digit of the lowest range, in the quantity's unit.
    pub resolution: f64,
    /// Digits that fill a range, such as 6000; each range is ten times the one below. `None` for one range only.
    pub counts: Option<f64>,
}

/// Ranges that a meter is given at most; twelve tenfold steps lead from milliohms to gigohms.
const MOST_RANGES: usize = 12;

impl Accuracy {
    /// Gives one digit of the range that shows this value, in the quantity's unit.
    #[must_use]
    pub fn digit(&self, value: f64) -> f64 {
        let Some(counts) = self.counts else { return self.resolution };
        let mut digit = self.resolution;
        for _ in 0..MOST_RANGES {
            if value.abs() <= counts * digit {
                break;
            }
            digit *= 10.0;
        }
        digit
    }

    /// Gives how far a shown value may be off by the meter's manual, in the quantity's unit; taken for a 95 % bound.
    #[must_use]
    pub fn half_width(&self, value: f64) -> f64 {
        self.share * value.abs() + self.digits * self.digit(value)
    }
}

/// What a technician's meters together can be set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Functions {
    /// AC volts.
    pub volts: bool,
    /// Ohms.
    pub ohms: bool,
    /// AC amperes by clamp.
    pub clamp: bool,
    /// Capacitance.
    pub capacitance: bool,
    /// Temperature.
    pub temperature: bool,
}

/// An insulation tester.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Insulation {
    /// DC volts it puts on.
    pub test_volts: f64,
    /// Above this it shows over-range, ohms.
    pub limit_ohms: f64,
}

/// A meter as a part of the circuit, and how far its figures can be trusted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Meter {
    /// What it can be set to.
    pub functions: Functions,
    /// Input resistance on volts, ohms.
    pub volts_input_ohms: f64,
    /// Above this it shows over-range, ohms.
    pub ohms_limit: f64,
    /// Current it sends through what it reads on ohms, amperes.
    pub ohms_amps: f64,
    /// How far its volts may be off.
    pub volts: Accuracy,
    /// How far its ohms may be off, leads apart.
    pub ohms: Accuracy,
    /// How far its amperes may be off.
    pub amps: Accuracy,
    /// Resistance of its leads and contact points, ohms (95 % lie within twice of it).
    pub lead_ohms: f64,
    /// The leads are held together and zeroed before ohms are read.
    pub lead_zeroed: bool,
    /// How far capacitance may be off.
    pub farads: Accuracy,
    /// Smallest voltage that means anything, volts.
    pub volts_floor: f64,
    /// Smallest current that the clamp tells from none, amperes.
    pub amps_floor: f64,
    /// Up to this the buzzer sounds, ohms; `None` without a buzzer.
    pub continuity_ohms: Option<f64>,
    /// The insulation tester, if one is owned.
    pub insulation: Option<Insulation>,
}

/// Share of the leads' resistance that is left after zeroing: the points touch anew each time.
///
/// Common practice, no source.
const LEFT_AFTER_ZERO: f64 = 0.25;
/// Input resistance from which a floating point may show all of the voltage beside it, ohms.
///
/// Common practice, no source: ordinary inputs have 1 Mohm or more, low-impedance inputs some kilohms.
pub const HIGH_INPUT_OHMS: f64 = 1e6;
/// Capacitance between two leads of a meter, which it shows with nothing between them, farads: common practice, no source.
const STRAY_FARADS: f64 = 1e-9;
/// Reactance of the stray capacitance between wires that run side by side, ohms: 1 nF at 60 Hz, 1 / (2 pi 60 1e-9).
///
/// Common practice, no source: some tens of picofarads a meter over some tens of meters.
const STRAY_OHMS: f64 = 2.652_582e6;

impl Meter {
    /// Gives an ordinary handheld meter: 10 Mohm on volts, over-range above 60 Mohm, 1.2 %, leads of 0.2 ohm, no clamp.
    ///
    /// Common practice, no source. Its digits are within what is least; `meters/ordinary.toml` says the same.
    #[must_use]
    pub fn ordinary() -> Self {
        let of = |resolution| Accuracy { share: 0.012, digits: 0.0, resolution, counts: None };
        Self {
            functions: Functions { volts: true, ohms: true, clamp: false, capacitance: false, temperature: false },
            volts_input_ohms: 1e7,
            ohms_limit: 6e7,
            ohms_amps: 5e-4,
            volts: of(0.1),
            ohms: of(0.1),
            amps: of(0.01),
            farads: Accuracy { share: 0.04, ..of(1e-9) },
            lead_ohms: 0.2,
            lead_zeroed: false,
            volts_floor: 0.5,
            amps_floor: 0.1,
            continuity_ohms: Some(30.0),
            insulation: None,
        }
    }

    /// Says whether it can be set to this.
    #[must_use]
    pub fn takes(&self, quantity: Quantity) -> bool {
        match quantity {
            Quantity::Volts => self.functions.volts,
            Quantity::Ohms => self.functions.ohms,
            Quantity::Amps => self.functions.clamp,
            Quantity::Farads => self.functions.capacitance,
        }
    }

    /// Gives how far a shown value may be off by the manual, in the quantity's unit; leads and what is least apart.
    #[must_use]
    pub fn half_width(&self, quantity: Quantity, value: f64) -> f64 {
        match quantity {
            Quantity::Volts => self.volts.half_width(value),
            Quantity::Ohms => self.ohms.half_width(value),
            Quantity::Amps => self.amps.half_width(value),
            Quantity::Farads => self.farads.half_width(value),
        }
    }

    /// Gives the 95 % half-width of what does not grow with the reading: noise on volts and amperes, leads on ohms.
    #[must_use]
    pub fn least(&self, quantity: Quantity) -> f64 {
        match quantity {
            Quantity::Volts => self.volts_floor,
            Quantity::Ohms if self.lead_zeroed => LEFT_AFTER_ZERO * self.lead_ohms,
            Quantity::Ohms => self.lead_ohms,
            Quantity::Amps => self.amps_floor,
            Quantity::Farads => STRAY_FARADS,
        }
    }

    /// Gives what the leads add to a shown resistance, ohms; nothing once they are zeroed.
    #[must_use]
    pub fn lead_shown(&self) -> f64 {
        if self.lead_zeroed { 0.0 } else { self.lead_ohms }
    }

    /// Says whether its volts input is a low-impedance one.
    #[must_use]
    pub fn loads(&self) -> bool {
        self.volts_input_ohms < HIGH_INPUT_OHMS
    }

    /// Says what it shows on volts between two points that nothing ties together, where `highest` volts stand beside
    /// them.
    ///
    /// A high input: anything up to all of it. A low one divides it with the stray capacitance: next to nothing.
    #[must_use]
    pub fn across_islands(&self, highest: f64) -> Shown {
        if !self.loads() || !highest.is_finite() {
            return Shown::Ghost { highest };
        }
        let input = self.volts_input_ohms;
        let most = highest * input / (input * input + STRAY_OHMS * STRAY_OHMS).sqrt();
        Shown::Value { value: 0.0, phase_deg: 0.0, sigma: most / 2.0 }
    }

    /// Says whether the buzzer sounds on what is shown on ohms; `None` without a buzzer or on what is no resistance.
    #[must_use]
    pub fn sounds(&self, shown: Shown) -> Option<bool> {
        let most = self.continuity_ohms?;
        match shown {
            Shown::Value { value, .. } => Some(value <= most),
            Shown::OverRange => Some(false),
            Shown::Ghost { .. } => None,
        }
    }
}
