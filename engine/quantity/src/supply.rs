//! Supply systems and the limits their voltage must keep. Knows no receptacles and no wiring faults.

use crate::published::{Published, Seen};
use crate::quantities::Volts;

/// A supply as it reaches a household receptacle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// 120/240 V single phase, three wire: the legs oppose each other.
    SplitPhase,
    /// Two legs and neutral of a 208Y/120 V three-phase system: the legs stand 120 degrees apart.
    Wye208,
}

impl System {
    /// The nominal voltage from one leg to the other.
    #[must_use]
    pub fn line_to_line(self) -> Volts {
        match self {
            Self::SplitPhase => Volts(240.0),
            Self::Wye208 => Volts(208.0),
        }
    }

    /// The nominal voltage from either leg to neutral or earth.
    #[must_use]
    pub fn line_to_neutral(self) -> Volts {
        Volts(120.0)
    }
}

/// A voltage range of ANSI C84.1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quality {
    /// What is to be expected nearly always.
    A,
    /// What may occur now and then, and is to be put right.
    B,
}

/// Where a limit applies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Where the utility hands over.
    Service,
    /// At the appliance.
    Utilization,
}

const C84: &str = "ANSI C84.1 Table 1";

/// Gives the lower limit for a 120 V or 240 V nominal; `None` for another.
///
/// SOURCE: ANSI C84.1 Table 1, 2006 edition. At the appliance later editions print 108, 216, 104, 208 (from memory).
#[must_use]
pub fn least_volts(quality: Quality, place: Place, nominal: Volts) -> Option<Published> {
    let (base, seen) = match (quality, place) {
        (Quality::A, Place::Service) => (114.0, Seen::SecondHand),
        (Quality::B, Place::Service) | (Quality::A, Place::Utilization) => (110.0, Seen::Memory),
        (Quality::B, Place::Utilization) => (106.0, Seen::Memory),
    };
    Some(Published::new(base * legs(nominal)?, "V", C84, seen))
}

/// Gives the upper limit at the service for a 120 V or 240 V nominal; `None` for another. It holds at the appliance too.
///
/// SOURCE: ANSI C84.1 Table 1.
#[must_use]
pub fn most_volts(quality: Quality, nominal: Volts) -> Option<Published> {
    let (base, seen) = match quality {
        Quality::A => (126.0, Seen::SecondHand),
        Quality::B => (127.0, Seen::Memory),
    };
    Some(Published::new(base * legs(nominal)?, "V", C84, seen))
}

fn legs(nominal: Volts) -> Option<f64> {
    [1.0, 2.0].into_iter().find(|legs| (nominal.0 - 120.0 * legs).abs() < 1e-9)
}

const EN_50160: &str = "EN 50160 cl. 4.2.2";

/// A 230 V supply: the lower limit that 95 % of a week's ten-minute means must keep.
pub const LEAST_230: Published = Published::new(207.0, "V", EN_50160, Seen::SecondHand);
/// A 230 V supply: the upper limit.
pub const MOST_230: Published = Published::new(253.0, "V", EN_50160, Seen::SecondHand);
/// A 230 V supply: the lower limit that every ten-minute mean must keep.
pub const LEAST_EVER_230: Published = Published::new(195.5, "V", EN_50160, Seen::SecondHand);
