//! Steps by id: what is written into the book for a proposal, and read back when a call goes on.
//!
//! `ohms:heater.1,heater.2@off`, with `+R6` for each lead lifted; `volts:block.L1,block.N@heat` clipped in a running
//! state; `supply:receptacle.X,receptacle.Y`; `amps:plug.X@heat`; `look:belt`; `try:heat`; `repair:heater:replace`;
//! `explain`; `refer`.

use machine::UnknownName;
use machine::model::{BranchId, Machine, StateId};
use prediction::{Condition, Probe, Quantity, Reading};
use repair::{Act, Hands};

/// Writes a step's id.
#[must_use]
pub fn id_of(machine: &Machine, act: &Act) -> String {
    match act {
        Act::Read(reading, hands) => id_of_reading(machine, reading, *hands),
        Act::Look(part) => format!("look:{}", machine[*part].id),
        Act::Try(state) => format!("try:{}", machine[*state].id),
        Act::Change(repair) => format!("repair:{}", machine[*repair].id),
        Act::Explain => "explain".to_owned(),
        Act::Refer => "refer".to_owned(),
    }
}

/// Writes a reading's id.
#[must_use]
pub fn id_of_reading(machine: &Machine, reading: &Reading, hands: Hands) -> String {
    let word = match (reading.quantity, hands) {
        (Quantity::Ohms, _) => "ohms",
        (Quantity::Amps, _) => "amps",
        (Quantity::Farads, _) => "farads",
        (Quantity::Volts, Hands::Supply) => "supply",
        (Quantity::Volts, _) => "volts",
    };
    let points = match reading.probe {
        Probe::Across(a, b) => format!("{},{}", machine[a].name, machine[b].name),
        Probe::Around(branch) => machine[branch].name.clone(),
    };
    let lifted: String = reading.condition.lifted.iter().map(|&lead| format!("+{}", machine[lead].name)).collect();
    format!("{word}:{points}@{}{lifted}", machine[reading.condition.state].id)
}

/// Reads a step's id; `None` for what is no step.
///
/// # Errors
/// A name that the machine does not have.
pub fn act_of(machine: &Machine, id: &str) -> Result<Option<Act>, UnknownName> {
    let (word, rest) = id.split_once(':').unwrap_or((id, ""));
    Ok(Some(match word {
        "look" => Act::Look(machine.part(rest)?),
        "try" => Act::Try(machine.state(rest)?),
        "repair" => Act::Change(machine.repair(rest)?),
        "explain" => Act::Explain,
        "refer" => Act::Refer,
        "ohms" => read(machine, Quantity::Ohms, Hands::Isolated, rest)?,
        "farads" => read(machine, Quantity::Farads, Hands::Isolated, rest)?,
        "volts" => read(machine, Quantity::Volts, Hands::Clipped, rest)?,
        "supply" => read(machine, Quantity::Volts, Hands::Supply, rest)?,
        "amps" => read(machine, Quantity::Amps, Hands::Clipped, rest)?,
        _ => return Ok(None),
    }))
}

fn read(machine: &Machine, quantity: Quantity, hands: Hands, text: &str) -> Result<Act, UnknownName> {
    let mut parts = text.split('+');
    let (points, state) = parts.next().unwrap_or_default().split_once('@').unwrap_or((text, ""));
    let lifted = parts.map(|lead| machine.branch(lead)).collect::<Result<Vec<BranchId>, _>>()?;
    let state = if state.is_empty() { StateId(0) } else { machine.state(state)? };
    let probe = match points.split_once(',') {
        Some((a, b)) => Probe::Across(machine.terminal(a.trim())?, machine.terminal(b.trim())?),
        None => Probe::Around(machine.branch(points)?),
    };
    let plugged = hands == Hands::Clipped;
    Ok(Act::Read(Reading { quantity, probe, condition: Condition { state, plugged, lifted } }, hands))
}
