//! `callwright machines`: the shipped machines with the numbers of their parts, faults and states.

use crate::failure::Failure;
use crate::{output, shelf};
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(as_json: bool) -> Result<ExitCode, Failure> {
    let mut rows = Vec::new();
    for shipped::Shipped { id, .. } in shipped::ALL {
        let (machine, _) = shelf::load(id)?;
        let own = machine.parts.iter().filter(|part| !part.installation).count();
        let of_own = machine.faults.iter().filter(|f| !machine.parts[f.part.index()].installation).count();
        if !as_json {
            output::line(&format!(
                "{id:<26} {:<18} {own:>3} parts {of_own:>4} faults, {:>3} more of the installation, {:>3} states   {}",
                machine.kind,
                machine.faults.len() - of_own,
                machine.states.len(),
                machine.title
            ));
        }
        rows.push(json!({
            "id": machine.id,
            "kind": machine.kind,
            "title": machine.title,
            "parts": own,
            "faults": of_own,
            "installation_parts": machine.parts.len() - own,
            "installation_faults": machine.faults.len() - of_own,
            "states": machine.states.iter().map(|s| s.id.clone()).collect::<Vec<_>>(),
        }));
    }
    if as_json {
        output::json(&json!({ "machines": rows }));
    }
    Ok(ExitCode::SUCCESS)
}
