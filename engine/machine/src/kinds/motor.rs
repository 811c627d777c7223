//! Motors: windings, the centrifugal switch, contacts that it moves.

use super::contacts::{CONTACT_OHMS, ContactFaults};
use super::relay::moved_contacts;
use crate::diagnostic::WRONG_KIND;
use crate::faults::Effect;
use crate::lower::{Draft, Usual};
use crate::model::{BranchId, FlagId, FlagRule, Law, PartId, Rule, TerminalId};
use crate::raw::{self, Common};

const RUN_OPEN: Usual = Usual::new("run-open", 2.0, "main winding open").seen(0.1);
const START_OPEN: Usual = Usual::new("start-open", 2.0, "start winding open").seen(0.1);
const SWITCH_OPEN: Usual = Usual::new("start-switch-open", 2.0, "start switch not closing").seen(0.1);
const SWITCH_WELDED: Usual = Usual::new("start-switch-welded", 1.0, "start switch not opening").seen(0.1);
const STARTER_OPEN: Usual = Usual::new("open", 3.0, "not starting the motor").seen(0.3);
const STARTER_WELDED: Usual = Usual::new("stuck-closed", 1.0, "not letting go").seen(0.1);
const SEIZED: Usual = Usual::new("seized", 3.0, "seized").seen(0.6);
const GROUNDED: Usual = Usual::new("grounded", 0.5, "winding touching the frame").seen(0.1).dangerous();
const CONTACTS: ContactFaults = ContactFaults {
    open: Usual::new("open", 2.0, "contact {} not closing").seen(0.1),
    welded: Usual::new("welded", 0.5, "contact {} not opening").seen(0.1),
};

/// Ohms from a grounded winding to the frame.
const GROUNDED_OHMS: f64 = 50.0;
/// Relative half-width of a sound winding.
const TOLERANCE: f64 = 0.1;

/// Lowers a motor. The flag `runs` changes the main winding and moves the centrifugal switch.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Motor) {
    draft.list_ends(id, common);
    let flag = FlagId(draft.next_id(draft.flags.len()));
    let volts = **body.volts;
    let winding = &body.run;
    let run_ends = draft.named_ends(id, common, &winding.from, &winding.to);
    let law = Law::Winding {
        ohms: **winding.ohms,
        reactance: **winding.reactance,
        running: (**winding.running_ohms, **winding.running_reactance),
        flag: Some(flag),
        tolerance: TOLERANCE,
    };
    let run = draft.way(id, "run", run_ends, law);
    draft.usual(id, &RUN_OPEN, vec![Effect::Open(run)]);
    let switched = body.start_switch.as_ref().is_some_and(|flag| flag.value);
    let start = body.start.as_ref().map(|start| start_winding(draft, id, common, start, switched.then_some(flag)));
    let sound_torque = body.start.as_ref().map_or(0.0, |start| sound_torque(winding, start, volts, draft.hertz()));
    let rule = FlagRule::Motor {
        run,
        start,
        sound_torque,
        load_share: body.load_share.as_ref().map_or(0.5, |share| ***share),
        hold_volts: body.hold_volts.as_ref().map_or(0.6 * volts, |volts| ***volts),
    };
    draft.flag(id, "runs", rule);
    draft.motors.insert(id, flag);
    draft.usual(id, &SEIZED, vec![Effect::Hold(flag, false), Effect::Stops(id)]);
    draft.usual(id, &GROUNDED, vec![Effect::Bridge(run_ends.0, draft.frame, GROUNDED_OHMS)]);
    if let Some(contacts) = &body.contacts {
        moved_contacts(draft, id, common, contacts, flag, &CONTACTS);
    }
}

/// Adds the start winding, and the centrifugal switch behind it if the motor has one.
fn start_winding(
    draft: &mut Draft<'_, '_, '_>,
    id: PartId,
    common: &Common,
    start: &raw::StartWinding,
    switch: Option<FlagId>,
) -> BranchId {
    let (from, to) = draft.named_ends(id, common, &start.from, &start.to);
    let (ohms, reactance) = (**start.ohms, **start.reactance);
    let law = Law::Winding { ohms, reactance, running: (ohms, reactance), flag: None, tolerance: TOLERANCE };
    let Some(flag) = switch else {
        let branch = draft.way(id, "start", (from, to), law);
        draft.usual(id, &START_OPEN, vec![Effect::Open(branch)]);
        return branch;
    };
    let between = draft.hidden_terminal(id, "start-switch");
    let branch = draft.branch(id, "start", (from, between), law);
    let contact = Law::Contact { rule: Rule::Flag { flag, inverted: true }, ohms: CONTACT_OHMS };
    let contact = draft.branch(id, "start-switch", (between, to), contact);
    add_way(draft, id, (from, to), vec![branch, contact]);
    draft.usual(id, &START_OPEN, vec![Effect::Open(branch)]);
    draft.usual(id, &SWITCH_OPEN, vec![Effect::Open(contact)]);
    draft.usual(id, &SWITCH_WELDED, vec![Effect::Ohms(contact, CONTACT_OHMS)]);
    branch
}

/// Lowers a starter: a contact that its motor moves, closed while that stands still.
pub(crate) fn starter(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Starter) {
    let ends = draft.two_ends(id, common);
    let Some(motor) = draft.part(&body.motor) else { return };
    let Some(&flag) = draft.motors.get(&motor) else {
        let message = format!("`{}` is no motor, so nothing starts it", body.motor.value);
        draft.reader.error(WRONG_KIND, &body.motor.span, message, "name the motor");
        return;
    };
    let ohms = body.ohms.as_ref().map_or(CONTACT_OHMS, |ohms| ***ohms);
    let branch = draft.way(id, "contact", ends, Law::Contact { rule: Rule::Flag { flag, inverted: true }, ohms });
    draft.usual(id, &STARTER_OPEN, vec![Effect::Open(branch)]);
    draft.usual(id, &STARTER_WELDED, vec![Effect::Ohms(branch, ohms)]);
}

fn add_way(draft: &mut Draft<'_, '_, '_>, id: PartId, ends: (TerminalId, TerminalId), branches: Vec<BranchId>) {
    draft.ways.entry(id).or_default().push(crate::lower::Way { ends, branches });
}

/// Gives |I_run| |I_start| |sin(angle between them)| standing still at rated volts, ampere squared.
///
/// With I = U / Z this is U² |Im(Z_run conj(Z_start))| / (|Z_run|² |Z_start|²): no angle is needed. The start branch
/// counts its capacitor, if the description names one that the leads put in series.
fn sound_torque(run: &raw::RunWinding, start: &raw::StartWinding, volts: f64, hertz: f64) -> f64 {
    let (run_r, run_x) = (**run.ohms, **run.reactance);
    let capacitor_x = start
        .capacitor_microfarads
        .as_ref()
        .map_or(0.0, |uf| 1.0 / (2.0 * std::f64::consts::PI * hertz * ***uf * 1e-6));
    let (start_r, start_x) = (**start.ohms, **start.reactance - capacitor_x);
    let run_square = run_r * run_r + run_x * run_x;
    let start_square = start_r * start_r + start_x * start_x;
    let cross = run_x * start_r - run_r * start_x;
    volts * volts * cross.abs() / (run_square * start_square)
}

#[cfg(test)]
mod tests {
    use crate::model::FlagRule;
    use crate::read;

    fn torque_of(text: &str) -> f64 {
        let machine = read(text).machine.unwrap();
        let torque = machine.flags.iter().find_map(|flag| match flag.rule {
            FlagRule::Motor { sound_torque, .. } => Some(sound_torque),
            _ => None,
        });
        torque.unwrap()
    }

    /// Windings 3 + j4 and 8 + j6 at 100 V: I_run = 20 A at -53.13°, I_start = 10 A at -36.87°, so
    /// 20 * 10 * sin(16.26°) = 56.0; reckoned by hand.
    #[test]
    fn torque_product_is_that_of_the_currents() {
        assert!((torque_of(include_str!("../../tests/good/motor-torque.toml")) - 56.0).abs() < 1e-9);
    }

    /// 12 ohms of capacitor turn the start branch to 8 - j6: I_start = 10 A at +36.87°, square to I_run, so
    /// 20 * 10 * 1 = 200. At 60 Hz 12 ohms are 1e6 / (2 pi 60 * 12) = 221.0485 microfarads; reckoned by hand.
    #[test]
    fn torque_product_counts_the_start_capacitor() {
        let text = include_str!("../../tests/good/motor-torque.toml")
            .replace("reactance = 6 }", "reactance = 6, capacitor_microfarads = 221.0485 }");
        assert!((torque_of(&text) - 200.0).abs() < 1e-3);
    }
}
