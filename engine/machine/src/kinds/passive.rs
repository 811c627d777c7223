//! Parts that conduct and never switch: heater, fuse, cut-off, joint, sensor, capacitor, lamp, connector.

use crate::diagnostic::{CHOOSE_ONE, DUPLICATE_ID};
use crate::faults::Effect;
use crate::lower::{Draft, Load, Usual, Way};
use crate::model::{Law, PartId, Resistance, SensorTable};
use crate::raw::{self, Common};
use quantity::Celsius;
use quantity::element::{iron_chromium_aluminium_factor, nickel_chromium_factor};

const HEATER_OPEN: Usual = Usual::new("open", 8.0, "burnt through").seen(0.4);
const HEATER_GROUNDED: Usual = Usual::new("grounded", 1.5, "touching the frame").seen(0.3).dangerous();
const HEATER_PART_SHORTED: Usual = Usual::new("part-shorted", 0.5, "turns touching").seen(0.4);
const SENSOR_OPEN: Usual = Usual::new("open", 3.0, "open");
const SENSOR_SHORTED: Usual = Usual::new("shorted", 1.0, "shorted");
const SENSOR_DRIFTED: Usual = Usual::new("drifted", 1.5, "drifted");
const CAPACITOR_OPEN: Usual = Usual::new("open", 2.0, "open").seen(0.2);
const CAPACITOR_SHORTED: Usual = Usual::new("shorted", 1.0, "shorted").seen(0.3);
const CAPACITOR_WEAK: Usual = Usual::new("weak", 2.0, "weak").seen(0.1);
const LAMP_OPEN: Usual = Usual::new("open", 3.0, "burnt out").seen(0.7);
const PIN_LOOSE: Usual = Usual::new("loose", 1.0, "pin {} without contact").seen(0.3);
const PIN_BURNT: Usual = Usual::new("burnt", 0.5, "pin {} burnt").seen(0.8).dangerous();

/// Ohms from a grounded element's wire to its sheath.
const GROUNDED_OHMS: f64 = 2.0;
/// Resistance left when turns touch, of the whole.
const PART_SHORTED_RATIO: f64 = 0.6;
/// Ohms of a shorted sensor.
const SHORTED_SENSOR_OHMS: f64 = 0.5;
/// Reading of a drifted sensor over the true one.
const DRIFT_RATIO: f64 = 1.15;
/// Ohms of a capacitor shorted through.
const SHORTED_CAPACITOR_OHMS: f64 = 0.05;
/// Capacitance left in a weak capacitor, of the whole.
const WEAK_RATIO: f64 = 0.4;
/// Ohms of a sound pin or joint.
const PIN_OHMS: f64 = 0.005;
/// Ohms of a burnt pin.
const BURNT_PIN_OHMS: f64 = 3.0;

/// What a plain conductor of one kind is like.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plain {
    ohms: f64,
    open: Usual,
    /// A burnt contact and its ohms.
    burnt: Option<(Usual, f64)>,
}

/// A fuse.
pub(crate) const FUSE: Plain = Plain { ohms: 0.02, open: Usual::new("open", 4.0, "blown").seen(0.3), burnt: None };
/// A one-shot thermal cut-off.
pub(crate) const CUT_OFF: Plain = Plain { ohms: 0.02, open: Usual::new("open", 6.0, "opened for good"), burnt: None };
/// A joint.
pub(crate) const JOINT: Plain = Plain {
    ohms: PIN_OHMS,
    open: Usual::new("open", 1.0, "come apart").seen(0.6),
    burnt: Some((Usual::new("burnt", 1.0, "burnt").seen(0.8).dangerous(), 2.0)),
};

/// Lowers a heater to two lengths in series, so that it can touch the frame between them.
///
/// The tolerance is the whole element's: each length gets one wider by 1 / sqrt(a² + b²), a and b their shares, so that
/// two independent draws add up to it.
pub(crate) fn heater(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Heater) {
    let (one, two) = draft.two_ends(id, common);
    let at = body.grounded_at.as_ref().map_or(0.3, |share| ***share);
    let tolerance = body.tolerance.as_ref().map_or(0.07, |share| ***share);
    let cold_ratio = cold_ratio(draft, body);
    let (watts, volts) = (**body.watts, **body.volts);
    let hot = volts * volts / watts;
    let inside = at > 0.01 && at < 0.99;
    let touches = match inside {
        true => draft.hidden_terminal(id, "along"),
        false if at < 0.5 => one,
        false => two,
    };
    let lengths =
        if inside { vec![("a", one, touches, at), ("b", touches, two, 1.0 - at)] } else { vec![("", one, two, 1.0)] };
    let spread = lengths.iter().map(|length| length.3 * length.3).sum::<f64>().sqrt();
    let branches: Vec<_> = lengths
        .into_iter()
        .map(|(what, from, to, share)| {
            let hot_ohms = hot * share;
            let law = Resistance { cold_ohms: hot_ohms * cold_ratio, hot_ohms, tolerance: tolerance / spread };
            draft.branch(id, what, (from, to), Law::Resistance(law))
        })
        .collect();
    if let Some(first) = branches.first() {
        draft.usual(id, &HEATER_OPEN, vec![Effect::Open(*first)]);
    }
    draft.usual(id, &HEATER_GROUNDED, vec![Effect::Bridge(touches, draft.frame, GROUNDED_OHMS)]);
    let scaled = branches.iter().map(|branch| Effect::Scale(*branch, PART_SHORTED_RATIO)).collect();
    draft.usual(id, &HEATER_PART_SHORTED, scaled);
    draft.ways.entry(id).or_default().push(Way { ends: (one, two), branches: branches.clone() });
    draft.loads.insert(id, Load { branches, watts, volts });
}

/// Temperature of a heater's wire at rated power, °C: common practice, no source.
const WIRE_C: f64 = 700.0;

/// Gives a heater's cold over its hot resistance: as stated, else by its alloy.
fn cold_ratio(draft: &mut Draft<'_, '_, '_>, body: &raw::Heater) -> f64 {
    let at = Celsius(body.wire_c.as_ref().map_or(WIRE_C, |celsius| ***celsius));
    match (&body.cold_ratio, &body.alloy) {
        (Some(_), Some(alloy)) => {
            let message = "a heater has either `cold_ratio` or `alloy`".to_owned();
            draft.reader.error(CHOOSE_ONE, &alloy.span, message, "leave one of them out");
            1.0
        }
        (Some(ratio), None) => ***ratio,
        (None, None) => 0.94,
        (None, Some(alloy)) => match alloy.value {
            raw::AlloyWord::NickelChromium => 1.0 / nickel_chromium_factor(at),
            raw::AlloyWord::IronChromiumAluminium => 1.0 / iron_chromium_aluminium_factor(at),
        },
    }
}

/// Lowers a fuse, cut-off or joint.
pub(crate) fn ohmic(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Ohmic, plain: Plain) {
    let ends = draft.two_ends(id, common);
    let ohms = body.ohms.as_ref().map_or(plain.ohms, |ohms| ***ohms);
    let branch = draft.way(id, "", ends, steady(ohms, 0.5));
    draft.usual(id, &plain.open, vec![Effect::Open(branch)]);
    if let Some((burnt, burnt_ohms)) = plain.burnt {
        draft.usual(id, &burnt, vec![Effect::Ohms(branch, burnt_ohms)]);
    }
}

/// Gives a resistance that is the same cold and hot.
pub(crate) fn steady(ohms: f64, tolerance: f64) -> Law {
    Law::Resistance(Resistance { cold_ohms: ohms, hot_ohms: ohms, tolerance })
}

/// Lowers a temperature sensor.
pub(crate) fn sensor(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Sensor) {
    let ends = draft.two_ends(id, common);
    let zone = draft.zone(&body.zone);
    let table = match (&body.platinum, &body.thermistor) {
        (Some(ohms), None) => SensorTable::Platinum { ohms_at_0c: ***ohms },
        (None, Some(law)) => SensorTable::Thermistor { ohms_at_25c: **law.ohms_at_25c, beta: **law.beta },
        _ => {
            let message = format!("sensor `{}` needs one of `platinum` and `thermistor`", &**common.id);
            draft.reader.error(CHOOSE_ONE, &common.id.span, message, "write `platinum = 1000`, say");
            SensorTable::Platinum { ohms_at_0c: 1000.0 }
        }
    };
    let tolerance = body.tolerance.as_ref().map_or(0.01, |share| ***share);
    let branch = draft.way(id, "", ends, Law::Sensor { zone, table, tolerance });
    draft.usual(id, &SENSOR_OPEN, vec![Effect::Open(branch)]);
    draft.usual(id, &SENSOR_SHORTED, vec![Effect::Ohms(branch, SHORTED_SENSOR_OHMS)]);
    draft.usual(id, &SENSOR_DRIFTED, vec![Effect::Scale(branch, DRIFT_RATIO)]);
}

/// Lowers a capacitor.
pub(crate) fn capacitor(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Capacitor) {
    let ends = draft.two_ends(id, common);
    let tolerance = body.tolerance.as_ref().map_or(0.1, |share| ***share);
    let law = Law::Capacitor { farads: **body.microfarads * 1e-6, tolerance };
    let branch = draft.way(id, "", ends, law);
    draft.usual(id, &CAPACITOR_OPEN, vec![Effect::Open(branch)]);
    draft.usual(id, &CAPACITOR_SHORTED, vec![Effect::Ohms(branch, SHORTED_CAPACITOR_OHMS)]);
    draft.usual(id, &CAPACITOR_WEAK, vec![Effect::Scale(branch, WEAK_RATIO)]);
}

/// Lowers a lamp.
pub(crate) fn lamp(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Lamp) {
    let ends = draft.two_ends(id, common);
    let (watts, volts) = (**body.watts, **body.volts);
    let hot_ohms = volts * volts / watts;
    let cold_ohms = hot_ohms * body.cold_ratio.as_ref().map_or(0.1, |ratio| ***ratio);
    let branch = draft.way(id, "", ends, Law::Resistance(Resistance { cold_ohms, hot_ohms, tolerance: 0.1 }));
    draft.usual(id, &LAMP_OPEN, vec![Effect::Open(branch)]);
    draft.loads.insert(id, Load { branches: vec![branch], watts, volts });
}

/// Lowers a connector: each pin is a branch between its two halves.
pub(crate) fn connector(draft: &mut Draft<'_, '_, '_>, id: PartId, body: &raw::Connector) {
    for (number, pin) in body.pins.iter().enumerate() {
        if body.pins.iter().take(number).any(|other| other.value == pin.value) {
            let message = format!("there are two pins `{}`", pin.value.0);
            draft.reader.error(DUPLICATE_ID, &pin.span, message, "give each pin its own name");
            continue;
        }
        let name = &pin.value.0;
        let ends = (draft.own_terminal(id, &format!("{name}a")), draft.own_terminal(id, &format!("{name}b")));
        let key = format!("p{name}");
        let branch = draft.way(id, &key, ends, steady(PIN_OHMS, 0.5));
        draft.usual_of(id, &key, name, &PIN_LOOSE, vec![Effect::Open(branch)]);
        draft.usual_of(id, &key, name, &PIN_BURNT, vec![Effect::Ohms(branch, BURNT_PIN_OHMS)]);
    }
}
