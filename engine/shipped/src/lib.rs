//! The machines that are shipped: their texts by id, read with what they build on. Opens no files.

use machine::{BaseOf, Machine, ReadMachine};

/// A shipped machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shipped {
    /// Its id.
    pub id: &'static str,
    /// Its description.
    pub text: &'static str,
}

macro_rules! shipped {
    ($($id:literal),* $(,)?) => {
        /// Every shipped machine, in the order in which they are offered.
        pub const ALL: &[Shipped] = &[
            $(Shipped { id: $id, text: include_str!(concat!("../../../machines/", $id, ".toml")) }),*
        ];
    };
}

shipped![
    "dryer-timer-240",
    "dryer-control-240",
    "dryer-gas-120",
    "range-control-240",
    "wall-oven-240",
    "cooktop-240",
    "oven-gas-120",
    "washer-timer-120",
    "dishwasher-120",
    "refrigerator-timer-120",
    "refrigerator-control-120",
    "freezer-120",
    "water-heater-240",
    "disposer-120",
    "room-air-120",
    "hood-120",
    "washer-front-120",
    "ice-maker-120",
    "induction-240",
    "range-gas-120",
    "microwave-120",
    "dryer-timer-230",
    "range-control-230",
    "cooktop-230",
    "dishwasher-230",
];

/// The machine of the demo.
pub const DEMO: &str = "dryer-timer-240";
/// Seed of the demo's hidden fault.
pub const DEMO_SEED: u64 = 7;

impl Shipped {
    /// Reads it; `None` only if it is described wrongly, which a test holds against.
    #[must_use]
    pub fn read(&self) -> Option<Machine> {
        machine::read_with(self.text, BASES).machine
    }

    /// Gives its text with all that it builds on, to tell versions apart by.
    #[must_use]
    pub fn whole(&self) -> String {
        machine::with_bases(self.text, BASES)
    }

    /// Gives what it is in one line, without reading all of it.
    #[must_use]
    pub fn title(&self) -> String {
        machine::title_in(self.text).unwrap_or_else(|| self.id.to_owned())
    }
}

/// Finds a shipped machine.
#[must_use]
pub fn find(id: &str) -> Option<&'static Shipped> {
    ALL.iter().find(|known| known.id == id)
}

/// Gives the text of a shipped machine that another builds on.
pub const BASES: BaseOf<'static> = &|id| find(id).map(|known| known.text.to_owned());

/// Reads a description that may build on shipped machines.
#[must_use]
pub fn read(text: &str) -> ReadMachine {
    machine::read_with(text, BASES)
}
