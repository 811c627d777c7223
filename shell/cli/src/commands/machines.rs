//! `callwright machines`: the shipped machines with the numbers of their parts, faults and states.

use crate::failure::Failure;
use crate::{output, shelf};
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(as_json: bool) -> Result<ExitCode, Failure> {
    let mut rows = Vec::new();
    for (id, _) in shelf::SHIPPED {
        let (machine, _) = shelf::load(id)?;
        if !as_json {
            output::line(&format!(
                "{id:<20} {:<18} {:>3} parts {:>4} faults {:>3} states   {}",
                machine.kind,
                machine.parts.len(),
                machine.faults.len(),
                machine.states.len(),
                machine.title
            ));
        }
        rows.push(json!({
            "id": machine.id,
            "kind": machine.kind,
            "title": machine.title,
            "parts": machine.parts.len(),
            "faults": machine.faults.len(),
            "states": machine.states.iter().map(|s| s.id.clone()).collect::<Vec<_>>(),
        }));
    }
    if as_json {
        output::json(&json!({ "machines": rows }));
    }
    Ok(ExitCode::SUCCESS)
}
