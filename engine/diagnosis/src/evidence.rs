//! What has been learned so far on this call, one item after the other.

use crate::showing::Stirred;
use machine::model::{PartId, RepairId, VariantId};
use prediction::{Reading, Seen, ZoneReading};

/// What the meter showed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measured {
    /// A figure in the quantity's SI unit.
    Value(f64),
    /// Over-range.
    OverRange,
}

/// One item of evidence.
#[derive(Clone, Debug, PartialEq)]
pub enum Evidence {
    /// The customer says so of his own accord; customers are often wrong.
    Reported(Seen),
    /// The customer was asked and answers so.
    Answered(Seen),
    /// The technician saw it happen.
    Watched(Seen),
    /// A reading.
    Read {
        /// What was asked for.
        reading: Reading,
        /// What the meter showed.
        measured: Measured,
    },
    /// A thermometer in a zone, read so long after a state was switched on from rest.
    Warmed {
        /// Where and when.
        reading: ZoneReading,
        /// What it showed, °C.
        celsius: f64,
    },
    /// A look at an exposed part.
    Looked {
        /// The part.
        part: PartId,
        /// It shows damage.
        damage: bool,
    },
    /// A repair was done; what it cures is cured unless the new part is bad or was fitted wrong.
    Repaired(RepairId),
    /// The customer says whether the trouble comes and goes.
    ComesAndGoes(bool),
    /// Another sitting begins: what comes and goes may show or hide otherwise from here on.
    Stirred(Stirred),
    /// The unit was looked at, or its papers were: it has a variant in this way, `None` as described.
    Built {
        /// The variant.
        variant: VariantId,
        /// The option it has.
        option: Option<usize>,
    },
    /// The technician's own opinion of a part, as a likelihood ratio against the others.
    Opinion {
        /// The part he suspects.
        part: PartId,
        /// How many times likelier he finds it; over 0.
        times: f64,
    },
}
