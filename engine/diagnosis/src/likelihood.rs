//! How likely a reading, a look or a report is under one suspect.
//!
//! A reading: (1 - e) times the predicted distribution, censored at over-range, plus e times a broad slip term. The
//! predicted distribution is normal about the prediction with meter and tolerances, with a twentieth of it three times
//! as wide, so that a reading at four sigma is doubted and not impossible. The same densities serve every suspect, so
//! only their ratios matter.

use crate::evidence::Measured;
use prediction::{Meter, Prediction, Quantity, Shown, ZoneTemperature};

/// Share of the predicted distribution that is three times as wide.
const WIDE_SHARE: f64 = 0.05;

/// Gives the density (or, for over-range, the probability) of a measured value under a prediction, slips included.
#[must_use]
pub fn of_reading(measured: Measured, predicted: &Prediction, quantity: Quantity, meter: &Meter, slip: f64) -> f64 {
    (1.0 - slip) * meant(measured, predicted, quantity, meter) + slip * slipped(measured, quantity, meter)
}

/// Gives the density of a measured value if the reading was taken as meant.
#[must_use]
pub fn meant(measured: Measured, predicted: &Prediction, quantity: Quantity, meter: &Meter) -> f64 {
    match (predicted.shown, measured) {
        (Shown::Value { value, .. }, Measured::Value(x)) => {
            let sigma = predicted.sigma(quantity, meter);
            (1.0 - WIDE_SHARE) * normal(x, value, sigma) + WIDE_SHARE * normal(x, value, 3.0 * sigma)
        }
        (Shown::Value { value, .. }, Measured::OverRange) => {
            let sigma = predicted.sigma(quantity, meter);
            above(meter.ohms_limit, value, sigma)
        }
        (Shown::OverRange, Measured::OverRange) => 1.0,
        (Shown::OverRange, Measured::Value(_)) | (Shown::Ghost { .. }, Measured::OverRange) => 0.0,
        (Shown::Ghost { highest }, Measured::Value(x)) if highest.is_finite() => {
            0.5 * uniform(x, 0.0, GHOST_LOW) + 0.5 * uniform(x, 0.0, highest.max(GHOST_LOW))
        }
        (Shown::Ghost { .. }, Measured::Value(_)) => slipped(measured, quantity, meter),
    }
}

/// Temperatures that a thermometer may show by a slip, K: from a cold room to a hot oven.
const THERMOMETER_SPAN: f64 = 300.0;

/// Gives the density of a temperature under a prediction, slips included; anything where nothing is predicted.
#[must_use]
pub fn of_temperature(celsius: f64, predicted: Option<&ZoneTemperature>, slip: f64) -> f64 {
    let broad = slipped_temperature();
    predicted.map_or(broad, |predicted| (1.0 - slip) * meant_temperature(celsius, predicted) + slip * broad)
}

/// Gives the density of a temperature if it was read as meant.
#[must_use]
pub fn meant_temperature(celsius: f64, predicted: &ZoneTemperature) -> f64 {
    let ZoneTemperature { celsius: mean, sigma } = *predicted;
    (1.0 - WIDE_SHARE) * normal(celsius, mean, sigma) + WIDE_SHARE * normal(celsius, mean, 3.0 * sigma)
}

/// Gives the density of a temperature read by a slip: anything alike.
#[must_use]
pub fn slipped_temperature() -> f64 {
    1.0 / THERMOMETER_SPAN
}

/// Volts below which a floating point mostly reads: the meter itself discharges it.
const GHOST_LOW: f64 = 3.0;

/// Gives the density of a slip: over-range three times in ten on ohms, else anything on a logarithmic scale; on volts
/// and amperes nothing one time in four, else anything up to full scale.
#[must_use]
pub fn slipped(measured: Measured, quantity: Quantity, meter: &Meter) -> f64 {
    match (quantity, measured) {
        (Quantity::Ohms, Measured::OverRange) => 0.3,
        (Quantity::Ohms, Measured::Value(x)) => {
            let lowest = meter.least(Quantity::Ohms).max(1e-3);
            0.7 / (x.abs().max(lowest) * libm::log(meter.ohms_limit / lowest))
        }
        (Quantity::Volts, Measured::Value(x)) => broad(x, meter.volts_floor * 4.0, 300.0),
        (Quantity::Amps, Measured::Value(x)) => broad(x, meter.amps_floor * 4.0, 60.0),
        (Quantity::Volts | Quantity::Amps, Measured::OverRange) => 1e-3,
        (Quantity::Farads, Measured::OverRange) => 0.3,
        (Quantity::Farads, Measured::Value(x)) => {
            let lowest = meter.least(Quantity::Farads);
            0.7 / (x.abs().max(lowest) * libm::log(MOST_FARADS / lowest))
        }
    }
}

/// Gives what [`of_reading`] cannot pass for this figure, whatever is predicted.
///
/// A prediction above half of the figure is at least as wide as the meter is at half of it. One below is half of it or
/// more away, and the density of a normal distribution at a distance d is greatest at a width of d.
#[must_use]
pub fn ceiling(measured: Measured, quantity: Quantity, meter: &Meter, slip: f64) -> f64 {
    let slipped = slipped(measured, quantity, meter);
    let Measured::Value(x) = measured else { return (1.0 - slip) + slip * slipped };
    let width = |at: f64| {
        let (own, floor) = (meter.half_width(quantity, at) / 2.0, meter.least(quantity) / 2.0);
        (own * own + floor * floor).sqrt()
    };
    let away = x.abs() / 2.0;
    let far = normal(away, 0.0, width(0.0).max(away));
    let meant = normal(0.0, 0.0, width(away)).max(far).max(1.0 / GHOST_LOW).max(slipped);
    (1.0 - slip) * meant + slip * slipped
}

/// Most that a meter shows on capacitance, farads: common practice, no source.
const MOST_FARADS: f64 = 1e-2;

fn broad(x: f64, near_nothing: f64, full: f64) -> f64 {
    0.25 * uniform(x, 0.0, near_nothing) + 0.75 / full
}

fn uniform(x: f64, low: f64, high: f64) -> f64 {
    if (low..=high).contains(&x) { 1.0 / (high - low) } else { 0.0 }
}

fn normal(x: f64, mean: f64, sigma: f64) -> f64 {
    let z = (x - mean) / sigma;
    libm::exp(-0.5 * z * z) / (sigma * (2.0 * std::f64::consts::PI).sqrt())
}

fn above(limit: f64, mean: f64, sigma: f64) -> f64 {
    0.5 * libm::erfc((limit - mean) / (sigma * std::f64::consts::SQRT_2))
}

/// Gives the chance of a reported or watched value where `actual` is what is there, among `values` many.
#[must_use]
pub fn of_seen(reported: u8, actual: u8, values: usize, wrong: f64) -> f64 {
    if values < 2 {
        1.0
    } else if reported == actual {
        1.0 - wrong
    } else {
        // The number of values of an observation is small, so it is exact as f64.
        wrong / f64::from(u32::try_from(values - 1).unwrap_or(u32::MAX))
    }
}
