//! Which faults come and go as a rule, and the file's own words laid over that.

use super::DraftFault;
use crate::faults::{Intermittent, Stir};
use crate::model::PartKind;
use crate::raw::StirWord;

/// Share of the time that such a fault shows, where the file does not say: common practice, no source.
const SHOWS: f64 = 0.5;
/// Chance that it shows once it is provoked, where the file does not say: common practice, no source.
const PROVOKED: f64 = 0.8;

/// Gives how a fault comes and goes: by the file's words, else by what is usual; `None` for one that stays.
pub(crate) fn of(kind: Option<PartKind>, fault: &DraftFault<'_>) -> Option<Intermittent> {
    let usual = kind.and_then(|kind| usual(kind, &fault.mode));
    let Some(words) = fault.intermittent else { return usual };
    let usual = usual.unwrap_or(Intermittent { share: 0.0, shows: SHOWS, provoked: PROVOKED, by: Vec::new() });
    let by = words.provoked_by.as_ref().map(|list| list.iter().map(|word| stir(word.value)).collect());
    let own = Intermittent {
        share: words.share.as_ref().map_or(usual.share, |share| ***share),
        shows: words.shows.as_ref().map_or(usual.shows, |share| ***share),
        provoked: words.provoked.as_ref().map_or(usual.provoked, |share| ***share),
        by: by.unwrap_or(usual.by),
    };
    Some(own).filter(|own| own.share > 0.0)
}

fn stir(word: StirWord) -> Stir {
    match word {
        StirWord::Moved => Stir::Moved,
        StirWord::Warmed => Stir::Warmed,
    }
}

/// Gives what is usual: what makes contact by a spring or a crimp comes and goes with a touch, what is soldered with
/// warmth. All shares: common practice, no source.
fn usual(kind: PartKind, mode: &str) -> Option<Intermittent> {
    let open = mode == "open" || mode.ends_with("-open") || mode.ends_with("loose");
    let (share, by) = match kind {
        PartKind::Lead if open => (0.1, vec![Stir::Moved]),
        PartKind::Joint | PartKind::Connector if open => (0.2, vec![Stir::Moved, Stir::Warmed]),
        PartKind::TerminalBlock if open => (0.1, vec![Stir::Moved, Stir::Warmed]),
        PartKind::Switch | PartKind::DoorSwitch | PartKind::Timer if open => (0.05, vec![Stir::Moved]),
        PartKind::Relay if open && mode != "coil-open" => (0.05, vec![Stir::Warmed]),
        PartKind::Control if open || mode == "dead" => (0.05, vec![Stir::Warmed]),
        _ => return None,
    };
    Some(Intermittent { share, shows: SHOWS, provoked: PROVOKED, by })
}
