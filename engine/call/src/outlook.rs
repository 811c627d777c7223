//! What a call to come may turn out to be: which parts it may take, and how long. Out of what is believed
//! before anybody has driven there.

use crate::session::Session;
use machine::faults::RepairKind;
use machine::model::{PartId, RepairId};
use std::collections::BTreeMap;
use teardown::{Open, plan_teardown};

/// Minutes of every visit beside finding and mending: arriving, the supply, proofs, papers. Common practice, no source.
const VISIT: f64 = 25.0;
/// Minutes of finding: what rehearsed calls take on average beside the repair itself (docs/rehearsals-every.md), rounded.
const FINDING: f64 = 15.0;
/// Minutes from arrival to the first part changed as they are reckoned without a shop's own: the supply, finding, the way in.
/// Common practice, no source.
pub const TO_FIRST_PART: f64 = 30.0;
/// Share under which a turn of events is left out.
const LEAST: f64 = 0.005;

/// One way in which a call may turn out.
#[derive(Clone, Debug, PartialEq)]
pub struct Turn {
    /// Chance of it, 0 to 1.
    pub chance: f64,
    /// In words: the repairs.
    pub say: String,
    /// Spare parts that it takes, by id; `None` where no part mends it there and then.
    pub parts: Option<Vec<String>>,
    /// Minutes at the customer's, on average.
    pub minutes: f64,
}

/// What a call to come may turn out to be.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// The ways, the likeliest first; what is left of the chance is too rare to be told.
    pub turns: Vec<Turn>,
}

impl Outlook {
    /// Works it out for a call as it stands. Finding takes so many times as long as is usual.
    #[must_use]
    pub fn of(session: &Session<'_, '_>, finding: f64) -> Self {
        let machine = session.machine();
        let mut by_repairs: BTreeMap<Vec<RepairId>, f64> = BTreeMap::new();
        for (suspect, share) in session.belief().shares() {
            let mut repairs: Vec<RepairId> = suspect.repairs(machine).into_iter().collect();
            repairs.sort_unstable();
            *by_repairs.entry(repairs).or_default() += share;
        }
        let turn = |(repairs, chance): (Vec<RepairId>, f64)| {
            let referred = repairs.iter().any(|repair| machine[*repair].kind == RepairKind::Refer);
            let spares = repairs.iter().filter(|repair| machine[**repair].kind == RepairKind::Replace);
            let parts: Vec<PartId> = spares.flat_map(|repair| crate::stages::fit::parts_of(session, *repair)).collect();
            let parts: Vec<String> = parts.into_iter().map(|part| machine[part].id.clone()).collect();
            let says: Vec<&str> = repairs.iter().map(|repair| machine[*repair].say.as_str()).collect();
            let say = if says.is_empty() { "nothing wrong: its use".to_owned() } else { says.join("; ") };
            Turn {
                chance,
                say,
                parts: (!referred).then_some(parts),
                minutes: VISIT + FINDING * finding + if referred { 0.0 } else { mending(session, &repairs) },
            }
        };
        let mut turns: Vec<Turn> = by_repairs.into_iter().filter(|(_, share)| *share >= LEAST).map(turn).collect();
        turns.sort_by(|one, other| other.chance.total_cmp(&one.chance));
        Self { turns }
    }

    /// Gives minutes with their weights, for a distribution.
    #[must_use]
    pub fn minutes(&self) -> Vec<(f64, f64)> {
        self.turns.iter().map(|turn| (turn.minutes, turn.chance)).collect()
    }
}

/// Minutes of the repairs, with the way in to all of them and back.
fn mending(session: &Session<'_, '_>, repairs: &[RepairId]) -> f64 {
    let machine = session.machine();
    let parts = repairs.iter().flat_map(|repair| crate::stages::fit::parts_of(session, *repair));
    let places: Vec<_> = parts.map(|part| machine[part].place).collect();
    let way = plan_teardown(&machine.access, &places, &Open::nothing()).map_or(0.0, |plan| plan.minutes());
    way + repairs.iter().map(|repair| machine[*repair].minutes).sum::<f64>()
}
