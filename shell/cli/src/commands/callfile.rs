//! Reads a call's record and hands its belief and bench on.

use crate::failure::Failure;
use crate::shelf;
use call::callfile::{Recorded, machine_of, read_callfile};
use diagnosis::Belief;
use machine::model::Machine;
use prediction::{Meter, Predictor};
use std::path::Path;
use std::process::ExitCode;

/// Reads the record, replays its evidence, and calls `then` with the belief and the record.
pub(crate) fn with_belief(
    path: &Path,
    meter: &Meter,
    then: impl FnOnce(&Belief<'_, '_>, &Recorded) -> Result<ExitCode, Failure>,
) -> Result<ExitCode, Failure> {
    with_record(path, |machine, recorded| {
        let predictor = Predictor::new(machine, *meter);
        let mut belief = Belief::new(&predictor, recorded.assumptions(machine));
        for item in &recorded.evidence {
            belief.take(item.clone());
        }
        then(&belief, recorded)
    })
}

/// Reads the record and its machine, and calls `then` with both.
pub(crate) fn with_record<R>(
    path: &Path,
    then: impl FnOnce(&Machine, &Recorded) -> Result<R, Failure>,
) -> Result<R, Failure> {
    let text = text(path)?;
    let shown = path.display().to_string();
    let name = machine_of(&text).map_err(|trouble| Failure::Input(trouble.render(&shown, &text)))?;
    let beside = path.parent().map(|folder| folder.join(&name)).filter(|beside| beside.is_file());
    let (machine, _) = shelf::load(beside.as_ref().and_then(|p| p.to_str()).unwrap_or(&name))?;
    let recorded = read_callfile(&machine, &text).map_err(|troubles| {
        let all: Vec<String> = troubles.iter().map(|trouble| trouble.render(&shown, &text)).collect();
        Failure::Input(all.join("\n"))
    })?;
    then(&machine, &recorded)
}

/// Reads a call's record as text.
pub(crate) fn text(path: &Path) -> Result<String, Failure> {
    std::fs::read_to_string(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => Failure::Input(format!("there is no file `{}`", path.display())),
        std::io::ErrorKind::InvalidData => Failure::Input(format!("`{}` is not UTF-8 text", path.display())),
        _ => Failure::SetUp(format!("cannot read `{}`: {error}", path.display())),
    })
}
