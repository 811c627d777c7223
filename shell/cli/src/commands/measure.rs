//! `callwright measure`: what a meter shows, with these faults, and what a sound machine shows there.

use crate::args::Measure;
use crate::failure::{Failure, unknown};
use crate::kit::Kit;
use crate::{output, shelf};
use diagnosis::words;
use machine::model::{BranchId, FaultId, Machine, StateId};
use prediction::{Condition, Predictor, Probe, Quantity, Reading, Shown, ZoneReading};
use serde_json::json;
use std::process::ExitCode;

pub(crate) fn run(asked: &Measure, kit: &Kit, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(&asked.machine)?;
    let predictor = Predictor::new(&machine, kit.meter);
    let faults = shelf::faults(&machine, &asked.faults)?;
    if let Some(zone) = &asked.temperature {
        return thermometer(&machine, &predictor, asked, zone, &faults, as_json);
    }
    let reading = reading(&machine, &predictor, asked, &faults)?;
    let shown = predictor.predict(&reading, &faults);
    let sound = predictor.predict(&reading, &[]);
    let quantity = reading.quantity;
    let meter = predictor.meter();
    let buzzer = if quantity == Quantity::Ohms { meter.sounds(shown.shown) } else { None };
    if !as_json {
        output::line(&format!("{}, {}", words::condition(&machine, &reading), words::probe(&machine, reading.probe)));
        output::line(&format!("with these faults   {}", words::expected(&shown, quantity, meter)));
        output::line(&format!("on a sound machine  {}", words::expected(&sound, quantity, meter)));
        if let Some(sounds) = buzzer {
            output::line(if sounds { "the buzzer sounds" } else { "the buzzer keeps quiet" });
        }
        if let Some(file) = kit.file.as_ref().filter(|_| !meter.takes(quantity)) {
            output::line(&format!("no meter of `{}` takes this", file.display()));
        }
        return Ok(ExitCode::SUCCESS);
    }
    let (low, high) = sound.interval(quantity, meter);
    let (from, to) = shown.interval(quantity, meter);
    let (value, phase) = match shown.shown {
        Shown::Value { value, phase_deg, .. } => (Some(value), Some(phase_deg)),
        Shown::OverRange | Shown::Ghost { .. } => (None, None),
    };
    output::json(&json!({
        "value": value,
        "unit": unit(quantity),
        "over_range": shown.shown == Shown::OverRange,
        "floating": matches!(shown.shown, Shown::Ghost { .. }),
        "interval": [finite(from), finite(to)],
        "low": finite(low),
        "high": finite(high),
        "sound_over_range": sound.shown == Shown::OverRange,
        "phase_deg": phase,
        "buzzer": buzzer,
        "owned": meter.takes(quantity),
    }));
    Ok(ExitCode::SUCCESS)
}

/// Says what a thermometer in a zone shows so many minutes after the start.
fn thermometer(
    machine: &Machine,
    predictor: &Predictor<'_>,
    asked: &Measure,
    zone: &str,
    faults: &[FaultId],
    as_json: bool,
) -> Result<ExitCode, Failure> {
    let state = asked.state.as_deref().map_or(Ok(StateId(0)), |name| shelf::state(machine, name))?;
    let zone = super::warmup::zone(machine, Some(zone))?;
    let minutes = asked.after.unwrap_or(0.0);
    let reading = ZoneReading::after_minutes(state, zone, minutes)
        .ok_or_else(|| Failure::Input(format!("`{minutes}` is no time; give minutes from 0 to 1440")))?;
    let unknown = || Failure::Input(prediction::NoWarmUp::NoHeat.to_string());
    let shown = predictor.zone_temperature(&reading, faults).ok_or_else(unknown)?;
    let sound = predictor.zone_temperature(&reading, &[]).ok_or_else(unknown)?;
    if as_json {
        let ((from, to), (low, high)) = (shown.interval(), sound.interval());
        output::json(&json!({
            "value": shown.celsius,
            "unit": "celsius",
            "interval": [from, to],
            "low": low,
            "high": high,
        }));
    } else {
        let state = words::state(machine, state);
        output::line(&format!("running: {state}, {}", words::thermometer(machine, &reading)));
        output::line(&format!("with these faults   {}", words::warmth(Some(&shown))));
        output::line(&format!("on a sound machine  {}", words::warmth(Some(&sound))));
    }
    Ok(ExitCode::SUCCESS)
}

fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// Gives the unit's word in JSON.
pub(crate) fn unit(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Volts => "V",
        Quantity::Ohms => "ohm",
        Quantity::Amps => "A",
        Quantity::Farads => "F",
    }
}

fn reading(
    machine: &Machine,
    predictor: &Predictor<'_>,
    asked: &Measure,
    faults: &[FaultId],
) -> Result<Reading, Failure> {
    let state = asked.state.as_deref().map_or(Ok(StateId(0)), |name| shelf::state(machine, name))?;
    let mut lifted = Vec::new();
    for name in &asked.lifts {
        lifted.extend(machine.leads_at(shelf::terminal(machine, name)?));
    }
    lifted.sort_unstable();
    lifted.dedup();
    let condition = Condition { state, plugged: !asked.isolated, lifted };
    if let Some(part) = &asked.amps {
        let branch = branch_of(machine, predictor, part, &condition, faults)?;
        return Ok(Reading { quantity: Quantity::Amps, probe: Probe::Around(branch), condition });
    }
    let (quantity, points) = match (&asked.volts, &asked.ohms, &asked.farads) {
        (Some(points), _, _) => (Quantity::Volts, points),
        (_, Some(points), _) => (Quantity::Ohms, points),
        (_, _, Some(points)) => (Quantity::Farads, points),
        _ => return Err(Failure::Bug("a reading without a quantity".to_owned())),
    };
    let [a, b] = points.as_slice() else { return Err(Failure::Bug("a reading without two points".to_owned())) };
    let probe = Probe::Across(shelf::terminal(machine, a)?, shelf::terminal(machine, b)?);
    Ok(Reading { quantity, probe, condition })
}

/// Finds the branch under the clamp: by the branch's own name, or the branch of the part that carries most.
fn branch_of(
    machine: &Machine,
    predictor: &Predictor<'_>,
    name: &str,
    condition: &Condition,
    faults: &[FaultId],
) -> Result<BranchId, Failure> {
    let branches: Vec<String> = machine.branches.iter().map(|b| b.name.clone()).collect();
    if let Some(index) = shelf::position(&branches, name) {
        return Ok(BranchId(index));
    }
    let parts: Vec<String> = machine.parts.iter().map(|p| p.id.clone()).collect();
    let part = shelf::position(&parts, name).ok_or_else(|| unknown("part", name, &parts))?;
    let carried = |branch: BranchId| {
        let probe = Probe::Around(branch);
        let reading = Reading { quantity: Quantity::Amps, probe, condition: condition.clone() };
        match predictor.predict(&reading, faults).shown {
            Shown::Value { value, .. } => value,
            Shown::OverRange | Shown::Ghost { .. } => 0.0,
        }
    };
    let own = (0..machine.branches.len())
        .filter(|&b| machine.branches[b].part.0 == part)
        .map(|b| BranchId(u16::try_from(b).unwrap_or(u16::MAX)));
    own.max_by(|a, b| carried(*a).total_cmp(&carried(*b)).then(b.cmp(a)))
        .ok_or_else(|| Failure::Input(format!("no current flows through `{name}`: it is no electrical part")))
}
