//! The technician's meters out of the shop's settings.

use call::Shop;
use meters::{Meters, ORDINARY};
use prediction::Meter;

/// Gives the one meter that the technician's meters are together; an ordinary one where he named none.
///
/// # Errors
/// Meters that cannot be read, in words: another version wrote them.
pub fn meter(shop: &Shop) -> Result<Meter, String> {
    meters(shop).map(|meters| meters.together())
}

/// Gives the meters.
pub(crate) fn meters(shop: &Shop) -> Result<Meters, String> {
    let text = shop.settings.as_ref().and_then(|set| set.meters.as_deref()).unwrap_or(ORDINARY);
    read(text)
}

/// Reads meters; every mistake is said with its place.
pub(crate) fn read(text: &str) -> Result<Meters, String> {
    let read = meters::read(text);
    read.meters.ok_or_else(|| {
        let all: Vec<String> = read.diagnostics.iter().map(|of| of.render("meters", text)).collect();
        all.join("\n")
    })
}
