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
    /// Prior weight, relative to the other faults of the machine, at the age of [`AGE_OF_WEIGHTS`].
    pub weight: f64,
    /// Weibull shape of its life: above 1 it comes with age, below 1 it comes early, 1 at any age alike.
    pub wear: f64,
    /// How many times its weight it has from an age on (years), as a shop's own jobs taught; the latest that begins counts.
    pub at_ages: Vec<(f64, f64)>,
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

/// Age for which weights are stated, years: about the middle of an appliance's life. Common practice, no source.
pub const AGE_OF_WEIGHTS: f64 = 7.0;
/// Youngest age that is told apart, years: a shape under 1 would else be without bound.
const YOUNGEST: f64 = 0.5;
/// Most that age alone changes a weight, and least: shapes are known no better than that.
const MOST_BY_AGE: f64 = 4.0;

impl Fault {
    /// Gives the weight at an age (years); the stated one where the age is not known.
    ///
    /// SOURCE: the hazard of a Weibull life, shape over scale times (age over scale) to the power of shape less 1; the scale
    /// falls out of the ratio to the hazard at [`AGE_OF_WEIGHTS`].
    #[must_use]
    pub fn weight_at(&self, age: Option<f64>) -> f64 {
        let Some(age) = age.filter(|age| age.is_finite()) else { return self.weight };
        let hazard = libm::pow(age.max(YOUNGEST) / AGE_OF_WEIGHTS, self.wear - 1.0);
        let taught = self.at_ages.iter().rev().find(|(from, _)| *from <= age).map_or(1.0, |(_, times)| *times);
        self.weight * hazard.clamp(1.0 / MOST_BY_AGE, MOST_BY_AGE) * taught
    }
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
