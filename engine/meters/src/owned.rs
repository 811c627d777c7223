//! Adding and leaving out a function as one says `I have a clamp now`, where no figures of the meter are at hand.

use crate::kit::{Capacitance, Clamp, Insulating, Meters, Own, Temperature, Volts};
use prediction::Accuracy;
use prediction::meters::HIGH_INPUT_OHMS;

/// What a technician may own beside volts and ohms.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Owned {
    /// A volts input of low impedance, which a floating lead does not fool.
    LowVolts,
    /// A clamp for AC amperes.
    Clamp,
    /// Capacitance.
    Capacitance,
    /// A thermometer.
    Thermometer,
    /// An insulation tester.
    Insulation,
}

impl Owned {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::LowVolts, Self::Clamp, Self::Capacitance, Self::Thermometer, Self::Insulation];

    /// Gives its id: lower-case letters and hyphens.
    #[must_use]
    pub const fn id(self) -> &'static str {
        match self {
            Self::LowVolts => "low-volts",
            Self::Clamp => "clamp",
            Self::Capacitance => "capacitance",
            Self::Thermometer => "thermometer",
            Self::Insulation => "insulation",
        }
    }

    /// Says it in words.
    #[must_use]
    pub const fn say(self) -> &'static str {
        match self {
            Self::LowVolts => "low-impedance volts",
            Self::Clamp => "clamp meter",
            Self::Capacitance => "capacitance meter",
            Self::Thermometer => "thermometer",
            Self::Insulation => "insulation tester, 500 V",
        }
    }

    /// Gives a meter with this function alone, its figures those of an ordinary one; common practice, no source.
    fn usual(self) -> Own {
        let accuracy = |share, digits, resolution| Accuracy { share, digits, resolution, counts: Some(6000.0) };
        let own = Own { id: self.id().to_owned(), say: self.say().to_owned(), ..Own::default() };
        match self {
            Self::LowVolts => {
                let volts = Volts { accuracy: accuracy(0.02, 3.0, 0.1), input_ohms: 3e3, least_volts: 0.5 };
                Own { volts: vec![volts], ..own }
            }
            Self::Clamp => Own { clamp: Some(Clamp { accuracy: accuracy(0.02, 5.0, 0.01), least_amps: 0.1 }), ..own },
            Self::Capacitance => Own { capacitance: Some(Capacitance { accuracy: accuracy(0.03, 5.0, 1e-9) }), ..own },
            Self::Thermometer => {
                let accuracy = Accuracy { share: 0.01, digits: 1.0, resolution: 1.0, counts: None };
                Own { temperature: Some(Temperature { accuracy }), ..own }
            }
            Self::Insulation => Own { insulation: Some(Insulating { test_volts: 500.0, limit_ohms: 1e9 }), ..own },
        }
    }

    fn in_meter(self, own: &Own) -> bool {
        match self {
            Self::LowVolts => own.volts.iter().any(|volts| volts.input_ohms < HIGH_INPUT_OHMS),
            Self::Clamp => own.clamp.is_some(),
            Self::Capacitance => own.capacitance.is_some(),
            Self::Thermometer => own.temperature.is_some(),
            Self::Insulation => own.insulation.is_some(),
        }
    }

    fn leave_out(self, own: &mut Own) {
        match self {
            Self::LowVolts => own.volts.retain(|volts| volts.input_ohms >= HIGH_INPUT_OHMS),
            Self::Clamp => own.clamp = None,
            Self::Capacitance => own.capacitance = None,
            Self::Thermometer => own.temperature = None,
            Self::Insulation => own.insulation = None,
        }
    }
}

impl Meters {
    /// Says whether one of the meters has it.
    #[must_use]
    pub fn have(&self, owned: Owned) -> bool {
        self.meters.iter().any(|own| owned.in_meter(own))
    }

    /// Takes it in as a meter of its own, with an ordinary one's figures; nothing where one of the meters has it.
    pub fn take_in(&mut self, owned: Owned) {
        if !self.have(owned) {
            let mut own = owned.usual();
            while self.meters.iter().any(|other| other.id == own.id) {
                own.id.push_str("-too");
            }
            self.meters.push(own);
        }
    }

    /// Leaves it out of every meter; a meter that can be set to nothing any more is gone.
    pub fn leave_out(&mut self, owned: Owned) {
        self.meters.iter_mut().for_each(|own| owned.leave_out(own));
        let able = |own: &Own| {
            let Own { id: _, say: _, volts, ohms, clamp, capacitance, insulation, temperature, continuity } = own;
            !volts.is_empty()
                || ohms.is_some()
                || clamp.is_some()
                || capacitance.is_some()
                || insulation.is_some()
                || temperature.is_some()
                || continuity.is_some()
        };
        self.meters.retain(able);
    }
}
