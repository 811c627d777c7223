//! Hazards found on a call, and what they allow the call to end with. Finds none itself.

use machine::access::Hazard;

/// A hazard that was found: an event of the call.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HazardFound {
    /// What, in words.
    pub what: String,
    /// Kind.
    pub kind: Hazard,
    /// Can hurt someone if the machine is used: shock, fire, gas.
    pub dangerous: bool,
    /// Who was told; empty while nobody was.
    pub told_to: String,
    /// What was done about it.
    pub action: HazardAction,
    /// Signed or refused.
    pub signed: Signature,
}

/// What was done about a hazard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HazardAction {
    /// Nothing yet.
    None,
    /// A tag says what is wrong. It keeps no current out.
    Tagged,
    /// Disconnected so that it cannot be switched on.
    Disconnected,
    /// Gas or water shut off and capped.
    ShutOff,
    /// Mended, and the proof of it holds.
    Mended,
}

/// What the one who was told did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Signature {
    /// Not asked yet.
    NotAsked,
    /// Signed, by this name.
    Signed(String),
    /// Refused to sign.
    Refused,
}

impl HazardFound {
    /// Says whether someone could still be hurt by it.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.dangerous && matches!(self.action, HazardAction::None | HazardAction::Tagged)
    }

    /// Says whether someone was told and asked to sign.
    #[must_use]
    pub fn is_told(&self) -> bool {
        !self.told_to.trim().is_empty() && self.signed != Signature::NotAsked
    }
}

/// How a call ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum End {
    /// Repaired and proved.
    Proved,
    /// The complaint could not be seen.
    NotReproduced,
    /// It was the use; shown to the customer.
    UseExplained,
    /// Put back, diagnosis charged, left in use as it is.
    Leave,
    /// Declined: put back and made safe.
    Declined,
    /// Handed to someone licensed for it.
    Referred,
    /// Disconnected and tagged.
    Disconnected,
    /// A part is to come.
    AwaitingPart,
}

/// Why the call cannot end so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum EndRefusal {
    /// Dangerous hazards are open: disconnect instead. Their places in the list.
    DisconnectInstead(Vec<usize>),
    /// Hazards of which nobody was told, or which nobody was asked to sign for. Their places in the list.
    TellFirst(Vec<usize>),
}

/// Says whether a call with these hazards may end, whatever the [`End`].
///
/// No end leaves a dangerous hazard open: disconnecting, shutting off or mending comes first. And somebody was told.
///
/// # Errors
/// [`EndRefusal`] with what to do first.
pub fn may_end(hazards: &[HazardFound]) -> Result<(), EndRefusal> {
    let open = places(hazards, HazardFound::is_open);
    if !open.is_empty() {
        return Err(EndRefusal::DisconnectInstead(open));
    }
    let untold = places(hazards, |hazard| !hazard.is_told());
    if !untold.is_empty() {
        return Err(EndRefusal::TellFirst(untold));
    }
    Ok(())
}

fn places(hazards: &[HazardFound], which: impl Fn(&HazardFound) -> bool) -> Vec<usize> {
    hazards.iter().enumerate().filter(|(_, hazard)| which(hazard)).map(|(index, _)| index).collect()
}
