//! Where the two probes are in the drawing, and what of the machine is drawn.

use crate::touch::Touch;
use machine::model::{Machine, StateId, TerminalId};

/// What was chosen in the drawing.
#[derive(Debug)]
pub(crate) struct Probing {
    /// Red first, then black.
    pub(crate) probes: Vec<TerminalId>,
    /// The state to draw; whatever is in question where none was chosen.
    pub(crate) state: Option<StateId>,
    /// Only what matters is drawn.
    pub(crate) folded: bool,
}

impl Probing {
    pub(crate) fn folded(folded: bool) -> Self {
        Self { probes: Vec::new(), state: None, folded }
    }

    /// Takes a touch of the drawing; says whether it was one.
    pub(crate) fn touch(&mut self, machine: &Machine, touch: &Touch) -> bool {
        match touch {
            Touch::Probe(name) => {
                if let Ok(terminal) = machine.terminal(name) {
                    self.put(terminal);
                }
            }
            Touch::LiftProbes => self.probes.clear(),
            Touch::Fold(folded) => self.folded = *folded,
            Touch::State(id) => self.state = machine.state(id).ok(),
            _ => return false,
        }
        true
    }

    /// Red first, then black; then both are lifted and red comes anew.
    fn put(&mut self, terminal: TerminalId) {
        if self.probes.len() > 1 {
            self.probes.clear();
        }
        if !self.probes.contains(&terminal) {
            self.probes.push(terminal);
        }
    }
}
