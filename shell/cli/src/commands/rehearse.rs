//! `callwright rehearse`: the tool and its rivals on the same hidden faults.

use crate::failure::Failure;
use crate::{output, shelf};
use rehearsal::{Settings, Van};
use serde::Serialize;
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(
    name: &str,
    calls: usize,
    seed: u64,
    van: Option<&Path>,
    planted: f64,
    as_json: bool,
) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    if !(0.0..=1.0).contains(&planted) {
        return Err(Failure::Input(format!("`{planted}` is no share; give a number from 0 to 1, such as 0.1")));
    }
    let van = van.map(|path| on_van(&machine, path)).transpose()?;
    let settings = Settings { van, planted, ..Settings::default() };
    let report =
        rehearsal::rehearse(&machine, calls, seed, &settings).map_err(|error| Failure::Input(error.to_string()))?;
    tell(&report, &report.table(), as_json)
}

/// Rehearses as many calls on units that are not as described as on units that are.
pub(crate) fn misdescribed(name: &str, calls: usize, seed: u64, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let report = rehearsal::misdescribed(&machine, calls, seed, &Settings::default(), &mut |_| {})
        .map_err(|error| Failure::Input(error.to_string()))?;
    tell(&report, &report.table(), as_json)
}

fn tell(report: &impl Serialize, table: &str, as_json: bool) -> Result<ExitCode, Failure> {
    if as_json {
        output::json(&serde_json::to_value(report).map_err(|error| Failure::Bug(error.to_string()))?);
    } else {
        output::line(table);
    }
    Ok(ExitCode::SUCCESS)
}

fn on_van(machine: &machine::Machine, path: &Path) -> Result<Van, Failure> {
    let text = std::fs::read_to_string(path)
        .map_err(|error| Failure::Input(format!("`{}` cannot be read: {error}", path.display())))?;
    Van::read(machine, &text).map_err(|strange| {
        let words: Vec<String> = strange.iter().map(|word| format!("`{word}`")).collect();
        Failure::Input(format!("`{}` has no part {}; write one part's id a line", machine.id, words.join(", ")))
    })
}
