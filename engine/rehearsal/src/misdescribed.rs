//! Calls on units that are not as described: does the tool say that nothing described explains before a part is
//! changed for nothing, and does it keep quiet on units that are as described?

use crate::settings::Settings;
use crate::technician::{Decisions, Event, Move, Policy, Technician, Tool};
use crate::{Case, Rehearsal, RehearsalError, visit};
use diagnosis::ReadsAs;
use machine::Machine;
use machine::faults::RepairKind;
use machine::model::{RepairId, StateId};
use prediction::{Meter, Predictor};
use repair::Bench;
use repair::plan::ProblemError;
use truth::Unit;

/// What came of one call, as far as saying so goes.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Said {
    /// Seed of the call.
    pub seed: u64,
    /// What differs from the description, in words; `None` for a unit as described.
    pub peculiarity: Option<String>,
    /// Its hidden faults, as `PART:MODE`.
    pub faults: Vec<String>,
    /// By the description alone a part is changed (or a lead mended) that had nothing.
    pub misled: bool,
    /// The tool said that nothing described explains what was found.
    pub unexplained: bool,
    /// What it then said that everything reads as if, likeliest first; empty where no single difference explains.
    pub told: Vec<String>,
    /// A part that differs can be named: a lead too many is no part.
    pub nameable: bool,
    /// One of what was told is about a part that differs.
    pub named: bool,
    /// The tool too changed a part that had nothing.
    pub wrong_part: bool,
    /// The tool said so, and not after it had changed a part that had nothing.
    pub said_first: bool,
}

/// How often it was said, on units that are not as described and on units that are.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Misdescribed {
    /// Calls of each kind.
    pub calls: usize,
    /// Misdescribed: calls in which the description alone changes a wrong part.
    pub misled: usize,
    /// Of those: the tool first says that nothing described explains.
    pub said_first: usize,
    /// Of those: the tool changes no wrong part.
    pub spared: usize,
    /// Misdescribed: it was said at all.
    pub said: usize,
    /// Of those: it could name a single difference that explains.
    pub told: usize,
    /// Of those: what differs is a part (a lead too many is none).
    pub nameable: usize,
    /// Of those: it was among the first three.
    pub named: usize,
    /// Misdescribed: calls in which the tool changes a wrong part.
    pub wrong_part: usize,
    /// As described: it was said at all, for nothing.
    pub said_for_nothing: usize,
    /// As described: calls in which the tool changes a wrong part.
    pub wrong_part_described: usize,
}

impl Misdescribed {
    /// Gives the counts as lines to read.
    #[must_use]
    pub fn table(&self) -> String {
        let rows = [
            ("calls of each kind", self.calls),
            ("not as described: the description alone changes a wrong part", self.misled),
            ("  of these: first said that nothing described explains", self.said_first),
            ("  of these: no wrong part is changed", self.spared),
            ("not as described: said at all", self.said),
            ("  of these: a single difference explains", self.told),
            ("  of these: what differs is a part", self.nameable),
            ("  of these: it is among the first three told", self.named),
            ("not as described: a wrong part is changed all the same", self.wrong_part),
            ("as described: said for nothing", self.said_for_nothing),
            ("as described: a wrong part is changed", self.wrong_part_described),
        ];
        rows.map(|(what, count)| format!("{what:<62} {count:>5}")).join("\n")
    }
}

/// Plays so many calls on misdescribed units and as many on units as described; `each` is told of every one.
///
/// # Errors
/// As [`crate::rehearse`].
pub fn misdescribed(
    machine: &Machine,
    calls: usize,
    seed: u64,
    settings: &Settings,
    each: &mut dyn FnMut(&Said),
) -> Result<Misdescribed, RehearsalError> {
    let predictor = Predictor::new(machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, seed, settings.clone())?;
    let mut report = Misdescribed { calls, ..Misdescribed::default() };
    for call in 0..calls {
        let seed = rehearsal.call_seed(call);
        let said = rehearsal.said(&rehearsal.misdescribed_case(seed))?;
        each(&said);
        report.said += usize::from(said.unexplained);
        report.told += usize::from(!said.told.is_empty());
        report.nameable += usize::from(said.nameable && !said.told.is_empty());
        report.named += usize::from(said.named);
        report.wrong_part += usize::from(said.wrong_part);
        report.misled += usize::from(said.misled);
        report.said_first += usize::from(said.misled && said.said_first);
        report.spared += usize::from(said.misled && !said.wrong_part);
        let said = rehearsal.said(&rehearsal.case(seed))?;
        each(&said);
        report.said_for_nothing += usize::from(said.unexplained);
        report.wrong_part_described += usize::from(said.wrong_part);
    }
    Ok(report)
}

impl<'m> Rehearsal<'_, 'm> {
    /// Sends to a call the tool, and, where the unit is not as described, one who trusts the description.
    fn said(&self, case: &Case<'m>) -> Result<Said, RehearsalError> {
        let misled = case.unit.peculiarity().is_some() && {
            let trusting = self.listen(case, Policy::DescriptionAlone)?;
            first_wrong(&case.unit, &trusting.changed).is_some()
        };
        let heard = self.listen(case, Policy::Advice)?;
        let wrong = first_wrong(&case.unit, &heard.changed);
        Ok(Said {
            seed: case.seed,
            peculiarity: case.unit.peculiarity().map(|peculiarity| peculiarity.say.clone()),
            faults: case.unit.faults().iter().map(|fault| self.predictor.machine()[*fault].id.clone()).collect(),
            misled,
            unexplained: heard.said,
            nameable: case.unit.peculiarity().is_some_and(|peculiarity| !peculiarity.parts.is_empty()),
            named: heard.told.iter().any(|told| names(&case.unit, told)),
            told: heard.told.into_iter().map(|told| told.say).collect(),
            wrong_part: wrong.is_some(),
            said_first: wrong.map_or(heard.said, |at| heard.changed[at].1),
        })
    }

    fn listen(&self, case: &Case<'m>, policy: Policy) -> Result<Heard, RehearsalError> {
        let decisions = Decisions::default();
        let tool = Tool::new(&self.prior, &case.complaint, &self.settings, policy, &decisions);
        let mut listener = Listener { tool, heard: Heard::default() };
        visit::make(case, self.predictor, &self.settings, &mut listener, None)?;
        Ok(listener.heard)
    }
}

/// What was heard of the tool on one call.
#[derive(Clone, Debug, Default)]
struct Heard {
    said: bool,
    /// What it said when it first said so.
    told: Vec<ReadsAs>,
    /// Repairs done, each with whether it had been said by then.
    changed: Vec<(RepairId, bool)>,
}

/// Says whether what was told is about a part that differs.
fn names(unit: &Unit<'_>, told: &ReadsAs) -> bool {
    let Some(peculiarity) = unit.peculiarity() else { return false };
    told.parts.iter().any(|part| peculiarity.parts.contains(part))
}

/// Gives the first change that cured nothing and touched nothing peculiar.
fn first_wrong(unit: &Unit<'_>, changed: &[(RepairId, bool)]) -> Option<usize> {
    let mut unit = unit.clone();
    changed.iter().position(|(repair, _)| {
        let described = &unit.machine().repairs[repair.index()];
        let costs_a_part = !matches!(described.kind, RepairKind::Clean | RepairKind::Refer);
        let peculiar = unit.peculiarity().is_some();
        let came = unit.repair(*repair);
        let put_right = peculiar && unit.peculiarity().is_none();
        costs_a_part && came.cured.is_empty() && !came.bad_part && !put_right
    })
}

/// The tool, with someone who listens to what it says of the description.
struct Listener<'r, 'p, 'm> {
    tool: Tool<'r, 'p, 'm>,
    heard: Heard,
}

impl Technician for Listener<'_, '_, '_> {
    fn next(&mut self, bench: &Bench) -> Result<Move, ProblemError> {
        if !self.heard.said
            && let Some(told) = self.tool.reads_as()
        {
            self.heard.said = true;
            self.heard.told = told;
        }
        self.tool.next(bench)
    }

    fn ask(&mut self, asked: &[StateId]) -> Option<StateId> {
        self.tool.ask(asked)
    }

    fn learn(&mut self, event: &Event) {
        if let Event::Repaired(repair) = event {
            self.heard.changed.push((*repair, self.heard.said));
        }
        self.tool.learn(event);
    }

    fn top(&mut self, count: usize) -> Vec<(String, f64)> {
        self.tool.top(count)
    }
}
