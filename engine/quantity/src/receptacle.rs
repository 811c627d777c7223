//! Receptacle patterns and what a meter must show between their contacts. Knows no faults of a receptacle.
//!
//! SOURCE: NEMA WD 6 configurations (read second hand); the voltages follow from the supply.

use crate::quantities::{Interval, Volts};
use crate::supply::System;

/// A contact of a receptacle, with the letter the pattern gives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Contact {
    /// The only live one, H.
    Hot,
    /// The first of two live ones, X.
    X,
    /// The second of two live ones, Y.
    Y,
    /// Neutral, W.
    Neutral,
    /// Earth, G.
    Earth,
}

impl Contact {
    /// The letter on the pattern.
    #[must_use]
    pub fn letter(self) -> char {
        match self {
            Self::Hot => 'H',
            Self::X => 'X',
            Self::Y => 'Y',
            Self::Neutral => 'W',
            Self::Earth => 'G',
        }
    }

    fn is_live(self) -> bool {
        matches!(self, Self::Hot | Self::X | Self::Y)
    }
}

/// A receptacle pattern.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// The number on it, such as `14-30`.
    pub name: &'static str,
    /// Rated amps.
    pub amps: u32,
    /// Rated volts as printed, such as `125/250`.
    pub volts: &'static str,
    /// Its contacts.
    pub contacts: &'static [Contact],
    /// What tells it from a near relative; may be empty.
    pub note: &'static str,
}

/// The patterns household appliances are plugged into.
pub const PATTERNS: [Pattern; 6] = {
    use Contact::{Earth, Hot, Neutral, X, Y};
    const WYE: &[Contact] = &[X, Y, Neutral, Earth];
    const SINGLE: &[Contact] = &[Hot, Neutral, Earth];
    [
        Pattern { name: "5-15", amps: 15, volts: "125", contacts: SINGLE, note: "" },
        Pattern { name: "5-20", amps: 20, volts: "125", contacts: SINGLE, note: "neutral slot T-shaped" },
        Pattern { name: "6-20", amps: 20, volts: "250", contacts: &[X, Y, Earth], note: "no neutral" },
        Pattern {
            name: "10-30",
            amps: 30,
            volts: "125/250",
            contacts: &[X, Y, Neutral],
            note: "no earth contact; W is L-shaped",
        },
        Pattern { name: "14-30", amps: 30, volts: "125/250", contacts: WYE, note: "W is L-shaped" },
        Pattern { name: "14-50", amps: 50, volts: "125/250", contacts: WYE, note: "W is straight" },
    ]
};

impl Pattern {
    /// Finds a pattern by its number.
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        PATTERNS.iter().find(|pattern| pattern.name == name)
    }

    /// Every pair of contacts once, in the order they are best measured: live to live first.
    #[must_use]
    pub fn pairs(&self) -> Vec<(Contact, Contact)> {
        let mut pairs = Vec::new();
        for (second, b) in self.contacts.iter().enumerate() {
            for a in self.contacts.iter().take(second) {
                pairs.push((*a, *b));
            }
        }
        pairs
    }
}

/// Gives the nominal voltage between two contacts of one receptacle.
#[must_use]
pub fn nominal_volts(a: Contact, b: Contact, system: System) -> Volts {
    match (a.is_live(), b.is_live()) {
        (true, true) if a == b => Volts(0.0),
        (true, true) => system.line_to_line(),
        (false, false) => Volts(0.0),
        _ => system.line_to_neutral(),
    }
}

/// Gives what a meter may show between two contacts with nothing running, in volts.
///
/// A live pair: 5 % either way (ANSI C84.1 range A). A pair that must be dead: under 2 V (common practice, no source).
#[must_use]
pub fn expected_volts(a: Contact, b: Contact, system: System) -> Interval {
    let nominal = nominal_volts(a, b, system).0;
    if nominal > 0.0 { Interval::ordered(0.95 * nominal, 1.05 * nominal) } else { Interval::ordered(0.0, 2.0) }
}
