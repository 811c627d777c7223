//! One call told step by step, for whoever wants to see why it went as it did.

use crate::Case;
use crate::technician::Event;
use crate::visit::End;
use diagnosis::{Measured, words};
use machine::Machine;
use machine::model::{FaultId, StateId};
use prediction::{Quantity, Reading, Seen};
use quantity::show;
use repair::advise::points;
use repair::{Act, Hands};
use std::fmt;

/// One call, told.
#[derive(Clone, Debug)]
pub struct Trace {
    /// Seed of the call.
    pub seed: u64,
    /// The truth: the faults by id.
    pub truth: Vec<String>,
    /// What the customer said.
    pub complaint: Vec<String>,
    /// The steps.
    pub lines: Vec<Line>,
    /// How it ended.
    pub end: String,
}

/// One step.
#[derive(Clone, Debug)]
pub struct Line {
    /// Minutes since arrival when it was begun (for a repair: when it was got to).
    pub minutes: f64,
    /// What was done.
    pub act: String,
    /// What came of it.
    pub shown: String,
    /// The likeliest suspects then, with their shares.
    pub belief: Vec<(String, f64)>,
}

impl Trace {
    pub(crate) fn of(case: &Case<'_>) -> Self {
        let machine = case.unit.machine();
        let said = case
            .complaint
            .all()
            .into_iter()
            .map(|seen| format!("{} ({})", words::seen(machine, seen), machine.states[seen.state.index()].say));
        let complaint = said.collect();
        Self {
            seed: case.seed,
            truth: ids(machine, &case.unit.faults()),
            complaint,
            lines: Vec::new(),
            end: String::new(),
        }
    }

    pub(crate) fn asked(&mut self, machine: &Machine, state: StateId, answers: &[Seen]) {
        let said: Vec<String> = answers.iter().map(|&seen| words::seen(machine, seen)).collect();
        let said = if said.is_empty() { "does not know".to_owned() } else { said.join(", ") };
        self.complaint.push(format!("asked about {}: {said}", machine.states[state.index()].say));
    }

    pub(crate) fn line(
        &mut self,
        machine: &Machine,
        minutes: f64,
        act: &Act,
        event: &Event,
        belief: Vec<(String, f64)>,
    ) {
        self.lines.push(Line { minutes, act: doing(machine, act), shown: outcome(machine, event), belief });
    }

    pub(crate) fn end(&mut self, machine: &Machine, minutes: f64, act: &Act, shown: &str, belief: Vec<(String, f64)>) {
        self.lines.push(Line { minutes, act: doing(machine, act), shown: shown.to_owned(), belief });
    }

    pub(crate) fn close(&mut self, end: End, right: bool, minutes: f64, machine: &Machine, left: &[FaultId]) {
        let verdict = if right { "right" } else { "WRONG" };
        let end = match end {
            End::ReferredWith(repair) => format!("referred with {}", machine.repairs[repair.index()].id),
            End::Proved => "proved".to_owned(),
            End::Explained => "explained".to_owned(),
            End::Referred => "referred".to_owned(),
            End::Waiting => "not ended".to_owned(),
        };
        self.end = format!("{end}, {verdict}, {minutes:.1} minutes, faults left: {:?}", ids(machine, left));
    }
}

fn ids(machine: &Machine, faults: &[FaultId]) -> Vec<String> {
    faults.iter().map(|fault| machine.faults[fault.index()].id.clone()).collect()
}

fn doing(machine: &Machine, act: &Act) -> String {
    match act {
        Act::Read(reading, hands) => read(machine, reading, *hands),
        Act::Look(part) => format!("look at the {}", machine.parts[part.index()].name),
        Act::Try(state) => format!("run it: {}", machine.states[state.index()].say),
        Act::Change(repair) => machine.repairs[repair.index()].say.clone(),
        Act::Explain => "explain the use".to_owned(),
        Act::Refer => "refer it".to_owned(),
    }
}

fn read(machine: &Machine, reading: &Reading, hands: Hands) -> String {
    let what = match reading.quantity {
        Quantity::Volts => "volts",
        Quantity::Ohms => "ohms",
        Quantity::Amps => "amps",
        Quantity::Farads => "farads",
    };
    let condition = &reading.condition;
    let state = &machine.states[condition.state.index()].say;
    let how = match hands {
        Hands::Isolated if condition.state == StateId(0) => "unplugged".to_owned(),
        Hands::Isolated => format!("unplugged, controls as for: {state}"),
        Hands::Supply => "at the supply".to_owned(),
        Hands::Clipped => format!("clipped on, running: {state}"),
    };
    let lifted = condition.lifted.iter().map(|lead| format!(", {} off", machine.branches[lead.index()].name));
    format!("{what} {}, {how}{}", points(machine, reading).join(" to "), lifted.collect::<String>())
}

fn outcome(machine: &Machine, event: &Event) -> String {
    match event {
        Event::Read { reading, measured } => match measured {
            Measured::Value(value) => show(*value, reading.quantity.unit()),
            Measured::OverRange => "OL".to_owned(),
        },
        Event::Looked { damage: true, like, .. } => {
            let seen: Vec<&str> = like.iter().map(|fault| machine.faults[fault.index()].say.as_str()).collect();
            if seen.is_empty() { "looks damaged".to_owned() } else { format!("looks damaged: {}", seen.join(" or ")) }
        }
        Event::Looked { .. } => "looks sound".to_owned(),
        Event::Answered(seen) | Event::Watched { seen, .. } => {
            seen.iter().map(|&seen| words::seen(machine, seen)).collect::<Vec<_>>().join(", ")
        }
        Event::Repaired(_) => "done".to_owned(),
        Event::Tried { works } => if *works { "works" } else { "does not work" }.to_owned(),
        Event::ProofFails(_) => "a proof fails".to_owned(),
        Event::ProofFailed(_) => "the final run fails".to_owned(),
    }
}

impl fmt::Display for Trace {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "call {}: {}", self.seed, self.truth.join(" + "))?;
        writeln!(f, "  says: {}", self.complaint.join("; "))?;
        for line in &self.lines {
            writeln!(f, "  {:6.1}  {} -> {}", line.minutes, line.act, line.shown)?;
            for (suspect, share) in &line.belief {
                writeln!(f, "              {:5.1} % {suspect}", 100.0 * share)?;
            }
        }
        writeln!(f, "  {}", self.end)
    }
}
