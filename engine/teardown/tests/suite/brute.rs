//! The definition of a least way, in plain lines: every order of every set of covers, by the state (what is off, where
//! one stands). Shares nothing with the planner but the machine's own types.

use machine::access::Access;
use machine::model::PlaceId;
use std::collections::BTreeMap;
use teardown::{Open, WALK_MINUTES};

/// Least minutes, off and on and walking there and back, in thousandths of a second; `None` when no order exposes all.
pub(crate) fn least(access: &Access, targets: &[PlaceId], open: &Open) -> Option<u64> {
    let start: Vec<bool> = (0..access.steps.len()).map(|i| open.has(crate::support::cover_id(i))).collect();
    let mut best: BTreeMap<(Vec<bool>, String), u64> = BTreeMap::new();
    let mut to_do = vec![(start, String::new(), 0)];
    let mut least: Option<u64> = None;
    while let Some((off, side, cost)) = to_do.pop() {
        let key = (off.clone(), side.clone());
        if best.get(&key).is_some_and(|&known| known <= cost) {
            continue;
        }
        best.insert(key, cost);
        if targets.iter().all(|&target| holds(&access.places[target.index()].exposed_by, &off)) {
            least = Some(least.map_or(cost, |least| least.min(cost)));
        }
        for (index, step) in access.steps.iter().enumerate() {
            if off[index] || !(step.needs.is_empty() || holds(&step.needs, &off)) {
                continue;
            }
            let walk = if side.is_empty() || side == step.side { 0 } else { whole(2.0 * WALK_MINUTES) };
            let mut more = off.clone();
            more[index] = true;
            to_do.push((more, step.side.clone(), cost + walk + whole(step.minutes_off) + whole(step.minutes_on)));
        }
    }
    least
}

fn holds(ways: &[Vec<machine::model::CoverId>], off: &[bool]) -> bool {
    ways.iter().any(|way| way.iter().all(|cover| off[cover.index()]))
}

fn whole(minutes: f64) -> u64 {
    let ticks = (minutes * 60_000.0).round();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "test minutes are few and positive")]
    let whole = ticks as u64;
    whole
}
