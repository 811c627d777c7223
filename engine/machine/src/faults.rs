//! Ways to fail, as changes of the wiring, and the repairs that cure them. Knows no probabilities beyond the prior
//! weights that the description states.

use crate::model::{BranchId, FaultId, FlagId, PartId, RepairId, TerminalId};
use rust_decimal::Decimal;

/// One way a part fails.
#[derive(Clone, Debug)]
pub struct Fault {
    /// `PART:MODE`, such as `heater:open`.
    pub id: String,
    /// The part that fails.
    pub part: PartId,
    /// In words, after the part's name: `burnt through`.
    pub say: String,
    /// Prior weight, relative to the other faults of the machine.
    pub weight: f64,
    /// What changes.
    pub effects: Vec<Effect>,
    /// Faults that bring this one about, each with the share of this fault's cases that it explains.
    pub caused_by: Vec<(FaultId, f64)>,
    /// Chance that a look at the part shows it.
    pub visible: f64,
    /// The repair that cures it.
    pub repair: RepairId,
    /// Can hurt someone if handed back: shock, fire, gas.
    pub dangerous: bool,
    /// How it comes and goes in some of its cases; `None` for one that stays once it is there.
    pub intermittent: Option<Intermittent>,
}

/// How a fault comes and goes.
#[derive(Clone, Debug, PartialEq)]
pub struct Intermittent {
    /// Share of this fault's cases in which it comes and goes, over 0.
    pub share: f64,
    /// Share of the time that such a one shows.
    pub shows: f64,
    /// Chance that it shows once what provokes it was done.
    pub provoked: f64,
    /// What provokes it.
    pub by: Vec<Stir>,
}

/// What can make a fault that comes and goes show itself or hide.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stir {
    /// The part and its leads are moved.
    Moved,
    /// The machine runs until it is warm.
    Warmed,
}

/// One change of the wiring.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Effect {
    /// The branch conducts no more.
    Open(BranchId),
    /// The branch has this resistance whatever its rule says (a burnt joint, a shorted capacitor, a welded contact).
    Ohms(BranchId, f64),
    /// The branch's resistance, capacitance or source voltage is multiplied (a sensor that drifted, a low supply).
    Scale(BranchId, f64),
    /// The source's phase is turned by so many degrees (two legs of three phases in place of a split one).
    Turn(BranchId, f64),
    /// A connection that should not be, ohms.
    Bridge(TerminalId, TerminalId, f64),
    /// The flag is held, whatever the circuit says (a seized motor, a relay that no longer pulls, a dead board).
    Hold(FlagId, bool),
    /// The non-electrical part no longer does its work (a broken belt, a blocked vent).
    Stops(PartId),
    /// The non-electrical part does its work weakly (a filter half full, a tap half open).
    Weakens(PartId),
}

/// What the hand does to cure a class of faults.
#[derive(Clone, Debug)]
pub struct Repair {
    /// `heater:replace`, `R4:mend`, `vent:clean`, `house:refer`.
    pub id: String,
    /// In a sentence: `replace the heating element`.
    pub say: String,
    /// The part it is done to.
    pub part: PartId,
    /// How.
    pub kind: RepairKind,
    /// Price of what is fitted.
    pub price: Decimal,
    /// Minutes once the part is exposed.
    pub minutes: f64,
    /// On the van as a rule.
    pub stocked: bool,
    /// Parts changed in the same go.
    pub together: Vec<PartId>,
}

/// How a repair is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RepairKind {
    /// A new part.
    Replace,
    /// A new terminal, a new piece of lead.
    Mend,
    /// Cleaned, cleared, reset, set right.
    Clean,
    /// For those licensed for it (house wiring, gas, sealed system).
    Refer,
}
