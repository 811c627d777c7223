//! Proving before handing back: the reading that decides each proof of a description, in which order they are taken,
//! and what a figure says against the proof's limit, the meter's uncertainty on both sides.
//!
//! One judgement for whoever proves: a call asks for these readings, and a rehearsed technician takes them. Knows no
//! beliefs and no calls. It never says that a proof holds which the meter cannot decide.

use crate::candidates::Hands;
use crate::supply_check;
use diagnosis::Measured;
use machine::Machine;
use machine::model::{Proof, ProofHow, StateId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading};

/// Volts of a test that decides on the insulation of a household appliance.
///
/// SOURCE: EN 50678, insulation resistance, 500 V DC (from memory).
pub const TEST_VOLTS: f64 = 500.0;
/// How far an insulation tester's figure may be off, as a share of it. Common practice, no source.
const TESTER_SHARE: f64 = 0.1;

/// A reading that is owed before a machine is handed back for use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Owed {
    /// The proof at this place of the machine's list.
    Proof(usize),
    /// The pair of slots at this place of [`supply_check::readings`].
    Supply(usize),
}

/// Lists every reading that is owed at once, in the order in which they are taken: isolated ones, those at the supply
/// with its check, clipped ones.
///
/// A call checks the supply first thing; whoever has not done so then owes it here.
#[must_use]
pub fn owed(machine: &Machine) -> Vec<(Owed, Reading, Hands)> {
    let at_once = machine.proofs.iter().enumerate().filter(|(_, proof)| proof.deferred_hours <= 0.0);
    let mut all: Vec<(Owed, Reading, Hands)> = at_once
        .filter_map(|(at, proof)| reading_of(machine, proof).map(|(reading, hands)| (Owed::Proof(at), reading, hands)))
        .collect();
    let slots = supply_check::readings(machine).into_iter().enumerate();
    all.extend(slots.map(|(at, reading)| (Owed::Supply(at), reading, Hands::Supply)));
    all.sort_by_key(|(owed, reading, hands)| (turn(reading, *hands), *owed));
    all
}

/// Says whether its failing is a hazard: nothing is switched on again until it is mended, and nothing is left as it is.
///
/// So is a bond or an insulation that does not hold; volts or amperes out of their limits are looked into.
#[must_use]
pub fn is_hazard(machine: &Machine, owed: Owed) -> bool {
    let Owed::Proof(at) = owed else { return false };
    machine.proofs.get(at).is_some_and(|proof| matches!(proof.how, ProofHow::Ohms { .. }))
}

/// Judges a reading that was owed.
#[must_use]
pub fn judge_owed(predictor: &Predictor<'_>, owed: Owed, reading: &Reading, measured: Measured) -> Proved {
    match owed {
        Owed::Proof(at) => match predictor.machine().proofs.get(at) {
            Some(proof) => judge(predictor, proof, reading, measured),
            None => Proved::NotDecided("the machine has no such proof"),
        },
        Owed::Supply(_) => {
            let (low, high, _) = supply_check::limits(predictor, reading);
            let (least, most) = bounds(predictor.meter(), reading.quantity, measured);
            match measured {
                // Only what the meter's own error does not explain.
                Measured::Value(_) if most < low || least > high => Proved::Failed,
                Measured::Value(_) => Proved::Passed,
                Measured::OverRange => Proved::NotDecided("the meter is over its range"),
            }
        }
    }
}

/// What a reading says of a proof.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proved {
    /// Within its limit.
    Passed,
    /// Outside of its limit.
    Failed,
    /// This meter does not tell, and why.
    NotDecided(&'static str),
}

/// Gives the reading that decides a proof and where the hands are, where one does.
#[must_use]
pub fn reading_of(machine: &Machine, proof: &Proof) -> Option<(Reading, Hands)> {
    let slot = |at| machine.supply.slots.iter().any(|(_, slot)| *slot == at);
    let of = |quantity, probe, condition| Reading { quantity, probe, condition };
    Some(match proof.how {
        ProofHow::Ohms { from, to, .. } => {
            let condition = Condition::isolated(StateId(0));
            (of(Quantity::Ohms, Probe::Across(from, to), condition), Hands::Isolated)
        }
        ProofHow::Volts { from, to, .. } if slot(from) && slot(to) => {
            let condition = Condition::isolated(StateId(0));
            (of(Quantity::Volts, Probe::Across(from, to), condition), Hands::Supply)
        }
        ProofHow::Volts { from, to, state, .. } => {
            (of(Quantity::Volts, Probe::Across(from, to), Condition::running(state)), Hands::Clipped)
        }
        ProofHow::Amps { branch, state } => {
            (of(Quantity::Amps, Probe::Around(branch), Condition::running(state)), Hands::Clipped)
        }
        ProofHow::Run { .. } | ProofHow::Look => return None,
    })
}

/// Ranks a proving reading: isolated ones first, then those at the supply, then clipped ones, the clamp on the cord last.
#[must_use]
pub fn turn(reading: &Reading, hands: Hands) -> u8 {
    match (reading.probe, hands) {
        (_, Hands::Isolated) => 0,
        (_, Hands::Supply) => 1,
        (Probe::Across(_, _), Hands::Clipped) => 2,
        (Probe::Around(_), Hands::Clipped) => 3,
    }
}

/// Compares what an ordinary meter showed with the limit; a current without a limit with what the description predicts.
#[must_use]
pub fn judge(predictor: &Predictor<'_>, proof: &Proof, reading: &Reading, measured: Measured) -> Proved {
    let meter = predictor.meter();
    let (low, high) = bounds(meter, reading.quantity, measured);
    match proof.how {
        ProofHow::Ohms { at_least, at_most, insulation_test, .. } => {
            ohms(meter, (low, high), (at_least, at_most), insulation_test)
        }
        ProofHow::Volts { at_least, at_most, .. } => against(low, high, at_least, at_most),
        ProofHow::Amps { .. } => {
            let sound = predictor.predict(reading, &[]).interval(Quantity::Amps, meter);
            against(low, high, Some(sound.0), Some(sound.1))
        }
        ProofHow::Run { .. } | ProofHow::Look => Proved::NotDecided("no reading decides it"),
    }
}

/// Compares what the insulation tester showed with the limit.
#[must_use]
pub fn judge_insulation(meter: &Meter, proof: &Proof, measured: Measured) -> Proved {
    let (ProofHow::Ohms { at_least, at_most, .. }, Some(tester)) = (&proof.how, meter.insulation) else {
        return Proved::NotDecided("no insulation tester is owned");
    };
    let (low, high) = match measured {
        Measured::OverRange => (tester.limit_ohms, f64::INFINITY),
        Measured::Value(value) => ((1.0 - TESTER_SHARE) * value, (1.0 + TESTER_SHARE) * value),
    };
    against(low, high, *at_least, *at_most)
}

/// Gives the least and the most that may really be there.
fn bounds(meter: &Meter, quantity: Quantity, measured: Measured) -> (f64, f64) {
    let Measured::Value(value) = measured else { return (meter.ohms_limit, f64::INFINITY) };
    let own = meter.half_width(quantity, value);
    match quantity {
        // Leads and contacts only add, up to twice their usual resistance.
        Quantity::Ohms => (value - own - 2.0 * meter.least(Quantity::Ohms), value + own),
        Quantity::Volts => (value - own - meter.volts_floor, value + own + meter.volts_floor),
        Quantity::Amps => (value - own - meter.amps_floor, value + own + meter.amps_floor),
        Quantity::Farads => (value - own - meter.least(quantity), value + own),
    }
}

/// An ordinary meter can show that insulation or bond fails; that it holds only where its own leads do not matter.
fn ohms(meter: &Meter, bounds: (f64, f64), limits: (Option<f64>, Option<f64>), insulation_test: bool) -> Proved {
    let (low, high) = bounds;
    let fails = limits.0.is_some_and(|least| high < least) || limits.1.is_some_and(|most| low > most);
    if fails {
        return Proved::Failed;
    }
    if insulation_test && meter.insulation.is_some_and(|of| of.test_volts < TEST_VOLTS) {
        return Proved::NotDecided("the insulation tester puts on too few volts; take one of 500 V");
    }
    if insulation_test && meter.insulation.is_some() {
        return Proved::NotDecided("a board would take the test volts; its leads are not lifted");
    }
    if insulation_test {
        return Proved::NotDecided("an ordinary meter's ohms are no insulation test; take an insulation tester");
    }
    if limits.1.is_some_and(|most| most < 3.0 * meter.lead_ohms) {
        return Proved::NotDecided("two leads do not decide this limit; take a four-lead bond tester");
    }
    against(low, high, limits.0, limits.1)
}

fn against(low: f64, high: f64, at_least: Option<f64>, at_most: Option<f64>) -> Proved {
    let middle = 0.5 * (low + high);
    let fails = |value: f64| at_least.is_some_and(|least| value < least) || at_most.is_some_and(|most| value > most);
    if fails(low) && fails(high) {
        Proved::Failed
    } else if !fails(low) && !fails(high) || !fails(middle) && at_least.is_some() && at_most.is_some() {
        // Inside a two-sided limit the figure itself counts: the meter's share is named in the limit's source.
        Proved::Passed
    } else {
        Proved::NotDecided("too near to the limit for this meter")
    }
}
