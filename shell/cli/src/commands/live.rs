//! `callwright live`: which terminals may be live, at worst, whatever is believed.

use crate::failure::Failure;
use crate::{output, shelf};
use danger::{Energy, Isolator, LiveMap};
use machine::model::TerminalId;
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(name: &str, isolated: bool, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(name)?;
    let mut energy = Energy::found();
    if isolated {
        let how = if machine.supply.receptacle.is_some() { Isolator::Plug } else { Isolator::Disconnect };
        energy.isolate(how);
    }
    let map = LiveMap::of(&machine, &energy);
    let mut rows = Vec::new();
    for (index, terminal) in machine.terminals.iter().enumerate() {
        let id = TerminalId(u16::try_from(index).unwrap_or(u16::MAX));
        let why: Vec<String> = map.why(id).iter().map(|(from, reach)| format!("{from:?} by {reach:?}")).collect();
        rows.push(json!({ "terminal": terminal.name, "may_be_live": map.may_be_live(id), "why": why }));
        if !as_json {
            let word = if map.may_be_live(id) { output::bold("LIVE") } else { "    ".to_owned() };
            output::line(&format!("{word}  {}", terminal.name));
        }
    }
    if as_json {
        output::json(&json!({ "machine": machine.id, "isolated": isolated, "terminals": rows }));
    } else {
        output::line("At worst, whatever is believed. Dead is what you have measured dead.");
    }
    Ok(ExitCode::SUCCESS)
}
