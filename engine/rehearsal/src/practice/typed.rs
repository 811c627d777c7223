//! Reads a learner's act as typed: `ohms heater.1 heater.2`, `volts block.L1 block.N in heat`, `change heater`.

use machine::Machine;
use machine::model::{RepairId, StateId};
use prediction::{Condition, Probe, Quantity, Reading};
use repair::{Act, Hands};

/// What can be typed, for a help text.
const KNOWN: &str = "`ohms A B [in STATE] [lift LEAD]...`, `volts A B in STATE`, `look PART`, `run STATE`, \
                         `change REPAIR`, `explain`, `refer`";

/// Reads an act; the words are the machine's own ids.
///
/// # Errors
/// Says what was not understood, with the nearest known name.
pub fn read_act(machine: &Machine, text: &str) -> Result<Act, String> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let name = |error: machine::UnknownName| error.to_string();
    match words.as_slice() {
        ["ohms", a, b, rest @ ..] => {
            let mut condition = Condition::isolated(StateId(0));
            settings(machine, rest, &mut condition)?;
            read(machine, Quantity::Ohms, [a, b], condition, Hands::Isolated)
        }
        ["volts", a, b, "in", state] => {
            let condition = Condition::running(machine.state(state).map_err(name)?);
            let at_supply = [a, b].iter().all(|at| is_slot(machine, at));
            let isolated = Condition::isolated(StateId(0));
            let (condition, hands) = if at_supply { (isolated, Hands::Supply) } else { (condition, Hands::Clipped) };
            read(machine, Quantity::Volts, [a, b], condition, hands)
        }
        ["volts", a, b] if [a, b].iter().all(|at| is_slot(machine, at)) => {
            read(machine, Quantity::Volts, [a, b], Condition::isolated(StateId(0)), Hands::Supply)
        }
        ["volts", _, _] => Err("say in which state: `volts A B in STATE`".to_owned()),
        ["look", part] => Ok(Act::Look(machine.part(part).map_err(name)?)),
        ["run", state] => Ok(Act::Try(machine.state(state).map_err(name)?)),
        ["change", repair] => changed(machine, repair).map(Act::Change),
        ["explain"] => Ok(Act::Explain),
        ["refer"] => Ok(Act::Refer),
        _ => Err(format!("`{text}` is not understood; type {KNOWN}")),
    }
}

/// Gives the repair by its id, or the only one of a part by the part's.
fn changed(machine: &Machine, named: &str) -> Result<RepairId, String> {
    let of_part: Vec<RepairId> = (0..)
        .map(RepairId)
        .zip(&machine.repairs)
        .filter(|(_, repair)| machine.parts[repair.part.index()].id == named)
        .map(|(id, _)| id)
        .collect();
    match of_part.as_slice() {
        [only] => Ok(*only),
        [] => machine.repair(named).map_err(|error| error.to_string()),
        several => {
            let ids: Vec<&str> = several.iter().map(|id| machine.repairs[id.index()].id.as_str()).collect();
            Err(format!("`{named}` can be mended in more than one way; say which: {}", ids.join(", ")))
        }
    }
}

fn settings(machine: &Machine, words: &[&str], condition: &mut Condition) -> Result<(), String> {
    for pair in words.chunks(2) {
        match pair {
            ["in", state] => condition.state = machine.state(state).map_err(|error| error.to_string())?,
            ["lift", lead] => condition.lifted.push(machine.branch(lead).map_err(|error| error.to_string())?),
            _ => return Err(format!("`{}` is not understood there; type {KNOWN}", pair.join(" "))),
        }
    }
    condition.lifted.sort_unstable();
    Ok(())
}

fn read(
    machine: &Machine,
    quantity: Quantity,
    at: [&str; 2],
    condition: Condition,
    hands: Hands,
) -> Result<Act, String> {
    let [a, b] = at.map(|name| machine.terminal(name));
    let (a, b) = (a.map_err(|error| error.to_string())?, b.map_err(|error| error.to_string())?);
    if a == b {
        return Err(format!("both probes are on `{}`; name two terminals", at[0]));
    }
    if let Some(inside) = [a, b].iter().find(|end| machine.terminals[end.index()].hidden) {
        return Err(format!("no probe reaches `{}`, it lies inside a part", machine.terminals[inside.index()].name));
    }
    Ok(Act::Read(Reading { quantity, probe: Probe::Across(a.min(b), a.max(b)), condition }, hands))
}

fn is_slot(machine: &Machine, name: &str) -> bool {
    let at = machine.terminal(name).ok();
    machine.supply.slots.iter().any(|(_, slot)| Some(*slot) == at)
}
