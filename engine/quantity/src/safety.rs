//! Published limits for handing an appliance back: earth bond, insulation, leakage, and the order of making dead.
//! Knows no instrument: whether a meter can decide a limit is said elsewhere.

use crate::copper;
use crate::published::{Published, Seen};
use crate::quantities::{Amps, Ohms, Watts};

const EN_50678: &str = "EN 50678 (and EN 50699; VDE 0701-0702:2008 before the split)";
const IEC_13_2: &str = "IEC 60335-1 cl. 13.2 (editions before 6, r.m.s.)";
const UL_101: &str = "UL 101";

const fn en(value: f64, unit: &'static str) -> Published {
    Published::new(value, unit, EN_50678, Seen::SecondHand)
}

const fn iec(value: f64) -> Published {
    Published::new(value, "mA", IEC_13_2, Seen::SecondHand)
}

const fn ul(value: f64) -> Published {
    Published::new(value, "mA (MIU)", UL_101, Seen::SecondHand)
}

/// Protective conductor with a cord up to 5 m (up to 1.5 mm²), at most.
pub const EARTH_BOND: Published = en(0.3, "ohm");
/// What each further 7.5 m of cord adds; a part of 7.5 m counts as begun (from memory).
pub const EARTH_BOND_PER_7_5_M: Published = en(0.1, "ohm");
/// The upper bound of that limit.
pub const EARTH_BOND_MOST: Published = en(1.0, "ohm");
/// What is added to the conductor's own resistance where it is larger; the formula is from memory.
pub const EARTH_BOND_LARGE_FLOOR: Published = en(0.1, "ohm");
/// Insulation of class I at 500 V DC, at least.
pub const INSULATION_CLASS_1: Published = en(1.0, "Mohm");
/// Insulation of class I with heating elements, at least.
pub const INSULATION_CLASS_1_HEATING: Published = en(0.3, "Mohm");
/// Insulation of class II, at least.
pub const INSULATION_CLASS_2: Published = en(2.0, "Mohm");
/// Insulation of class III, at least.
pub const INSULATION_CLASS_3: Published = en(0.25, "Mohm");
/// Protective conductor current of class I, at most.
pub const PROTECTIVE_CURRENT: Published = en(3.5, "mA");
/// Protective conductor current per kilowatt where heating exceeds 3.5 kW.
pub const PROTECTIVE_CURRENT_PER_KW: Published = en(1.0, "mA/kW");
/// The upper bound of that.
pub const PROTECTIVE_CURRENT_MOST: Published = en(10.0, "mA");
/// Touch current of parts not joined to the protective conductor, at most.
pub const TOUCH_CURRENT: Published = en(0.5, "mA");
/// Leakage at running temperature of class II, at most.
pub const LEAKAGE_CLASS_2: Published = iec(0.25);
/// Leakage at running temperature of class 0, 0I and III, at most.
pub const LEAKAGE_CLASS_0: Published = iec(0.5);
/// Leakage at running temperature of class I portable appliances, at most.
pub const LEAKAGE_PORTABLE: Published = iec(0.75);
/// Leakage at running temperature of class I stationary motor-operated appliances, at most.
pub const LEAKAGE_STATIONARY_MOTOR: Published = iec(3.5);
/// Leakage per kilowatt of stationary class I cooking ranges and hobs, up to [`LEAKAGE_COOKING_MOST`].
pub const LEAKAGE_COOKING_PER_KW: Published =
    Published::new(1.0, "mA/kW, at most 10 mA", "IEC 60335-2-6 cl. 13.2", Seen::Memory);
/// The upper bound of that.
pub const LEAKAGE_COOKING_MOST: Published = Published::new(10.0, "mA", "IEC 60335-2-6 cl. 13.2", Seen::Memory);
/// The cold leakage test is made at this times rated voltage.
pub const COLD_LEAKAGE_VOLTAGE: Published = Published::new(1.06, "1", "IEC 60335-1 cl. 16.2", Seen::Memory);
/// Heating appliances run at this times rated input for the leakage test at running temperature.
pub const HOT_LEAKAGE_INPUT: Published = Published::new(1.15, "1", "IEC 60335-1 cl. 13.1", Seen::Memory);
/// Earth terminal to accessible metal without the cord, type test at 25 A or 1.5 times rated, at most.
pub const EARTH_TYPE_TEST: Published = Published::new(0.1, "ohm", "IEC 60335-1 cl. 27.5", Seen::Memory);
/// Leakage of two-wire cord-connected appliances in the United States, at most.
pub const US_LEAKAGE_TWO_WIRE: Published = ul(0.5);
/// Leakage of three-wire portable appliances in the United States, at most.
pub const US_LEAKAGE_PORTABLE: Published = ul(0.5);
/// Leakage of three-wire stationary or fixed appliances in the United States, at most.
pub const US_LEAKAGE_STATIONARY: Published = ul(0.75);

/// A protection class.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Earthed.
    I,
    /// Double or reinforced insulation.
    II,
    /// Extra-low voltage.
    III,
}

/// Gives the most the protective conductor may measure, for a cord of up to 1.5 mm².
#[must_use]
pub fn earth_bond_limit(cord_meters: f64) -> Ohms {
    let further = ((cord_meters - 5.0) / 7.5).ceil().max(0.0);
    Ohms((EARTH_BOND.value + EARTH_BOND_PER_7_5_M.value * further).min(EARTH_BOND_MOST.value))
}

/// Gives the most a larger protective conductor may measure: its own resistance plus 0.1 ohm.
#[must_use]
pub fn earth_bond_limit_large(meters: f64, area_mm2: f64) -> Ohms {
    Ohms(copper::RESISTIVITY * meters / area_mm2 + EARTH_BOND_LARGE_FLOOR.value)
}

/// Gives the least insulation resistance at 500 V DC.
#[must_use]
pub fn insulation_limit(class: Class, with_heating: bool) -> Ohms {
    let limit = match class {
        Class::I if with_heating => INSULATION_CLASS_1_HEATING,
        Class::I => INSULATION_CLASS_1,
        Class::II => INSULATION_CLASS_2,
        Class::III => INSULATION_CLASS_3,
    };
    Ohms(1e6 * limit.value)
}

/// Tells whether insulation under its limit may still pass on the protective conductor current alone.
///
/// SOURCE: EN 50678, heating over 3.5 kW (read second hand).
#[must_use]
pub fn current_may_decide_insulation(heating: Watts) -> bool {
    heating.0 > 3500.0
}

/// Gives the most protective conductor current of a class I appliance with this much heating.
#[must_use]
pub fn protective_current_limit(heating: Watts) -> Amps {
    let kilowatts = heating.0 / 1000.0;
    let per_kilowatt = (PROTECTIVE_CURRENT_PER_KW.value * kilowatts).min(PROTECTIVE_CURRENT_MOST.value);
    let milliamps = if kilowatts > 3.5 { per_kilowatt } else { PROTECTIVE_CURRENT.value };
    Amps(milliamps / 1000.0)
}

/// Gives the most leakage of a class I stationary heating appliance: 0.75 mA or 0.75 mA/kW, the larger, up to 5 mA.
///
/// SOURCE: IEC 60335-1 cl. 13.2, and cold cl. 16.2 (from memory), editions before 6, r.m.s.
#[must_use]
pub fn stationary_heating_leakage_limit(heating: Watts) -> Amps {
    let milliamps = (0.75 * heating.0 / 1000.0).clamp(0.75, 5.0);
    Amps(milliamps / 1000.0)
}

/// Gives the most leakage of a stationary class I range or hob.
#[must_use]
pub fn cooking_leakage_limit(heating: Watts) -> Amps {
    let milliamps = (LEAKAGE_COOKING_PER_KW.value * heating.0 / 1000.0).min(LEAKAGE_COOKING_MOST.value);
    Amps(milliamps / 1000.0)
}

/// The steps towards an electrically safe condition, in order.
///
/// SOURCE: NFPA 70E 120.5 (2018-2021), 120.6 (2024); step 7 read second hand, the rest from memory.
pub const MAKE_DEAD: [&str; 8] = [
    "find every source",
    "interrupt the load, open each disconnect",
    "see the open blades where possible",
    "release or block stored electrical energy",
    "block stored mechanical energy",
    "lock and tag",
    "test each phase conductor or circuit part, phase to phase and phase to earth, for absence of voltage at the point of work, proving the tester on a known source before and after",
    "earth the conductors if induced voltage or stored energy is possible",
];

/// The order in which a tester is proved: a live source, the dead circuit, the live source again.
///
/// SOURCE: NFPA 70E 120.5(7), read second hand.
pub const PROVE_TESTER: &str = "live-dead-live";

/// A measuring category.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Category {
    /// Circuits plugged into a receptacle.
    Ii,
    /// The fixed wiring: panel, branch, receptacle terminals, wired-in machine.
    Iii,
    /// The origin of the installation.
    Iv,
}

impl Category {
    /// The least category for a meter used inside a machine.
    ///
    /// SOURCE: IEC 61010-1 / 61010-2-030 (read in two instrument manuals).
    #[must_use]
    pub fn least_for(plugged_in: bool) -> Self {
        if plugged_in { Self::Ii } else { Self::Iii }
    }

    /// The name on the meter.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Ii => "CAT II",
            Self::Iii => "CAT III",
            Self::Iv => "CAT IV",
        }
    }

    /// The impulse a meter of this category must stand at a rated voltage; `None` where the table was not read.
    ///
    /// SOURCE: IEC 61010-2-030:2010 impulse test table (read second hand).
    #[must_use]
    pub fn impulse_volts(self, rated: u32) -> Option<f64> {
        match (self, rated) {
            (Self::Ii, 300) => Some(2500.0),
            (Self::Ii, 600) | (Self::Iii, 300) => Some(4000.0),
            (Self::Iii, 600) | (Self::Iv, 300) => Some(6000.0),
            _ => None,
        }
    }
}
