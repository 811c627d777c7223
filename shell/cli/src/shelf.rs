//! Where machines come from: the shipped ones by id, any other by path.

use crate::failure::{Failure, unknown};
use machine::model::{FaultId, Machine, StateId, TerminalId};
use std::path::Path;

/// Gives the name and text of a machine, by shipped id or by path.
pub(crate) fn text_of(name: &str) -> Result<(String, String), Failure> {
    if let Some(one) = shipped::find(name) {
        return Ok((one.id.to_owned(), one.text.to_owned()));
    }
    let looks_like_path = name.contains('/') || name.ends_with(".toml") || Path::new(name).exists();
    if !looks_like_path {
        let known: Vec<String> = shipped::ALL.iter().map(|one| one.id.to_owned()).collect();
        return Err(unknown("shipped machine", name, &known));
    }
    match std::fs::read_to_string(name) {
        Ok(text) => Ok((name.to_owned(), text)),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
            Err(Failure::Input(format!("there is no file `{name}`")))
        }
        Err(error) if error.kind() == std::io::ErrorKind::InvalidData => {
            Err(Failure::Input(format!("`{name}` is not UTF-8 text; save it as UTF-8")))
        }
        Err(error) => Err(Failure::SetUp(format!("cannot read `{name}`: {error}"))),
    }
}

/// Gives the text that the machine in a file builds on: a shipped one's, or that of the file with its id beside it.
pub(crate) fn base_of(file: &str) -> impl Fn(&str) -> Option<String> {
    let beside = Path::new(file).parent().map(Path::to_path_buf).unwrap_or_default();
    move |id: &str| {
        let is_name = id.bytes().all(|sign| sign.is_ascii_alphanumeric() || sign == b'-');
        let in_file = || std::fs::read_to_string(beside.join(format!("{id}.toml"))).ok().filter(|_| is_name);
        shipped::find(id).map(|one| one.text.to_owned()).or_else(in_file)
    }
}

/// Reads a machine, and gives its text with all that it builds on; what is wrong with it is printed in full.
pub(crate) fn load(name: &str) -> Result<(Machine, String), Failure> {
    let (file, text) = text_of(name)?;
    let base_of = base_of(&file);
    let read = machine::read_with(&text, &base_of);
    match read.machine {
        Some(machine) => Ok((machine, machine::with_bases(&text, &base_of))),
        None => {
            let all: Vec<String> = read.diagnostics.iter().map(|d| d.render(&file, &text)).collect();
            Err(Failure::Input(format!("`{file}` cannot be used:\n{}", all.join("\n"))))
        }
    }
}

/// Finds a state by id.
pub(crate) fn state(machine: &Machine, name: &str) -> Result<StateId, Failure> {
    let known: Vec<String> = machine.states.iter().map(|s| s.id.clone()).collect();
    position(&known, name).map(StateId).ok_or_else(|| unknown("state", name, &known))
}

/// Finds a terminal by its full name.
pub(crate) fn terminal(machine: &Machine, name: &str) -> Result<TerminalId, Failure> {
    let known: Vec<String> = machine.terminals.iter().map(|t| t.name.clone()).collect();
    position(&known, name).map(TerminalId).ok_or_else(|| unknown("terminal", name, &known))
}

/// Finds faults by `PART:MODE`.
pub(crate) fn faults(machine: &Machine, names: &[String]) -> Result<Vec<FaultId>, Failure> {
    let known: Vec<String> = machine.faults.iter().map(|f| f.id.clone()).collect();
    let mut faults = names
        .iter()
        .map(|name| position(&known, name).map(FaultId).ok_or_else(|| unknown("fault", name, &known)))
        .collect::<Result<Vec<_>, _>>()?;
    faults.sort_unstable();
    faults.dedup();
    Ok(faults)
}

/// Finds a name's place in a list, as the number that ids are made of.
pub(crate) fn position(known: &[String], name: &str) -> Option<u16> {
    known.iter().position(|k| k == name).and_then(|index| u16::try_from(index).ok())
}
