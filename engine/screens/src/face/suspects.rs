//! The suspects with what changed since the last thing found.

use crate::desk::Desk;
use crate::screen::Suspect;
use diagnosis::reasons::reasons;
use diagnosis::words;

/// Most suspects shown, and the least share of one.
const MOST: usize = 8;
const LEAST: f64 = 0.002;
/// Most reasons shown for one.
const MOST_REASONS: usize = 4;

/// Lists the suspects, likeliest first.
pub(super) fn suspects(desk: &Desk<'_, '_>) -> Vec<Suspect> {
    let belief = desk.session.belief();
    let shares = belief.shares().into_iter().take(MOST).filter(|(_, share)| *share >= LEAST);
    let shown = shares.map(|(suspect, share)| Suspect {
        say: words::suspect(belief.machine(), suspect),
        share,
        before: desk.before(suspect).unwrap_or(share),
        odds: odds(share),
        reasons: reasons(belief, suspect).into_iter().take(MOST_REASONS).map(|reason| reason.say).collect(),
    });
    shown.collect()
}

/// Says a share as people do: `3 in 4`.
pub(crate) fn odds(share: f64) -> String {
    const SAID: [(f64, &str); 9] = [
        (0.98, "almost sure"),
        (0.85, "9 in 10"),
        (0.70, "3 in 4"),
        (0.58, "2 in 3"),
        (0.42, "1 in 2"),
        (0.29, "1 in 3"),
        (0.15, "1 in 5"),
        (0.07, "1 in 10"),
        (0.03, "1 in 20"),
    ];
    SAID.iter().find(|(least, _)| share >= *least).map_or("less than 1 in 30", |(_, said)| said).to_owned()
}
