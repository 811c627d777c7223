//! `callwright symptoms`: what a person would notice, computed.

use crate::failure::Failure;
use crate::{output, shelf};
use diagnosis::words;
use machine::model::Machine;
use prediction::{Meter, Predictor, Seen};
use serde_json::{Value, json};
use std::process::ExitCode;

pub(crate) fn run(name: &str, faults: &[String], as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let sets = if faults.is_empty() {
        predictor.fault_ids().map(|fault| vec![fault]).collect()
    } else {
        vec![shelf::faults(&machine, faults)?]
    };
    let mut rows = Vec::new();
    for set in sets {
        let named: Vec<&str> = set.iter().map(|f| machine.faults[f.index()].id.as_str()).collect();
        let symptoms = predictor.symptoms(&set);
        if !as_json {
            output::line(&output::bold(&named.join(" + ")));
            for seen in &symptoms {
                output::line(&format!("  {}: {}", words::state(&machine, seen.state), words::seen(&machine, *seen)));
            }
            if symptoms.is_empty() {
                output::line("  nothing that a person would notice");
            }
        }
        rows.push(json!({
            "faults": named,
            "symptoms": symptoms.iter().map(|seen| in_json(&machine, *seen)).collect::<Vec<_>>(),
        }));
    }
    if as_json {
        output::json(&json!({ "symptoms": rows }));
    }
    Ok(ExitCode::SUCCESS)
}

fn in_json(machine: &Machine, seen: Seen) -> Value {
    let observation = &machine.observations[seen.what.index()];
    json!({
        "state": machine.states[seen.state.index()].id,
        "observe": observation.id,
        "value": observation.values.get(usize::from(seen.value)).map(|v| v.id.clone()),
        "say": words::seen(machine, seen),
    })
}
