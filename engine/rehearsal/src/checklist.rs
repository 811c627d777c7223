//! The frozen checklist: read from TOML, its names looked up in the machine. Format: docs/checklist-format.md.

mod raw;

use machine::Machine;
use machine::model::{FaultId, ObservationId, PartKind, StateId, TerminalId};
use prediction::{Condition, Probe, Quantity, Reading, Seen};
use raw::{Branch as RawBranch, File, Step as RawStep};
use repair::{Act, Hands};
use std::collections::BTreeMap;
use std::fmt;

/// A checklist of one machine.
#[derive(Clone, Debug)]
pub struct Checklist {
    complaints: Vec<Entry>,
    pub(crate) steps: Vec<Step>,
}

/// A complaint and where it leads.
#[derive(Clone, Debug)]
struct Entry {
    when: Vec<(ObservationId, StateId, Vec<u8>)>,
    start: Option<usize>,
}

/// One step.
#[derive(Clone, Debug)]
pub(crate) struct Step {
    pub(crate) label: String,
    pub(crate) doing: Doing,
    pub(crate) go: Vec<Branch>,
    /// Where nothing fits, or a repair did not help; `None` for the proofs.
    pub(crate) otherwise: Option<usize>,
    /// Where a repair helped; `None` for the proofs.
    pub(crate) helped: Option<usize>,
}

/// What a step does.
#[derive(Clone, Debug)]
pub(crate) enum Doing {
    Act(Act),
    Refer,
}

/// Where an outcome leads; `None` for the proofs.
#[derive(Clone, Debug)]
pub(crate) struct Branch {
    pub(crate) fits: Fits,
    pub(crate) to: Option<usize>,
}

/// An outcome.
#[derive(Clone, Debug)]
pub(crate) enum Fits {
    Value { above: f64, below: f64 },
    Shows(FaultId),
    Seen { what: ObservationId, values: Vec<u8> },
}

/// Everything that does not fit together in a checklist.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChecklistError(pub Vec<String>);

impl fmt::Display for ChecklistError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the checklist cannot be followed: {}", self.0.join("; "))
    }
}

impl std::error::Error for ChecklistError {}

/// Gives the text of the checklist shipped for a machine.
pub(crate) fn shipped(machine: &str) -> Option<&'static str> {
    match machine {
        "dryer-timer-240" => Some(include_str!("../checklists/dryer-timer-240.toml")),
        "range-control-240" => Some(include_str!("../checklists/range-control-240.toml")),
        _ => None,
    }
}

impl Checklist {
    /// Reads a checklist against its machine.
    ///
    /// # Errors
    /// Every name, label and step that does not fit, at once; text that is not TOML alone.
    pub fn read(machine: &Machine, text: &str) -> Result<Self, ChecklistError> {
        let file: File = toml::from_str(text).map_err(|error| ChecklistError(vec![error.message().to_owned()]))?;
        let labels = file.step.keys().zip(0..).map(|(label, index)| (label.as_str(), index)).collect();
        let mut lowering = Lowering { machine, labels, mistakes: Vec::new() };
        if file.checklist != 1 || file.machine != machine.id {
            lowering.mistakes.push(format!("version {} for `{}`", file.checklist, file.machine));
        }
        let complaints: Vec<Entry> = file.complaint.iter().map(|complaint| lowering.entry(complaint)).collect();
        if file.complaint.last().is_none_or(|last| !last.when.is_empty()) {
            lowering.mistakes.push("the last complaint must fit anything".to_owned());
        }
        let steps = file.step.iter().filter_map(|(label, step)| lowering.step(label, step)).collect();
        if lowering.mistakes.is_empty() {
            Ok(Self { complaints, steps })
        } else {
            Err(ChecklistError(lowering.mistakes))
        }
    }

    /// Gives the first step for what was said or seen; `None` for the proofs.
    ///
    /// Of the complaints that fit, those come first that speak of a trouble he was called for: what a customer says
    /// beside it, rightly or wrongly, decides only between them.
    pub(crate) fn start(&self, troubles: &[Seen], all: &[Seen]) -> Option<usize> {
        let named = |seen: &[Seen], (what, state, values): &(ObservationId, StateId, Vec<u8>)| {
            seen.iter().any(|s| s.what == *what && s.state == *state && values.contains(&s.value))
        };
        let mut fit = self.complaints.iter().filter(|entry| entry.when.iter().all(|c| named(all, c)));
        let called_for = fit.clone().find(|entry| entry.when.iter().any(|c| named(troubles, c)));
        called_for.or_else(|| fit.next()).and_then(|entry| entry.start)
    }
}

/// Looks names up and gathers mistakes.
struct Lowering<'a> {
    machine: &'a Machine,
    labels: BTreeMap<&'a str, usize>,
    mistakes: Vec<String>,
}

impl Lowering<'_> {
    fn note<T, E: fmt::Display>(&mut self, found: Result<T, E>) -> Option<T> {
        found.map_err(|error| self.mistakes.push(error.to_string())).ok()
    }

    fn label(&mut self, label: &str) -> Option<usize> {
        if label == "proved" {
            return None;
        }
        let found = self.labels.get(label).copied();
        if found.is_none() {
            self.mistakes.push(format!("no step is called `{label}`"));
        }
        found
    }

    fn entry(&mut self, complaint: &raw::Complaint) -> Entry {
        let when = complaint.when.iter().filter_map(|condition| {
            let state = self.machine.state(&condition.state);
            let state = self.note(state)?;
            let (what, values) = self.values(&condition.observe, &condition.is)?;
            Some((what, state, values))
        });
        Entry { when: when.collect(), start: self.label(&complaint.start) }
    }

    fn values(&mut self, observe: &str, is: &[String]) -> Option<(ObservationId, Vec<u8>)> {
        let what = self.machine.observation(observe);
        let what = self.note(what)?;
        let known = &self.machine.observations[what.index()].values;
        let mut values = Vec::new();
        for value in is {
            match known.iter().zip(0..).find(|(v, _)| v.id == *value) {
                Some((_, index)) => values.push(index),
                None => self.mistakes.push(format!("`{observe}` is never `{value}`")),
            }
        }
        Some((what, values))
    }

    fn step(&mut self, label: &str, step: &RawStep) -> Option<Step> {
        let doing = self.doing(label, step);
        let go = step.go.iter().filter_map(|branch| self.branch(branch)).collect();
        let ends = step.refer.is_some();
        if step.otherwise.is_none() && !ends {
            self.mistakes.push(format!("step `{label}` has no `else`"));
        }
        let otherwise = step.otherwise.as_deref().and_then(|label| self.label(label));
        let helped = step.helped.as_deref().and_then(|label| self.label(label));
        Some(Step { label: label.to_owned(), doing: doing?, go, otherwise, helped })
    }

    fn doing(&mut self, label: &str, step: &RawStep) -> Option<Doing> {
        let machine = self.machine;
        match (&step.read, &step.look, &step.r#try, &step.repair, &step.refer) {
            (Some(read), None, None, None, None) => self.reading(read).map(Doing::Act),
            (None, Some(part), None, None, None) => self.note(machine.part(part)).map(|p| Doing::Act(Act::Look(p))),
            (None, None, Some(state), None, None) => self.note(machine.state(state)).map(|s| Doing::Act(Act::Try(s))),
            (None, None, None, Some(fault), None) => self
                .note(machine.fault(fault))
                .map(|fault| Doing::Act(Act::Change(machine.faults[fault.index()].repair))),
            (None, None, None, None, Some(_)) => Some(Doing::Refer),
            _ => {
                self.mistakes.push(format!("step `{label}` must do exactly one thing"));
                None
            }
        }
    }

    fn reading(&mut self, read: &raw::Read) -> Option<Act> {
        let state = self.note(self.machine.state(&read.state))?;
        let (quantity, points) = match (&read.ohms, &read.volts) {
            (Some(points), None) => (Quantity::Ohms, points),
            (None, Some(points)) => (Quantity::Volts, points),
            _ => {
                self.mistakes.push("a reading is either `ohms` or `volts`".to_owned());
                return None;
            }
        };
        let a = self.note(self.machine.terminal(&points[0]));
        let b = self.note(self.machine.terminal(&points[1]));
        let (a, b) = (a?, b?);
        let lifted: Vec<_> = read.lift.iter().filter_map(|lead| self.note(self.machine.branch(lead))).collect();
        let supply = self.slot(a) && self.slot(b);
        let (plugged, hands) = match quantity {
            Quantity::Volts if supply => (false, Hands::Supply),
            Quantity::Volts => (true, Hands::Clipped),
            _ => (false, Hands::Isolated),
        };
        let probe = Probe::Across(a.min(b), a.max(b));
        Some(Act::Read(Reading { quantity, probe, condition: Condition { state, plugged, lifted } }, hands))
    }

    /// A slot of the receptacle is read with the plug out.
    fn slot(&self, terminal: TerminalId) -> bool {
        let part = self.machine.terminals[terminal.index()].part;
        self.machine.parts[part.index()].kind == PartKind::Receptacle
    }

    fn branch(&mut self, branch: &RawBranch) -> Option<Branch> {
        let fits = match branch {
            RawBranch { above, below, shows: None, observe: None, .. } if above.is_some() || below.is_some() => {
                Fits::Value { above: above.unwrap_or(f64::NEG_INFINITY), below: below.unwrap_or(f64::INFINITY) }
            }
            RawBranch { shows: Some(fault), observe: None, .. } => Fits::Shows(self.note(self.machine.fault(fault))?),
            RawBranch { observe: Some(observe), shows: None, .. } => {
                let (what, values) = self.values(observe, &branch.is)?;
                Fits::Seen { what, values }
            }
            _ => {
                self.mistakes.push(format!("a way to `{}` needs `above`, `below`, `shows` or `observe`", branch.to));
                return None;
            }
        };
        Some(Branch { fits, to: self.label(&branch.to) })
    }
}
