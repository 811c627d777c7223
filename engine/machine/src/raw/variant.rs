//! In what units of one machine commonly differ, as the file writes it.

use super::table;
use crate::reader::{Above0, At, Id, Map, Num, Share, Text};

table! {
    /// Something in which units commonly differ.
    Variant {
        /// Its id.
        id: At<Id>,
        /// What differs: `the cord`.
        say: Text,
        /// How the described machine has it: `four-wire`.
        described: Text,
        /// Where a look tells which it is; left out where only readings do.
        look: Option<Text>,
        /// The other ways; at least one.
        options: Vec<VariantOption>,
    }
}

table! {
    /// One other way of it.
    VariantOption {
        /// Its id.
        id: At<Id>,
        /// In words: `three-wire, the frame bonded to neutral`.
        say: Text,
        /// Share of units that have it so.
        share: At<Num<Share>>,
        /// Faults of the described machine that would make it just so, `PART:MODE`.
        like: Option<Vec<Text>>,
        /// Heaters of other watts at their rated volts.
        watts: Option<Map<At<Num<Above0>>>>,
        /// Parts whose resistance, impedance or capacitance is so many times the described one.
        times: Option<Map<At<Num<Above0>>>>,
    }
}
