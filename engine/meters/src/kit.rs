//! Meters as described, and the one meter that they are together. Reads no text.

use prediction::meters::HIGH_INPUT_OHMS;
use prediction::{Accuracy, Functions, Insulation, Meter};

/// AC volts.
#[derive(Clone, Debug, PartialEq)]
pub struct Volts {
    /// How far its figures may be off.
    pub accuracy: Accuracy,
    /// Input resistance, ohms.
    pub input_ohms: f64,
    /// Smallest voltage that means anything, volts.
    pub least_volts: f64,
}

/// Ohms.
#[derive(Clone, Debug, PartialEq)]
pub struct Ohms {
    /// How far its figures may be off, leads apart.
    pub accuracy: Accuracy,
    /// Above this it shows over-range, ohms.
    pub limit_ohms: f64,
    /// Current it sends, amperes.
    pub test_amps: f64,
    /// Resistance of the leads and contact points, ohms.
    pub lead_ohms: f64,
    /// The leads are zeroed before reading.
    pub lead_zeroed: bool,
}

/// AC amperes by clamp.
#[derive(Clone, Debug, PartialEq)]
pub struct Clamp {
    /// How far its figures may be off.
    pub accuracy: Accuracy,
    /// Smallest current that it tells from none, amperes.
    pub least_amps: f64,
}

/// Capacitance, farads.
#[derive(Clone, Debug, PartialEq)]
pub struct Capacitance {
    /// How far its figures may be off.
    pub accuracy: Accuracy,
}

/// Temperature, degrees Celsius.
#[derive(Clone, Debug, PartialEq)]
pub struct Temperature {
    /// How far its figures may be off.
    pub accuracy: Accuracy,
}

/// An insulation tester.
#[derive(Clone, Debug, PartialEq)]
pub struct Insulating {
    /// DC volts it puts on.
    pub test_volts: f64,
    /// Above this it shows over-range, ohms.
    pub limit_ohms: f64,
}

/// A continuity buzzer.
#[derive(Clone, Debug, PartialEq)]
pub struct Buzzer {
    /// Up to this it sounds, ohms.
    pub threshold_ohms: f64,
}

/// One meter of the technician.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Own {
    /// Id, unique in the file.
    pub id: String,
    /// What the technician calls it.
    pub say: String,
    /// Volts inputs, in the order of the file.
    pub volts: Vec<Volts>,
    /// Ohms.
    pub ohms: Option<Ohms>,
    /// Clamp.
    pub clamp: Option<Clamp>,
    /// Capacitance.
    pub capacitance: Option<Capacitance>,
    /// Insulation tester.
    pub insulation: Option<Insulating>,
    /// Temperature.
    pub temperature: Option<Temperature>,
    /// Continuity buzzer.
    pub continuity: Option<Buzzer>,
}

/// All meters of one technician, in the order of his file.
#[derive(Clone, Debug, PartialEq)]
pub struct Meters {
    /// At least one.
    pub meters: Vec<Own>,
}

impl Meters {
    /// Gives what these meters are together: of each function the first in the file, of volts a low-impedance input
    /// before any other.
    ///
    /// What none of them has keeps an ordinary meter's figures and is marked as not owned.
    #[must_use]
    pub fn together(&self) -> Meter {
        let mut meter = Meter::ordinary();
        let volts = self.volts();
        let ohms = self.meters.iter().find_map(|own| own.ohms.as_ref());
        let clamp = self.meters.iter().find_map(|own| own.clamp.as_ref());
        meter.functions = Functions {
            volts: volts.is_some(),
            ohms: ohms.is_some(),
            clamp: clamp.is_some(),
            capacitance: self.meters.iter().any(|own| own.capacitance.is_some()),
            temperature: self.meters.iter().any(|own| own.temperature.is_some()),
        };
        if let Some(volts) = volts {
            meter.volts = volts.accuracy;
            meter.volts_input_ohms = volts.input_ohms;
            meter.volts_floor = volts.least_volts;
        }
        if let Some(ohms) = ohms {
            meter.ohms = ohms.accuracy;
            meter.ohms_limit = ohms.limit_ohms;
            meter.ohms_amps = ohms.test_amps;
            meter.lead_ohms = ohms.lead_ohms;
            meter.lead_zeroed = ohms.lead_zeroed;
        }
        if let Some(clamp) = clamp {
            meter.amps = clamp.accuracy;
            meter.amps_floor = clamp.least_amps;
        }
        if let Some(capacitance) = self.meters.iter().find_map(|own| own.capacitance.as_ref()) {
            meter.farads = capacitance.accuracy;
        }
        meter.continuity_ohms =
            self.meters.iter().find_map(|own| own.continuity.as_ref()).map(|buzzer| buzzer.threshold_ohms);
        meter.insulation = self
            .meters
            .iter()
            .find_map(|own| own.insulation.as_ref())
            .map(|of| Insulation { test_volts: of.test_volts, limit_ohms: of.limit_ohms });
        meter
    }

    /// Floating points fool a high input, so a low one is taken where there is one.
    fn volts(&self) -> Option<&Volts> {
        let all = || self.meters.iter().flat_map(|own| &own.volts);
        all().find(|volts| volts.input_ohms < HIGH_INPUT_OHMS).or_else(|| all().next())
    }
}
