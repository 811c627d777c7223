//! Hazards found and how a call may end with them.

use danger::{EndRefusal, HazardAction, HazardFound, Signature, may_end};
use machine::access::Hazard;

fn hazard(dangerous: bool, action: HazardAction) -> HazardFound {
    HazardFound {
        what: "frame live".into(),
        kind: Hazard::Shock,
        dangerous,
        told_to: "the customer".into(),
        action,
        signed: Signature::Signed("A. Customer".into()),
    }
}

#[test]
fn an_open_dangerous_hazard_ends_no_call_and_a_tag_does_not_close_it() {
    for action in [HazardAction::None, HazardAction::Tagged] {
        assert_eq!(may_end(&[hazard(true, action)]), Err(EndRefusal::DisconnectInstead(vec![0])));
    }
    for action in [HazardAction::Disconnected, HazardAction::ShutOff, HazardAction::Mended] {
        assert_eq!(may_end(&[hazard(true, action)]), Ok(()));
    }
    assert_eq!(may_end(&[hazard(false, HazardAction::None)]), Ok(()));
    assert_eq!(may_end(&[]), Ok(()));
}

#[test]
fn somebody_is_told_and_asked_to_sign_and_may_refuse() {
    let mut untold = hazard(true, HazardAction::Disconnected);
    untold.told_to = "  ".into();
    assert_eq!(may_end(&[untold]), Err(EndRefusal::TellFirst(vec![0])));
    let mut unasked = hazard(false, HazardAction::None);
    unasked.signed = Signature::NotAsked;
    assert_eq!(may_end(&[unasked.clone()]), Err(EndRefusal::TellFirst(vec![0])));
    unasked.signed = Signature::Refused;
    assert_eq!(may_end(&[unasked]), Ok(()));
}
