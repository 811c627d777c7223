//! The resistance of the copper between two ends.

use quantity::Celsius;
use quantity::copper::Awg;

/// Gives the resistance at 20 °C of `metres` of copper, ohms; `None` for a gauge past 40.
pub(crate) fn lead_ohms(awg: u16, metres: f64) -> Option<f64> {
    let gauge = Awg::new(u8::try_from(awg).ok()?)?;
    Some(gauge.resistance(metres, Celsius(20.0)).0)
}
