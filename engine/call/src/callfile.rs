//! A call's record as a text file: what was reported, found and done, in order. See docs/call-format.md.
//!
//! Every mistake is reported at once with its place. Knows nothing of files or of screens.

mod names;
mod text;

use crate::callfile::names::Names;
use diagnosis::{Assumptions, Evidence};
use machine::Diagnostic;
use machine::faults::Fault;
use machine::model::{FaultId, Machine, PartKind, StateId};
use prediction::{Predictor, Seen};
use repair::Bench;
use std::collections::BTreeMap;
use text::{Form, Found};

pub use text::machine_of;

/// A call as recorded.
#[derive(Clone, Debug)]
pub struct Recorded {
    /// The evidence in order, the reports first.
    pub evidence: Vec<Evidence>,
    /// How the machine stands now.
    stands: Bench,
    /// What is known of the appliance.
    pub appliance: Appliance,
}

/// What was asked about the appliance at intake.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Appliance {
    /// Age in years, if known.
    pub age_years: Option<f64>,
    /// Who worked on it last, if anyone.
    pub touched: Option<Touched>,
}

/// Who worked on an appliance last.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touched {
    /// The owner or a friend.
    Owner,
    /// A technician.
    Technician,
    /// Whoever installed or moved it.
    Mover,
}

/// How many times likelier a lead or joint has come off after someone worked on the machine; common practice, no source.
const TOUCHED_LEADS: f64 = 5.0;
/// How many times likelier the installation is at fault after a move; common practice, no source.
const MOVED_INSTALLATION: f64 = 4.0;

impl Appliance {
    /// Gives the weights of faults that are others for such an appliance than its description has, by age and by who touched it.
    #[must_use]
    pub fn weights(&self, machine: &Machine) -> BTreeMap<FaultId, f64> {
        let of = |(id, fault): (FaultId, &Fault)| {
            let part = &machine.parts[fault.part.index()];
            let wiring = matches!(part.kind, PartKind::Lead | PartKind::Joint | PartKind::Connector);
            let times = match self.touched {
                Some(Touched::Owner | Touched::Technician) if wiring => TOUCHED_LEADS,
                Some(Touched::Mover) if part.installation => MOVED_INSTALLATION,
                _ => 1.0,
            };
            let weight = fault.weight_at(self.age_years) * times;
            (weight.to_bits() != fault.weight.to_bits()).then_some((id, weight))
        };
        (0..).map(FaultId).zip(&machine.faults).filter_map(of).collect()
    }
}

impl Recorded {
    /// Gives the weights of faults that are others for this appliance than its description has.
    #[must_use]
    pub fn weights(&self, machine: &Machine) -> BTreeMap<FaultId, f64> {
        self.appliance.weights(machine)
    }

    /// Gives what is assumed before any evidence for this appliance.
    #[must_use]
    pub fn assumptions(&self, machine: &Machine) -> Assumptions {
        Assumptions { weights: self.weights(machine), ..Assumptions::default() }
    }

    /// Gives how the machine stands: what the record says, and what follows from the evidence since the last repair.
    #[must_use]
    pub fn bench(&self, predictor: &Predictor<'_>) -> Bench {
        let machine = predictor.machine();
        let mut bench = self.stands.clone();
        for item in &self.evidence {
            note(predictor, &mut bench, item);
        }
        if bench.trouble.is_empty() && machine.states.len() > 1 {
            bench.trouble.push(StateId(1));
        }
        bench
    }
}

/// Notes on the bench what an item of evidence did there.
pub fn note(predictor: &Predictor<'_>, bench: &mut Bench, item: &Evidence) {
    let machine = predictor.machine();
    let amiss = |seen: &Seen| !predictor.is_sound(seen);
    match item {
        Evidence::Reported(seen) | Evidence::Answered(seen) if amiss(seen) => trouble(bench, seen.state),
        Evidence::Reported(_) | Evidence::Answered(_) => {}
        Evidence::Watched(seen) => {
            bench.watched.insert(seen.state);
            if amiss(seen) {
                trouble(bench, seen.state);
            }
        }
        Evidence::Read { reading, .. } => {
            bench.read.push(reading.clone());
        }
        Evidence::Looked { part, .. } => {
            bench.looked.insert(*part);
        }
        Evidence::Repaired(repair) => {
            bench.repaired.push(*repair);
            bench.read.clear();
            bench.watched.clear();
            bench.looked.remove(&machine.repairs[repair.index()].part);
        }
        Evidence::Stirred(_) => {
            // What was read and seen may be otherwise now.
            bench.read.clear();
            bench.watched.clear();
        }
        Evidence::ComesAndGoes(_) | Evidence::Opinion { .. } | Evidence::Warmed { .. } | Evidence::Built { .. } => {}
    }
}

fn trouble(bench: &mut Bench, state: StateId) {
    if !bench.trouble.contains(&state) {
        bench.trouble.push(state);
    }
}

/// Reads a call's record against its machine.
///
/// # Errors
/// Every mistake, each with its place and its mend.
pub fn read_callfile(machine: &Machine, text: &str) -> Result<Recorded, Vec<Diagnostic>> {
    let form: Form = text::parse(text).map_err(|trouble| vec![trouble])?;
    let mut names = Names::new(machine, text);
    let mut evidence: Vec<Evidence> = form
        .reported
        .iter()
        .filter_map(|r| names.seen(&r.state, &r.observe, &r.value))
        .map(Evidence::Reported)
        .collect();
    for found in &form.found {
        names.found(found, &mut evidence);
    }
    if let Some(so) = form.comes_and_goes {
        evidence.insert(form.reported.len().min(evidence.len()), Evidence::ComesAndGoes(so));
    }
    let stands = names.bench(&form.bench);
    let touched = form.appliance.touched.as_ref().and_then(|word| names.touched(word));
    if names.troubles.is_empty() {
        let appliance = Appliance { age_years: form.appliance.age_years, touched };
        Ok(Recorded { evidence, stands, appliance })
    } else {
        Err(names.troubles)
    }
}

impl Found {
    /// Counts the things this item claims to be; it must be one.
    fn claims(&self) -> usize {
        [
            self.volts.is_some(),
            self.ohms.is_some(),
            self.farads.is_some(),
            self.amps.is_some(),
            self.temperature.is_some(),
            self.look.is_some(),
            self.r#try.is_some(),
            self.repaired.is_some(),
            self.unit.is_some(),
            self.opinion.is_some(),
            self.moved.is_some(),
            self.warmed,
            self.again,
        ]
        .into_iter()
        .filter(|claim| *claim)
        .count()
    }
}
