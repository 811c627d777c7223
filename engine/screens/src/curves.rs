//! Curves: the suspects over what was found, and the heat of a zone over time with what a thermometer showed on it.

use crate::desk::Desk;
use crate::face::suspects::odds;
use crate::screen::{Curve, Mark, Plot};
use crate::sheet::state_in_question;
use book::TemperatureScale;
use diagnosis::{Evidence, Suspect, words};
use machine::model::{FaultId, Machine, StateId, ZoneId};
use prediction::{Predictor, WarmUp};

/// Most suspects whose shares are drawn.
const MOST_SUSPECTS: usize = 6;
/// Most marks along an edge.
const MOST_MARKS: usize = 9;
/// Most suspects whose heat is drawn beside a sound machine's, out of so many of the likeliest.
const MOST_HEATS: usize = 3;
const LOOKED_AT: usize = 8;
/// Kelvins by which a curve must part from the others to be drawn.
const PARTS: f64 = 4.0;
/// Watts below which a state does not heat.
const LEAST_WATTS: f64 = 1.0;
/// Higher than anything in a household gets, °C: the curve then runs on for its longest.
const NEVER: f64 = 1500.0;
/// Minutes shown at least, and how much of the way from rest to the end the sound machine has gone where they end.
const LEAST_MINUTES: f64 = 10.0;
const NEARLY: f64 = 0.9;

/// Gives the curves of a call.
pub(crate) fn of_call(desk: &Desk<'_, '_>) -> Vec<Plot> {
    let belief = desk.session.belief();
    let leading = belief.shares().into_iter().take(LOOKED_AT).map(|(suspect, _)| {
        let faults: Vec<FaultId> = suspect.0.to_vec();
        (words::suspect(belief.machine(), suspect), faults)
    });
    let leading: Vec<(String, Vec<FaultId>)> = leading.filter(|(_, faults)| !faults.is_empty()).collect();
    let read = read_by_thermometer(desk);
    let scale = desk.session.settings().temperatures;
    let state = state_in_question(desk, &desk.session.ask());
    let zones = zones(belief.machine()).filter_map(|zone| {
        let dots: Vec<(f64, f64)> =
            read.iter().filter(|of| of.0 == zone && of.1 == state).map(|&(_, _, minutes, c)| (minutes, c)).collect();
        heat(belief.predictor(), (state, zone), &leading, &dots, scale)
    });
    suspects(desk).into_iter().chain(zones).collect()
}

/// Gives the heat of every zone of a machine of which nothing is suspected.
pub(crate) fn of_machine(predictor: &Predictor<'_>, state: StateId, scale: TemperatureScale) -> Vec<Plot> {
    zones(predictor.machine()).filter_map(|zone| heat(predictor, (state, zone), &[], &[], scale)).collect()
}

fn zones(machine: &Machine) -> impl Iterator<Item = ZoneId> + '_ {
    (0..).map(ZoneId).zip(&machine.zones).filter(|(_, zone)| zone.heat.is_some()).map(|(id, _)| id)
}

/// What a thermometer showed: zone, state, minutes after the start, °C.
fn read_by_thermometer(desk: &Desk<'_, '_>) -> Vec<(ZoneId, StateId, f64, f64)> {
    let evidence = desk.session.belief().evidence().iter();
    let read = evidence.filter_map(|weighed| match &weighed.item {
        Evidence::Warmed { reading, celsius } => {
            Some((reading.zone, reading.state, f64::from(reading.seconds) / 60.0, *celsius))
        }
        _ => None,
    });
    read.collect()
}

/// Gives the shares over what was found; nothing before anything was.
fn suspects(desk: &Desk<'_, '_>) -> Option<Plot> {
    let belief = desk.session.belief();
    let found = desk.past.len();
    if found == 0 {
        return None;
    }
    let now: Vec<(&Suspect, f64)> = belief.shares();
    let over_time = |suspect: &Suspect, share: f64| -> Vec<f64> {
        let before = desk.past.iter().map(|(_, shares)| shares.get(suspect).copied().unwrap_or_default());
        before.chain([share]).collect()
    };
    // Who leads now, and who led at some time.
    let mut shown: Vec<(&Suspect, Vec<f64>)> =
        now.iter().map(|(suspect, share)| (*suspect, over_time(suspect, *share))).collect();
    let highest = |shares: &[f64]| shares.iter().copied().fold(0.0, f64::max);
    shown.sort_by(|(_, a), (_, b)| highest(b).total_cmp(&highest(a)));
    shown.truncate(MOST_SUSPECTS);
    let last = |shares: &[f64]| shares.last().copied().unwrap_or_default();
    shown.sort_by(|(_, a), (_, b)| last(b).total_cmp(&last(a)));
    let step = 1.0 / small(found);
    let place = |at: usize| small(at) * step;
    let curve = |(suspect, shares): &(&Suspect, Vec<f64>)| Curve {
        label: words::suspect(belief.machine(), suspect),
        points: shares.iter().enumerate().map(|(at, share)| (place(at), *share)).collect(),
    };
    let say = |(suspect, shares): &(&Suspect, Vec<f64>)| {
        let mut run: Vec<String> = shares.iter().map(|share| odds(*share)).collect();
        run.dedup();
        format!("{}: {}", words::suspect(belief.machine(), suspect), run.join(", then "))
    };
    let every = found.div_ceil(MOST_MARKS).max(1);
    let marks = (0..=found).step_by(every).map(|at| Mark { at: place(at), label: at.to_string() });
    let upward = [(0.0, "0"), (0.25, "1 in 4"), (0.5, "1 in 2"), (0.75, "3 in 4"), (1.0, "sure")];
    Some(Plot {
        title: "the suspects, by what was found".to_owned(),
        across: "things found".to_owned(),
        upward: "how sure".to_owned(),
        marks_across: marks.collect(),
        marks_upward: upward.map(|(at, label)| Mark { at, label: label.to_owned() }).to_vec(),
        curves: shown.iter().map(curve).collect(),
        dots: Vec::new(),
        words: shown.iter().map(say).collect(),
    })
}

/// Gives the heat of a zone in a state: a sound machine's, then that of the suspects whose heat is another. Nothing where
/// the state does not heat the zone.
fn heat(
    predictor: &Predictor<'_>,
    (state, zone): (StateId, ZoneId),
    leading: &[(String, Vec<FaultId>)],
    read: &[(f64, f64)],
    scale: TemperatureScale,
) -> Option<Plot> {
    let machine = predictor.machine();
    let warm_up = |faults: &[FaultId]| predictor.warm_up(state, faults, 1.0, zone, NEVER).ok();
    let sound = course(&warm_up(&[]).filter(|warm| warm.watts >= LEAST_WATTS)?);
    let minutes = minutes_shown(&sound, read)?;
    let mut courses = vec![("sound".to_owned(), sound)];
    for (label, faults) in leading {
        if courses.len() > MOST_HEATS {
            break;
        }
        let Some(of) = warm_up(faults).map(|warm| course(&warm)) else { continue };
        if courses.iter().all(|(_, other)| parts(&of, other, minutes)) {
            courses.push((label.clone(), of));
        }
    }
    let celsius = courses.iter().flat_map(|(_, of)| of).filter(|(at, _)| *at <= minutes).map(|(_, c)| *c);
    let top = celsius.chain(read.iter().map(|(_, c)| *c)).fold(0.0, f64::max);
    let (marks_upward, top) = degrees(top, scale);
    let at = |minute: f64, c: f64| ((minute / minutes).min(1.0), (in_scale(c, scale) / top).clamp(0.0, 1.0));
    let curve = |(label, of): &(String, Vec<(f64, f64)>)| {
        let within = of.iter().filter(|(minute, _)| *minute <= minutes + 1e-9);
        Curve { label: label.clone(), points: within.map(|&(minute, c)| at(minute, c)).collect() }
    };
    let sign = if scale == TemperatureScale::Fahrenheit { "°F" } else { "°C" };
    let say = |(label, of): &(String, Vec<(f64, f64)>)| {
        let after = |share: f64| {
            let c = of.iter().find(|(minute, _)| *minute >= share * minutes - 1e-9).map_or(f64::NAN, |(_, c)| *c);
            format!("{:.0} {sign} after {:.0} min", in_scale(c, scale), share * minutes)
        };
        format!("{label}: {}, {}", after(0.5), after(1.0))
    };
    let marks =
        (0..=5).map(|fifth| f64::from(fifth) / 5.0).map(|at| Mark { at, label: format!("{:.0}", at * minutes) });
    Some(Plot {
        title: format!("heat of the {}: {}", machine.zones[zone.index()].id, machine[state].say),
        across: "minutes from cold".to_owned(),
        upward: sign.to_owned(),
        marks_across: marks.collect(),
        marks_upward,
        words: courses.iter().map(say).collect(),
        curves: courses.iter().map(curve).collect(),
        dots: read.iter().map(|&(minute, c)| at(minute, c)).collect(),
    })
}

/// Gives minutes and °C; where the heat is let go of, the zone is taken to stay.
fn course(warm: &WarmUp) -> Vec<(f64, f64)> {
    let held = |c: f64| warm.lets_go_c.map_or(c, |most| c.min(most));
    warm.curve.iter().map(|&(seconds, c)| (seconds / 60.0, held(c))).collect()
}

/// Ends the curve a while after the sound machine is nearly where it goes, not before the last reading.
fn minutes_shown(sound: &[(f64, f64)], read: &[(f64, f64)]) -> Option<f64> {
    let (rest, end) = (sound.first()?.1, sound.last()?.1);
    let nearly = sound.iter().find(|(_, c)| *c >= rest + NEARLY * (end - rest))?.0;
    let last = read.iter().map(|(minute, _)| *minute).fold(0.0, f64::max);
    let minutes = (1.5 * nearly).max(1.1 * last).max(LEAST_MINUTES).min(sound.last()?.0);
    // Whole fives of minutes, for the marks.
    Some((minutes / 5.0).ceil() * 5.0)
}

fn parts(a: &[(f64, f64)], b: &[(f64, f64)], minutes: f64) -> bool {
    a.iter().zip(b).any(|(x, y)| x.0 <= minutes && (x.1 - y.1).abs() > PARTS)
}

fn in_scale(celsius: f64, scale: TemperatureScale) -> f64 {
    match scale {
        TemperatureScale::Celsius => celsius,
        TemperatureScale::Fahrenheit => celsius * 1.8 + 32.0,
    }
}

/// Gives the marks of the degrees and the highest of them.
fn degrees(top_celsius: f64, scale: TemperatureScale) -> (Vec<Mark>, f64) {
    let top = in_scale(top_celsius, scale).max(1.0);
    let step = [10.0, 20.0, 50.0, 100.0, 200.0].into_iter().find(|step| top / step <= 6.0).unwrap_or(500.0);
    let count = (top / step).ceil();
    let highest = count * step;
    let mut marks = Vec::new();
    let mut mark = 0.0;
    while mark <= highest {
        marks.push(Mark { at: mark / highest, label: format!("{mark:.0}") });
        mark += step;
    }
    (marks, highest)
}

/// A count as a number. Counts here are far below what no longer fits.
fn small(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::from(u32::MAX), f64::from)
}
