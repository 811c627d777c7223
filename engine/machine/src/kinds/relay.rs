//! Relays, and the contacts that a flag moves (a motor's centrifugal switch too).

use super::contacts::{ContactFaults, Place, contact_branch};
use crate::diagnostic::{BACKWARD, WRONG_KIND};
use crate::faults::Effect;
use crate::lower::{Draft, Usual};
use crate::model::{FlagId, FlagRule, Law, PartId, Rule};
use crate::raw::{self, Common, MovedContact, When};

const COIL_OPEN: Usual = Usual::new("coil-open", 2.0, "coil open").seen(0.1);
const CONTACTS: ContactFaults = ContactFaults {
    open: Usual::new("open", 3.0, "contact {} not closing").seen(0.1),
    welded: Usual::new("welded", 2.0, "contact {} not opening").seen(0.1),
};

/// Lowers a relay: the coil pulls a flag, the flag moves the contacts.
pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, body: &raw::Relay) {
    draft.list_ends(id, common);
    let flag = coil(draft, id, common, &body.coil);
    moved_contacts(draft, id, common, &body.contacts, flag, &CONTACTS);
}

/// Adds a coil, and the flag that it pulls.
pub(crate) fn coil(draft: &mut Draft<'_, '_, '_>, id: PartId, common: &Common, coil: &raw::Coil) -> FlagId {
    let ends = draft.named_ends(id, common, &coil.from, &coil.to);
    let (ohms, reactance) = (**coil.ohms, coil.reactance.as_ref().map_or(0.0, |x| ***x));
    let law = Law::Winding { ohms, reactance, running: (ohms, reactance), flag: None, tolerance: 0.1 };
    let branch = draft.way(id, "coil", ends, law);
    let (pull_in_volts, drop_out_volts) = (**coil.pull_in_volts, **coil.drop_out_volts);
    if drop_out_volts > pull_in_volts {
        let message = format!("`{}` drops out above the voltage that pulls it", &**common.id);
        draft.reader.error(BACKWARD, &coil.drop_out_volts.span, message, "give `drop_out_volts` below `pull_in_volts`");
    }
    let flag = draft.flag(id, "pulled", FlagRule::Coil { branch, pull_in_volts, drop_out_volts });
    draft.usual(id, &COIL_OPEN, vec![Effect::Open(branch)]);
    flag
}

/// Adds contacts that a flag moves.
pub(crate) fn moved_contacts(
    draft: &mut Draft<'_, '_, '_>,
    id: PartId,
    common: &Common,
    contacts: &[MovedContact],
    flag: FlagId,
    faults: &ContactFaults,
) {
    let motor = draft.motors.contains_key(&id);
    for (number, contact) in (1..).zip(contacts) {
        let when = contact.when.value;
        if motor != matches!(when, When::Running | When::Still) {
            let words = if motor { "`running` or `still`" } else { "`pulled` or `released`" };
            let message = "this `when` belongs to another kind of part";
            draft.reader.error(WRONG_KIND, &contact.when.span, message, &format!("write {words}"));
        }
        let rule = Rule::Flag { flag, inverted: matches!(when, When::Released | When::Still) };
        let place = Place { number, from: &contact.from, to: &contact.to };
        contact_branch(draft, id, common, &place, contact.ohms.as_ref(), rule, faults);
    }
}
