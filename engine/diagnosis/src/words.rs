//! Suspects, readings and observations in the trade's words. Decides nothing.

use crate::evidence::{Evidence, Measured};
use crate::showing::Stirred;
use crate::suspects::Suspect;
use machine::model::{Machine, StateId, TerminalId};
use prediction::{Meter, Prediction, Probe, Quantity, Reading, Seen, Shown, ZoneReading, ZoneTemperature};
use quantity::{show, show_range};

/// Names a suspect: `heating element: burnt through`.
#[must_use]
pub fn suspect(machine: &Machine, suspect: &Suspect) -> String {
    if suspect.0.is_empty() {
        return "nothing wrong with the machine (use, setting, or not showing now)".to_owned();
    }
    let each = suspect.0.iter().map(|fault| {
        let fault = &machine.faults[fault.index()];
        format!("{}: {}", machine.parts[fault.part.index()].name, fault.say)
    });
    each.collect::<Vec<_>>().join(", and ")
}

/// Names a point for a probe: `heating element 1`, `L1 on the terminal block`.
#[must_use]
pub fn terminal(machine: &Machine, terminal: TerminalId) -> String {
    match label_and_part(machine, terminal) {
        (label, Some(part)) => format!("{label} of the {part}"),
        (label, None) => label,
    }
}

/// Gives the label that stands at a point and the part it is on, if it is on one: `2`, `heating element`.
#[must_use]
pub fn label_and_part(machine: &Machine, terminal: TerminalId) -> (String, Option<&str>) {
    if terminal == machine.supply.frame {
        return ("the bare frame".to_owned(), None);
    }
    let point = &machine[terminal];
    match point.name.rsplit_once('.') {
        Some(_) => (machine.label(terminal).to_owned(), Some(&machine[point.part].name)),
        None => (point.name.clone(), None),
    }
}

/// Names where the meter goes: `red on 1 of the heating element, black on 2 of the heating element`.
#[must_use]
pub fn probe(machine: &Machine, probe: Probe) -> String {
    match probe {
        Probe::Across(a, b) => format!("red on {}, black on {}", terminal(machine, a), terminal(machine, b)),
        Probe::Around(branch) => {
            let branch = &machine.branches[branch.index()];
            format!(
                "clamp around the conductor from {} to {}",
                terminal(machine, branch.from),
                terminal(machine, branch.to)
            )
        }
    }
}

/// Names how the machine stands: `plugged in, timed dry` or `unplugged, controls set as for timed dry`.
#[must_use]
pub fn condition(machine: &Machine, reading: &Reading) -> String {
    let state = state(machine, reading.condition.state);
    let mut text = if reading.condition.plugged {
        format!("running: {state}")
    } else if reading.condition.state == StateId(0) {
        "unplugged".to_owned()
    } else {
        format!("unplugged, controls set as for: {state}")
    };
    for lead in &reading.condition.lifted {
        let branch = &machine.branches[lead.index()];
        let part = &machine.parts[branch.part.index()];
        let how = match part.kind {
            machine::model::PartKind::Control | machine::model::PartKind::Connector => "unplugged",
            _ => "lifted",
        };
        text.push_str(&format!(", {} {how}", part.name));
    }
    text
}

/// Names a state.
#[must_use]
pub fn state(machine: &Machine, state: StateId) -> &str {
    &machine.states[state.index()].say
}

/// Says what was seen: `the drum does not turn`.
#[must_use]
pub fn seen(machine: &Machine, seen: Seen) -> String {
    let observation = &machine.observations[seen.what.index()];
    observation.values.get(usize::from(seen.value)).map_or_else(|| observation.id.clone(), |value| value.say.clone())
}

/// Names a thermometer: `the thermometer in the oven, 6 min after the start`.
#[must_use]
pub fn thermometer(machine: &Machine, reading: &ZoneReading) -> String {
    let zone = &machine.zones[reading.zone.index()].id;
    let minutes = f64::from(reading.seconds) / 60.0;
    let minutes = if reading.seconds.is_multiple_of(60) { format!("{minutes:.0}") } else { format!("{minutes:.1}") };
    format!("the thermometer in the {zone} {minutes} min after the start")
}

/// Shows a temperature both ways: `175 °C (347 °F)`.
#[must_use]
pub fn celsius(celsius: f64) -> String {
    format!("{celsius:.0} °C ({:.0} °F)", celsius * 1.8 + 32.0)
}

/// Shows what a thermometer is expected to show: `163 to 187 °C (325 to 369 °F)`.
#[must_use]
pub fn warmth(predicted: Option<&ZoneTemperature>) -> String {
    let Some(predicted) = predicted else { return "anything".to_owned() };
    let (low, high) = predicted.interval();
    let fahrenheit = |celsius: f64| celsius * 1.8 + 32.0;
    format!("{low:.0} to {high:.0} °C ({:.0} to {:.0} °F)", fahrenheit(low), fahrenheit(high))
}

/// Says what began a sitting.
#[must_use]
pub fn stirred(machine: &Machine, stirred: Stirred) -> String {
    match stirred {
        Stirred::Again => "looked at another time".to_owned(),
        Stirred::Moved(part) => format!("moved the {}", machine.parts[part.index()].name),
        Stirred::Warmed => "ran it until it was warm".to_owned(),
    }
}

/// Says an item of evidence in a line: `read OL: red on 1 of the heater, black on 2 of the heater, unplugged`.
#[must_use]
pub fn item(machine: &Machine, item: &Evidence) -> String {
    match item {
        Evidence::Reported(what) | Evidence::Answered(what) => format!("the customer: {}", seen(machine, *what)),
        Evidence::Watched(what) => format!("seen: {}", seen(machine, *what)),
        Evidence::Read { reading, measured: shown } => format!(
            "read {}: {}, {}",
            measured(*shown, reading.quantity),
            probe(machine, reading.probe),
            condition(machine, reading)
        ),
        Evidence::Warmed { reading, celsius: shown } => {
            format!("{} showed {} ({})", thermometer(machine, reading), celsius(*shown), state(machine, reading.state))
        }
        Evidence::Looked { part, damage } => {
            format!("{} looks {}", machine[*part].name, if *damage { "damaged" } else { "sound" })
        }
        Evidence::Repaired(repair) => format!("done: {}", machine[*repair].say),
        Evidence::ComesAndGoes(true) => "the customer: it comes and goes".to_owned(),
        Evidence::ComesAndGoes(false) => "the customer: it is always there".to_owned(),
        Evidence::Stirred(by) => stirred(machine, *by),
        Evidence::Built { variant, option } => {
            let variant = &machine.variants[variant.index()];
            format!("{}: {}", variant.say, variant.say_of(*option))
        }
        Evidence::Opinion { part, times } => format!("you suspect {}, {times} times", machine[*part].name),
    }
}

/// Shows a measured value: `9.6 ohm`, `OL`.
#[must_use]
pub fn measured(measured: Measured, quantity: Quantity) -> String {
    match measured {
        Measured::Value(value) => show(value, quantity.unit()),
        Measured::OverRange => "OL".to_owned(),
    }
}

/// Shows what a prediction leads one to expect: `9.6 to 11.2 ohm`, `OL`, `anything up to 120 V`.
#[must_use]
pub fn expected(prediction: &Prediction, quantity: Quantity, meter: &Meter) -> String {
    match prediction.shown {
        Shown::OverRange => "OL".to_owned(),
        Shown::Ghost { highest } if highest.is_finite() => {
            format!("anything up to {}", show(highest, quantity.unit()))
        }
        Shown::Ghost { .. } => "anything".to_owned(),
        Shown::Value { .. } => {
            let (low, high) = prediction.interval(quantity, meter);
            if high <= meter.lead_shown() + meter.least(quantity) && quantity == Quantity::Ohms {
                format!("under {}", show(meter.lead_shown() + meter.least(quantity) + 0.1, quantity.unit()))
            } else if high < 2.0 * meter.volts_floor && quantity == Quantity::Volts {
                "next to nothing".to_owned()
            } else {
                show_range(low, high, quantity.unit())
            }
        }
    }
}
