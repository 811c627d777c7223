//! `callwright drawing`: the machine as a ladder diagram, with what a state does and what may be live on top.

use crate::args::{Drawing, PaperWord};
use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use danger::{Energy, LiveMap};
use drawing::svg::{Paper, svg};
use drawing::{Layers, Question, Volts};
use machine::model::{BranchId, FaultId, Machine, PartId, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Shown};
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(asked: &Drawing, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(&asked.machine)?;
    let only = parts(&machine, &asked.only)?;
    let mut layers = Layers::default();
    if let Some(state) = &asked.state {
        let state = shelf::state(&machine, state)?;
        show_state(&machine, state, &shelf::faults(&machine, &asked.faults)?, *meter, &mut layers);
    }
    if asked.live {
        let map = LiveMap::of(&machine, &Energy::found());
        layers.live = Some(terminals(&machine).filter(|terminal| map.may_be_live(*terminal)).collect());
    }
    let question = Question { only: (!only.is_empty()).then_some(only), layers };
    let scene = drawing::draw(&machine, &question);
    if let Some(file) = &asked.svg {
        let paper = asked.paper.map(|paper| match paper {
            PaperWord::A4 => Paper::A4,
            PaperWord::Letter => Paper::Letter,
        });
        write(file, &svg(&scene, paper))?;
    }
    if as_json {
        let value =
            serde_json::to_value(&scene).map_err(|error| Failure::Bug(format!("a scene is no JSON: {error}")))?;
        output::json(&value);
    } else if asked.text || asked.svg.is_none() {
        output::raw(&drawing::words::text(&scene));
    }
    Ok(ExitCode::SUCCESS)
}

fn write(file: &Path, text: &str) -> Result<(), Failure> {
    let shown = file.display();
    std::fs::write(file, text).map_err(|error| Failure::SetUp(format!("cannot write `{shown}`: {error}")))
}

fn parts(machine: &Machine, names: &[String]) -> Result<Vec<PartId>, Failure> {
    let known: Vec<String> = machine.parts.iter().map(|part| part.id.clone()).collect();
    names
        .iter()
        .map(|name| shelf::position(&known, name).map(PartId).ok_or_else(|| unknown("part", name, &known)))
        .collect()
}

fn terminals(machine: &Machine) -> impl Iterator<Item = TerminalId> + '_ {
    (0..).map(TerminalId).zip(&machine.terminals).filter(|(_, terminal)| !terminal.hidden).map(|(id, _)| id)
}

/// Adds what a state does: contacts, amperes, volts to neutral.
fn show_state(machine: &Machine, state: StateId, faults: &[FaultId], meter: Meter, layers: &mut Layers) {
    let predictor = Predictor::new(machine, meter);
    layers.state = Some(machine[state].say.clone());
    let said = |fault: &FaultId| format!("{}, {}", machine[machine[*fault].part].name, machine[*fault].say);
    layers.faults = faults.iter().map(said).collect();
    let branches = || (0..).map(BranchId).zip(&machine.branches).map(|(id, _)| id);
    layers.closed = Some(predictor.closed_contacts(state, faults));
    let shown = |quantity: Quantity, probe: Probe| {
        let reading = Reading { quantity, probe, condition: Condition::running(state) };
        predictor.predict(&reading, faults).shown
    };
    for branch in branches() {
        if let Shown::Value { value, .. } = shown(Quantity::Amps, Probe::Around(branch)) {
            layers.amps.push((branch, value));
        }
    }
    let block = &machine.supply.block;
    let neutral = block.iter().find(|(conductor, _)| *conductor == machine::model::Conductor::Neutral);
    let against = neutral.map_or(machine.supply.earth, |(_, terminal)| *terminal);
    layers.against = Some(machine.say_terminal(against));
    for terminal in terminals(machine) {
        let volts = match shown(Quantity::Volts, Probe::Across(terminal, against)) {
            _ if terminal == against => Volts::Value(0.0),
            Shown::Value { value, .. } => Volts::Value(value),
            Shown::Ghost { highest } => Volts::Floats(highest),
            Shown::OverRange => continue,
        };
        layers.volts.push((terminal, volts));
    }
}
