//! What is worth asking the customer before anyone sets out: the use of the machine whose answers would tell most.
//! Knows nothing of minutes: a question on the phone costs none at the machine.

use diagnosis::{Belief, Suspect};
use machine::model::StateId;
use prediction::Seen;
use std::collections::BTreeMap;

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
    let told_of = states.filter(|state| !told.contains(state)).map(|state| (state, information(belief, &live, state)));
    told_of.filter(|(_, bits)| *bits >= WORTH_ASKING).max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)))
}

/// Gives the mutual information of all that is seen in a state with the suspects, bits.
fn information(belief: &Belief<'_, '_>, live: &[(&Suspect, f64)], state: StateId) -> f64 {
    let wrong = belief.assumed().wrong_report;
    let mut patterns: BTreeMap<Vec<u8>, Vec<f64>> = BTreeMap::new();
    let total: f64 = live.iter().map(|(_, share)| share).sum();
    for (index, (suspect, _)) in live.iter().enumerate() {
        for (way, share) in belief.predictor().ways(state, &suspect.0).iter().zip(belief.sizes(suspect)) {
            patterns.entry(way.values.clone()).or_insert_with(|| vec![0.0; live.len()])[index] += share;
        }
    }
    let count = f64::from(u32::try_from(patterns.len()).unwrap_or(u32::MAX));
    let mut bits = 0.0;
    for row in patterns.values() {
        let chance = |told: f64| wrong / count + (1.0 - wrong) * told;
        let whole: f64 = live.iter().zip(row).map(|((_, share), told)| share / total * chance(*told)).sum();
        for ((_, share), told) in live.iter().zip(row) {
            bits += share / total * chance(*told) * libm::log2(chance(*told) / whole);
        }
    }
    bits
}

/// Says whether what was told of a state is a trouble: something else than on a sound machine.
#[must_use]
pub fn is_trouble(belief: &Belief<'_, '_>, seen: &Seen) -> bool {
    let predictor = belief.predictor();
    let at = predictor.observed_in(seen.state).position(|what| what == seen.what);
    at.is_some_and(|at| !predictor.ways(seen.state, &[]).iter().any(|way| way.values[at] == seen.value))
}
