//! `callwright rehearse`: the tool and its rivals on the same hidden faults.

use crate::failure::Failure;
use crate::{output, shelf};
use std::process::ExitCode;

pub(crate) fn run(name: &str, calls: usize, seed: u64, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let report = rehearsal::rehearse(&machine, calls, seed, &rehearsal::Settings::default())
        .map_err(|error| Failure::Input(error.to_string()))?;
    if as_json {
        let value = serde_json::to_value(&report).map_err(|error| Failure::Bug(error.to_string()))?;
        output::json(&value);
    } else {
        output::line(&report.table());
    }
    Ok(ExitCode::SUCCESS)
}

/// Rehearses as many calls on units that are not as described as on units that are.
pub(crate) fn misdescribed(name: &str, calls: usize, seed: u64, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let settings = rehearsal::Settings::default();
    let report = rehearsal::misdescribed(&machine, calls, seed, &settings, &mut |_| {})
        .map_err(|error| Failure::Input(error.to_string()))?;
    if as_json {
        let value = serde_json::to_value(&report).map_err(|error| Failure::Bug(error.to_string()))?;
        output::json(&value);
    } else {
        output::line(&report.table());
    }
    Ok(ExitCode::SUCCESS)
}
