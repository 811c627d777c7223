//! Pieces that several facts share: places, readings, results shown, signatures, photos.
//!
//! Refuses to know whether a reading makes sense.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use crate::event::Checksum;
use crate::ids::{EventId, RecordId};
use crate::value::{Money, Number, Unit, Value};

/// A machine file as it was used: which one, and its exact text by hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineFile {
    /// The machine's id out of its file.
    pub machine: String,
    /// Hash of the file's text, in hexadecimal.
    pub hash: String,
}

impl MachineFile {
    /// Names the file with this text.
    #[must_use]
    pub fn of(machine: &str, text: &str) -> Self {
        Self { machine: machine.to_owned(), hash: Checksum::of(text.as_bytes()).to_string() }
    }
}

/// A terminal, part, lead, cover or slot by its id, with the label printed on this appliance if it differs.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Place {
    /// The id out of the machine file, or of the installation.
    pub id: String,
    /// The label printed on this appliance.
    pub label: Option<String>,
}

impl Place {
    /// Names a place by its id alone.
    #[must_use]
    pub fn at(id: &str) -> Self {
        Self { id: id.to_owned(), label: None }
    }
}

/// What a reading is taken with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Instrument {
    /// The instrument, such as `multimeter`, `clamp`, `insulation_tester`, `manometer`.
    pub name: String,
    /// The function it was set to, such as `ohm`, `volt_ac`, `volt_ac_low_impedance`.
    pub function: String,
    /// The range chosen by hand, if any.
    pub range: Option<String>,
}

/// How the probes touch.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Connection {
    /// Clipped on while dead, read from a distance.
    Clip,
    /// Slid in beside the lead of a mated connector.
    BackProbe,
    /// Held by hand.
    ByHand,
    /// Around a lead, touching no metal.
    AroundLead,
}

/// What the display said, understood. The typed text beside it is what was really entered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Parsed {
    /// A steady value.
    Value(Value),
    /// A value that wandered between two ends.
    Between {
        /// Lower end.
        low: Number,
        /// Upper end.
        high: Number,
        /// Unit of both.
        unit: Unit,
    },
    /// Over range, shown as `OL` or `1`.
    OverRange,
    /// Continuity: the buzzer sounded or did not.
    Buzzer {
        /// Whether it sounded.
        sounded: bool,
    },
    /// The text could not be understood; it is kept as typed.
    NotUnderstood,
}

/// One reading: where, how, in which state, and what it showed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// What it was read with.
    pub instrument: Instrument,
    /// The two terminals, or the one part or lead.
    pub places: Vec<Place>,
    /// How the probes touched.
    pub connection: Connection,
    /// The machine's state, by id.
    pub state: String,
    /// Whether any supply was on.
    pub energised: bool,
    /// Leads and connectors lifted at the time.
    #[serde(default)]
    pub lifted: Vec<Place>,
    /// Temperature of the part, where it matters.
    pub part_temperature: Option<Value>,
    /// Time since the machine was switched off, where it matters.
    pub time_since_off: Option<Value>,
    /// The text as entered, such as `4k7` or `OL`.
    pub typed: String,
    /// The text understood.
    pub parsed: Parsed,
}

/// One suspect as it was shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SuspectShown {
    /// Fault ids of the suspect; empty for "nothing wrong".
    pub faults: Vec<String>,
    /// The words shown.
    pub words: String,
    /// The probability shown, 0 to 1.
    pub probability: Number,
}

/// The result of a computation exactly as a person saw it. A fold never computes it again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Shown {
    /// Version of the engine that computed it.
    pub engine: String,
    /// The machine file it was computed from.
    pub machine: MachineFile,
    /// The leading suspects in the order shown.
    #[serde(default)]
    pub suspects: Vec<SuspectShown>,
    /// Probability of everything not listed.
    pub rest: Option<Number>,
    /// The sentence shown.
    pub sentence: String,
    /// What would change the answer, as shown.
    pub changes_if: Option<String>,
}

/// A person's part in the matter, never his name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// The one who pays.
    Customer,
    /// One who lives or works there.
    Occupant,
    /// Owner of the building.
    Landlord,
    /// Manager or caretaker of the building.
    Manager,
    /// A child, a guest or another person present.
    OtherPresent,
    /// The technician.
    Technician,
    /// Another technician or tradesman.
    AnotherTechnician,
    /// The gas or power utility, or the fire service.
    Utility,
    /// The maker or the one who owes warranty.
    Maker,
}

/// Whether someone put his name to it. The signature is in the sealed record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Signature {
    /// Signed: name and signature are in this sealed record.
    Signed {
        /// The record.
        record: RecordId,
    },
    /// Agreed by telephone or message; who said it is in this sealed record.
    Remote {
        /// The record.
        record: RecordId,
    },
    /// Asked and refused.
    Refused,
    /// Nobody was there to sign.
    NobodyThere,
}

/// A photo in a sealed record and what it shows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Photo {
    /// The sealed record with the picture.
    pub record: RecordId,
    /// What it shows, by ids.
    #[serde(default)]
    pub shows: Vec<Place>,
}

/// A fault by its part, as the machine file names both.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FaultName {
    /// The part.
    pub part: String,
    /// The way it failed.
    pub fault: String,
}

/// Which proposal was followed, or none when the technician went his own way.
pub type Answers = Option<EventId>;

/// A charge in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Charge {
    /// What it is for.
    pub what: String,
    /// Its sort.
    pub sort: ChargeSort,
    /// How much.
    pub amount: Money,
}

/// How a line is taxed. SOURCE: the codes of UNTDID 5305 that EN 16931 allows, from memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TaxCategory {
    /// At a rate (S).
    Rated,
    /// At a rate of nothing (Z).
    Zero,
    /// Exempt (E).
    Exempt,
    /// Outside the scope of the tax (O).
    OutOfScope,
}

/// A line of an issued paper: a charge and its tax.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TaxedCharge {
    /// The charge, without tax.
    pub charge: Charge,
    /// How it is taxed.
    pub category: TaxCategory,
    /// At how many per cent.
    #[serde(with = "rust_decimal::serde::str")]
    pub percent: Decimal,
}

/// The sort of a charge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ChargeSort {
    /// Time spent finding the fault.
    Diagnosis,
    /// Time spent on the repair.
    Labour,
    /// A part.
    Part,
    /// Getting there.
    Travel,
    /// Tax.
    Tax,
    /// Anything else; the words say what.
    Other,
}
