//! The machines that are shipped: id and text.

/// Id and text of each.
pub const SHIPPED: [(&str, &str); 2] = [
    ("dryer-timer-240", include_str!("../../../machines/dryer-timer-240.toml")),
    ("range-control-240", include_str!("../../../machines/range-control-240.toml")),
];

/// The machine of the demo.
pub const DEMO: &str = "dryer-timer-240";
/// Seed of the demo's hidden fault.
pub const DEMO_SEED: u64 = 7;

/// Gives the text of a shipped machine.
#[must_use]
pub fn text_of(id: &str) -> Option<&'static str> {
    SHIPPED.iter().find(|(known, _)| *known == id).map(|(_, text)| *text)
}
