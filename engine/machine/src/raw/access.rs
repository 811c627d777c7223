//! Zones, places and covers as the file writes them.

use super::table;
use crate::access::Hazard;
use crate::reader::{Above0, At, AtLeast0, Celsius, Id, Leaf, Num, Reader, Share, Text, Value, Whole, read_word};

table! {
    /// A temperature zone.
    Zone {
        /// Its id.
        id: At<Id>,
        /// Temperature when nothing runs, °C; 22 if left out.
        rest_c: Option<At<Num<Celsius>>>,
        /// How it warms up; left out where nobody waits for it.
        heat: Option<Heat>,
    }
}

table! {
    /// How a zone warms up.
    Heat {
        /// What it stores, J/K.
        capacity: At<Num<Above0>>,
        /// What it loses straight to the room, W/K.
        loses: At<Num<AtLeast0>>,
        /// The heaters that warm it.
        heated_by: Vec<Text>,
        /// What each heater itself stores, and how it gives it off; left out: at once.
        lag: Option<HeatLag>,
        /// A wall behind it that warms up too; left out: none.
        wall: Option<HeatWall>,
        /// The sensor by which a control holds its temperature.
        felt_by: Option<Text>,
        /// The air that carries the heat; left out: it needs none.
        air: Option<HeatAir>,
    }
}

table! {
    /// The air that carries the heat into a zone and out of it.
    HeatAir {
        /// The vent or blower.
        part: Text,
        /// Share of the heat delivered, and of the zone's own loss, while little air moves.
        weak: At<Num<Share>>,
    }
}

table! {
    /// What each heater itself stores.
    HeatLag {
        /// What it stores, J/K.
        capacity: At<Num<Above0>>,
        /// How it gives it off to the zone, W/K.
        couples: At<Num<Above0>>,
    }
}

table! {
    /// A wall that warms up with a zone.
    HeatWall {
        /// What it stores, J/K.
        capacity: At<Num<Above0>>,
        /// What passes between it and the zone, W/K.
        couples: At<Num<Above0>>,
        /// What it loses to the room, W/K.
        loses: At<Num<AtLeast0>>,
    }
}

table! {
    /// Somewhere a hand or a probe must get to.
    Place {
        /// Its id.
        id: At<Id>,
        /// In words, such as `behind the front panel`.
        say: Text,
        /// Alternatives, each a list of covers that together expose it; left out: open as it stands.
        exposed_by: Option<Vec<Vec<Text>>>,
        /// What can hurt there.
        hazards: Option<Vec<At<Hazard>>>,
    }
}

table! {
    /// One step of getting in, and its way back.
    Cover {
        /// Its id.
        id: At<Id>,
        /// What to do.
        say: Text,
        /// What to do on the way back.
        say_back: Text,
        /// Side of the machine where one stands.
        side: Text,
        /// Alternatives, each a list of covers that must come first; left out: nothing first.
        needs: Option<Vec<Vec<Text>>>,
        /// What is taken out.
        fasteners: Option<Vec<Fastener>>,
        /// Minutes to open.
        minutes_off: At<Num<AtLeast0>>,
        /// Minutes to close; as long as to open if left out.
        minutes_on: Option<At<Num<AtLeast0>>>,
        /// People it takes; 1 if left out.
        people: Option<At<Whole>>,
        /// What can hurt.
        hazards: Option<Vec<At<Hazard>>>,
        /// The fastener that comes out last, in words.
        keep_for_last: Option<Text>,
        /// Steps that exist only on the way back.
        only_back: Option<Vec<Text>>,
        /// Must be closed before the machine is left running; false if left out.
        closed_to_run: Option<At<bool>>,
    }
}

table! {
    /// Fasteners of one kind.
    Fastener {
        /// How many.
        count: At<Whole>,
        /// What they are.
        what: Text,
        /// The tool for them.
        tool: Text,
    }
}

/// The words for hazards, as the file writes them.
const HAZARDS: &[(&str, Hazard)] = &[
    ("shock", Hazard::Shock),
    ("stored-charge", Hazard::StoredCharge),
    ("high-voltage", Hazard::HighVoltage),
    ("hot-surface", Hazard::HotSurface),
    ("scald", Hazard::Scald),
    ("sharp-edge", Hazard::SharpEdge),
    ("heavy-lift", Hazard::HeavyLift),
    ("fuel-gas", Hazard::FuelGas),
    ("water", Hazard::Water),
    ("refrigerant", Hazard::Refrigerant),
    ("moving-parts", Hazard::MovingParts),
    ("glass", Hazard::Glass),
    ("tip-over", Hazard::TipOver),
    ("dirt", Hazard::Dirt),
];

impl Leaf for Hazard {
    fn leaf(reader: &mut Reader<'_>, key: &str, value: &Value<'_>) -> Option<Self> {
        read_word(reader, key, value, HAZARDS)
    }
}
