//! What is worth saying of faults that come and go: whether a suspect hides now, and what would make it show.
//!
//! It proposes in words and numbers; it knows no prices and no danger, and does nothing by itself.

use crate::belief::Belief;
use crate::showing::Stirred;
use crate::suspects::Suspect;
use machine::faults::Stir;
use machine::model::PartId;
use std::collections::BTreeMap;

/// Says how a suspect stands if it more likely comes and goes than not: `intermittent: not showing now`.
#[must_use]
pub fn standing(belief: &Belief<'_, '_>, suspect: &Suspect) -> Option<&'static str> {
    if belief.hides(suspect) > 0.5 {
        Some("intermittent: not showing now")
    } else if belief.comes_and_goes(suspect) > 0.5 {
        Some("intermittent")
    } else {
        None
    }
}

/// A try that may make a fault show.
#[derive(Clone, Debug, PartialEq)]
pub struct Provocation {
    /// What to do; the evidence to take once it is done.
    pub stirred: Stirred,
    /// Share of the whole belief that hides now and shows after it.
    pub brings_out: f64,
    /// In a sentence.
    pub say: String,
}

/// Share below which a provocation is not worth saying.
const WORTH_SAYING: f64 = 0.01;
/// Share below which a suspect is not asked what hides of it.
const WORTH_WEIGHING: f64 = 1e-4;

/// Gives the tries that may bring out what hides now, the most promising first.
///
/// Only what the description says provokes a fault counts. Nothing is proposed while hardly anything hides.
#[must_use]
pub fn provocations(belief: &Belief<'_, '_>) -> Vec<Provocation> {
    let machine = belief.machine();
    let mut moved: BTreeMap<PartId, f64> = BTreeMap::new();
    let mut warmed = 0.0;
    for (suspect, share) in belief.shares().into_iter().take_while(|(_, share)| *share >= WORTH_WEIGHING) {
        let hidden = belief.phases(suspect).into_iter().filter(|phase| phase.shown != *suspect);
        for phase in hidden {
            let (mut by_warmth, mut by_hand) = (1.0, BTreeMap::new());
            for fault in suspect.0.iter().filter(|fault| !phase.shown.0.contains(fault)) {
                let fault = &machine.faults[fault.index()];
                let Some(how) = &fault.intermittent else { continue };
                if how.by.contains(&Stir::Warmed) {
                    by_warmth *= 1.0 - how.provoked;
                }
                if how.by.contains(&Stir::Moved) {
                    *by_hand.entry(fault.part).or_insert(1.0) *= 1.0 - how.provoked;
                }
            }
            warmed += share * phase.share * (1.0 - by_warmth);
            for (part, stays) in by_hand {
                *moved.entry(part).or_default() += share * phase.share * (1.0 - stays);
            }
        }
    }
    let by_hand = moved.into_iter().map(|(part, brings_out)| Provocation {
        stirred: Stirred::Moved(part),
        brings_out,
        say: format!("move the {} while isolated, then read again", machine.parts[part.index()].name),
    });
    let by_warmth = Provocation {
        stirred: Stirred::Warmed,
        brings_out: warmed,
        say: "run it until it is warm, then try and read again".to_owned(),
    };
    let mut all: Vec<Provocation> =
        by_hand.chain([by_warmth]).filter(|provocation| provocation.brings_out >= WORTH_SAYING).collect();
    all.sort_by(|a, b| b.brings_out.total_cmp(&a.brings_out));
    all
}
