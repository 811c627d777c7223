//! Rehearsed calls: the tool, its rivals and the all-knowing technician on the same hidden faults.
//!
//! [`rehearse`] draws units from `truth`, lets each technician find the trouble, and reports what it took. Every
//! technician meets the same units, the same meter, the same covers and prices and the same stop rule; the
//! [`ledger::Ledger`] that counts the minutes is written apart from the planner. [`Rehearsal::trace`] tells one call
//! step by step.

mod calibration;
mod checklist;
mod complaint;
mod dangers;
mod hands;
mod knowing;
pub mod ledger;
mod misdescribed;
mod paired;
mod planted;
pub mod practice;
mod reading;
mod report;
mod safety;
mod settings;
mod technician;
mod trace;
mod van;
mod visit;

pub use calibration::{Bin, Calibration};
pub use checklist::{Checklist, ChecklistError};
pub use complaint::{Complaint, Saying, complaint};
pub use dangers::Dangers;
pub use hands::Hand;
pub use knowing::{all_knowing_minutes, confirming_minutes};
pub use misdescribed::{Misdescribed, Said, misdescribed};
pub use paired::Paired;
pub use planted::{Planted, PlantedEnd, ToldBy, told_by};
pub use reading::shown;
pub use report::{Gathered, Measures, PairedRivals, Report, Rivals};
pub use safety::{Violation, Watch};
pub use settings::Settings;
pub use technician::{Event, Move, Technician};
pub use trace::{Line, Trace};
pub use van::Van;
pub use visit::{Claim, End, Visit, WORTH_STATING};

use diagnosis::Belief;
use machine::Machine;
use machine::model::FaultId;
use prediction::{Meter, Predictor};
use repair::plan::ProblemError;
use std::collections::BTreeMap;
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
    /// The likeliest part changed first, nothing read of his own accord.
    LikeliestPartFirst,
    /// Most information, cost ignored when choosing (but paid).
    Information,
    /// Most information for a minute.
    InformationPerMinute,
    /// The frozen flowchart.
    Checklist,
}

impl Strategy {
    /// All, the tool first.
    pub const ALL: [Self; 6] = [
        Self::Tool,
        Self::Checklist,
        Self::ValueOfInformation,
        Self::LikeliestPartFirst,
        Self::Information,
        Self::InformationPerMinute,
    ];

    /// Gives the name in tables.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Tool => "tool",
            Self::Checklist => "checklist",
            Self::ValueOfInformation => "value of inf.",
            Self::LikeliestPartFirst => "likeliest part",
            Self::Information => "information",
            Self::InformationPerMinute => "inf. per minute",
        }
    }
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
    Ok(gather(machine, calls, seed, settings, &Strategy::ALL, &mut |_| ())?.report())
}

/// Rehearses so many calls with these technicians and gives every visit; `done` is told how many calls are through.
///
/// # Errors
/// As [`rehearse`].
pub fn gather<'m>(
    machine: &'m Machine,
    calls: usize,
    seed: u64,
    settings: &Settings,
    who: &[Strategy],
    done: &mut dyn FnMut(usize),
) -> Result<Gathered<'m>, RehearsalError> {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, seed, settings.clone())?;
    let van = settings.van.clone().unwrap_or_else(|| Van::as_described(machine));
    let mut gathered = Gathered::new(machine, seed, van);
    for call in 0..calls {
        let case = rehearsal.case(rehearsal.call_seed(call));
        let called_for = case.called_for();
        gathered.all_knowing.push(all_knowing_minutes(&called_for, &settings.prices));
        gathered.confirming.push(confirming_minutes(&called_for, &settings.prices));
        for &strategy in who {
            if strategy != Strategy::Checklist || rehearsal.has_checklist() {
                let visit = rehearsal.visit(&case, strategy)?;
                gathered.visits.entry(strategy).or_default().push(visit);
            }
        }
        done(call + 1);
    }
    Ok(gathered)
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
    /// The unrelated dangerous fault that was planted, if one was.
    pub planted: Option<FaultId>,
}

impl<'m> Case<'m> {
    /// Gives the unit without the planted fault: what the call is for.
    #[must_use]
    pub fn called_for(&self) -> Unit<'m> {
        self.planted.map_or_else(|| self.unit.clone(), |fault| self.unit.without(fault))
    }
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
    decisions: BTreeMap<Strategy, Decisions>,
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
        let workshop = Workshop::new(machine);
        if settings.weights_known {
            let weights = (0..).map(FaultId).zip(workshop.disturbed(&settings.draw));
            settings.assumptions.weights = weights.collect();
        }
        let prior = Belief::new(predictor, settings.assumptions.clone());
        let decisions = Strategy::ALL.into_iter().map(|strategy| (strategy, Decisions::default())).collect();
        Ok(Self { predictor, workshop, checklist, settings, seed, prior, decisions })
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
        let called_for = self.workshop.draw(seed, &self.settings.draw);
        // He calls for what he called for: the planted fault is none of it.
        let complaint = complaint(&called_for, seed, &self.settings.saying);
        let planted = self.workshop.plant(&called_for, &self.settings.draw, self.settings.planted);
        let (unit, planted) = planted.map_or((called_for, None), |(unit, fault)| (unit, Some(fault)));
        Case { seed, unit, complaint, planted }
    }

    /// Draws the call of a seed on a unit that is not as described.
    #[must_use]
    pub fn misdescribed_case(&self, seed: u64) -> Case<'m> {
        let unit = self.workshop.misdescribed(seed, &self.settings.draw);
        let complaint = complaint(&unit, seed, &self.settings.saying);
        Case { seed, unit, complaint, planted: None }
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
        let policy = match strategy {
            Strategy::Tool => Policy::Advice,
            Strategy::ValueOfInformation => Policy::ValueOfInformation,
            Strategy::LikeliestPartFirst => Policy::LikeliestPartFirst,
            Strategy::Information => Policy::Information,
            Strategy::InformationPerMinute => Policy::InformationPerMinute,
            Strategy::Checklist => {
                let missing = || RehearsalError::NoChecklist(self.predictor.machine().id.clone());
                let checklist = self.checklist.as_ref().ok_or_else(missing)?;
                return Ok(visit::make(
                    case,
                    self.predictor,
                    settings,
                    &mut Flowchart::new(checklist, &case.complaint),
                    trace,
                )?);
            }
        };
        let decisions = &self.decisions[&strategy];
        let mut tool = Tool::new(&self.prior, &case.complaint, settings, policy, decisions);
        Ok(visit::make(case, self.predictor, settings, &mut tool, trace)?)
    }
}
