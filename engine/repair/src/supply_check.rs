//! The check of the supply: each pair of slots of the receptacle, idle, with the machine parted from it, against the
//! prediction and published limits. Knows no beliefs and no calls.

use machine::Machine;
use machine::model::{Conductor, StateId, SupplyKind, TerminalId};
use prediction::{Condition, Predictor, Probe, Quantity, Reading};
use quantity::Volts;
use quantity::supply::{Place, Quality, least_volts, most_volts};

/// Lists the readings: each pair of slots, in the machine's order.
#[must_use]
pub fn readings(machine: &Machine) -> Vec<Reading> {
    let slots = &machine.supply.slots;
    let mut all = Vec::new();
    for (index, &(_, a)) in slots.iter().enumerate() {
        for &(_, b) in slots.iter().skip(index + 1) {
            let condition = Condition::isolated(StateId(0));
            all.push(Reading { quantity: Quantity::Volts, probe: Probe::Across(a, b), condition });
        }
    }
    all
}

/// Gives the volts that a pair must keep to, least and most, and where the limits come from.
#[must_use]
pub fn limits(predictor: &Predictor<'_>, reading: &Reading) -> (f64, f64, String) {
    let machine = predictor.machine();
    let (low, high) = predictor.predict(reading, &[]).interval(Quantity::Volts, predictor.meter());
    let Probe::Across(a, b) = reading.probe else { return (low, high, "computed".to_owned()) };
    let of = |id: TerminalId| machine.supply.slots.iter().find(|(_, slot)| *slot == id).map(|(of, _)| *of);
    let nominal = nominal(machine, of(a), of(b)).map(Volts);
    let published = nominal.and_then(|nominal| {
        Some((least_volts(Quality::A, Place::Service, nominal)?, most_volts(Quality::A, nominal)?))
    });
    match published {
        Some((least, most)) => (low.min(least.value), high.max(most.value), least.source.to_owned()),
        // Between neutral and ground nothing but the drop of other loads; 3 V: common practice, no source.
        None if nominal.is_none() => (0.0, high.max(3.0), "common practice, no source".to_owned()),
        None => (low, high, "computed from the description".to_owned()),
    }
}

/// Gives the nominal volts between two conductors; `None` where none should be.
#[must_use]
pub fn nominal(machine: &Machine, a: Option<Conductor>, b: Option<Conductor>) -> Option<f64> {
    let leg = |of: Option<Conductor>| matches!(of, Some(Conductor::Leg1 | Conductor::Leg2));
    let to_neutral = match machine.supply.kind {
        SupplyKind::SplitPhase => machine.plate_volts / 2.0,
        SupplyKind::TwoOfThreePhases => machine.plate_volts / 3.0_f64.sqrt(),
        SupplyKind::SinglePhase => machine.plate_volts,
    };
    match (leg(a), leg(b)) {
        (true, true) => Some(machine.plate_volts),
        (true, false) | (false, true) => Some(to_neutral),
        (false, false) => None,
    }
}
