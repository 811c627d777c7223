//! How a machine comes apart: places, and the steps that expose them. Knows no probabilities; `teardown` plans on it.

use crate::model::CoverId;

/// Places and the steps that expose them.
#[derive(Clone, Debug, Default)]
pub struct Access {
    /// Where things are.
    pub places: Vec<Place>,
    /// Covers, panels, drawers, pulling the machine out: everything done to get at a place.
    pub steps: Vec<Cover>,
}

/// Somewhere a hand or a probe must get to.
#[derive(Clone, Debug)]
pub struct Place {
    /// Its id.
    pub id: String,
    /// In words: `behind the front panel`.
    pub say: String,
    /// Alternatives, each a set of steps that together expose it; one empty set means it is open as it stands.
    pub exposed_by: Vec<Vec<CoverId>>,
    /// What can hurt here.
    pub hazards: Vec<Hazard>,
}

/// One step of getting in, and its way back.
#[derive(Clone, Debug)]
pub struct Cover {
    /// Its id.
    pub id: String,
    /// In words: `lift the top`.
    pub say: String,
    /// In words, on the way back: `lower the top`.
    pub say_back: String,
    /// Side of the machine where one stands: `front`, `back`.
    pub side: String,
    /// Alternatives, each a set of steps that must come first.
    pub needs: Vec<Vec<CoverId>>,
    /// Fasteners that come out.
    pub fasteners: Vec<Fastener>,
    /// Minutes to open.
    pub minutes_off: f64,
    /// Minutes to close.
    pub minutes_on: f64,
    /// People it takes.
    pub people: u8,
    /// What can hurt.
    pub hazards: Vec<Hazard>,
    /// One fastener kept for last, in words.
    pub keep_for_last: Option<String>,
    /// Steps that exist only on the way back: seals, level, clearance of live terminals.
    pub only_back: Vec<String>,
    /// Must be closed before the machine is energised and left running.
    pub closed_to_run: bool,
}

/// Fasteners of one kind.
#[derive(Clone, Debug)]
pub struct Fastener {
    /// How many.
    pub count: u32,
    /// What: `hex-head screw`.
    pub what: String,
    /// Tool: `1/4 in nut driver`.
    pub tool: String,
}

/// What can hurt, by kind.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Hazard {
    /// Live conductors.
    Shock,
    /// A charged capacitor.
    StoredCharge,
    /// A high voltage, charged or not: nobody measures or works there but who is trained for it.
    HighVoltage,
    /// A hot surface.
    HotSurface,
    /// Hot water or steam.
    Scald,
    /// A sharp edge.
    SharpEdge,
    /// A heavy lift.
    HeavyLift,
    /// Fuel gas and combustion products.
    FuelGas,
    /// Water by electricity.
    Water,
    /// Refrigerant.
    Refrigerant,
    /// Moving parts and springs.
    MovingParts,
    /// Glass.
    Glass,
    /// Tip-over.
    TipOver,
    /// Dirt and droppings.
    Dirt,
}
