//! A reading as asked for, and what is predicted for it.

use crate::meters::Meter;
use machine::model::{BranchId, StateId, TerminalId};
use quantity::Unit;

/// What the meter is set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quantity {
    /// Alternating volts.
    Volts,
    /// Resistance, machine isolated.
    Ohms,
    /// Alternating current by clamp.
    Amps,
    /// Capacitance, machine isolated and discharged.
    Farads,
}

impl Quantity {
    /// Says whether the meter is itself the source: the machine must be isolated.
    #[must_use]
    pub fn isolated_only(self) -> bool {
        matches!(self, Self::Ohms | Self::Farads)
    }

    /// Gives the unit of its values: volt, ohm, ampere, farad.
    #[must_use]
    pub fn unit(self) -> Unit {
        match self {
            Self::Volts => Unit::Volt,
            Self::Ohms => Unit::Ohm,
            Self::Amps => Unit::Amp,
            Self::Farads => Unit::Farad,
        }
    }
}

/// Where the meter is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Probe {
    /// Red on the first, black on the second.
    Across(TerminalId, TerminalId),
    /// The clamp around this branch.
    Around(BranchId),
}

/// How the machine stands while it is read.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Condition {
    /// The state whose controls are set.
    pub state: StateId,
    /// Plugged in and the state running; otherwise unplugged with the controls set as in `state`, cold and at rest.
    pub plugged: bool,
    /// Leads lifted, in order of their ids.
    pub lifted: Vec<BranchId>,
}

impl Condition {
    /// Stands for the machine running in `state`.
    #[must_use]
    pub fn running(state: StateId) -> Self {
        Self { state, plugged: true, lifted: Vec::new() }
    }

    /// Stands for the machine unplugged, controls set as in `state`.
    #[must_use]
    pub fn isolated(state: StateId) -> Self {
        Self { state, plugged: false, lifted: Vec::new() }
    }
}

/// One reading as asked for.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Reading {
    /// What the meter is set to.
    pub quantity: Quantity,
    /// Where it is.
    pub probe: Probe,
    /// How the machine stands.
    pub condition: Condition,
}

/// What the meter is predicted to show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shown {
    /// A figure in the quantity's SI unit, the meter's loading and leads included.
    Value {
        /// Magnitude.
        value: f64,
        /// Phase against leg 1, degrees; 0 for ohms.
        phase_deg: f64,
        /// One sigma from the tolerances of parts and supply (not of the meter).
        sigma: f64,
    },
    /// Over-range.
    OverRange,
    /// Nothing ties the two points together: anything from zero to `highest` volts.
    Ghost {
        /// Highest neighbouring voltage.
        highest: f64,
    },
}

/// A predicted reading of one suspect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prediction {
    /// What the meter shows.
    pub shown: Shown,
}

impl Prediction {
    /// Gives the one-sigma width of meter and tolerances together around the value; 0 for what is no figure.
    #[must_use]
    pub fn sigma(&self, quantity: Quantity, meter: &Meter) -> f64 {
        let Shown::Value { value, sigma, .. } = self.shown else { return 0.0 };
        let own = meter.half_width(quantity, value) / 2.0;
        let floor = meter.least(quantity) / 2.0;
        (own * own + floor * floor + sigma * sigma).sqrt()
    }

    /// Gives the interval that holds 95 % of what the meter would show, in the quantity's unit.
    ///
    /// Over-range is from the meter's limit up to infinity.
    #[must_use]
    pub fn interval(&self, quantity: Quantity, meter: &Meter) -> (f64, f64) {
        match self.shown {
            Shown::Value { value, .. } => {
                let half = 2.0 * self.sigma(quantity, meter);
                ((value - half).max(0.0), value + half)
            }
            Shown::OverRange if quantity == Quantity::Farads => (f64::INFINITY, f64::INFINITY),
            Shown::OverRange => (meter.ohms_limit, f64::INFINITY),
            Shown::Ghost { highest } => (0.0, highest),
        }
    }
}
