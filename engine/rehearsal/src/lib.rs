//! Rehearsed calls: the tool, its rivals and the all-knowing technician on the same hidden faults.
//!
//! [`rehearse`] draws units from `truth`, lets each technician find the trouble, and reports what it took. Every
//! technician meets the same units, the same meter, the same covers and prices and the same stop rule; the
//! [`ledger::Ledger`] that counts the minutes is written apart from the planner. [`Rehearsal::trace`] tells one call
//! step by step.

mod checklist;
mod complaint;
mod knowing;
pub mod ledger;
mod report;
mod settings;
mod technician;
mod trace;
mod visit;

pub use checklist::{Checklist, ChecklistError};
pub use complaint::{Complaint, Saying, complaint};
pub use knowing::all_knowing_minutes;
pub use report::{Measures, Report, Rivals};
pub use settings::Settings;
pub use technician::{Event, Move, Technician};
pub use trace::{Line, Trace};
pub use visit::{End, Visit};

use diagnosis::Belief;
use machine::Machine;
use prediction::{Meter, Predictor};
use repair::plan::ProblemError;
use std::fmt;
use technician::{Decisions, Flowchart, Policy, Tool};
use truth::{Dice, Unit, Workshop};

/// Who takes the call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Strategy {
    /// The tool, obeyed exactly.
    Tool,
    /// Value of information one step ahead, covers and switching ignored when choosing (but paid).
    ValueOfInformation,
    /// The frozen flowchart.
    Checklist,
}

/// Why a rehearsal cannot be held.
#[derive(Clone, Debug, PartialEq)]
pub enum RehearsalError {
    /// The checklist does not fit the machine.
    Checklist(ChecklistError),
    /// There is no checklist for the machine.
    NoChecklist(String),
    /// A compiled problem cannot be planned: a fault of the tool.
    Problem(ProblemError),
}

impl fmt::Display for RehearsalError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Checklist(error) => write!(f, "{error}"),
            Self::NoChecklist(id) => write!(f, "there is no checklist for `{id}`; rehearse a machine that is shipped"),
            Self::Problem(error) => write!(f, "the problem of a call cannot be planned: {error}"),
        }
    }
}

impl std::error::Error for RehearsalError {}

impl From<ProblemError> for RehearsalError {
    fn from(error: ProblemError) -> Self {
        Self::Problem(error)
    }
}

/// Rehearses so many calls on one machine and reports the tool beside its rivals.
///
/// A machine without a checklist of its own is rehearsed without that rival.
///
/// # Errors
/// A shipped checklist that does not fit the machine, or a problem that cannot be planned.
pub fn rehearse(machine: &Machine, calls: usize, seed: u64, settings: &Settings) -> Result<Report, RehearsalError> {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, seed, settings.clone())?;
    let mut gathered = report::Gathered::default();
    for call in 0..calls {
        let case = rehearsal.case(rehearsal.call_seed(call));
        gathered.all_knowing.push(all_knowing_minutes(&case.unit, &settings.prices));
        gathered.tool.push(rehearsal.visit(&case, Strategy::Tool)?);
        gathered.value.push(rehearsal.visit(&case, Strategy::ValueOfInformation)?);
        if rehearsal.has_checklist() {
            gathered.checklist.push(rehearsal.visit(&case, Strategy::Checklist)?);
        }
    }
    Ok(gathered.report(&machine.id, seed))
}

/// One drawn call before anyone has come: the unit and what its customer says.
#[derive(Clone, Debug)]
pub struct Case<'m> {
    /// Seed of the call.
    pub seed: u64,
    /// The unit.
    pub unit: Unit<'m>,
    /// What its customer says.
    pub complaint: Complaint,
}

/// A machine set up for rehearsing: draws calls and sends technicians to them.
#[derive(Debug)]
pub struct Rehearsal<'p, 'm> {
    predictor: &'p Predictor<'m>,
    workshop: Workshop<'m>,
    checklist: Option<Checklist>,
    settings: Settings,
    seed: u64,
    prior: Belief<'p, 'm>,
    tool: Decisions,
    value: Decisions,
}

/// Words that keep the streams of chance apart.
const CALL: u64 = 41;

impl<'p, 'm> Rehearsal<'p, 'm> {
    /// Sets up a machine; the seed also fixes how the prior weights are disturbed.
    ///
    /// # Errors
    /// A shipped checklist that does not fit the machine.
    pub fn new(predictor: &'p Predictor<'m>, seed: u64, settings: Settings) -> Result<Self, RehearsalError> {
        let machine = predictor.machine();
        let checklist = match checklist::shipped(&machine.id) {
            Some(text) => Some(Checklist::read(machine, text).map_err(RehearsalError::Checklist)?),
            None => None,
        };
        let mut settings = settings;
        settings.draw.world = seed;
        let prior = Belief::new(predictor, settings.assumptions.clone());
        let workshop = Workshop::new(machine);
        let (tool, value) = Default::default();
        Ok(Self { predictor, workshop, checklist, settings, seed, prior, tool, value })
    }

    /// Puts another checklist in the place of the shipped one.
    #[must_use]
    pub fn with_checklist(mut self, checklist: Checklist) -> Self {
        self.checklist = Some(checklist);
        self
    }

    /// Says whether the checklist rival can be rehearsed.
    #[must_use]
    pub fn has_checklist(&self) -> bool {
        self.checklist.is_some()
    }

    /// Gives the seed of a call by its number.
    #[must_use]
    pub fn call_seed(&self, call: usize) -> u64 {
        Dice::of(self.seed, &[CALL, call as u64]).word()
    }

    /// Draws the call of a seed.
    #[must_use]
    pub fn case(&self, seed: u64) -> Case<'m> {
        let unit = self.workshop.draw(seed, &self.settings.draw);
        let complaint = complaint(&unit, seed, &self.settings.saying);
        Case { seed, unit, complaint }
    }

    /// Sends a technician to a call.
    ///
    /// # Errors
    /// A problem that cannot be planned; no checklist for that strategy.
    pub fn visit(&self, case: &Case<'m>, strategy: Strategy) -> Result<Visit, RehearsalError> {
        self.send(case, strategy, None)
    }

    /// Sends a technician to a call and writes down every step.
    ///
    /// # Errors
    /// As [`Self::visit`].
    pub fn trace(&self, case: &Case<'m>, strategy: Strategy) -> Result<(Visit, Trace), RehearsalError> {
        let mut trace = Trace::of(case);
        let visit = self.send(case, strategy, Some(&mut trace))?;
        Ok((visit, trace))
    }

    fn send(&self, case: &Case<'m>, strategy: Strategy, trace: Option<&mut Trace>) -> Result<Visit, RehearsalError> {
        let settings = &self.settings;
        let tool = |policy, decisions| Tool::new(&self.prior, &case.complaint.all(), settings, policy, decisions);
        let visit = match strategy {
            Strategy::Tool => visit::make(case, settings, &mut tool(Policy::Advice, &self.tool), trace)?,
            Strategy::ValueOfInformation => {
                visit::make(case, settings, &mut tool(Policy::ValueOfInformation, &self.value), trace)?
            }
            Strategy::Checklist => {
                let missing = || RehearsalError::NoChecklist(self.predictor.machine().id.clone());
                let checklist = self.checklist.as_ref().ok_or_else(missing)?;
                visit::make(case, settings, &mut Flowchart::new(checklist, &case.complaint), trace)?
            }
        };
        Ok(visit)
    }
}
