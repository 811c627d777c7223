//! Facts of one visit: what was seen, read, opened, changed, and how it ended.
//!
//! Refuses to know whether a step was wise or safe.

use serde::{Deserialize, Serialize};

use super::common::{Answers, FaultName, Photo, Place, Reading, Role, Shown};
use super::shop::Report;
use super::{facts, kinds_of_job};
use crate::ids::RecordId;
use crate::time::ZonedTime;
use crate::value::{Money, Value};

facts!(
    /// A fact of a visit.
    CallFact {
        StageEntered = "stage_entered",
        Arrived = "arrived",
        SupplyChecked = "supply_checked",
        StepDone = "step_done",
        MadeSafe = "made_safe",
        Energised = "energised",
        StepProposed = "step_proposed",
        ReadingTaken = "reading_taken",
        LookTaken = "look_taken",
        TryTaken = "try_taken",
        Provoked = "provoked",
        CoverOpened = "cover_opened",
        CoverClosed = "cover_closed",
        LeadsLifted = "leads_lifted",
        LeadsRefitted = "leads_refitted",
        PartChanged = "part_changed",
        CallEnded = "call_ended",
    }
);

kinds_of_job!(
    CallFact in Call:
    StageEntered,
    Arrived,
    SupplyChecked,
    StepDone,
    MadeSafe,
    Energised,
    StepProposed,
    ReadingTaken,
    LookTaken,
    TryTaken,
    Provoked,
    CoverOpened,
    CoverClosed,
    LeadsLifted,
    LeadsRefitted,
    PartChanged,
    CallEnded,
);

/// The stages of a visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the stage by its own name")]
pub enum Stage {
    Intake,
    Load,
    Travel,
    Arrive,
    CheckSupply,
    MakeSafe,
    Find,
    Agree,
    Repair,
    Prove,
    HandOver,
}

/// The technician turns to a stage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StageEntered {
    /// The stage.
    pub stage: Stage,
}

/// The technician is there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arrived {
    /// Whether the complaint was seen; absent if it was not safe or not possible to look.
    pub complaint_seen: Option<bool>,
    /// Whether the floor is protected.
    pub floor_protected: bool,
    /// Photos of how it was found.
    #[serde(default)]
    pub photos: Vec<Photo>,
}

/// What the supply check said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// As it must be.
    Good,
    /// Not as it must be.
    Bad {
        /// What is wrong, in words.
        what: String,
    },
    /// Not decided with this instrument.
    NotDecided,
}

/// One reading of the supply.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SupplyReading {
    /// Whether a load was on.
    pub loaded: bool,
    /// The reading.
    pub reading: Reading,
}

/// The supply is checked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SupplyChecked {
    /// Which supply, such as `mains`, `gas`, `water`.
    pub supply: String,
    /// The readings in the order taken.
    #[serde(default)]
    pub readings: Vec<SupplyReading>,
    /// What they say.
    pub verdict: Verdict,
    /// What was shown, if computed.
    pub shown: Option<Shown>,
}

/// A line of a checklist is done, or a question is answered that no other fact records.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepDone {
    /// The line or question, by id, such as `isolate` or `agree/choice`.
    pub step: String,
    /// What was answered, by id or in words without names; absent where "done" says it all.
    pub said: Option<String>,
    /// The proposal it follows.
    pub answers: Answers,
}

/// One source of energy that was isolated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Isolated {
    /// The source, such as `mains`, `gas`, `water`, or a capacitor by its id.
    pub source: String,
    /// How: `plug pulled`, `breaker off`, `valve shut`, `discharged`.
    pub how: String,
    /// How it is kept so: `plug in sight`, `locked`, `tagged`; absent if it is not.
    pub secured: Option<String>,
    /// Who could put it on again.
    pub could_restore: Option<Role>,
}

/// The machine is made safe to touch: isolated, and measured dead with a meter proved before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MadeSafe {
    /// What was isolated.
    pub isolated: Vec<Isolated>,
    /// The meter on a known live source before.
    pub meter_proved_before: Option<Reading>,
    /// The readings that showed it dead, at the work point.
    #[serde(default)]
    pub dead: Vec<Reading>,
    /// The meter on a known live source after.
    pub meter_proved_after: Option<Reading>,
}

/// Sources of energy are on again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Energised {
    /// Which.
    pub sources: Vec<String>,
    /// What for, in words.
    pub why: String,
}

/// The tool proposed a step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StepProposed {
    /// The step, by id.
    pub step: String,
    /// What was shown.
    pub shown: Shown,
}

/// A reading is taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadingTaken {
    /// The reading.
    pub reading: Reading,
    /// The proposal it follows.
    pub answers: Answers,
}

/// A look is taken.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LookTaken {
    /// The look, by id.
    pub look: String,
    /// Where.
    #[serde(default)]
    pub places: Vec<Place>,
    /// What was found, by id.
    pub found: String,
    /// Photos.
    #[serde(default)]
    pub photos: Vec<Photo>,
    /// The proposal it follows.
    pub answers: Answers,
}

/// A function is tried.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TryTaken {
    /// The state it was tried in, by id.
    pub state: String,
    /// What was made ready first, such as `load in`, `vent on`.
    #[serde(default)]
    pub made_ready: Vec<String>,
    /// What was observed.
    #[serde(default)]
    pub observed: Vec<Report>,
    /// How long it ran.
    pub ran: Option<Value>,
    /// The proposal it follows.
    pub answers: Answers,
}

/// How a fault that comes and goes is provoked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each variant is the way by its own name")]
pub enum Provocation {
    Heat,
    Cool,
    Wiggle,
    Load,
    LongRun,
}

/// A fault that comes and goes is provoked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Provoked {
    /// How.
    pub way: Provocation,
    /// Where.
    #[serde(default)]
    pub places: Vec<Place>,
    /// What was observed.
    #[serde(default)]
    pub observed: Vec<Report>,
    /// The proposal it follows.
    pub answers: Answers,
}

/// A cover is opened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CoverOpened {
    /// The cover, by id.
    pub cover: String,
    /// Screws taken out.
    pub screws_out: u32,
    /// The proposal it follows.
    pub answers: Answers,
}

/// A cover is closed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CoverClosed {
    /// The cover, by id.
    pub cover: String,
    /// Screws put back.
    pub screws_in: u32,
}

/// Leads are lifted or a connector is unplugged.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeadsLifted {
    /// The leads and connectors.
    pub leads: Vec<Place>,
    /// Photos taken before.
    #[serde(default)]
    pub photos: Vec<Photo>,
    /// The proposal it follows.
    pub answers: Answers,
}

/// Leads and connectors are back where they were.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeadsRefitted {
    /// The leads and connectors.
    pub leads: Vec<Place>,
}

/// Where the old part went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OldPart {
    /// Left with the customer.
    LeftWithCustomer,
    /// Taken along.
    TakenAlong,
    /// Sent back to the one who owes warranty.
    SentBack,
    /// Fitted again: only mended or adjusted.
    FittedAgain,
}

/// A part is changed or mended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartChanged {
    /// The part, by id.
    pub part: String,
    /// The spare fitted, as the shop names it; absent if the old one was mended.
    pub spare: Option<String>,
    /// The faults this is to cure.
    #[serde(default)]
    pub cures: Vec<FaultName>,
    /// Leads touched on the way.
    #[serde(default)]
    pub leads_touched: Vec<Place>,
    /// Where the old part went.
    pub old_part: OldPart,
    /// Price of the part.
    pub price: Option<Money>,
    /// The proposal it follows.
    pub answers: Answers,
}

/// How a visit ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The proofs hold.
    Proved,
    /// The complaint did not show itself.
    NotReproduced,
    /// Nothing was wrong; its use was explained.
    UseExplained,
    /// The customer declined: put back, made safe, diagnosis charged.
    Declined {
        /// Whether it is put back together.
        put_back: bool,
        /// Whether it is left disconnected or tagged.
        made_safe: bool,
        /// What was charged.
        charged: Option<Money>,
    },
    /// Handed to one licensed or equipped for it.
    Referred {
        /// For what, in words.
        why: String,
    },
    /// Left safe, not repaired.
    MadeSafe {
        /// Why, in words.
        why: String,
    },
    /// Waits for a part.
    AwaitingPart {
        /// The parts, by id.
        parts: Vec<String>,
        /// When they are expected.
        expected: Option<ZonedTime>,
    },
    /// On the telephone: a visit was promised.
    VisitPromised,
    /// On the telephone: the customer set it right himself.
    SettledByTelephone {
        /// How, in words.
        how: String,
    },
}

/// A visit ends.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CallEnded {
    /// How.
    pub end: End,
    /// Minutes worked there.
    pub minutes: Option<u32>,
    /// Who was there at the end.
    pub present: Option<Role>,
    /// A sealed note.
    pub note: Option<RecordId>,
}
