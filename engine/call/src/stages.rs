//! The stages of a call in their order; each says what it has to ask, and nothing when it is through.

pub(crate) mod agree;
pub(crate) mod arrive;
pub(crate) mod board;
pub(crate) mod find;
pub(crate) mod fit;
pub(crate) mod hand_over;
pub(crate) mod hazards;
pub(crate) mod intake;
pub(crate) mod prove;
pub(crate) mod pursue;
pub(crate) mod route;
pub(crate) mod supply;
pub(crate) mod telephone;

use crate::ask::{About, Ask, Wants};
use crate::session::{Next, Session};

/// Says what comes next.
pub(crate) fn next(s: &Session<'_, '_>) -> Next {
    if s.now.ended {
        return hand_over::close(s).unwrap_or_else(|| Next::Ask(Box::new(ended(s))));
    }
    // WHY this order: gas before anything, hazards before anything but gas, then the work as it is done.
    None.or_else(|| intake::open(s))
        .or_else(|| intake::gas(s))
        .or_else(|| hazards::next(s))
        .or_else(|| telephone::next(s))
        .or_else(|| intake::next(s))
        .or_else(|| arrive::next(s))
        .or_else(|| way_out(s))
        .or_else(|| supply::next(s))
        .or_else(|| work(s))
        .or_else(|| hand_over::next(s))
        .unwrap_or_else(|| Next::Ask(Box::new(ended(s))))
}

/// Leaves without a proof: put back, made safe, handed over.
fn way_out(s: &Session<'_, '_>) -> Option<Next> {
    s.now.way_out.as_ref()?;
    hand_over::put_back(s).or_else(|| hand_over::next(s))
}

fn work(s: &Session<'_, '_>) -> Option<Next> {
    let work = || find::next(s).or_else(|| prove::next(s));
    match &s.now.clips_on {
        None => work(),
        Some((_, true)) => pursue::seen_running(s).or_else(|| pursue::clips_off(s)),
        Some((reading, false)) => match work() {
            Some(Next::Ask(ask)) if ask.about == About::Read(reading.clone()) => Some(Next::Ask(ask)),
            other => pursue::clips_off(s).or(other),
        },
    }
}

/// Nothing more to ask.
pub(crate) fn ended(s: &Session<'_, '_>) -> Ask {
    Ask::new(About::Ended, s.stage(), "This call has ended.", Wants::Nothing)
}
