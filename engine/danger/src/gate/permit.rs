//! Permits: proof that a step passed the gate, with its cautions, its order and how it is counted.

use crate::caution::{Caution, Signal, caution};
use crate::energy::Energy;
use crate::gate::request::{Situation, StepRequest};
use crate::gate::shape;
use machine::access::Hazard;
use machine::model::Machine;
use std::collections::{BTreeMap, BTreeSet};

/// How a step is counted. Classes are counted apart, so that nothing looks good by skipping what is always due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Class {
    /// Supply and proving readings: always allowed, never skipped to look good.
    SupplyOrProving,
    /// Parting, securing, discharging.
    MakeSafe,
    /// Covers off and on.
    Access,
    /// Isolated and proved dead.
    Isolated,
    /// Looking.
    Look,
    /// Running the machine with nobody in it.
    Try,
    /// Attached dead, read from a distance.
    ClippedDead,
    /// A hand in the open, energised machine.
    OpenEnergisedProbing,
    /// Ending, handing on, leaving.
    End,
}

/// A step that passed the gate. Only [`crate::Gate::permit`] makes one; a step of any other crate carries its permit.
///
/// ```compile_fail
/// // Its fields are private and it has no constructor: a permit cannot be claimed.
/// let permit = danger::Permit {
///     request: danger::StepRequest::Evacuate,
///     class: danger::Class::End,
///     cautions: Vec::new(),
///     order: Vec::new(),
///     epoch: 0,
/// };
/// ```
///
/// ```compile_fail
/// // Nor can one be made for a machine that is not there.
/// let permit = danger::Permit::new(todo!(), danger::StepRequest::Evacuate, todo!());
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Permit {
    request: StepRequest,
    class: Class,
    cautions: Vec<Caution>,
    order: Vec<&'static str>,
    epoch: u64,
}

impl Permit {
    pub(super) fn new(machine: &Machine, request: StepRequest, situation: &Situation) -> Self {
        let energised = energises(&request);
        let mut hazards: BTreeSet<Hazard> = shape::hazards(machine, &request);
        if shape::touches_wiring(machine, &request) {
            hazards.insert(Hazard::Shock);
        }
        let mut cautions: Vec<Caution> = hazards.into_iter().map(|hazard| caution(hazard, energised)).collect();
        if request == StepRequest::Evacuate {
            cautions.insert(0, GAS);
        }
        cautions.sort_unstable();
        let class = class(&request);
        let order = order(&request);
        Self { request, class, cautions, order, epoch: situation.energy.epoch() }
    }

    /// Gives the step.
    #[must_use]
    pub fn request(&self) -> &StepRequest {
        &self.request
    }

    /// Says how it is counted.
    #[must_use]
    pub fn class(&self) -> Class {
        self.class
    }

    /// Lists the cautions, gravest first. They cannot be turned off.
    #[must_use]
    pub fn cautions(&self) -> &[Caution] {
        &self.cautions
    }

    /// Lists what is done within the step, in order; empty where the step says it all.
    #[must_use]
    pub fn order(&self) -> &[&'static str] {
        &self.order
    }

    /// Says whether it still holds: a permit is for the epoch in which it was asked.
    #[must_use]
    pub fn holds(&self, energy: &Energy) -> bool {
        self.epoch == energy.epoch()
    }
}

/// The evacuation sentence; the only one that is said when gas is smelled.
const GAS: Caution = Caution {
    signal: Signal::Danger,
    hazard: Hazard::FuelGas,
    sentence: "Gas. Switch nothing, no flame, no phone inside. Everyone out. Call the gas company from outside.",
};

const CLIP: [&str; 6] = [
    "attach the clips with the machine dead",
    "stand clear, and see that everyone does",
    "energise",
    "read",
    "isolate and secure",
    "prove dead again before you take the clips off",
];

const CLAMP: [&str; 6] = [
    "lay the clamp around the conductor with the machine dead",
    "stand clear, and see that everyone does",
    "energise",
    "read",
    "isolate and secure",
    "prove dead again before you reach for the clamp",
];

const PROBE: [&str; 4] = [
    "dry hands and floor, one hand where it can be",
    "clip the black probe first, hold the red one behind its guard",
    "read, touching nothing else",
    "isolate and secure at once",
];

const PROVE_DEAD: [&str; 2] =
    ["treat it as live: hold both probes behind their guards", "read on the AC range, then on the DC range"];

fn order(request: &StepRequest) -> Vec<&'static str> {
    match request {
        StepRequest::ReadClipped { .. } => CLIP.to_vec(),
        StepRequest::Clamp { .. } => CLAMP.to_vec(),
        StepRequest::ProbeEnergised { .. } => PROBE.to_vec(),
        StepRequest::ProveDead(_) => PROVE_DEAD.to_vec(),
        _ => Vec::new(),
    }
}

fn energises(request: &StepRequest) -> bool {
    matches!(
        request,
        StepRequest::ReadSupply { .. }
            | StepRequest::ReadClipped { .. }
            | StepRequest::ProbeEnergised { .. }
            | StepRequest::Clamp { .. }
            | StepRequest::Try { .. }
            | StepRequest::Energise { .. }
    )
}

fn class(request: &StepRequest) -> Class {
    match request {
        StepRequest::ProveMeter | StepRequest::ReadSupply { .. } | StepRequest::ProveDead(_) => Class::SupplyOrProving,
        StepRequest::Isolate(_) | StepRequest::Discharge(_) | StepRequest::Disconnect => Class::MakeSafe,
        StepRequest::OpenCover(_) | StepRequest::CloseCover(_) => Class::Access,
        StepRequest::Look(_) => Class::Look,
        StepRequest::ReadIsolated { .. }
        | StepRequest::LiftLead { .. }
        | StepRequest::Unplug(_)
        | StepRequest::Change(_)
        | StepRequest::Repair(_) => Class::Isolated,
        StepRequest::ReadClipped { .. } | StepRequest::Clamp { .. } => Class::ClippedDead,
        StepRequest::ProbeEnergised { .. } => Class::OpenEnergisedProbing,
        StepRequest::Try { .. } | StepRequest::Energise { .. } => Class::Try,
        StepRequest::Evacuate | StepRequest::End(_) => Class::End,
    }
}

/// Counts steps by class.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Counts(BTreeMap<Class, u32>);

impl Counts {
    /// Counts one more.
    pub fn add(&mut self, permit: &Permit) {
        let count = self.0.entry(permit.class()).or_default();
        *count = count.saturating_add(1);
    }

    /// Gives the count of a class.
    #[must_use]
    pub fn of(&self, class: Class) -> u32 {
        self.0.get(&class).copied().unwrap_or(0)
    }
}
