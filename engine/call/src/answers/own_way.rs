//! The technician's own way: another reading, a thermometer, cannot reach, an opinion, not built like this, something learned
//! of the unit, moved or run warm to make it show, a danger, stop.

use crate::answers::hands::{asked_points, gate};
use crate::ask::{About, Ask, Learned, OwnWay, Refused};
use crate::now::kept_thermometer;
use crate::session::{Said, Session};
use crate::stages::telephone;
use crate::steps::act_of;
use book::{ApplianceLearned, Parsed, ReadingTaken, TemperatureScale, Value};
use danger::{Feed, StepRequest};
use machine::UnknownName;
use machine::model::ZoneId;
use prediction::ZoneReading;

pub(super) fn fact(s: &Session<'_, '_>, ask: &Ask, way: &OwnWay) -> Result<Said, Refused> {
    if let OwnWay::Danger(what) = way {
        return words(what).map(|what| Said::done("danger", Some(&what)));
    }
    match way {
        OwnWay::Later(window) if ask.telephone => return telephone::promise(s, window),
        OwnWay::Settled(how) if ask.telephone => return telephone::settle(s, how),
        _ => {}
    }
    if !ask.own_way {
        return Err(Refused::new("that is not possible here", "answer what is asked, or `undo`"));
    }
    match way {
        OwnWay::Instead(id) => match act_of(s.machine(), id).map_err(|unknown| unknown_name(&unknown))? {
            Some(_) => Ok(Said::done("instead", Some(id))),
            None => Err(Refused::new(
                format!("`{id}` is no step"),
                "type `ohms A B`, `volts A B STATE`, `look PART` or `try STATE`",
            )),
        },
        OwnWay::CannotReach(names) => cannot_reach(s, ask, names),
        OwnWay::Opinion { part, times } => {
            let part = s.machine().part(part).map_err(|unknown| unknown_name(&unknown))?;
            if !(times.is_finite() && *times > 0.0) {
                return Err(Refused::new(format!("`{times}` is no weight"), "3 is three times likelier"));
            }
            Ok(Said::done("opinion", Some(&format!("{} {times}", s.machine()[part].id))))
        }
        OwnWay::NotBuiltLikeThis(what) => not_built_so(s, what),
        OwnWay::Learned(what) => learned(s, what),
        OwnWay::Moved(part) => moved(s, part),
        OwnWay::RanWarm => ran_warm(s),
        OwnWay::Thermometer { shows, minutes, zone } => thermometer(s, ask, shows, *minutes, zone.as_deref()),
        OwnWay::Stop => Ok(Said::done("stop", None)),
        OwnWay::Later(_) | OwnWay::Settled(_) => {
            Err(Refused::new("somebody is there already", "answer what is asked, or `stop`"))
        }
        OwnWay::Danger(_) => Err(Refused::new("say what is dangerous", "type `danger` and what you see")),
    }
}

fn words(text: &str) -> Result<String, Refused> {
    let text = text.trim();
    if text.is_empty() {
        return Err(Refused::new("nothing was said", "say in a few words what you see"));
    }
    Ok(text.to_owned())
}

fn unknown_name(unknown: &UnknownName) -> Refused {
    Refused::of_gate(&unknown.to_string())
}

fn cannot_reach(s: &Session<'_, '_>, ask: &Ask, names: &[String]) -> Result<Said, Refused> {
    let machine = s.machine();
    let mut points = Vec::new();
    for name in names {
        points.push(machine.terminal(name).map_err(|unknown| unknown_name(&unknown))?);
    }
    if points.is_empty() {
        points = asked_points(s, ask);
    }
    let list: Vec<&str> = points.iter().map(|&at| machine[at].name.as_str()).collect();
    Ok(Said::done("cannot-reach", Some(&list.join(","))))
}

/// Hands on a part, as for a look at it: the gate says whether that may be.
fn moved(s: &Session<'_, '_>, part: &str) -> Result<Said, Refused> {
    let part = &s.machine()[s.machine().part(part).map_err(|unknown| unknown_name(&unknown))?];
    gate(s, StepRequest::Look(part.place))?;
    Ok(Said::done("moved", Some(&part.id)))
}

/// It ran only if it is on by what the call knows: a run behind its back would leave a proof of deadness standing.
fn ran_warm(s: &Session<'_, '_>) -> Result<Said, Refused> {
    if s.now.energy.feed() != Feed::On {
        return Err(Refused::new("it is isolated, so it has not run", "type `try STATE`: that switches it on first"));
    }
    Ok(Said::done("ran-warm", None))
}

/// Read while a state runs that the call itself switched on, so that the minutes are those of that state.
fn thermometer(s: &Session<'_, '_>, ask: &Ask, shows: &str, minutes: f64, zone: Option<&str>) -> Result<Said, Refused> {
    let About::Try(state) = ask.about else {
        return Err(Refused::new("nothing is run that could warm up", "type `try STATE`: that switches it on first"));
    };
    let machine = s.machine();
    let mut warms = (0..).map(ZoneId).zip(&machine.zones).filter(|(_, of)| of.heat.is_some());
    let zone = match zone {
        Some(id) => warms.find(|(_, of)| of.id == id).map(|(zone, _)| zone),
        None => warms.next().filter(|_| warms.next().is_none()).map(|(zone, _)| zone),
    };
    let known = || machine.zones.iter().filter(|of| of.heat.is_some()).map(|of| of.id.clone()).collect::<Vec<_>>();
    let zone = zone.ok_or_else(|| match known().as_slice() {
        [] => Refused::new("the description does not say how this machine warms up", "go on without it"),
        ids => Refused::new("which zone?", format!("add one of: {}", ids.join(", "))),
    })?;
    let plain = shows.parse::<f64>().is_ok();
    let fahrenheit = plain && s.settings.temperatures == TemperatureScale::Fahrenheit;
    let typed = if fahrenheit { format!("{shows}F") } else { shows.to_owned() };
    let celsius = quantity::parse_celsius(&typed)
        .ok_or_else(|| Refused::new(format!("`{shows}` is no temperature"), "type it as `310F` or `155C`"))?;
    let reading = ZoneReading::after_minutes(state, zone, minutes)
        .ok_or_else(|| Refused::new(format!("{minutes} minutes cannot be reckoned with"), "say up to 1440 of them"))?;
    let value = Value::new(celsius.0, book::Unit::DegreeCelsius)
        .ok_or_else(|| Refused::new(format!("`{shows}` is no temperature"), "type it as `310F` or `155C`"))?;
    let reading = kept_thermometer(machine, reading, &typed, Parsed::Value(value));
    Ok(Said::call(ReadingTaken { reading, answers: None }))
}

fn not_built_so(s: &Session<'_, '_>, what: &str) -> Result<Said, Refused> {
    let what = words(what)?;
    Ok(Said::shop(ApplianceLearned { differs: vec![what], ..nothing_learned(s)? }))
}

/// Takes down what was learned of the unit; of a variant and a label only what the description has.
pub(super) fn learned(s: &Session<'_, '_>, what: &Learned) -> Result<Said, Refused> {
    let machine = s.machine();
    let mut fact = nothing_learned(s)?;
    match what {
        Learned::Unit { variant, way } => {
            machine.variant_way(variant, way).map_err(|known| {
                let mend =
                    if known.is_empty() { "say `not built like this` and what differs".to_owned() } else { known };
                Refused::new(format!("nothing is described as `{variant} {way}`"), mend)
            })?;
            fact.variants.insert(variant.clone(), way.clone());
        }
        Learned::Label { point, text } => {
            let point = machine.terminal(point).map_err(|unknown| unknown_name(&unknown))?;
            fact.labels.insert(machine[point].name.clone(), words(text)?);
        }
        Learned::Plate { entry, text } => drop(fact.plate.insert(words(entry)?, words(text)?)),
        Learned::Papers { entry, text } => drop(fact.papers.insert(words(entry)?, words(text)?)),
    }
    Ok(Said::shop(fact))
}

fn nothing_learned(s: &Session<'_, '_>) -> Result<ApplianceLearned, Refused> {
    let appliance =
        s.now.appliance.ok_or_else(|| Refused::new("no appliance yet", "say which appliance it is first"))?;
    let (variants, labels, plate, papers) = Default::default();
    Ok(ApplianceLearned { appliance, variants, labels, plate, papers, differs: Vec::new() })
}
