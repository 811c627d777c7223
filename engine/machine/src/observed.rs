//! What a person can notice without a meter, and how each of it is computed.

use crate::model::{BranchId, CodeRule, Flag, FlagId, Need, PartId, StateId, ZoneId};

/// Something a person can notice without a meter.
#[derive(Clone, Debug)]
pub struct Observation {
    /// Its id.
    pub id: String,
    /// How it is computed.
    pub of: Observed,
    /// States in which it is looked for.
    pub states: Vec<StateId>,
    /// The values it can take, each with its sentence; see [`Observed`] for their order.
    pub values: Vec<ObservedValue>,
}

/// One value of an observation.
#[derive(Clone, Debug)]
pub struct ObservedValue {
    /// Short id: `yes`, `no`, `weak`.
    pub id: String,
    /// The sentence: `the drum does not turn`.
    pub say: String,
}

/// How an observation is computed; the values' order is fixed for each.
#[derive(Clone, Debug)]
pub enum Observed {
    /// A driven part turns: values `no`, `yes`.
    Turns(PartId),
    /// A motor: values `silent`, `hums`, `runs`.
    Sounds(FlagId),
    /// Heat of these branches against their rated watts, carried off by `air` if given:
    /// values `none` (under 5 %), `weak` (under 75 %), `full`.
    Heats {
        /// The branches that heat.
        branches: Vec<BranchId>,
        /// Rated watts of all of them together in these states.
        rated_watts: f64,
        /// Air path whose fault makes full heat weak.
        air: Option<PartId>,
    },
    /// Power of a lamp or small motor against its rating: values `no`, `dim`, `yes`.
    Lights {
        /// The branch.
        branch: BranchId,
        /// Rated watts.
        rated_watts: f64,
    },
    /// Air moves: values `none`, `weak`, `strong`.
    Blows(PartId),
    /// Water, gas, air or cold comes through a part: values `none`, `weak`, `strong`.
    Flows(PartId),
    /// A burner: values `none` (no gas), `unlit` (gas comes and does not burn), `weak`, `full`.
    Burns {
        /// The burner.
        burner: PartId,
    },
    /// The breaker or the residual-current device: values `holds`, `trips`.
    Trips(FlagId),
    /// The frame against true earth: values `no`, `yes` (over 30 V).
    Tingles,
    /// A control's display: values `dark`, `normal`, then one for each code: of senses, then of rules.
    Shows {
        /// Supply of the display: the control's own need.
        supply: Need,
        /// Sense needs that carry a code, in the order of the values after `normal`: the code, then the code for below.
        senses: Vec<Need>,
        /// Rules in the order in which they are tried, after the senses; their values come after the senses' codes.
        rules: Vec<CodeRule>,
        /// The codes, in the order of the values after `normal`.
        codes: Vec<String>,
        /// The flag that says the control itself is alive (a fault forces it down).
        alive: FlagId,
    },
    /// How a zone warms up from rest against a sound machine: values `never`, `slow`, `short` (its control holds it
    /// below the temperature by which it is judged), `normal`.
    Warms {
        /// The zone; it has its heat.
        zone: ZoneId,
        /// The temperature by which it is judged, °C.
        to_c: f64,
        /// Times the sound machine's time to it from which it is slow, above 1.
        slow_times: f64,
        /// Times the sound machine's time from which nobody waits for it, above `slow_times`.
        never_times: f64,
    },
}

impl Observed {
    /// Share of an igniter's rated watts from which it lights gas: common practice, no source.
    pub const LIGHTS: f64 = 0.6;
    /// Value of a display without its supply.
    pub const DARK: u8 = 0;
    /// Value of a display that shows what it always shows; codes come after it.
    pub const NORMAL: u8 = 1;
    /// Value of a zone that does not get warm while anybody waits.
    pub const NEVER: u8 = 0;
    /// Value of a zone that takes clearly longer than on a sound machine.
    pub const SLOW: u8 = 1;
    /// Value of a zone that its control holds too cool.
    pub const SHORT: u8 = 2;
    /// Value of a zone that warms up as it should.
    pub const IN_TIME: u8 = 3;

    /// Says whether it is the display of this part.
    #[must_use]
    pub fn is_display_of(&self, flags: &[Flag], part: PartId) -> bool {
        matches!(self, Self::Shows { alive, .. } if flags[alive.index()].part == part)
    }
}
