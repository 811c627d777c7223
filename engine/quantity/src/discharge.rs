//! Stored charge: how much energy a capacitor holds, how long a bleeder takes, where it counts as dead.
//! Knows nothing of proving dead: that is a reading, never a computation.

use crate::published::{Published, Seen};
use crate::quantities::{Farads, Ohms, Seconds, Volts};

/// The voltage between plug pins one second after withdrawal at the peak, at most, where over 0.1 uF is across them.
pub const PLUG_PINS: Published = Published::new(34.0, "V", "IEC 60335-1 cl. 22.5", Seen::SecondHand);
/// The residual voltage of a capacitor after one minute, at most.
pub const AFTER_ONE_MINUTE: Published = Published::new(50.0, "V", "NEC 460.6(A)", Seen::SecondHand);

/// Gives the energy, in joules, at which a capacitor at this voltage counts as hazardous.
///
/// SOURCE: NFPA 70E art. 360 (2021), from memory.
#[must_use]
pub fn hazardous_joules(volts: Volts) -> Published {
    let joules = match volts.0 {
        v if v < 100.0 => 100.0,
        v if v <= 400.0 => 1.0,
        _ => 0.25,
    };
    Published::new(joules, "J", "NFPA 70E art. 360 (2021)", Seen::Memory)
}

/// Gives the energy a capacitor holds, in joules.
#[must_use]
pub fn stored_joules(capacitance: Farads, volts: Volts) -> f64 {
    0.5 * capacitance.0 * volts.0 * volts.0
}

/// Gives the time a bleeder takes from one voltage down to another, both positive.
///
/// SOURCE: t = R C ln(V0 / V).
#[must_use]
pub fn discharge_time(bleeder: Ohms, capacitance: Farads, from: Volts, to: Volts) -> Seconds {
    Seconds(bleeder.0 * capacitance.0 * libm::log(from.0 / to.0))
}

/// Gives the largest bleeder that gets there in time.
#[must_use]
pub fn largest_bleeder(within: Seconds, capacitance: Farads, from: Volts, to: Volts) -> Ohms {
    Ohms(within.0 / (capacitance.0 * libm::log(from.0 / to.0)))
}
