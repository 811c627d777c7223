//! Why a step is refused. Each says what to do instead.

use crate::energy::Store;
use crate::found::EndRefusal;
use machine::model::{CoverId, PartId, PlaceId, TerminalId};

/// Why a step is refused, the first rule that speaks against it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// Gas is smelled: nothing but leaving.
    GasSmelled,
    /// The machine has no such thing.
    Unknown,
    /// The machine is not isolated.
    NotIsolated,
    /// Nothing keeps the feed off.
    NotSecured,
    /// These terminals are not measured dead, each to every other, in this epoch.
    NotProvedDead(Vec<TerminalId>),
    /// The place is behind covers.
    NotExposed(PlaceId),
    /// The cover cannot come off yet, or is off.
    CoverHeld(CoverId),
    /// The cover is on already.
    CoverIsOn(CoverId),
    /// No probe reaches the terminal.
    Hidden(TerminalId),
    /// The two points are one.
    SamePoint,
    /// These must be closed first, or everyone stands clear.
    CloseFirst(Vec<CoverId>),
    /// Someone could be hurt when it starts.
    PeopleNotClear,
    /// Lead ends hang bare.
    BareEnds(Vec<TerminalId>),
    /// Water stands there.
    Wet,
    /// A direct-current bus, a charged store or more than the mains is at the terminal.
    HighVoltage(TerminalId),
    /// Nothing is said of why no safer reading tells.
    NoReason,
    /// The machine is off, so there is nothing to probe.
    NotEnergised,
    /// Not a slot of the receptacle or disconnect.
    NotASupplyTerminal(TerminalId),
    /// This part's lead or connector does not have that end.
    NotItsEnd,
    /// Boards hang on what an insulation test would stress.
    LiftBoards(Vec<PartId>),
    /// The board is not condemned by anything measured.
    NoBoardEvidence(PartId),
    /// For those licensed for it.
    Licensed(PartId),
    /// The gas must be shut first.
    ShutGas,
    /// The store does not exist.
    NoSuchStore(Store),
    /// Dangerous hazards are open; their places in the list.
    DangerousHazard(Vec<usize>),
    /// The call cannot end so.
    End(EndRefusal),
}
