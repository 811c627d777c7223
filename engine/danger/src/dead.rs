//! Deadness as evidence. A [`DeadProof`] is made by [`judge_dead`] from measured facts and by nothing else.
//!
//! Dead means: parted from the feed, kept so, stores discharged and measured, every conductor of the work point measured
//! to every other and to a proven earth, the meter proved on a known source before and after. It holds for the work
//! point and the epoch in which it was measured.

use crate::energy::{Energy, Store, WhyNotDone, store_terminals, stores, terminal_ids};
use crate::live::LiveMap;
use machine::model::{Law, Machine, PartId, PlaceId, TerminalId};
use std::collections::{BTreeMap, BTreeSet};

/// Most volts, AC or DC, that count as none.
///
/// SOURCE: 3 V is the threshold at which permanently mounted absence-of-voltage testers must still warn (UL 1436, from
/// memory). It lies well under the published touch limits: 50 V to ground (29 CFR 1910.333(a)), 34 V between the
/// pins of a plug (IEC 60335-1 cl. 22.5). WHY NOT those: a reading of 30 V on a dead machine says that something is
/// not as believed.
pub const DEAD_LIMIT_VOLTS: f64 = 3.0;

/// A known source must carry at least this, and the meter show it within a tenth; common practice, no source.
const LEAST_KNOWN_VOLTS: f64 = 50.0;
const METER_AGREES_WITHIN: f64 = 0.1;

/// An earth counts as proved when a live leg shows at least this share of its volts to it; common practice, no source.
const EARTH_SHARE: f64 = 0.8;

/// The conductors that hands and probes will touch. The frame always belongs to it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct WorkPoint {
    terminals: BTreeSet<TerminalId>,
}

impl WorkPoint {
    /// Takes these terminals; hidden ones, which no probe reaches, and true earth are left out.
    #[must_use]
    pub fn at(machine: &Machine, terminals: &[TerminalId]) -> Self {
        let reachable = |id: &TerminalId| {
            *id != machine.supply.earth && machine.terminals.get(id.index()).is_some_and(|terminal| !terminal.hidden)
        };
        let frame = [machine.supply.frame];
        Self { terminals: terminals.iter().chain(&frame).copied().filter(reachable).collect() }
    }

    /// Takes every terminal at the place.
    #[must_use]
    pub fn place(machine: &Machine, place: PlaceId) -> Self {
        let here: Vec<TerminalId> =
            terminal_ids(machine).filter(|&id| crate::energy::place_of(machine, id) == Some(place)).collect();
        Self::at(machine, &here)
    }

    /// Takes every terminal of the part.
    #[must_use]
    pub fn part(machine: &Machine, part: PartId) -> Self {
        let terminals = machine.parts.get(part.index()).map(|part| part.terminals.clone()).unwrap_or_default();
        Self::at(machine, &terminals)
    }

    /// Lists its terminals, the frame among them.
    pub fn terminals(&self) -> impl DoubleEndedIterator<Item = TerminalId> + '_ {
        self.terminals.iter().copied()
    }
}

/// The other end of a measurement.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Against {
    /// Another conductor of the work point.
    Terminal(TerminalId),
    /// The proven earth.
    Earth,
}

/// Two points to measure between. Made in one form only: the lower id first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Pair {
    a: TerminalId,
    b: Against,
}

impl Pair {
    /// Between two conductors.
    #[must_use]
    pub fn between(a: TerminalId, b: TerminalId) -> Self {
        Self { a: a.min(b), b: Against::Terminal(a.max(b)) }
    }

    /// From a conductor to the proven earth.
    #[must_use]
    pub fn to_earth(a: TerminalId) -> Self {
        Self { a, b: Against::Earth }
    }

    /// Gives its ends.
    #[must_use]
    pub fn ends(self) -> (TerminalId, Against) {
        (self.a, self.b)
    }

    /// Lists its ends that are terminals of the machine.
    #[must_use]
    pub fn terminals(self) -> Vec<TerminalId> {
        match self.b {
            Against::Terminal(b) => vec![self.a, b],
            Against::Earth => vec![self.a],
        }
    }
}

/// Lists what must be measured at the work point: every conductor to every other, then each to the proven earth.
#[must_use]
pub fn required_measurements(work: &WorkPoint) -> Vec<Pair> {
    let all: Vec<TerminalId> = work.terminals().collect();
    let mut pairs = Vec::new();
    for (index, &a) in all.iter().enumerate() {
        pairs.extend(all.iter().skip(index + 1).map(|&b| Pair::between(a, b)));
    }
    pairs.extend(all.iter().map(|&a| Pair::to_earth(a)));
    pairs
}

/// A source of known voltage on which a meter is proved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum KnownSource {
    /// A receptacle or disconnect known to be live.
    Supply,
    /// A proving unit.
    ProvingUnit,
}

/// The meter on a known source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterCheck {
    /// The source.
    pub source: KnownSource,
    /// Volts that it carries.
    pub expected_volts: f64,
    /// Volts that the meter showed.
    pub read_volts: f64,
}

/// An earth, proved by a live leg against it.
#[derive(Clone, Debug, PartialEq)]
pub struct EarthCheck {
    /// Which earth, in words: `ground slot of the receptacle`.
    pub which: String,
    /// Volts from a live leg to it.
    pub leg_volts: f64,
}

/// Volts between two points of the isolated machine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DeadReading {
    /// Between.
    pub pair: Pair,
    /// On the AC range.
    pub ac_volts: f64,
    /// On the DC range: a charge shows only here.
    pub dc_volts: f64,
}

/// One fact of proving dead.
#[derive(Clone, Debug, PartialEq)]
pub enum DeadFact {
    /// The meter on a known source.
    Meter(MeterCheck),
    /// An earth proved.
    Earth(EarthCheck),
    /// A reading at the work point.
    Reading(DeadReading),
}

/// What was done to prove a work point dead, in the order in which it was done, with one meter.
#[derive(Clone, Debug, PartialEq)]
pub struct DeadRecord {
    /// The work point.
    pub work: WorkPoint,
    /// Epoch of the readings, as [`Energy::epoch`] numbered it when they were taken.
    pub epoch: u64,
    /// The facts.
    pub facts: Vec<DeadFact>,
}

/// Why the work point does not count as dead.
#[derive(Clone, Debug, PartialEq)]
pub enum WhyNot {
    /// The feed is on.
    FeedOn,
    /// Nothing keeps the feed off.
    NotSecured,
    /// The readings are from before the machine was last energised.
    Stale,
    /// No good check of the meter stands before the first reading.
    MeterNotProvedBefore,
    /// No good check of the meter stands after the last reading.
    MeterNotProvedAfter,
    /// No earth was proved by a live leg.
    EarthNotProved,
    /// The store was not discharged and measured.
    Charged(Store),
    /// The pair was not measured on both ranges.
    Missing(Pair),
    /// The pair shows more than [`DEAD_LIMIT_VOLTS`].
    Live {
        /// The pair.
        pair: Pair,
        /// What it showed.
        volts: f64,
    },
}

/// Evidence that a work point is dead. Only [`judge_dead`] makes one.
///
/// ```compile_fail
/// // Its fields are private and it has no constructor: deadness cannot be claimed.
/// let proof = danger::DeadProof { machine: String::new(), epoch: 0, terminals: Default::default() };
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeadProof {
    machine: String,
    epoch: u64,
    terminals: BTreeSet<TerminalId>,
}

impl DeadProof {
    /// Says whether it still holds: same machine, isolated and secured, not energised since, nothing recharged.
    #[must_use]
    pub fn holds(&self, machine: &Machine, energy: &Energy) -> bool {
        self.machine == machine.id && self.epoch == energy.epoch() && energy.is_isolated(machine)
    }

    /// Says whether all the terminals were measured, each to every other.
    #[must_use]
    pub fn covers(&self, terminals: &[TerminalId]) -> bool {
        terminals.iter().all(|terminal| self.terminals.contains(terminal))
    }

    /// Gives the epoch in which it was measured.
    #[must_use]
    pub fn epoch(&self) -> u64 {
        self.epoch
    }
}

/// Judges the record. A pair measured twice counts by its last reading.
///
/// # Errors
/// Everything that is lacking, so that it can be done in one go.
pub fn judge_dead(machine: &Machine, energy: &Energy, record: &DeadRecord) -> Result<DeadProof, Vec<WhyNot>> {
    let mut why = Vec::new();
    match energy.require_isolated(machine) {
        Err(WhyNotDone::FeedOn) => why.push(WhyNot::FeedOn),
        Err(_) => why.push(WhyNot::NotSecured),
        Ok(()) => {}
    }
    if record.epoch != energy.epoch() {
        why.push(WhyNot::Stale);
    }
    why.extend(undischarged(machine, energy, &record.work).map(WhyNot::Charged));
    judge_meter(&record.facts, &mut why);
    if !record.facts.iter().any(|fact| matches!(fact, DeadFact::Earth(check) if earth_proved(machine, check))) {
        why.push(WhyNot::EarthNotProved);
    }
    judge_readings(record, &mut why);
    if !why.is_empty() {
        return Err(why);
    }
    Ok(DeadProof { machine: machine.id.clone(), epoch: record.epoch, terminals: record.work.terminals.clone() })
}

/// Stores that could charge the work point and were not measured down.
fn undischarged(machine: &Machine, energy: &Energy, work: &WorkPoint) -> impl Iterator<Item = Store> {
    let map = LiveMap::of(machine, energy);
    let touched = work.terminals().any(|terminal| map.may_be_charged(terminal));
    let unbled = stores(machine).into_iter().filter(|&store| !energy.is_bled(store));
    let own: BTreeSet<Store> = unbled
        .filter(|&store| touched || store_terminals(machine, store).iter().any(|t| work.terminals.contains(t)))
        .collect();
    own.into_iter()
}

fn judge_meter(facts: &[DeadFact], why: &mut Vec<WhyNot>) {
    let reading = |fact: &DeadFact| matches!(fact, DeadFact::Reading(_));
    let good = |fact: &DeadFact| matches!(fact, DeadFact::Meter(check) if meter_agrees(check));
    let first = facts.iter().position(reading).unwrap_or(facts.len());
    let last = facts.iter().rposition(reading).map_or(facts.len(), |index| index + 1);
    let before = facts.iter().take(first).rfind(|fact| matches!(fact, DeadFact::Meter(_)));
    if !before.is_some_and(good) {
        why.push(WhyNot::MeterNotProvedBefore);
    }
    let after = facts.iter().skip(last).find(|fact| matches!(fact, DeadFact::Meter(_)));
    if !after.is_some_and(good) {
        why.push(WhyNot::MeterNotProvedAfter);
    }
}

fn meter_agrees(check: &MeterCheck) -> bool {
    check.expected_volts >= LEAST_KNOWN_VOLTS
        && (check.read_volts - check.expected_volts).abs() <= METER_AGREES_WITHIN * check.expected_volts
}

fn earth_proved(machine: &Machine, check: &EarthCheck) -> bool {
    let installation = |part: PartId| machine.parts.get(part.index()).is_some_and(|part| part.installation);
    let legs = machine.branches.iter().filter_map(|branch| match branch.law {
        Law::Source { volts, .. } if installation(branch.part) => Some(volts.abs()),
        _ => None,
    });
    // Without a drawn source the least mains there is, one leg of split phase, is asked for.
    let leg = legs.fold(None, |most: Option<f64>, volts| Some(most.map_or(volts, |most| most.max(volts))));
    check.leg_volts >= EARTH_SHARE * leg.unwrap_or(120.0)
}

fn judge_readings(record: &DeadRecord, why: &mut Vec<WhyNot>) {
    let mut last: BTreeMap<Pair, (f64, f64)> = BTreeMap::new();
    for fact in &record.facts {
        if let DeadFact::Reading(reading) = fact {
            last.insert(reading.pair, (reading.ac_volts.abs(), reading.dc_volts.abs()));
        }
    }
    for pair in required_measurements(&record.work) {
        match last.get(&pair) {
            Some(&(ac, dc)) if ac <= DEAD_LIMIT_VOLTS && dc <= DEAD_LIMIT_VOLTS => {}
            Some(&(ac, dc)) if ac.is_finite() && dc.is_finite() => {
                why.push(WhyNot::Live { pair, volts: ac.max(dc) });
            }
            _ => why.push(WhyNot::Missing(pair)),
        }
    }
}
