//! What is worth asking the customer before anyone sets out: the use of the machine whose answers would tell most.
//! Knows nothing of minutes: a question on the phone costs none at the machine.

use crate::bins::as_f64;
use crate::compile::information;
use diagnosis::{Belief, Suspect};
use machine::model::StateId;
use prediction::Way;
use std::collections::BTreeSet;
use std::rc::Rc;

/// Information below which nothing more is asked, bits.
const WORTH_ASKING: f64 = 0.1;
/// Suspects weighed for a question.
const MOST_SUSPECTS: usize = 64;
/// Share of the belief weighed.
const SHARE: f64 = 0.99;

/// Gives the state to ask about next, besides those in `told`, and what its answers tell, in bits; `None` when no
/// state is worth it.
///
/// Each answer is taken as wrong now and then, as [`diagnosis::Evidence::Answered`] is.
#[must_use]
pub fn next_use(belief: &Belief<'_, '_>, told: &[StateId]) -> Option<(StateId, f64)> {
    let machine = belief.machine();
    let mut live: Vec<(&Suspect, f64)> = Vec::new();
    let mut mass = 0.0;
    for (suspect, share) in belief.shares() {
        if live.len() == MOST_SUSPECTS || mass >= SHARE {
            break;
        }
        mass += share;
        live.push((suspect, share));
    }
    let states = (0..machine.states.len()).map(|s| StateId(u16::try_from(s).unwrap_or(u16::MAX)));
    let told_of = states.filter(|state| !told.contains(state)).map(|state| (state, told_by(belief, &live, state)));
    told_of.filter(|(_, bits)| *bits >= WORTH_ASKING).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
}

/// Gives the mutual information of all that is seen in a state with the suspects, bits.
fn told_by(belief: &Belief<'_, '_>, live: &[(&Suspect, f64)], state: StateId) -> f64 {
    let wrong = belief.assumed().wrong_report;
    let ways: Vec<_> = live.iter().map(|(suspect, _)| belief.predictor().ways(state, &suspect.0)).collect();
    let patterns: BTreeSet<&Vec<u8>> = ways.iter().flat_map(|ways| ways.iter().map(|way| &way.values)).collect();
    let even = 1.0 / as_f64(patterns.len());
    let row = |(ways, (suspect, _)): (&Rc<[Way]>, &(&Suspect, f64))| -> Vec<f64> {
        let sizes = belief.sizes(suspect);
        let told = |pattern: &Vec<u8>| -> f64 {
            ways.iter().zip(&sizes).filter(|(way, _)| way.values == *pattern).map(|(_, share)| share).sum()
        };
        patterns.iter().map(|pattern| wrong * even + (1.0 - wrong) * told(pattern)).collect()
    };
    let rows: Vec<Vec<f64>> = ways.iter().zip(live).map(row).collect();
    let shares: Vec<f64> = live.iter().map(|(_, share)| *share).collect();
    information(&shares, &rows)
}
