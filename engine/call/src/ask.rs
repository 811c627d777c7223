//! What is asked, what may be answered, and why an answer is not taken. Decides nothing.

use book::{KeyId, RecordId, Role, Stage};
use danger::Caution;
use machine::model::{BranchId, CoverId, ObservationId, PartId, RepairId, StateId, TerminalId};
use prediction::Reading;
use quantity::Unit;

/// The line that asks for a photo.
pub const PHOTO: &str = "photo";

/// One thing that is asked now, with all that a person needs to do it.
#[derive(Clone, Debug)]
pub struct Ask {
    /// What it is about, for a drawing or an answer that comes from elsewhere.
    pub about: About,
    /// The stage of the call.
    pub stage: Stage,
    /// The one thing to do or to say.
    pub say: String,
    /// What stands under it, in order.
    pub lines: Vec<Line>,
    /// What can hurt, gravest first. They cannot be turned off.
    pub cautions: Vec<Caution>,
    /// The kind of answer.
    pub wants: Wants,
    /// What Enter alone answers; `None` where something must be typed.
    pub enter: Option<Answer>,
    /// The technician may go his own way here: another reading, cannot reach, opinion, not built like this, stop.
    pub own_way: bool,
    /// Nobody need be there yet: a visit can be promised instead, or the job settled on the telephone.
    pub telephone: bool,
}

/// One line under the move.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// What sort of line.
    pub sort: Sort,
    /// The words.
    pub say: String,
}

/// Sorts of lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sort {
    /// What must be done within the step, in order.
    Do,
    /// What a sound machine shows.
    Expect,
    /// What one outcome would mean.
    Means,
    /// Why this.
    Why,
    /// What else could be done.
    Otherwise,
    /// Something noticed that must be said: a clash, a bad supply.
    Notice,
    /// A plain line.
    Plain,
}

/// What an ask is about.
#[derive(Clone, Debug, PartialEq)]
pub enum About {
    /// Who the customer is.
    Customer,
    /// Age and warranty.
    Appliance,
    /// Gas smelled.
    Gas,
    /// Water standing.
    Water,
    /// Since when.
    Since,
    /// Whether it is always so or comes and goes.
    ComesAndGoes,
    /// Who worked on it last.
    TouchedLast,
    /// Which use does not work.
    Use,
    /// What the customer noticed in a state.
    Report(StateId, ObservationId),
    /// Everyone out.
    Evacuate,
    /// The arrival.
    Arrive,
    /// A line of a checklist or a plain question, by its id.
    Line(String),
    /// The plug pulled, or the disconnect switched off, and kept so.
    Isolate,
    /// The machine switched on, everyone clear.
    Energise {
        /// What for, as it is recorded.
        why: String,
    },
    /// The meter on a known live source; volts expected.
    KnownSource {
        /// At the receptacle or disconnect of this machine, between these; elsewhere if absent.
        at: Option<(TerminalId, TerminalId)>,
        /// Volts that it carries.
        expected: f64,
    },
    /// A live leg against the earth that is measured to.
    Earth,
    /// The dead test of these conductors, each to every other and to earth: the highest reading.
    DeadTest(Vec<TerminalId>),
    /// A store discharged and measured: DC volts.
    Discharge(danger::Store),
    /// A reading of the plan, or of the technician's own choice, or of a proof.
    Read(Reading),
    /// A look at a part.
    Look(PartId),
    /// A run of a state, watched.
    Try(StateId),
    /// A cover comes off.
    Open(CoverId),
    /// A cover goes back on.
    Close(CoverId),
    /// A lead lifted at this terminal.
    Lift(TerminalId, BranchId),
    /// Leads put back.
    Refit,
    /// A hazard is told and signed for.
    Hazard(usize),
    /// A hazard may be gone.
    HazardGone(usize),
    /// How the unit has a variant, by the variant's id.
    Unit(String),
    /// What the customer chooses.
    Choose,
    /// Who says so.
    Approve,
    /// A repair is done.
    Change(RepairId),
    /// A proof that the insulation tester decides.
    Insulation(usize),
    /// A proof that is looked at.
    ProofLook(usize),
    /// Use explained, or not reproduced.
    Explain,
    /// The record is handed over.
    HandOver,
    /// Nothing more: the call has ended.
    Ended,
}

/// Kinds of answers.
#[derive(Clone, Debug, PartialEq)]
pub enum Wants {
    /// That it is done.
    Done,
    /// Yes or no.
    YesNo,
    /// One of these.
    Choice(Vec<Choice>),
    /// What the meter shows.
    Reading(Unit),
    /// What is seen of each observation.
    Seen(Vec<Observed>),
    /// A count of fasteners.
    Count(u32),
    /// Words without names.
    Words,
    /// A person's details, sealed by the shell before they are handed in.
    Person,
    /// Age and warranty.
    Appliance,
    /// A name, sealed by the shell; or refused, or nobody there.
    Signature,
    /// Who was told of a hazard, what was done, a name.
    Hazard,
    /// Nothing.
    Nothing,
}

/// One choice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Its id.
    pub id: String,
    /// In words.
    pub say: String,
}

/// One observation of a run with the values it can take.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Observed {
    /// Which.
    pub what: ObservationId,
    /// Its values: id and sentence.
    pub values: Vec<Choice>,
    /// The value a sound machine takes, by id.
    pub sound: String,
}

/// An answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// Done.
    Done,
    /// Passed over.
    Skip,
    /// Yes or no.
    YesNo(bool),
    /// The id of a choice.
    Choice(String),
    /// What the meter shows, as typed.
    Reading(String),
    /// What was seen: observation and value, by id.
    Seen(Vec<(String, String)>),
    /// How many.
    Count {
        /// Counted.
        count: u32,
        /// A difference to what came out is known and stays.
        short: bool,
    },
    /// Words without names.
    Words(String),
    /// A sealed person, with the key of all of the customer's records.
    Person {
        /// The key's name.
        key: KeyId,
        /// The record.
        record: RecordId,
    },
    /// Age and warranty.
    Appliance {
        /// Age in months.
        age_months: Option<u32>,
        /// Somebody owes the repair.
        warranty: Option<bool>,
    },
    /// A name in a sealed record, or none.
    Signature(book::Signature),
    /// A hazard told.
    Hazard {
        /// Who was told.
        told: Vec<Role>,
        /// What was done.
        action: book::HazardAction,
        /// Signed or not.
        signature: book::Signature,
    },
    /// Going one's own way.
    OwnWay(OwnWay),
}

/// Ways of one's own.
#[derive(Clone, Debug, PartialEq)]
pub enum OwnWay {
    /// Another step instead, by its id (see `crate::steps`).
    Instead(String),
    /// Terminals that cannot be reached, by name; the probes of the step asked for when empty.
    CannotReach(Vec<String>),
    /// A part suspected, with how many times likelier.
    Opinion {
        /// The part, by id.
        part: String,
        /// Times.
        times: f64,
    },
    /// Something is not as described, in words.
    NotBuiltLikeThis(String),
    /// A part and its leads were moved, to make show what comes and goes; the part, by id.
    Moved(String),
    /// The machine was run until it was warm, to the same end.
    RanWarm,
    /// A thermometer in a zone of the running machine was read.
    Thermometer {
        /// What it shows, as typed: `310F`, `155C`, or a plain number in the scale that is set.
        shows: String,
        /// Minutes since the state was switched on, the machine cold before.
        minutes: f64,
        /// The zone, by id; the one that warms up where only one does.
        zone: Option<String>,
    },
    /// Something that holds for this unit from now on.
    Learned(Learned),
    /// Something dangerous was found, in words.
    Danger(String),
    /// On the telephone: a visit is promised, as `DATE FROM-TO`.
    Later(String),
    /// On the telephone: the customer set it right himself; a fault by its name, or words.
    Settled(String),
    /// Stop looking.
    Stop,
}

/// Something learned of the unit at hand; it is kept with the appliance and holds on every later visit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Learned {
    /// It has a variant in this way, both by id.
    Unit {
        /// The variant.
        variant: String,
        /// The way.
        way: String,
    },
    /// What is printed beside a terminal.
    Label {
        /// The terminal, by name.
        point: String,
        /// The label.
        text: String,
    },
    /// An entry of its plate.
    Plate {
        /// Which, such as `watts`.
        entry: String,
        /// What it says.
        text: String,
    },
    /// What its papers say: a code's meaning, how service mode is entered.
    Papers {
        /// Which, such as `service-mode`.
        entry: String,
        /// What they say.
        text: String,
    },
}

/// Why an answer is not taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// What is wrong, in the user's own words.
    pub say: String,
    /// What to do with the hands.
    pub mend: String,
}

impl Refused {
    /// Makes a refusal.
    #[must_use]
    pub fn new(say: impl Into<String>, mend: impl Into<String>) -> Self {
        Self { say: say.into(), mend: mend.into() }
    }

    /// Makes one of a refusal of the gate, whose words say both.
    #[must_use]
    pub fn of_gate(words: &str) -> Self {
        match words.split_once("; ") {
            Some((say, mend)) => Self::new(say, mend),
            None => Self::new(words, "make safe first"),
        }
    }
}

impl std::fmt::Display for Refused {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}; {}", self.say, self.mend)
    }
}

impl std::error::Error for Refused {}

impl Ask {
    /// Makes an ask without lines.
    #[must_use]
    pub fn new(about: About, stage: Stage, say: impl Into<String>, wants: Wants) -> Self {
        Self {
            about,
            stage,
            say: say.into(),
            lines: Vec::new(),
            cautions: Vec::new(),
            wants,
            enter: None,
            own_way: false,
            telephone: false,
        }
    }

    /// Lets Enter alone answer this.
    #[must_use]
    pub fn on_enter(mut self, answer: Answer) -> Self {
        self.enter = Some(answer);
        self
    }

    /// Adds a line.
    #[must_use]
    pub fn line(mut self, sort: Sort, say: impl Into<String>) -> Self {
        self.lines.push(Line { sort, say: say.into() });
        self
    }

    /// Adds lines of one sort.
    #[must_use]
    pub fn lines<S: Into<String>>(mut self, sort: Sort, says: impl IntoIterator<Item = S>) -> Self {
        self.lines.extend(says.into_iter().map(|say| Line { sort, say: say.into() }));
        self
    }

    /// Adds cautions; each once, gravest first.
    #[must_use]
    pub fn caution(mut self, cautions: impl IntoIterator<Item = Caution>) -> Self {
        self.cautions.extend(cautions);
        self.cautions.sort_unstable();
        self.cautions.dedup();
        self
    }

    /// Lets the technician go his own way here.
    #[must_use]
    pub fn with_own_way(mut self) -> Self {
        self.own_way = true;
        self
    }
}

impl Choice {
    /// Makes a choice.
    #[must_use]
    pub fn new(id: impl Into<String>, say: impl Into<String>) -> Self {
        Self { id: id.into(), say: say.into() }
    }
}
