//! What hands do at the machine, one thing after the other: the trail that a rehearsed technician leaves. It says only
//! what was done; whether it was safe is for others to judge.

use machine::model::{BranchId, CoverId, PlaceId, RepairId, StateId, TerminalId};

/// One thing done by hand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Hand {
    /// The feed is parted and kept so.
    Isolate,
    /// The meter is proved on a known source, these conductors are measured dead, each to every other and to a proven
    /// earth, and the meter is proved again.
    ProveDead(Vec<TerminalId>),
    /// A cover comes off.
    Open(CoverId),
    /// A cover goes back on.
    Close(CoverId),
    /// Probes, fingers or tools on these conductors.
    Touch(Vec<TerminalId>),
    /// Clips go on these conductors, or a clamp around what joins them, and stay there while it runs.
    Clip(Vec<TerminalId>),
    /// Clips and clamp come off again.
    Unclip(Vec<TerminalId>),
    /// The clamp goes around a conductor of the cord, outside of the machine.
    ClampCord(BranchId),
    /// Two slots of the receptacle are read, the machine parted from it.
    ReadSupply(TerminalId, TerminalId),
    /// A close look at a place.
    Look(PlaceId),
    /// The feed is on again.
    Energise,
    /// A state is run, everybody clear of what is open.
    Run(StateId),
    /// Probes held by hand on these conductors of the open, energised machine, and why.
    ProbeLive {
        /// The conductors.
        at: Vec<TerminalId>,
        /// Why nothing safer tells.
        reason: String,
    },
    /// A repair is begun.
    Repair(RepairId),
}
