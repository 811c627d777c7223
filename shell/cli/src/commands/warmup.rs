//! `callwright warmup`: how long a zone takes to a temperature with the heat left on, sound or faulted.

use crate::args::Warmup;
use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use machine::model::{Machine, ZoneId};
use prediction::{Meter, NoWarmUp, Predictor, WarmUp};
use serde_json::json;
use std::process::ExitCode;

/// Of so many points of the curve one is printed; --json has every one.
const PRINTED_EVERY: usize = 4;

pub(crate) fn run(asked: &Warmup, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(&asked.machine)?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let faults = shelf::faults(&machine, &asked.faults)?;
    let state = shelf::state(&machine, &asked.state)?;
    let zone = zone(&machine, asked.zone.as_deref())?;
    let target_c = celsius(&asked.to)?;
    let volts = asked.supply.unwrap_or_else(|| predictor.supply_volts());
    let factor = volts / predictor.supply_volts();
    let stands = predictor.supply_volts_with(&faults) * factor;
    let warm = predictor.warm_up(state, &faults, factor, zone, target_c).map_err(|why| refused(why, asked))?;
    if as_json {
        output::json(&json!({
            "zone": machine.zones[zone.index()].id,
            "celsius": target_c,
            "reached": warm.seconds.is_some(),
            "seconds": warm.seconds,
            "supply_volts": stands,
            "watts": warm.watts,
            "ends_celsius": warm.ends_c,
            "lets_go_celsius": warm.lets_go_c,
            "curve": warm.curve.iter().map(|&(seconds, celsius)| json!([seconds, celsius])).collect::<Vec<_>>(),
        }));
    } else {
        print(&machine, zone, target_c, stands, &warm);
    }
    Ok(ExitCode::SUCCESS)
}

fn refused(why: NoWarmUp, asked: &Warmup) -> Failure {
    match (why, asked.supply) {
        (NoWarmUp::BadSupply, Some(volts)) => Failure::Input(format!("`{volts}` is no supply: {why}")),
        _ => Failure::Input(why.to_string()),
    }
}

/// Finds the zone by its id, or the only one that says how it warms up.
pub(crate) fn zone(machine: &Machine, name: Option<&str>) -> Result<ZoneId, Failure> {
    let ids: Vec<String> = machine.zones.iter().map(|zone| zone.id.clone()).collect();
    if let Some(name) = name {
        return shelf::position(&ids, name).map(ZoneId).ok_or_else(|| unknown("zone", name, &ids));
    }
    let warmed: Vec<&String> = machine.zones.iter().filter(|zone| zone.heat.is_some()).map(|zone| &zone.id).collect();
    match warmed.as_slice() {
        [one] => shelf::position(&ids, one).map(ZoneId).ok_or_else(|| unknown("zone", one, &ids)),
        [] => Err(Failure::Input(format!(
            "the description of `{}` does not say how any zone warms up; give a zone its `heat`",
            machine.id
        ))),
        several => {
            let list: Vec<String> = several.iter().map(|id| format!("`{id}`")).collect();
            Err(Failure::Input(format!("several zones warm up; say which by --zone: {}", list.join(", "))))
        }
    }
}

/// Reads `350F`, `175C`, or a plain number of degrees Celsius.
fn celsius(text: &str) -> Result<f64, Failure> {
    let read = quantity::parse_celsius(text).map(|celsius| celsius.0);
    read.ok_or_else(|| Failure::Input(format!("`{text}` is no temperature; write it as `350F` or `175C`")))
}

fn print(machine: &Machine, zone: ZoneId, target_c: f64, volts: f64, warm: &WarmUp) {
    let id = &machine.zones[zone.index()].id;
    output::line(&format!("{id}: {:.0} W of heat on {volts:.0} V", warm.watts));
    output::line(&match warm.seconds {
        Some(seconds) => format!("to {}: {} with the heat left on", degrees(target_c), minutes(seconds)),
        None if warm.lets_go_c.is_some_and(|lets_go| lets_go < target_c.min(warm.ends_c)) => {
            let lets_go = degrees(warm.lets_go_c.unwrap_or(f64::NAN));
            format!("never gets to {}: the heat goes off at {lets_go}", degrees(target_c))
        }
        None => format!("never gets to {}: it ends at {}", degrees(target_c), degrees(warm.ends_c)),
    });
    for (seconds, celsius) in warm.curve.iter().step_by(PRINTED_EVERY) {
        output::line(&format!("{:>8}  {}", minutes(*seconds), degrees(*celsius)));
    }
}

fn degrees(celsius: f64) -> String {
    format!("{celsius:.0} °C ({:.0} °F)", celsius * 1.8 + 32.0)
}

/// Writes a time as `6:36 min`.
fn minutes(seconds: f64) -> String {
    let whole = seconds.round();
    format!("{:.0}:{:02.0} min", (whole / 60.0).floor(), whole % 60.0)
}
