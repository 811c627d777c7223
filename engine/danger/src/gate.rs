//! The gate: every step of any crate passes here or is not made.
//!
//! The rules stand one per kind of request in `gate/rules.rs`; nothing in a [`Situation`] is a probability or a price.

pub(crate) mod permit;
pub(crate) mod refusal;
pub(crate) mod request;
mod rules;
mod shape;

use machine::model::Machine;
use permit::Permit;
use refusal::Refusal;
use request::{Situation, StepRequest};

/// The gate of one machine.
#[derive(Clone, Copy, Debug)]
pub struct Gate<'m> {
    machine: &'m Machine,
}

impl<'m> Gate<'m> {
    /// Stands before this machine.
    #[must_use]
    pub fn of(machine: &'m Machine) -> Self {
        Self { machine }
    }

    /// Permits the step in this situation, or refuses it and says what to do instead.
    ///
    /// # Errors
    /// [`Refusal`] with the first rule that speaks against it.
    pub fn permit(&self, request: StepRequest, situation: &Situation) -> Result<Permit, Refusal> {
        if situation.gas_smelled && request != StepRequest::Evacuate {
            return Err(Refusal::GasSmelled);
        }
        rules::check(self.machine, &request, situation)?;
        Ok(Permit::new(self.machine, request, situation))
    }
}
