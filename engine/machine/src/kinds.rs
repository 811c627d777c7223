//! The kinds of part: each one's terminals, branches, flags and usual faults, and what curing it takes. One file for
//! each family; the tables of usual faults stand at its top. Weights, chances and prices are common practice, no source,
//! unless a line says otherwise; a description overrides them.

mod contacts;
mod control;
mod driven;
mod flow;
mod motor;
mod passive;
mod relay;

pub(crate) use contacts::check_position;
pub(crate) use driven::lower as lower_driven;
pub(crate) use motor::starter as lower_starter;

use crate::faults::RepairKind;
use crate::lower::Draft;
use crate::model::{PartId, PartKind};
use crate::raw::{Body, Part, PartWord};
use crate::reader::Reader;

/// Gives the model's kind for a file's word.
pub(crate) fn kind_of(word: PartWord) -> PartKind {
    match word {
        PartWord::Heater => PartKind::Heater,
        PartWord::Fuse => PartKind::Fuse,
        PartWord::CutOff => PartKind::CutOff,
        PartWord::Joint => PartKind::Joint,
        PartWord::Thermostat => PartKind::Thermostat,
        PartWord::Switch => PartKind::Switch,
        PartWord::DoorSwitch => PartKind::DoorSwitch,
        PartWord::Button => PartKind::Button,
        PartWord::Timer => PartKind::Timer,
        PartWord::Relay => PartKind::Relay,
        PartWord::Control => PartKind::Control,
        PartWord::Sensor => PartKind::Sensor,
        PartWord::Motor => PartKind::Motor,
        PartWord::Capacitor => PartKind::Capacitor,
        PartWord::Lamp => PartKind::Lamp,
        PartWord::Connector => PartKind::Connector,
        PartWord::Belt => PartKind::Belt,
        PartWord::Drum => PartKind::Drum,
        PartWord::Blower => PartKind::Blower,
        PartWord::Vent => PartKind::Vent,
        PartWord::Starter => PartKind::Starter,
        PartWord::Valve => PartKind::Valve,
        PartWord::Tap => PartKind::Tap,
        PartWord::Pipe => PartKind::Pipe,
        PartWord::Pump => PartKind::Pump,
        PartWord::Burner => PartKind::Burner,
        PartWord::Winding => PartKind::Winding,
        PartWord::Assembly => PartKind::Assembly,
    }
}

/// Gives the positions that a part can be set to; none for one that nobody sets.
pub(crate) fn positions(reader: &mut Reader<'_>, body: &Body) -> Vec<String> {
    match body {
        Body::Switch(body) => contacts::positions(reader, body.positions.as_ref(), &["off", "on"]),
        Body::DoorSwitch(body) => contacts::positions(reader, body.positions.as_ref(), &["shut", "open"]),
        Body::Button(body) => contacts::positions(reader, body.positions.as_ref(), &["out", "in"]),
        Body::Timer(body) => contacts::positions(reader, Some(&body.positions), &[]),
        _ => Vec::new(),
    }
}

/// Lowers one part to terminals, branches, flags and usual faults. Driven parts wait for [`lower_driven`].
pub(crate) fn lower<'f>(draft: &mut Draft<'f, '_, '_>, id: PartId, part: &'f Part) {
    let common = &part.common;
    match &part.body {
        Body::Heater(body) => passive::heater(draft, id, common, body),
        Body::Fuse(body) => passive::ohmic(draft, id, common, body, passive::FUSE),
        Body::CutOff(body) => passive::ohmic(draft, id, common, body, passive::CUT_OFF),
        Body::Joint(body) => passive::ohmic(draft, id, common, body, passive::JOINT),
        Body::Sensor(body) => passive::sensor(draft, id, common, body),
        Body::Capacitor(body) => passive::capacitor(draft, id, common, body),
        Body::Lamp(body) => passive::lamp(draft, id, common, body),
        Body::Connector(body) => passive::connector(draft, id, body),
        Body::Thermostat(body) => contacts::thermostat(draft, id, common, body),
        Body::Switch(body) | Body::Button(body) => {
            contacts::operated(draft, id, common, &body.contacts, &contacts::SWITCH);
        }
        Body::DoorSwitch(body) => contacts::operated(draft, id, common, &body.contacts, &contacts::DOOR_SWITCH),
        Body::Timer(body) => contacts::timer(draft, id, common, body),
        Body::Relay(body) => relay::lower(draft, id, common, body),
        Body::Motor(body) => motor::lower(draft, id, common, body),
        Body::Control(body) => control::lower(draft, id, common, body),
        Body::Valve(body) => flow::valve(draft, id, common, body),
        Body::Winding(body) => flow::winding(draft, id, common, body),
        Body::Belt(_) | Body::Drum(_) | Body::Blower(_) | Body::Vent(_) => {}
        Body::Tap(_) | Body::Pipe(_) | Body::Pump(_) | Body::Burner(_) | Body::Starter(_) => {}
        Body::Assembly(_) => {}
    }
}

/// What curing a part takes if the file does not say.
#[derive(Clone, Copy, Debug)]
pub(crate) struct UsualSpare {
    /// Price in hundredths.
    pub(crate) cents: i64,
    /// Minutes once the part is exposed.
    pub(crate) minutes: f64,
    /// On the van as a rule.
    pub(crate) stocked: bool,
    /// How it is cured.
    pub(crate) mend: RepairKind,
}

/// Gives what curing a part of this kind takes as a rule.
pub(crate) fn usual_spare(kind: PartKind) -> UsualSpare {
    use RepairKind::{Clean, Mend, Refer, Replace};
    let (cents, minutes, stocked, mend) = match kind {
        PartKind::House | PartKind::Breaker => (0, 5.0, true, Refer),
        PartKind::Receptacle => (0, 5.0, true, Refer),
        PartKind::Cord => (24 * 100, 12.0, true, Replace),
        PartKind::TerminalBlock => (18 * 100, 15.0, true, Replace),
        PartKind::Heater => (60 * 100, 20.0, true, Replace),
        PartKind::Lead => (4 * 100, 10.0, true, Mend),
        PartKind::Joint | PartKind::Connector => (5 * 100, 10.0, true, Mend),
        PartKind::Fuse => (6 * 100, 6.0, true, Replace),
        PartKind::CutOff => (14 * 100, 8.0, true, Replace),
        PartKind::Thermostat => (18 * 100, 8.0, true, Replace),
        PartKind::Switch | PartKind::DoorSwitch => (22 * 100, 10.0, true, Replace),
        PartKind::Button => (20 * 100, 10.0, true, Replace),
        PartKind::Timer => (110 * 100, 15.0, false, Replace),
        PartKind::Relay => (45 * 100, 10.0, true, Replace),
        PartKind::Control => (190 * 100, 15.0, false, Replace),
        PartKind::Sensor => (28 * 100, 10.0, true, Replace),
        PartKind::Motor => (120 * 100, 35.0, true, Replace),
        PartKind::Capacitor => (22 * 100, 10.0, true, Replace),
        PartKind::Lamp => (6 * 100, 3.0, true, Replace),
        PartKind::Belt => (15 * 100, 15.0, true, Replace),
        PartKind::Drum => (45 * 100, 40.0, false, Mend),
        PartKind::Blower => (28 * 100, 20.0, true, Replace),
        PartKind::Vent => (0, 20.0, true, Clean),
        PartKind::Starter => (24 * 100, 10.0, true, Replace),
        PartKind::Valve => (45 * 100, 15.0, true, Replace),
        PartKind::Tap => (0, 3.0, true, Clean),
        PartKind::Pipe => (0, 15.0, true, Clean),
        PartKind::Pump => (55 * 100, 20.0, true, Replace),
        PartKind::Burner => (0, 15.0, true, Clean),
        PartKind::Winding => (60 * 100, 20.0, false, Replace),
        PartKind::Assembly => (80 * 100, 20.0, false, Replace),
    };
    UsualSpare { cents, minutes, stocked, mend }
}
