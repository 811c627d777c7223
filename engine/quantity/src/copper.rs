//! Copper wire: gauge, resistance, temperature, voltage drop. Knows no insulation and no permitted current.

use crate::quantities::{Amps, Celsius, Ohms, Volts};

/// Resistivity of annealed copper at 20 °C, in ohm mm²/m.
///
/// SOURCE: IEC 60028, 1/58 (read second hand; NBS Handbook 100 says the same).
pub const RESISTIVITY: f64 = 1.0 / 58.0;

/// Temperature coefficient of resistance at 20 °C, per kelvin.
///
/// SOURCE: IEC 60028 (read in an engineering handbook).
pub const COEFFICIENT: f64 = 0.003_93;

/// Coefficient for moving a figure of NEC Table 8 from 75 °C to another temperature, per kelvin.
///
/// SOURCE: NEC ch. 9 Table 8, note (from memory).
pub const TABLE_8_COEFFICIENT: f64 = 0.003_23;

const METERS_IN_1000_FEET: f64 = 304.8;

/// Gives the resistance of copper over its resistance at 20 °C.
#[must_use]
pub fn temperature_factor(at: Celsius) -> f64 {
    1.0 + COEFFICIENT * (at.0 - 20.0)
}

/// Gives a winding's temperature from its rise in resistance.
///
/// SOURCE: rise-of-resistance method with 234.5 for copper, IEC 60335-1 cl. 11.3 note, IEC 60034-1 (from memory).
#[must_use]
pub fn winding_temperature(cold: Ohms, at: Celsius, hot: Ohms) -> Celsius {
    Celsius(hot.0 / cold.0 * (234.5 + at.0) - 234.5)
}

/// An American wire gauge number, 0 to 40.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Awg(u8);

/// Tells solid wire from stranded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strand {
    /// One solid wire.
    Solid,
    /// Seven strands or more.
    Stranded,
}

impl Awg {
    /// Makes a gauge; `None` past 40.
    #[must_use]
    pub fn new(number: u8) -> Option<Self> {
        (number <= 40).then_some(Self(number))
    }

    /// The gauge number.
    #[must_use]
    pub fn number(self) -> u8 {
        self.0
    }

    /// The diameter of solid wire, in mm.
    ///
    /// SOURCE: ASTM B258, 0.127 mm · 92^((36 - n) / 39) (from memory).
    #[must_use]
    pub fn diameter_mm(self) -> f64 {
        0.127 * libm::pow(92.0, (36.0 - f64::from(self.0)) / 39.0)
    }

    /// The area of solid wire, in mm².
    #[must_use]
    pub fn area_mm2(self) -> f64 {
        let d = self.diameter_mm();
        std::f64::consts::PI / 4.0 * d * d
    }

    /// The resistance of 1000 ft of solid wire at a temperature.
    #[must_use]
    pub fn per_1000_feet(self, at: Celsius) -> Ohms {
        self.resistance(METERS_IN_1000_FEET, at)
    }

    /// The resistance of a length of solid wire, in meters, at a temperature.
    #[must_use]
    pub fn resistance(self, meters: f64, at: Celsius) -> Ohms {
        Ohms(RESISTIVITY * meters / self.area_mm2() * temperature_factor(at))
    }

    /// The printed direct-current resistance of 1000 ft of uncoated copper at 75 °C; `None` where the table was not read.
    ///
    /// SOURCE: NEC ch. 9 Table 8, 18 to 8 AWG (read on pages that reprint it).
    #[must_use]
    #[expect(clippy::approx_constant, reason = "3.14 is the printed resistance of 14 AWG, not pi")]
    pub fn table_8(self, strand: Strand) -> Option<Ohms> {
        let (solid, stranded) = match self.0 {
            18 => (7.77, 7.95),
            16 => (4.89, 4.99),
            14 => (3.07, 3.14),
            12 => (1.93, 1.98),
            10 => (1.21, 1.24),
            8 => (0.764, 0.778),
            _ => return None,
        };
        Some(Ohms(match strand {
            Strand::Solid => solid,
            Strand::Stranded => stranded,
        }))
    }
}

/// Gives the voltage a two-wire branch loses out and back, from the printed table; `None` for a gauge it lacks.
///
/// SOURCE: NEC ch. 9 Table 8 with its note on temperature; reactance left out, as is usual at these sizes.
#[must_use]
pub fn voltage_drop(gauge: Awg, strand: Strand, one_way_feet: f64, current: Amps, at: Celsius) -> Option<Volts> {
    let per_foot = gauge.table_8(strand)?.0 * (1.0 + TABLE_8_COEFFICIENT * (at.0 - 75.0)) / 1000.0;
    Some(Volts(2.0 * one_way_feet * per_foot * current.0))
}
