//! What a state does, worked out for the drawing: contacts, amperes, volts.

use drawing::{Layers, Volts};
use machine::model::{BranchId, Conductor, FaultId, Machine, StateId, TerminalId};
use prediction::{Condition, Predictor, Probe, Quantity, Reading, Shown};

/// Gives the terminals that can be read.
pub fn terminals(machine: &Machine) -> impl Iterator<Item = TerminalId> + '_ {
    (0..).map(TerminalId).zip(&machine.terminals).filter(|(_, terminal)| !terminal.hidden).map(|(id, _)| id)
}

/// Gives the layers of a state with these faults: contacts, amperes, volts to neutral.
#[must_use]
pub fn of_state(predictor: &Predictor<'_>, state: StateId, faults: &[FaultId]) -> Layers {
    let machine = predictor.machine();
    let said = |fault: &FaultId| format!("{}, {}", machine[machine[*fault].part].name, machine[*fault].say);
    let mut layers = Layers {
        state: Some(machine[state].say.clone()),
        faults: faults.iter().map(said).collect(),
        closed: Some(predictor.closed_contacts(state, faults)),
        ..Layers::default()
    };
    let shown = |quantity: Quantity, probe: Probe| {
        let reading = Reading { quantity, probe, condition: Condition::running(state) };
        predictor.predict(&reading, faults).shown
    };
    for branch in (0..).map(BranchId).take(machine.branches.len()) {
        if let Shown::Value { value, .. } = shown(Quantity::Amps, Probe::Around(branch)) {
            layers.amps.push((branch, value));
        }
    }
    let neutral = machine.supply.block.iter().find(|(conductor, _)| *conductor == Conductor::Neutral);
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
    layers
}
