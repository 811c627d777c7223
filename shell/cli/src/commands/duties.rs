//! `callwright duties`: what published standards and the trade ask of work on a machine of this sort.

use crate::failure::Failure;
use crate::{output, shelf};
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(name: &str, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let duties = danger::duties(&machine);
    if as_json {
        let list =
            duties.iter().map(|duty| json!({ "about": duty.about.word(), "say": duty.say, "source": duty.source }));
        output::json(&json!({ "machine": machine.id, "duties": list.collect::<Vec<_>>() }));
        return Ok(ExitCode::SUCCESS);
    }
    output::line("Local codes and licensed practice come before all of this.");
    for duty in &duties {
        output::line(&format!("{}: {} ({})", duty.about.word(), duty.say, duty.source));
    }
    Ok(ExitCode::SUCCESS)
}
