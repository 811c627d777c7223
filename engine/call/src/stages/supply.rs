//! The supply, at the receptacle or disconnect with the machine parted from it: each pair, idle, against prediction and
//! published limits. A bad supply is named. These readings also prove the meter and the earth.

use crate::now::function;
use crate::now::measured_of;
use crate::session::{Next, Said, Session};
use crate::stages::{pursue, route};
use book::{Stage, SupplyChecked, SupplyReading, Verdict};
use diagnosis::{Measured, words};
use machine::model::{Conductor, TerminalId};
use prediction::{Probe, Quantity, Reading};
use quantity::{Unit, show, show_range};
use repair::{Act, Hands, supply_check};

/// Says what checking the supply asks.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.supply.is_some() || s.machine().supply.slots.len() < 2 {
        return None;
    }
    if let Some(first) = route::isolate(s, Stage::CheckSupply) {
        return Some(first);
    }
    let open = readings(s).into_iter().find(|reading| {
        let id = crate::steps::id_of_reading(s.machine(), reading, Hands::Supply);
        let taken = s.now.taken.iter().any(|taken| taken.reading == *reading && taken.call == s.now.calls);
        !taken && !s.now.did(&format!("skip/{id}"))
    });
    match open {
        Some(reading) => pursue::step(s, &Act::Read(reading, Hands::Supply), Stage::CheckSupply, false),
        None => Next::due(Said::call(checked(s))),
    }
}

/// Lists the readings of the supply: each pair of slots.
pub(crate) fn readings(s: &Session<'_, '_>) -> Vec<Reading> {
    supply_check::readings(s.machine())
}

/// Gives the limits that a pair must keep, and where they come from.
pub(crate) fn limits(s: &Session<'_, '_>, reading: &Reading) -> (f64, f64, String) {
    supply_check::limits(s.predictor, reading)
}

fn checked(s: &Session<'_, '_>) -> SupplyChecked {
    let kept = s
        .now
        .taken
        .iter()
        .filter(|taken| taken.kept.instrument.function == function::SUPPLY && taken.call == s.now.calls);
    let mut wrong = Vec::new();
    let mut readings = Vec::new();
    for taken in kept {
        readings.push(SupplyReading { loaded: false, reading: taken.kept.clone() });
        let (low, high, _) = limits(s, &taken.reading);
        let Some(Measured::Value(volts)) = measured_of(&taken.kept.parsed) else { continue };
        if volts < low || volts > high {
            let Probe::Across(a, b) = taken.reading.probe else { continue };
            let must = if low <= 0.0 {
                format!("at most {}", show(high, Unit::Volt))
            } else {
                show_range(low, high, Unit::Volt)
            };
            let pair = format!("{} to {}", conductor(s, a), conductor(s, b));
            wrong.push(format!("{pair} shows {}, must be {must}", words::measured(taken.measured, Quantity::Volts)));
        }
    }
    let verdict = if readings.is_empty() {
        Verdict::NotDecided
    } else if wrong.is_empty() {
        Verdict::Good
    } else {
        Verdict::Bad { what: wrong.join("; ") }
    };
    SupplyChecked { supply: "mains".to_owned(), readings, verdict, shown: None }
}

fn conductor(s: &Session<'_, '_>, at: TerminalId) -> &'static str {
    match s.machine().supply.slots.iter().find(|(_, slot)| *slot == at).map(|(of, _)| *of) {
        Some(Conductor::Leg1) => "leg 1",
        Some(Conductor::Leg2) => "leg 2",
        Some(Conductor::Neutral) => "neutral",
        Some(Conductor::Ground) => "ground",
        None => "earth",
    }
}
