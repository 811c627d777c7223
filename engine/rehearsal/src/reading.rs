//! One reading of the hidden unit, as its technician reads it off.

use crate::settings::Settings;
use diagnosis::Measured;
use prediction::{Probe, Quantity, Reading};
use truth::Unit;

/// Takes a reading with the unit's own meter and gives what it shows.
pub fn shown(unit: &mut Unit<'_>, reading: &Reading) -> truth::Shown {
    let quantity = match reading.quantity {
        Quantity::Volts => truth::Quantity::Volts,
        Quantity::Ohms => truth::Quantity::Ohms,
        Quantity::Amps => truth::Quantity::Amps,
        Quantity::Farads => truth::Quantity::Farads,
    };
    let probe = match reading.probe {
        Probe::Across(a, b) => truth::Probe::Across(a, b),
        Probe::Around(branch) => truth::Probe::Around(branch),
    };
    let condition = &reading.condition;
    unit.read(quantity, probe, condition.state, condition.plugged, &condition.lifted)
}

/// Takes a reading with the unit's own meter and reads the figure off.
pub(crate) fn take(unit: &mut Unit<'_>, reading: &Reading, settings: &Settings) -> Measured {
    match shown(unit, reading) {
        truth::Shown::Value(value) => Measured::Value(read_off(settings, reading.quantity, value)),
        truth::Shown::OverRange => Measured::OverRange,
    }
}

/// Reads a figure off to the nearest step of a geometric scale above the meter's floor, of an even one below.
fn read_off(settings: &Settings, quantity: Quantity, value: f64) -> f64 {
    let share = settings.read_off;
    if share <= 0.0 {
        return value;
    }
    let meter = &settings.draw.meter;
    let floor = match quantity {
        Quantity::Volts => 2.0 * meter.volts_floor,
        Quantity::Ohms => 0.5 * meter.lead_ohms,
        Quantity::Amps => meter.amps_floor,
        Quantity::Farads => 1e-9,
    };
    // Where the two scales meet their steps are equal.
    let meet = floor / share;
    if value < meet {
        libm::round(value / floor) * floor
    } else {
        let steps = libm::round(libm::log(value / meet) / libm::log1p(share));
        meet * libm::exp(steps * libm::log1p(share))
    }
}
