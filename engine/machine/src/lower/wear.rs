//! How faults become likelier or rarer with a machine's age, and the file's own word over that.

use super::DraftFault;
use crate::model::PartKind;

/// Gives the Weibull shape of a fault's life: by the file, else what is usual for the part. What belongs to the installation
/// was there before the machine, so that its age says nothing of it.
pub(crate) fn of(kind: Option<PartKind>, installation: bool, fault: &DraftFault<'_>) -> f64 {
    let usual = || if installation { 1.0 } else { kind.map_or(1.0, usual) };
    fault.wear.unwrap_or_else(usual)
}

/// Gives what is usual. Early failures have a shape under 1, chance 1, wear 1 to 4 (classes of Abernethy, The New Weibull
/// Handbook, from memory); which part falls into which: common practice, no source.
fn usual(kind: PartKind) -> f64 {
    match kind {
        PartKind::Control => 0.8,
        PartKind::Belt | PartKind::Drum => 2.0,
        PartKind::Heater | PartKind::Joint | PartKind::Capacitor | PartKind::Lamp => 1.5,
        PartKind::Motor
        | PartKind::Blower
        | PartKind::Pump
        | PartKind::Timer
        | PartKind::Switch
        | PartKind::DoorSwitch
        | PartKind::Button
        | PartKind::Relay
        | PartKind::Starter
        | PartKind::Thermostat
        | PartKind::Valve => 1.3,
        _ => 1.0,
    }
}
