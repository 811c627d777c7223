//! Leakage to earth as the file writes it: the residual-current device in front of the machine, what else leaks behind
//! it, and what a sound part leaks to the frame.

use super::table;
use crate::reader::{Above0, At, Num, Strict, Text, Whole};

table! {
    /// A residual-current device in the panel, behind the breaker (GFCI, RCD).
    Residual {
        /// Residual current at which it opens, milliamperes.
        trips_milliamps: At<Num<Above0>>,
        /// What else leaks behind it: other appliances on the same device, long cables.
        leaks: Option<Vec<BranchLeak>>,
    }
}

table! {
    /// Leakage to earth of something else behind the same device.
    BranchLeak {
        /// Leg it leaks from: 1 or 2.
        leg: At<Whole>,
        /// Leakage current at that leg's voltage, milliamperes.
        milliamps: At<Num<Above0>>,
        /// Through a capacitance (a filter) and not through a resistance (moisture); true if left out.
        capacitive: Option<At<bool>>,
    }
}

table! {
    /// Leakage of a sound part to the frame; exactly one of `ohms`, `microfarads`.
    Leak {
        /// Terminal of the part that it leaks from.
        from: Text,
        /// Through a resistance: moisture in a sheathed element.
        ohms: Option<Strict<At<Num<Above0>>>>,
        /// Through a capacitance: a filter, a winding's insulation.
        microfarads: Option<Strict<At<Num<Above0>>>>,
    }
}
