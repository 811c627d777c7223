//! A dangerous fault that has nothing to do with the complaint, planted into a drawn unit.
//!
//! Which faults are dangerous is what the description says of each; which are unrelated is worked out from the unit:
//! nobody who called for the trouble could tell the two units apart by it.

use crate::dice::Dice;
use crate::draw::{DrawSettings, Workshop};
use crate::unit::Unit;
use crate::values::{sized, stated};
use machine::model::FaultId;

/// Words that keep the streams of chance apart.
const PLANT: u64 = 33;

impl<'m> Workshop<'m> {
    /// Plants an unrelated dangerous fault in a share of the units and says which; `None` for the rest, and where no
    /// fault of the machine is dangerous and unrelated.
    ///
    /// Drawn by the weights of this world. Unrelated: of another part, cured by another repair, neither cause nor
    /// effect of what is there, and in the states in which the trouble shows everything goes as it did without it.
    #[must_use]
    pub fn plant(&self, unit: &Unit<'m>, settings: &DrawSettings, share: f64) -> Option<(Unit<'m>, FaultId)> {
        let mut dice = Dice::of(unit.seed(), &[PLANT]);
        if !dice.chance(share) {
            return None;
        }
        let mut weights = self.disturbed(settings);
        for (weight, id) in weights.iter_mut().zip(0..) {
            if !self.may_be_planted(unit, FaultId(id)) {
                *weight = 0.0;
            }
        }
        loop {
            let at = dice.pick(&weights)?;
            weights[at] = 0.0;
            let fault = FaultId(u16::try_from(at).ok()?);
            let both = unit.with(fault, settings);
            let mut troubled = unit.state_ids().filter(|&state| unit.differs(state));
            if troubled.all(|state| both.observe(state) == unit.observe(state)) {
                return Some((both, fault));
            }
        }
    }

    fn may_be_planted(&self, unit: &Unit<'m>, fault: FaultId) -> bool {
        let of = |fault: FaultId| &unit.machine().faults[fault.index()];
        let planted = of(fault);
        let causes = |a: FaultId, b: FaultId| of(a).caused_by.iter().any(|&(cause, _)| cause == b);
        planted.dangerous
            && unit.faults().into_iter().all(|own| {
                let there = of(own);
                there.part != planted.part
                    && there.repair != planted.repair
                    && !causes(own, fault)
                    && !causes(fault, own)
            })
    }
}

impl<'m> Unit<'m> {
    /// Gives the same unit with one more fault, sized as this unit's would be.
    #[must_use]
    pub fn with(&self, fault: FaultId, settings: &DrawSettings) -> Self {
        let mut faults = self.own_faults().to_vec();
        faults.push((fault, sized(self.machine(), fault, self.seed(), settings)));
        faults.sort_by_key(|(fault, _)| *fault);
        self.having(faults)
    }

    /// Gives the same unit with this fault alone: with its own size if it has it, else as described.
    #[must_use]
    pub fn with_this_alone(&self, fault: FaultId) -> Self {
        let own = self.own_faults().iter().find(|(own, _)| *own == fault);
        let effects = own.map_or_else(|| stated(self.machine(), fault), |(_, effects)| effects.clone());
        self.having(vec![(fault, effects)])
    }

    /// Gives the same unit without a fault.
    #[must_use]
    pub fn without(&self, fault: FaultId) -> Self {
        self.having(self.own_faults().iter().filter(|(own, _)| *own != fault).cloned().collect())
    }
}
