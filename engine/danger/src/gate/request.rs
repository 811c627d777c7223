//! What may be asked of the gate, and the facts it judges by.

use crate::board::BoardEvidence;
use crate::dead::{DeadProof, Pair};
use crate::energy::{Energy, Isolator, Store};
use crate::found::{End, HazardFound};
use machine::model::{BranchId, CoverId, PartId, PlaceId, RepairId, StateId, TerminalId};
use std::collections::BTreeSet;
use teardown::Open;

/// A step that somebody wants to take.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum StepRequest {
    /// Leave the house: gas.
    Evacuate,
    /// Prove the meter on a known source.
    ProveMeter,
    /// Read volts between two slots of the receptacle, or two line terminals of the disconnect.
    ReadSupply {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
    },
    /// Part the machine from its feed.
    Isolate(Isolator),
    /// Discharge a store through a resistor and measure it.
    Discharge(Store),
    /// Measure for absence of voltage; the conductors count as live until it is done.
    ProveDead(Pair),
    /// Take a cover off.
    OpenCover(CoverId),
    /// Put a cover back.
    CloseCover(CoverId),
    /// Look at a place.
    Look(PlaceId),
    /// Read with the machine isolated.
    ReadIsolated {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// With what.
        how: IsolatedReading,
    },
    /// Clip on dead, stand clear, energise, read, isolate.
    ReadClipped {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// State in which it is read.
        state: StateId,
    },
    /// Probe by hand in the open, energised machine.
    ProbeEnergised {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// State in which it is read.
        state: StateId,
        /// Why nothing safer tells.
        reason: LastResort,
    },
    /// Lay a clamp around a conductor dead, stand clear, energise, read, isolate.
    Clamp {
        /// The conductor.
        branch: BranchId,
        /// State in which it is read.
        state: StateId,
    },
    /// Run the machine and see.
    Try {
        /// State.
        state: StateId,
        /// Everyone stands clear of what is open.
        standing_clear: bool,
    },
    /// Lift one end of a lead.
    LiftLead {
        /// The lead.
        lead: PartId,
        /// The end.
        at: TerminalId,
    },
    /// Unplug a connector.
    Unplug(PartId),
    /// Change a part.
    Change(PartId),
    /// Do a repair of the machine's list.
    Repair(RepairId),
    /// Restore the feed.
    Energise {
        /// Everyone stands clear of what is open.
        standing_clear: bool,
    },
    /// Disconnect the machine for good and tag it.
    Disconnect,
    /// End the call so.
    End(End),
}

/// What is read with the machine isolated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum IsolatedReading {
    /// Resistance or continuity.
    Ohms,
    /// The diode test.
    Diode,
    /// Capacitance.
    Capacitance,
    /// Insulation resistance at high test volts: it breaks boards and charges what it touches.
    Insulation,
}

/// Why a hand must go into an energised machine.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct LastResort {
    /// Why no reading with the machine dead tells it.
    pub no_dead_test: String,
    /// Why clips cannot be put on dead.
    pub no_clips: String,
}

/// The facts of the moment.
#[derive(Clone, Debug, Default)]
pub struct Situation {
    /// Every energy, as hands and meters left it.
    pub energy: Energy,
    /// Covers that are off.
    pub open: Open,
    /// Gas is smelled.
    pub gas_smelled: bool,
    /// Water stands where one stands, or in the machine by its wiring.
    pub wet: bool,
    /// Nobody else is at the machine, and everyone knows it will be switched on.
    pub people_clear: bool,
    /// Terminals from which every lead is lifted.
    pub lifted: BTreeSet<TerminalId>,
    /// Those of them whose lead ends are insulated.
    pub capped: BTreeSet<TerminalId>,
    /// Proofs of deadness; spent ones do no harm.
    pub dead: Vec<DeadProof>,
    /// Evidence against boards.
    pub boards: Vec<BoardEvidence>,
    /// Hazards found so far.
    pub hazards: Vec<HazardFound>,
}
