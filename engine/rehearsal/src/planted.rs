//! The unrelated dangerous fault of a call: whether anything that is done before handing back could tell it, and what
//! became of it.

use crate::complaint::watched_there;
use crate::settings::Settings;
use machine::model::{FaultId, StateId};
use prediction::Predictor;
use repair::proving::{self, Owed, Proved};
use truth::Unit;

/// What tells a fault from a sound machine before handing back, on this unit with every reading exact.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ToldBy {
    /// A run of a state: something is noticed.
    Run(StateId),
    /// A reading that is owed is outside of its limit.
    Reading(Owed),
    /// Nothing that the machine's proofs, its runs and the check of the supply ask for.
    Nothing,
}

/// Says what tells this fault by itself on this unit: the runs first, then the readings owed.
///
/// The unit's values and the fault's size are its own, its other faults are left out, and its meter is exact: the
/// kind of meter that the predictor is for, an ordinary one, without an error, and with a clamp.
#[must_use]
pub fn told_by(predictor: &Predictor<'_>, unit: &Unit<'_>, fault: FaultId) -> ToldBy {
    let machine = predictor.machine();
    let mut unit = unit.with_this_alone(fault).exactly_read();
    let shows = |state: &StateId| watched_there(machine, *state) > 0 && unit.differs(*state);
    if let Some(state) = unit.state_ids().find(shows) {
        return ToldBy::Run(state);
    }
    let exact = Settings { read_off: 0.0, ..Settings::default() };
    let told = proving::owed(machine).into_iter().find(|(owed, reading, _)| {
        let measured = crate::reading::take(&mut unit, reading, &exact);
        proving::judge_owed(predictor, *owed, reading, measured) == Proved::Failed
    });
    told.map_or(ToldBy::Nothing, |(owed, _, _)| ToldBy::Reading(owed))
}

/// What became of the planted fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PlantedEnd {
    /// Mended before handing back.
    Mended,
    /// Named to those licensed for it.
    Named,
    /// A proof or run failed by it, and the machine was not handed back for use: disconnected, told and tagged.
    Disconnected,
    /// The job was handed on before anything was proved: nothing was handed back, and nothing was found.
    HandedOn,
    /// Handed back: the technician's meter left the proof open that would have told it, and the record says so.
    NotDecided,
    /// Handed back: nothing that the machine's proofs and runs ask for tells it.
    Untold,
    /// Handed back though a proof or run tells it.
    Missed,
}

impl PlantedEnd {
    /// Says whether it was found before handing back.
    #[must_use]
    pub fn found(self) -> bool {
        matches!(self, Self::Mended | Self::Named | Self::Disconnected)
    }

    /// Says whether the machine was handed back for use with it.
    #[must_use]
    pub fn handed_back(self) -> bool {
        matches!(self, Self::NotDecided | Self::Untold | Self::Missed)
    }
}

/// The planted fault of one call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Planted {
    /// The fault.
    pub fault: FaultId,
    /// What tells it.
    #[serde(skip)]
    pub told_by: ToldBy,
    /// What became of it.
    pub end: PlantedEnd,
}
