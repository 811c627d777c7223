//! What is shown on top of the wiring, worked out elsewhere and handed in as plain data.

use machine::model::{BranchId, PartId, TerminalId};

/// What the meter would show from a terminal to the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Volts {
    /// A figure, volts.
    Value(f64),
    /// Tied to nothing: anything from zero to this many volts.
    Floats(f64),
}

/// The layers; an empty one is not shown.
#[derive(Clone, Debug, Default)]
pub struct Layers {
    /// The chosen state in words, for the title; `None`: at rest.
    pub state: Option<String>,
    /// Faults assumed present, in words.
    pub faults: Vec<String>,
    /// Contacts that are closed; `None` draws them as they stand in the machine's rest state.
    pub closed: Option<Vec<BranchId>>,
    /// Amperes by branch; what is not listed carries none.
    pub amps: Vec<(BranchId, f64)>,
    /// Volts from a terminal to [`Layers::against`].
    pub volts: Vec<(TerminalId, Volts)>,
    /// The point to which the volts are measured, in words.
    pub against: Option<String>,
    /// Terminals that may be live at worst; `None`: not shown.
    pub live: Option<Vec<TerminalId>>,
    /// The red probe.
    pub red: Option<TerminalId>,
    /// The black probe.
    pub black: Option<TerminalId>,
    /// Suspects: a part and its share of the belief, 0 to 1.
    pub suspects: Vec<(PartId, f64)>,
}

/// Amperes from which a branch is drawn as carrying current.
pub(crate) const LEAST_AMPS: f64 = 0.005;

impl Layers {
    /// Gives the amperes of a run of branches in series, if it carries any.
    pub(crate) fn amps_of(&self, branches: &[BranchId]) -> Option<f64> {
        let carried = self.amps.iter().filter(|(branch, _)| branches.contains(branch)).map(|(_, amps)| *amps);
        carried.filter(|amps| *amps >= LEAST_AMPS).max_by(f64::total_cmp)
    }

    /// Gives the share of a suspected part.
    pub(crate) fn share_of(&self, part: PartId) -> Option<f64> {
        self.suspects.iter().find(|(suspect, _)| *suspect == part).map(|(_, share)| *share)
    }

    /// Says whether a terminal may be live, as far as that is shown.
    pub(crate) fn is_live(&self, terminal: TerminalId) -> bool {
        self.live.as_ref().is_some_and(|live| live.contains(&terminal))
    }

    /// Gives the volts of a terminal.
    pub(crate) fn volts_at(&self, terminal: TerminalId) -> Option<Volts> {
        self.volts.iter().find(|(at, _)| *at == terminal).map(|(_, volts)| *volts)
    }
}
