//! Faults that come and go in a real unit: which do is drawn once, what shows is drawn for each sitting.
//!
//! A unit as drawn stands as its customer saw it when it would not go: everything shows. From the first sitting on each
//! fault that comes and goes shows or hides as the dice have it, the same through the whole sitting.

use crate::dice::Dice;
use crate::draw::DrawSettings;
use crate::unit::Unit;
use machine::faults::{Intermittent, Stir};
use machine::model::{FaultId, Machine, PartId};

/// Words that keep the streams of chance apart.
const COMES_AND_GOES: u64 = 61;
const SHOWS: u64 = 62;

/// What of a unit comes and goes, and what of that hides now.
#[derive(Clone, Debug, Default)]
pub(crate) struct Fickle {
    /// Faults that come and go.
    pub(crate) faults: Vec<FaultId>,
    /// Those of them that hide at this sitting.
    pub(crate) hidden: Vec<FaultId>,
    /// Draws so far.
    draws: u64,
}

impl Fickle {
    /// Draws which of these faults come and go.
    pub(crate) fn draw(machine: &Machine, faults: &[FaultId], seed: u64, settings: &DrawSettings) -> Self {
        let does = |fault: FaultId| {
            let how = machine.faults[fault.index()].intermittent.as_ref();
            let mut dice = Dice::of(seed, &[COMES_AND_GOES, u64::from(fault.0)]);
            how.is_some_and(|how| dice.chance(how.share * settings.intermittents))
        };
        Self { faults: faults.iter().copied().filter(|&fault| does(fault)).collect(), ..Self::default() }
    }
}

impl Unit<'_> {
    /// Gives the faults that come and go: the truth, for judging and never for the technician.
    #[must_use]
    pub fn come_and_go(&self) -> Vec<FaultId> {
        let here = self.faults();
        self.fickle.faults.iter().copied().filter(|fault| here.contains(fault)).collect()
    }

    /// Gives the faults that show at this sitting.
    #[must_use]
    pub fn showing(&self) -> Vec<FaultId> {
        self.faults().into_iter().filter(|fault| !self.fickle.hidden.contains(fault)).collect()
    }

    /// Begins another sitting: time has passed, everything that comes and goes is drawn anew.
    pub fn sit_down(&mut self) {
        self.redraw(|how, _| Some(how.shows));
    }

    /// Moves a part and its leads.
    pub fn move_part(&mut self, part: PartId) {
        let chance = |how: &Intermittent| if how.by.contains(&Stir::Moved) { how.provoked } else { how.shows };
        self.redraw(|how, owner| (owner == part).then(|| chance(how)));
    }

    /// Runs the machine until it is warm.
    pub fn warm_up(&mut self) {
        self.redraw(|how, _| how.by.contains(&Stir::Warmed).then_some(how.provoked));
    }

    /// Draws each fault that comes and goes anew with the chance given that it shows; `None` leaves it as it is.
    fn redraw(&mut self, chance: impl Fn(&Intermittent, PartId) -> Option<f64>) {
        self.fickle.draws += 1;
        let machine = self.machine();
        for fault in self.fickle.faults.clone() {
            let described = &machine.faults[fault.index()];
            let Some(shows) = described.intermittent.as_ref().and_then(|how| chance(how, described.part)) else {
                continue;
            };
            self.fickle.hidden.retain(|&other| other != fault);
            if !Dice::of(self.seed(), &[SHOWS, u64::from(fault.0), self.fickle.draws]).chance(shows) {
                self.fickle.hidden.push(fault);
            }
        }
    }

    /// Gives the unit as it stands when everything shows.
    pub(crate) fn at_its_worst(&self) -> Self {
        let mut worst = self.clone();
        worst.fickle.hidden.clear();
        worst
    }
}
