//! What a suspect hides: whether each of its faults comes and goes, whether it shows at this sitting, and how large it is.
//!
//! A fault is of one of three sorts: it stays, it comes and goes and shows now, it comes and goes and hides now. What
//! hides cannot be read or watched. Showing is drawn anew when a sitting begins (another visit, a repair, a part moved,
//! the machine run warm) and stays as it is until the next one: readings of one sitting are no independent evidence.
//! The shares are carried forward item by item, which sums over every sequence of showing and hiding exactly.

use crate::suspects::Suspect;
use machine::faults::{Intermittent, Stir};
use machine::model::{FaultId, Machine, PartId};

/// Sorts of one fault: stays, shows now, hides now.
const SORTS: usize = 3;
/// It comes and goes, and shows at this sitting.
const SHOWS: usize = 1;
/// It comes and goes, and hides at this sitting.
const HIDES: usize = 2;

/// What begins a sitting, as far as it can make a fault show or hide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stirred {
    /// Time has passed, or hands have been at the machine: everything that comes and goes may be otherwise now.
    Again,
    /// This part and its leads were moved.
    Moved(PartId),
    /// The machine has run until it was warm.
    Warmed,
}

/// The faults of a suspect that may come and go.
#[derive(Clone, Debug)]
pub(crate) struct Fickle<'m> {
    /// By fault of the suspect: how it comes and goes.
    each: Vec<Option<(&'m Intermittent, PartId)>>,
    /// Multiplies the described shares.
    times: f64,
}

impl<'m> Fickle<'m> {
    pub(crate) fn of(machine: &'m Machine, suspect: &Suspect, times: f64) -> Self {
        let each = suspect.0.iter().map(|fault| {
            let fault = &machine.faults[fault.index()];
            fault.intermittent.as_ref().filter(|_| times > 0.0).map(|how| (how, fault.part))
        });
        Self { each: each.collect(), times }
    }

    /// Counts the ways in which its faults can stay, show or hide.
    pub(crate) fn count(&self) -> usize {
        self.each.iter().flatten().fold(1, |count, _| count * SORTS)
    }

    /// Gives the sort of each fault in a phase: one digit to the base of three for each that can come and go.
    fn sorts(&self, phase: usize) -> impl Iterator<Item = usize> + '_ {
        let mut left = phase;
        self.each.iter().map(move |each| {
            if each.is_none() {
                return 0;
            }
            let sort = left % SORTS;
            left /= SORTS;
            sort
        })
    }

    /// Gives the faults that show in a phase, as a number with one bit for each fault of the suspect.
    pub(crate) fn mask(&self, phase: usize) -> usize {
        self.sorts(phase).enumerate().fold(0, |mask, (at, sort)| if sort == HIDES { mask } else { mask | 1 << at })
    }

    /// Says whether some fault comes and goes in a phase.
    pub(crate) fn fickle(&self, phase: usize) -> bool {
        self.sorts(phase).any(|sort| sort != 0)
    }

    /// Gives the share of each phase before any evidence, at a sitting that nothing provokes.
    pub(crate) fn prior(&self) -> Vec<f64> {
        (0..self.count())
            .map(|phase| self.sorts(phase).zip(&self.each).map(|(s, each)| self.alone(s, *each)).product())
            .collect()
    }

    fn alone(&self, sort: usize, each: Option<(&Intermittent, PartId)>) -> f64 {
        let Some((how, _)) = each else { return 1.0 };
        let share = (how.share * self.times).clamp(0.0, 1.0);
        match sort {
            SHOWS => share * how.shows,
            HIDES => share * (1.0 - how.shows),
            _ => 1.0 - share,
        }
    }

    /// Draws showing and hiding anew where a sitting begins so: `hidden` has `sizes` shares for each phase.
    pub(crate) fn stir(&self, hidden: &mut [f64], sizes: usize, stirred: Stirred) {
        let mut step = 1;
        for (how, part) in self.each.iter().flatten() {
            if let Some(shows) = shows_after(how, *part, stirred) {
                for phase in (0..self.count()).filter(|phase| phase / step % SORTS == SHOWS) {
                    for size in 0..sizes {
                        let (here, there) = (phase * sizes + size, (phase + step) * sizes + size);
                        let both = hidden[here] + hidden[there];
                        (hidden[here], hidden[there]) = (both * shows, both * (1.0 - shows));
                    }
                }
            }
            step *= SORTS;
        }
    }
}

/// Gives the chance that a fault which comes and goes shows after this; `None` where it stays as it was.
fn shows_after(how: &Intermittent, part: PartId, stirred: Stirred) -> Option<f64> {
    let provoked = |by: Stir| if how.by.contains(&by) { how.provoked } else { how.shows };
    match stirred {
        Stirred::Again => Some(how.shows),
        Stirred::Moved(moved) => (moved == part).then(|| provoked(Stir::Moved)),
        Stirred::Warmed => how.by.contains(&Stir::Warmed).then_some(how.provoked),
    }
}

/// Gives the faults of a suspect that a mask lets show.
pub(crate) fn shown(suspect: &Suspect, mask: usize) -> Vec<FaultId> {
    suspect.0.iter().enumerate().filter(|(at, _)| mask >> at & 1 == 1).map(|(_, fault)| *fault).collect()
}

/// One way in which a suspect may stand now: what of it shows, and how large that is.
#[derive(Clone, Debug, PartialEq)]
pub struct Phase {
    /// The faults that show; readings and runs go as with these alone.
    pub shown: Suspect,
    /// Share of this way, given the suspect; the shares of all ways sum to 1.
    pub share: f64,
    /// Shares of the sizes of the whole suspect's faults, given this way, in the predictor's order.
    pub sizes: Vec<f64>,
}
