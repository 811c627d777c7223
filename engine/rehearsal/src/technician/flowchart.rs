//! The technician who follows the frozen checklist, by the rules in docs/checklist-format.md.

use super::{Event, Move, Technician};
use crate::checklist::{Checklist, Doing, Fits};
use crate::complaint::Complaint;
use diagnosis::Measured;
use machine::model::FaultId;
use repair::plan::ProblemError;
use repair::{Act, Bench};
use std::collections::BTreeMap;

/// Takings after which a step ends in referring.
const MOST_TAKINGS: u32 = 2;

/// One call by the checklist.
#[derive(Debug)]
pub(crate) struct Flowchart<'c> {
    checklist: &'c Checklist,
    /// The step that comes next; `None` for the proofs.
    at: Option<usize>,
    /// A step was taken too often.
    lost: bool,
    taken: BTreeMap<usize, u32>,
    /// The repair decided on and not done yet, while a board's evidence is gathered.
    at_repair: Option<usize>,
}

impl<'c> Flowchart<'c> {
    pub(crate) fn new(checklist: &'c Checklist, complaint: &Complaint) -> Self {
        let at = checklist.start(&complaint.troubles, &complaint.all());
        Self { checklist, at, lost: false, taken: BTreeMap::new(), at_repair: None }
    }

    /// Goes by the first branch that fits, else by the step's `else`.
    fn go(&mut self, fits: impl Fn(&Fits) -> bool) {
        let Some(step) = self.at.map(|at| &self.checklist.steps[at]) else { return };
        let branch = step.go.iter().find(|branch| fits(&branch.fits));
        self.at = branch.map_or(step.otherwise, |branch| branch.to);
    }
}

impl Technician for Flowchart<'_> {
    fn next(&mut self, bench: &Bench) -> Result<Move, ProblemError> {
        while let Some(at) = self.at.filter(|_| !self.lost) {
            let step = &self.checklist.steps[at];
            if let Doing::Act(Act::Change(repair)) = &step.doing
                && bench.repaired.contains(repair)
            {
                // What was done already is not done again. Ring of such steps: each visit counts as a taking.
                self.lost = self.count(at);
                self.at = step.otherwise;
                continue;
            }
            if self.at_repair != Some(at) {
                self.lost = self.count(at);
            }
            self.at_repair = matches!(step.doing, Doing::Act(Act::Change(_))).then_some(at);
            match &step.doing {
                _ if self.lost => break,
                Doing::Act(act) => return Ok(Move::Do(act.clone())),
                Doing::Refer => return Ok(Move::Do(Act::Refer)),
            }
        }
        Ok(if self.lost { Move::Do(Act::Refer) } else { Move::Prove })
    }

    fn learn(&mut self, event: &Event) {
        let asked_for = match (self.at.map(|at| &self.checklist.steps[at].doing), event) {
            (Some(Doing::Act(Act::Read(..))), Event::Read { .. }) => true,
            (Some(Doing::Act(Act::Try(_))), Event::Watched { .. }) => true,
            (_, Event::Read { .. } | Event::Watched { .. }) => false,
            _ => true,
        };
        if !asked_for {
            // Seen in passing, or read because a board was owed it: the flowchart goes by its own steps alone.
            return;
        }
        match event {
            Event::Read { measured, .. } => {
                let value = match measured {
                    Measured::Value(value) => *value,
                    Measured::OverRange => f64::INFINITY,
                };
                // Over-range lies above every limit, below none.
                self.go(|fits| matches!(fits, Fits::Value { above, below } if value > *above && (value < *below || below.is_infinite())));
            }
            Event::Looked { like, .. } => self.go(|fits| matches!(fits, Fits::Shows(fault) if has(like, *fault))),
            Event::Watched { seen, .. } => {
                self.go(|fits| {
                    matches!(fits, Fits::Seen { what, values } if
                    seen.iter().any(|s| s.what == *what && values.contains(&s.value)))
                });
            }
            Event::Tried { works } => {
                let Some(step) = self.at.map(|at| &self.checklist.steps[at]) else { return };
                self.at = if *works { step.helped } else { step.otherwise };
            }
            Event::ProofFailed(seen) => self.at = self.checklist.start(seen, seen),
            // No chart starts at a proof: he disconnects it and hands it on.
            Event::ProofFails(_) => self.lost = true,
            Event::Repaired(_) | Event::Answered(_) => {}
        }
    }

    fn top(&mut self, _count: usize) -> Vec<(String, f64)> {
        self.at.map(|at| (format!("step {}", self.checklist.steps[at].label), 1.0)).into_iter().collect()
    }
}

impl Flowchart<'_> {
    fn count(&mut self, step: usize) -> bool {
        let taken = self.taken.entry(step).or_default();
        *taken += 1;
        *taken > MOST_TAKINGS
    }
}

fn has(list: &[FaultId], fault: FaultId) -> bool {
    list.contains(&fault)
}
