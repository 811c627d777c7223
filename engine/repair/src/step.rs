//! A step that may be done: advice that has passed the hazard gate. It can be made in no other way.

use crate::candidates::{Act, Hands};
use danger::{Gate, IsolatedReading, Permit, Refusal, Situation, StepRequest};
use machine::model::Machine;
use prediction::{Probe, Reading};

/// A step with the gate's permit.
#[derive(Debug)]
pub struct Step {
    act: Act,
    permits: Vec<Permit>,
}

impl Step {
    /// Takes an act through the gate.
    ///
    /// # Errors
    /// The gate's refusal, which says what to do first.
    pub fn take(machine: &Machine, act: &Act, situation: &Situation) -> Result<Self, Refusal> {
        let gate = Gate::of(machine);
        let requests = requests(machine, act);
        let permits = requests.into_iter().map(|request| gate.permit(request, situation)).collect::<Result<_, _>>()?;
        Ok(Self { act: act.clone(), permits })
    }

    /// Gives what is to be done.
    #[must_use]
    pub fn act(&self) -> &Act {
        &self.act
    }

    /// Gives the permits it rests on, with their cautions and the order of the hands.
    #[must_use]
    pub fn permits(&self) -> &[Permit] {
        &self.permits
    }
}

/// Gives what must be asked of the gate for an act, covers apart.
#[must_use]
pub fn requests(machine: &Machine, act: &Act) -> Vec<StepRequest> {
    match act {
        Act::Read(reading, hands) => of_reading(machine, reading, *hands),
        Act::Look(part) => vec![StepRequest::Look(machine.parts[part.index()].place)],
        Act::Try(state) => vec![StepRequest::Try { state: *state, standing_clear: true }],
        Act::Change(repair) => vec![StepRequest::Repair(*repair)],
        Act::Explain | Act::Refer => Vec::new(),
    }
}

fn of_reading(machine: &Machine, reading: &Reading, hands: Hands) -> Vec<StepRequest> {
    let state = reading.condition.state;
    let mut requests: Vec<StepRequest> = reading
        .condition
        .lifted
        .iter()
        .map(|lead| {
            let branch = &machine.branches[lead.index()];
            match machine.parts[branch.part.index()].kind {
                machine::model::PartKind::Lead => StepRequest::LiftLead { lead: branch.part, at: branch.from },
                _ => StepRequest::Unplug(branch.part),
            }
        })
        .collect();
    requests.push(match (reading.probe, hands) {
        (Probe::Across(from, to), Hands::Isolated) => {
            StepRequest::ReadIsolated { from, to, how: IsolatedReading::Ohms }
        }
        (Probe::Across(from, to), Hands::Supply) => StepRequest::ReadSupply { from, to },
        (Probe::Across(from, to), Hands::Clipped) => StepRequest::ReadClipped { from, to, state },
        (Probe::Around(branch), _) => StepRequest::Clamp { branch, state },
    });
    requests
}
