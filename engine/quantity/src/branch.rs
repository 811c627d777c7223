//! Branch circuits for appliances: least rating, largest overcurrent device, how a frame may be earthed.
//! Knows the figures of the National Electrical Code, not the local code, which comes first.

use crate::copper::Awg;
use crate::published::{Published, Seen};
use crate::quantities::{Amps, Volts, Watts};

/// A load that runs three hours or more counts this much.
pub const CONTINUOUS: Published =
    Published::new(1.25, "1", "NEC 210.19(A)(1), 210.20(A), art. 100 (continuous load)", Seen::SecondHand);
/// A storage water heater of 120 gal or less counts this much.
pub const WATER_HEATER: Published = Published::new(1.25, "1", "NEC 422.13", Seen::SecondHand);
/// Fixed electric space heating counts this much.
pub const SPACE_HEATING: Published =
    Published::new(1.25, "1", "NEC 424.4(B) (2020; 424.3(B) before)", Seen::SecondHand);
/// The largest overcurrent device for a single non-motor appliance over 13.3 A, as a share of its current.
pub const SINGLE_APPLIANCE: Published =
    Published::new(1.5, "1", "NEC 422.11(E)(3) (single non-motor appliance over 13.3 A)", Seen::SecondHand);
/// One cord-connected appliance may use this share of a branch with several outlets.
pub const CORD_CONNECTED_SHARE: Published = Published::new(0.8, "1", "NEC 210.23(A)(1)", Seen::Memory);
/// The least branch rating for a range of 8 3/4 kW or more.
pub const RANGE_BRANCH: Published =
    Published::new(40.0, "A", "NEC 210.19(A)(3) (2020) / 210.19(C) (2023)", Seen::SecondHand);
/// The least dryer load in a load calculation; a larger nameplate counts.
pub const DRYER_LOAD: Published = Published::new(5000.0, "VA", "NEC 220.54", Seen::Memory);
/// One cooking appliance under 3.5 kW counts this share.
pub const UNDER_3500_SHARE: Published = Published::new(80.0, "%", "NEC Table 220.55 column A", Seen::SecondHand);
/// One cooking appliance of 3.5 to 8.75 kW counts this share.
pub const UNDER_8750_SHARE: Published = Published::new(80.0, "%", "NEC Table 220.55 column B", Seen::Memory);
/// Up to this size the branch overcurrent device may be the disconnect of a permanently connected appliance.
pub const DEVICE_AS_DISCONNECT: Published = Published::new(300.0, "VA or 1/8 hp", "NEC 422.31(A)", Seen::Memory);
/// The cord of a built-in dishwasher: shortest.
pub const DISHWASHER_CORD_LEAST: Published = Published::new(0.9, "m", "NEC 422.16(B)(2)", Seen::Memory);
/// The cord of a built-in dishwasher: longest.
pub const DISHWASHER_CORD_MOST: Published = Published::new(2.0, "m", "NEC 422.16(B)(2)", Seen::Memory);

/// Every one of these must hold where a range or dryer frame is earthed through the neutral of a three-wire supply.
///
/// SOURCE: NEC 250.140 (exception to 2020; 250.140(B) in 2023), read second hand.
pub const THREE_WIRE_CONDITIONS: [&str; 5] = [
    "existing branch circuit only, no equipment grounding conductor in the box: frame may be joined to the grounded conductor",
    "supply 120/240 V 1-phase 3-wire or 208Y/120 V from a 3-phase 4-wire system",
    "grounded conductor at least 10 AWG copper or 8 AWG aluminium",
    "grounded conductor insulated, or bare within type SE cable starting at the service equipment",
    "grounding contacts of receptacles that are part of the equipment are bonded to it",
];
/// What becomes of the strap from neutral to frame on a four-wire supply.
///
/// SOURCE: follows from NEC 250.142(B), 250.140 (from memory).
pub const FOUR_WIRE_STRAP: &str = "must be removed";

/// Gives the maximum demand of `count` household ranges, each rated up to 12 kW, in kilowatts; `None` past 40.
///
/// SOURCE: NEC Table 220.55 column C (1, 8 and 10 ranges read second hand, the rest from memory).
#[must_use]
pub fn range_demand_kilowatts(count: u8) -> Option<f64> {
    match count {
        1..=5 => Some(5.0 + 3.0 * f64::from(count)),
        6..=40 => Some(15.0 + f64::from(count)),
        _ => None,
    }
}

/// Gives the share by which ranges over 12 kW raise that demand: 5 % for each kilowatt or major fraction above.
///
/// Several cooktops and wall ovens on one circuit count as one range of their added ratings.
/// SOURCE: NEC Table 220.55 notes 1 and 4 (14 kW read second hand).
#[must_use]
pub fn demand_factor(rating: Watts) -> f64 {
    let over = (rating.0 / 1000.0 - 12.0).max(0.0);
    1.0 + 0.05 * (over + 0.5).floor()
}

/// Gives the demand of one range, or of a cooktop with its wall ovens, as a branch load.
#[must_use]
pub fn range_branch_load(rating: Watts) -> Watts {
    let kilowatts = range_demand_kilowatts(1).unwrap_or_default() * demand_factor(rating);
    Watts(1000.0 * kilowatts)
}

/// Gives the least circuit for a storage water heater.
#[must_use]
pub fn water_heater_circuit(power: Watts, volts: Volts) -> Amps {
    Amps(WATER_HEATER.value * power.0 / volts.0)
}

/// Gives the largest overcurrent device for a single non-motor appliance, before the next standard size is taken.
///
/// `None` at 13.3 A and below, where 20 A is the limit.
#[must_use]
pub fn largest_device(power: Watts, volts: Volts) -> Option<Amps> {
    let amps = power.0 / volts.0;
    (amps > 13.3).then_some(Amps(SINGLE_APPLIANCE.value * amps))
}

/// Gives the dryer load for a load calculation.
#[must_use]
pub fn dryer_load(nameplate: Watts) -> Watts {
    Watts(nameplate.0.max(DRYER_LOAD.value))
}

/// Gives the smallest standard rating that is not under a current; `None` past 100 A.
///
/// SOURCE: NEC 240.6(A) (from memory).
#[must_use]
pub fn standard_rating(at_least: Amps) -> Option<Amps> {
    const SIZES: [f64; 13] = [15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0];
    SIZES.into_iter().find(|size| *size >= at_least.0 - 1e-9).map(Amps)
}

/// Gives the largest overcurrent device for a small copper conductor; `None` for another gauge.
///
/// SOURCE: NEC 240.4(D) (from memory).
#[must_use]
pub fn small_conductor_limit(gauge: Awg) -> Option<Published> {
    let amps = match gauge.number() {
        14 => 15.0,
        12 => 20.0,
        10 => 30.0,
        _ => return None,
    };
    Some(Published::new(amps, "A", "NEC 240.4(D)", Seen::Memory))
}
