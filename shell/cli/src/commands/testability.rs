//! `callwright testability`: which faults no reading tells apart, and which further point would part them.

use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use diagnosis::words;
use machine::Machine;
use machine::model::{FaultId, TerminalId};
use prediction::{Meter, Predictor, Quantity, Reading};
use repair::testability::testability;
use serde_json::json;
use std::collections::BTreeSet;
use std::process::ExitCode;

pub(crate) fn run(name: &str, closed: &[String], meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let predictor = Predictor::new(&machine, *meter);
    let found = testability(&predictor, &points_in(&machine, closed)?);
    let id = |fault: &FaultId| machine[*fault].id.clone();
    if as_json {
        let twins = found.twins.iter().map(|twins| {
            json!({
                "faults": twins.faults.iter().map(id).collect::<Vec<_>>(),
                "a_look_shows": twins.look,
                "added": twins.added.as_ref().map(|reading| in_words(&machine, reading)),
            })
        });
        output::json(&json!({
            "machine": machine.id,
            "faults": found.faults,
            "silent": found.silent.iter().map(id).collect::<Vec<_>>(),
            "twins": twins.collect::<Vec<_>>(),
        }));
        return Ok(ExitCode::SUCCESS);
    }
    let said = |fault: &FaultId| format!("{} ({})", id(fault), machine.repairs[machine[*fault].repair.index()].say);
    output::line(&format!(
        "{}: {} faults, {} with which everything reads and runs as when sound, {} groups that nothing tells apart",
        machine.id,
        found.faults,
        found.silent.len(),
        found.twins.len()
    ));
    if !found.silent.is_empty() {
        output::line("Nothing shows these:");
        found.silent.iter().for_each(|fault| output::line(&format!("  {}", said(fault))));
    }
    for twins in &found.twins {
        output::line("Nothing offered tells these apart:");
        twins.faults.iter().for_each(|fault| output::line(&format!("  {}", said(fault))));
        if twins.look > 0.0 {
            output::line(&format!("  a look shows it in up to {:.0} % of cases", twins.look * 100.0));
        }
        output::line(&match &twins.added {
            Some(reading) => format!("  a further point parts them: {}", in_words(&machine, reading)),
            None => "  no further point would part them".to_owned(),
        });
    }
    Ok(ExitCode::SUCCESS)
}

fn in_words(machine: &Machine, reading: &Reading) -> String {
    let what = if reading.quantity == Quantity::Ohms { "ohms" } else { "volts" };
    let said = format!("{what}, {}, {}", words::probe(machine, reading.probe), words::condition(machine, reading));
    if reading.condition.plugged { format!("{said}; clipped on dead, read standing clear") } else { said }
}

/// Gives the points in places that stay closed.
fn points_in(machine: &Machine, closed: &[String]) -> Result<BTreeSet<TerminalId>, Failure> {
    let known: Vec<String> = machine.access.places.iter().map(|place| place.id.clone()).collect();
    let mut points = BTreeSet::new();
    for name in closed {
        let place = shelf::position(&known, name).ok_or_else(|| unknown("place", name, &known))?;
        let there =
            (0..).map(TerminalId).zip(&machine.terminals).filter(|(_, t)| t.place.index() == usize::from(place));
        points.extend(there.map(|(id, _)| id));
    }
    Ok(points)
}
