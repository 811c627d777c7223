//! The typed model of one machine: what the reader hands to every other crate.
//!
//! The description's parts are already lowered here to a wiring (terminals, branches, rules of contacts, flags that
//! settle) and to faults as changes of that wiring. This file knows no matrices, no probabilities and no plans.

use crate::access::Access;
use crate::builds::{Build, Variant, Way};
use crate::faults::{Fault, Repair};
pub use crate::observed::{Observation, Observed, ObservedValue};
use std::fmt;

macro_rules! index {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
        #[serde(transparent)]
        pub struct $name(pub u16);
        impl $name {
            /// Gives the position in the machine's list of its kind.
            #[must_use]
            pub fn index(self) -> usize {
                usize::from(self.0)
            }
        }
    };
}

index!(/// Names a part by its place in [`Machine::parts`].
    PartId);
index!(/// Names a terminal by its place in [`Machine::terminals`]; each terminal is a point a probe can touch.
    TerminalId);
index!(/// Names a branch by its place in [`Machine::branches`].
    BranchId);
index!(/// Names a flag (something that settles: a motor runs, a coil is pulled) in [`Machine::flags`].
    FlagId);
index!(/// Names a state in [`Machine::states`].
    StateId);
index!(/// Names a temperature zone in [`Machine::zones`].
    ZoneId);
index!(/// Names a fault by its place in [`Machine::faults`].
    FaultId);
index!(/// Names an observation by its place in [`Machine::observations`].
    ObservationId);
index!(/// Names a repair (mend class) by its place in [`Machine::repairs`].
    RepairId);
index!(/// Names a variant by its place in [`Machine::variants`].
    VariantId);
index!(/// Names a place of the machine that covers hide, in [`crate::access::Access::places`].
    PlaceId);
index!(/// Names one step of getting in, in [`crate::access::Access::steps`].
    CoverId);

/// One kind of appliance as described in one file.
#[derive(Clone, Debug)]
pub struct Machine {
    /// Short id, also the shipped file's name.
    pub id: String,
    /// The family in the trade's words, such as `electric dryer`.
    pub kind: String,
    /// One line for a person.
    pub title: String,
    /// The description that this one builds on, by id, if any.
    pub based_on: Option<String>,
    /// What the file has to say about the machine as a whole.
    pub note: Option<String>,
    /// Nominal supply between the legs, volts.
    pub plate_volts: f64,
    /// Rated power, watts.
    pub plate_watts: f64,
    /// Supply frequency, hertz.
    pub hertz: f64,
    /// The installation in front of the machine.
    pub supply: Supply,
    /// Every part, leads and the installation's parts included.
    pub parts: Vec<Part>,
    /// Every point a probe can touch, and the few inside parts that it cannot.
    pub terminals: Vec<Terminal>,
    /// Everything between two terminals.
    pub branches: Vec<Branch>,
    /// Branches by which a sound machine leaks to its frame: insulation that is not endless, a filter.
    pub leaks: Vec<BranchId>,
    /// What settles by itself once a state is entered.
    pub flags: Vec<Flag>,
    /// Temperature zones with their temperature at rest.
    pub zones: Vec<Zone>,
    /// Operating states; the first is the rest state.
    pub states: Vec<State>,
    /// What a person can notice without a meter.
    pub observations: Vec<Observation>,
    /// Every way to fail.
    pub faults: Vec<Fault>,
    /// Mend classes: faults that the same repair cures share one.
    pub repairs: Vec<Repair>,
    /// How it comes apart.
    pub access: Access,
    /// What must hold before handing back.
    pub proofs: Vec<Proof>,
    /// In what units commonly differ.
    pub variants: Vec<Variant>,
    /// By variant: the way the unit at hand has it, once that is known; `Some(None)` is as described.
    pub settled: Vec<Option<Way>>,
    /// The ways in which the unit at hand may be; never empty.
    pub builds: Vec<Build>,
    /// Share of units that are none of these.
    pub builds_left_out: f64,
    /// ISO 4217 code of the prices.
    pub currency: String,
}

/// The installation: source, other loads of the house, breaker, receptacle, cord.
#[derive(Clone, Debug)]
pub struct Supply {
    /// How the legs stand to each other.
    pub kind: SupplyKind,
    /// Receptacle pattern, such as `14-30`; `None` when wired in fixed.
    pub receptacle: Option<String>,
    /// Conductors of the cord.
    pub cord: Cord,
    /// Breaker rating, amperes.
    pub breaker_amps: f64,
    /// Point of true earth: the reference of every voltage.
    pub earth: TerminalId,
    /// The machine's frame.
    pub frame: TerminalId,
    /// Slots of the receptacle (or the terminals of the disconnect), in the order leg 1, leg 2, neutral, earth;
    /// what the arrangement does not have is left out.
    pub slots: Vec<(Conductor, TerminalId)>,
    /// The machine's own supply terminals, same order.
    pub block: Vec<(Conductor, TerminalId)>,
    /// Branches that open when the plug is pulled or the disconnect is off.
    pub plug: Vec<BranchId>,
    /// The residual-current device in front of the receptacle, if there is one.
    pub residual: Option<Residual>,
}

/// A residual-current device (GFCI, RCD): opens when its poles' currents do not add up to nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Residual {
    /// The device.
    pub part: PartId,
    /// Stands once it has opened.
    pub flag: FlagId,
    /// Its poles, legs first, the neutral last; a current is positive from the house to the machine.
    pub poles: Vec<BranchId>,
    /// Residual current at which it opens, amperes.
    pub amps: f64,
}

/// How the supply's legs stand to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SupplyKind {
    /// Two legs of 120 V at 180 degrees, 240 V between them.
    SplitPhase,
    /// Two legs of 120 V at 120 degrees, 208 V between them.
    TwoOfThreePhases,
    /// One leg and neutral.
    SinglePhase,
}

/// Conductors of the cord.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cord {
    /// Two legs, neutral and a separate equipment ground.
    FourWire,
    /// Two legs and neutral, the frame bonded to neutral at the terminal block.
    ThreeWire,
    /// Leg, neutral, equipment ground.
    Grounded,
}

/// One conductor of the supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Conductor {
    /// Supply leg 1.
    Leg1,
    /// Supply leg 2.
    Leg2,
    /// Neutral.
    Neutral,
    /// Equipment ground.
    Ground,
}

/// One replaceable or mendable thing: also a lead, also the breaker.
#[derive(Clone, Debug)]
pub struct Part {
    /// The file's id, such as `heater`.
    pub id: String,
    /// The kind's word in the file, such as `thermostat`.
    pub kind: PartKind,
    /// What a person calls it: `heating element`.
    pub name: String,
    /// Its terminals in order; a lead's are its two ends, which belong to other parts.
    pub terminals: Vec<TerminalId>,
    /// Positions it can be set to; empty for a part that nobody sets.
    pub positions: Vec<String>,
    /// What drives it: a drum by its belt, a belt by its motor, a vent by its blower.
    pub driven_by: Vec<PartId>,
    /// What lights it; `None` for a burner that is lit otherwise, and for all that is no burner.
    pub lit_by: Option<PartId>,
    /// What a heater or a timer's motor is rated for; `None` for all else.
    pub rated: Option<Rated>,
    /// Colour of a lead's jacket, as written.
    pub color: Option<String>,
    /// What the file has to say about it beyond its keys.
    pub note: Option<String>,
    /// Where it sits.
    pub place: PlaceId,
    /// Belongs to the installation (receptacle, breaker, house) and not to the machine.
    pub installation: bool,
    /// Line of the file where it is described, 1-based; 0 for what the supply section brings.
    pub line: u32,
}

/// What a heater or a timer's motor is rated for.
#[derive(Clone, Debug, PartialEq)]
pub struct Rated {
    /// Its branches, in series.
    pub branches: Vec<BranchId>,
    /// What they give together at rated volts, watts.
    pub watts: f64,
}

/// Kind of a part, as written in the file.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "each is the trade's own word, written in docs/machine-format.md")]
pub enum PartKind {
    House,
    Breaker,
    Receptacle,
    Cord,
    TerminalBlock,
    Heater,
    Lead,
    Joint,
    Connector,
    Fuse,
    CutOff,
    Thermostat,
    Switch,
    DoorSwitch,
    Button,
    Timer,
    Relay,
    Control,
    Sensor,
    Motor,
    Capacitor,
    Lamp,
    Belt,
    Drum,
    Blower,
    Vent,
    /// A contact that starts a motor and lets go once it runs.
    Starter,
    /// Opens the way of water or gas while its coil is energised.
    Valve,
    /// Where water or gas comes from.
    Tap,
    /// A way for water, gas, air or cold.
    Pipe,
    /// Moves water while its motor turns.
    Pump,
    /// Burns gas where it is lit.
    Burner,
    /// A winding that does its work by itself: a transformer, a spark module, a tachometer.
    Winding,
    /// Something that works and that no meter is put to: a magnetron with its supply, an electrode.
    Assembly,
}

/// A point a probe can touch (or, `hidden`, a point inside a part that none can).
#[derive(Clone, Debug)]
pub struct Terminal {
    /// Full name, such as `heater.1`, `CH`, `receptacle.X`.
    pub name: String,
    /// The part it belongs to.
    pub part: PartId,
    /// Where a probe must reach.
    pub place: PlaceId,
    /// Inside a part: no probe reaches it.
    pub hidden: bool,
    /// What is printed beside it on the unit at hand, where that is not the label in its name.
    pub printed: Option<String>,
}

/// Something that conducts, or may, between two terminals.
#[derive(Clone, Debug)]
pub struct Branch {
    /// `part` or `part:what`, for messages.
    pub name: String,
    /// The part it belongs to.
    pub part: PartId,
    /// From; a current is positive from here to `to`.
    pub from: TerminalId,
    /// To.
    pub to: TerminalId,
    /// What it does.
    pub law: Law,
}

/// What a branch does between its terminals.
#[derive(Clone, Debug)]
pub enum Law {
    /// A resistance: lead, heater, lamp, sound contact that never moves.
    Resistance(Resistance),
    /// A resistance that follows a temperature zone by a sensor's table.
    Sensor {
        /// Zone it feels.
        zone: ZoneId,
        /// Its law.
        table: SensorTable,
        /// Relative half-width that 95 % of sound parts keep.
        tolerance: f64,
    },
    /// A winding: resistance and reactance standing, another impedance once its motor runs.
    Winding {
        /// Copper resistance, also what an ohm-meter reads.
        ohms: f64,
        /// Reactance at supply frequency, standing still, ohms.
        reactance: f64,
        /// Resistance and reactance while the flag stands.
        running: (f64, f64),
        /// The flag `motor runs`; `None` for a coil that does not change.
        flag: Option<FlagId>,
        /// Relative half-width that 95 % of sound parts keep.
        tolerance: f64,
    },
    /// A capacitor: open for an ohm-meter.
    Capacitor {
        /// Capacitance, farads.
        farads: f64,
        /// Relative half-width that 95 % of sound parts keep.
        tolerance: f64,
    },
    /// A contact, with the rule that closes it and its resistance when closed.
    Contact {
        /// When it is closed.
        rule: Rule,
        /// Closed resistance, ohms.
        ohms: f64,
    },
    /// An alternating source of `volts` at `degrees`, `from` positive, behind `series_ohms`.
    Source {
        /// Root-mean-square volts.
        volts: f64,
        /// Phase, degrees.
        degrees: f64,
        /// Resistance of the source, ohms.
        series_ohms: f64,
        /// Relative half-width of the voltage in 95 % of houses.
        tolerance: f64,
    },
}

/// A resistance with its tolerance and how it changes hot.
#[derive(Clone, Copy, Debug)]
pub struct Resistance {
    /// Ohms as an ohm-meter finds it, cold.
    pub cold_ohms: f64,
    /// Ohms when it works at rated power.
    pub hot_ohms: f64,
    /// Relative half-width that 95 % of sound parts keep.
    pub tolerance: f64,
}

/// The law of a temperature sensor.
#[derive(Clone, Copy, Debug)]
pub enum SensorTable {
    /// Platinum by IEC 60751 with this resistance at 0 °C, ohms.
    Platinum {
        /// Ohms at 0 °C.
        ohms_at_0c: f64,
    },
    /// Thermistor by the beta equation.
    Thermistor {
        /// Ohms at 25 °C.
        ohms_at_25c: f64,
        /// Beta, kelvin.
        beta: f64,
    },
}

/// When a contact is closed.
#[derive(Clone, Debug)]
pub enum Rule {
    /// Closed in the listed positions of the part's own control.
    Position {
        /// The part a person sets.
        part: PartId,
        /// Positions in which it is closed.
        closed_in: Vec<String>,
    },
    /// Closed below `opens_at` and open above (`closed_cold`), or the other way round.
    Temperature {
        /// Zone it feels.
        zone: ZoneId,
        /// Temperature of the change on rising, °C.
        trips_c: f64,
        /// Temperature of the change back on falling, °C; below absolute zero for a part that never comes back.
        resets_c: f64,
        /// Closed when cold.
        closed_cold: bool,
    },
    /// Closed while the flag stands (or, `inverted`, while it does not).
    Flag {
        /// The flag that moves it.
        flag: FlagId,
        /// Closed while the flag does not stand.
        inverted: bool,
    },
    /// Always closed when sound.
    Always,
}

/// Something that settles by itself after a state is entered.
#[derive(Clone, Debug)]
pub struct Flag {
    /// `motor:runs`, `relay:pulled`, `control:bake`, `breaker:tripped`.
    pub name: String,
    /// The part it belongs to.
    pub part: PartId,
    /// What makes it stand.
    pub rule: FlagRule,
}

/// What makes a flag stand.
#[derive(Clone, Debug)]
pub enum FlagRule {
    /// A motor: starts when the torque product of its windings reaches its load's share, runs on above `hold_volts`.
    ///
    /// Torque product: |I_run| |I_start| |sin(angle between them)|, standing still, against the same product of the
    /// sound windings at `rated_volts`. Without a start winding it starts above `hold_volts`.
    Motor {
        /// Main winding.
        run: BranchId,
        /// Start winding (the branch that carries its current).
        start: Option<BranchId>,
        /// Torque product of the sound motor at rated volts, ampere squared.
        sound_torque: f64,
        /// Share of it that the load needs.
        load_share: f64,
        /// Volts over the main winding above which it runs on.
        hold_volts: f64,
    },
    /// A coil: pulled above `pull_in_volts`, held above `drop_out_volts`.
    Coil {
        /// The coil's branch.
        branch: BranchId,
        /// Volts to pull.
        pull_in_volts: f64,
        /// Volts to hold.
        drop_out_volts: f64,
    },
    /// An output of an electronic control: stands in the states that request it while all its needs hold.
    Output {
        /// States in which it is called for.
        requested_in: Vec<StateId>,
        /// What must hold.
        needs: Vec<Need>,
    },
    /// A breaker: opens for good when the current of any pole passes `amps`.
    Breaker {
        /// Its poles.
        poles: Vec<BranchId>,
        /// Current at which it opens within the time of a visit, amperes.
        amps: f64,
    },
    /// A residual-current device: opens for good when the phasor sum of its poles' currents passes `amps`.
    Residual {
        /// Its poles, the neutral among them.
        poles: Vec<BranchId>,
        /// Residual current at which it opens, amperes.
        amps: f64,
    },
}

/// What an electronic control needs before it closes an output.
#[derive(Clone, Debug, PartialEq)]
pub enum Need {
    /// At least so many volts between two terminals.
    Volts {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// At least, volts.
        at_least: f64,
    },
    /// A sensor loop within its range, as the control itself senses it over its reference resistor.
    Sense {
        /// The control's own source branch with its reference resistor in series.
        source: BranchId,
        /// Open-circuit volts of that source.
        open_volts: f64,
        /// Reference resistor, ohms.
        reference_ohms: f64,
        /// Lowest resistance taken as sound.
        low_ohms: f64,
        /// Highest resistance taken as sound.
        high_ohms: f64,
        /// Code that the display shows when it is out of range.
        code: Option<String>,
        /// Code that the display shows when it is below its range; [`Self::Sense`]'s `code` where none is given.
        code_low: Option<String>,
    },
    /// The work of a part, as a control feels it: a flame, turning, water that runs.
    Works {
        /// The part.
        part: PartId,
        /// All of its work is needed; else a little will do.
        all: bool,
        /// States in which it is asked for; in others it holds.
        asked_in: Vec<StateId>,
    },
}

/// What a control's display shows by rule, beside the codes of its senses.
#[derive(Clone, Debug, PartialEq)]
pub struct CodeRule {
    /// States in which it may be shown.
    pub states: Vec<StateId>,
    /// What holds.
    pub with: Vec<Need>,
    /// What does not hold.
    pub without: Vec<Need>,
    /// Value of the display.
    pub value: u8,
}

/// A temperature zone.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Its id.
    pub id: String,
    /// Temperature when nothing runs, °C.
    pub rest_c: f64,
    /// How it warms up; `None` where the description does not say.
    pub heat: Option<Heat>,
}

/// How a zone warms up: what stores heat, what passes it on, and what is lost to the room.
#[derive(Clone, Debug)]
pub struct Heat {
    /// What the zone stores, J/K, above 0.
    pub capacity: f64,
    /// What it loses straight to the room, W/K.
    pub loses: f64,
    /// The heaters that warm it, each with its branches; no heater twice in a machine.
    pub heaters: Vec<(PartId, Vec<BranchId>)>,
    /// What each heater itself stores, J/K, and gives off to the zone, W/K; `None`: it gives off at once.
    pub lag: Option<(f64, f64)>,
    /// A wall behind the zone.
    pub wall: Option<HeatWall>,
    /// The branch of the sensor by which a control holds the zone's temperature.
    pub felt_by: Option<BranchId>,
    /// The air that carries the heat; `None`: it needs none.
    pub air: Option<HeatAir>,
}

/// The air that carries heat into a zone and out of it again.
#[derive(Clone, Copy, Debug)]
pub struct HeatAir {
    /// The vent or blower; without its drive no heat arrives.
    pub part: PartId,
    /// Share of the heat that arrives, and of the zone's own loss, while little air moves; 0 to 1.
    pub weak: f64,
}

/// A wall that warms up with a zone.
#[derive(Clone, Copy, Debug)]
pub struct HeatWall {
    /// What it stores, J/K, above 0.
    pub capacity: f64,
    /// What passes between it and the zone, W/K, above 0.
    pub couples: f64,
    /// What it loses to the room, W/K.
    pub loses: f64,
}

/// What the user has asked the machine to do.
#[derive(Clone, Debug)]
pub struct State {
    /// Its id.
    pub id: String,
    /// In words: `timed dry on high, just started`.
    pub say: String,
    /// The state from which it is entered; `None` for the rest state.
    pub entered_from: Option<StateId>,
    /// What a person does to enter it, in order.
    pub events: Vec<String>,
    /// Position of every part that a person sets.
    pub positions: Vec<(PartId, String)>,
    /// Positions held only while entering (a start button).
    pub pressed: Vec<(PartId, String)>,
    /// Declared temperature of each zone, °C, in zone order.
    pub temperatures_c: Vec<f64>,
    /// Temperature at which a control holds each zone, °C, in zone order; `None` where none does.
    pub holds_c: Vec<Option<f64>>,
    /// Minutes it takes to bring the machine into it from rest.
    pub minutes: f64,
}

/// What must hold after the repair.
#[derive(Clone, Debug)]
pub struct Proof {
    /// Its id.
    pub id: String,
    /// What to do, in a sentence.
    pub say: String,
    /// How it is decided.
    pub how: ProofHow,
    /// Where the limit comes from.
    pub source: String,
    /// Hours after the visit when it can be decided; 0 for now.
    pub deferred_hours: f64,
    /// Minutes it takes.
    pub minutes: f64,
}

/// How a proof is decided.
#[derive(Clone, Debug)]
pub enum ProofHow {
    /// A resistance with the machine isolated, within limits (ohms).
    Ohms {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// At least.
        at_least: Option<f64>,
        /// At most.
        at_most: Option<f64>,
        /// Only an insulation tester decides it.
        insulation_test: bool,
    },
    /// A voltage in a state, within limits (volts).
    Volts {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// State.
        state: StateId,
        /// At least.
        at_least: Option<f64>,
        /// At most.
        at_most: Option<f64>,
    },
    /// A clamp on a supply leg in a state against the machine's predicted current.
    Amps {
        /// Branch under the clamp.
        branch: BranchId,
        /// State.
        state: StateId,
    },
    /// Running a state and observing that all its observations are as a sound machine's.
    Run {
        /// State.
        state: StateId,
    },
    /// Something to look at, answered yes or no.
    Look,
}

impl PartKind {
    /// Says whether a part of this kind works out of sight: nothing of it turns, runs or lights.
    #[must_use]
    pub fn works_unseen(self) -> bool {
        matches!(self, Self::Winding | Self::Assembly)
    }
}

impl fmt::Display for PartKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = match self {
            Self::House => "house supply",
            Self::Breaker => "breaker",
            Self::Receptacle => "receptacle",
            Self::Cord => "cord",
            Self::TerminalBlock => "terminal block",
            Self::Heater => "heater",
            Self::Lead => "lead",
            Self::Joint => "joint",
            Self::Connector => "connector",
            Self::Fuse => "fuse",
            Self::CutOff => "thermal cut-off",
            Self::Thermostat => "thermostat",
            Self::Switch => "switch",
            Self::DoorSwitch => "door switch",
            Self::Button => "button",
            Self::Timer => "timer",
            Self::Relay => "relay",
            Self::Control => "electronic control",
            Self::Sensor => "sensor",
            Self::Motor => "motor",
            Self::Capacitor => "capacitor",
            Self::Lamp => "lamp",
            Self::Belt => "belt",
            Self::Drum => "drum",
            Self::Blower => "blower",
            Self::Vent => "vent",
            Self::Starter => "starter",
            Self::Valve => "valve",
            Self::Tap => "tap",
            Self::Pipe => "pipe",
            Self::Pump => "pump",
            Self::Burner => "burner",
            Self::Winding => "winding",
            Self::Assembly => "assembly",
        };
        f.write_str(text)
    }
}
