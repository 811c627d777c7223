//! What a hand would find: the volts that really stand between each terminal and true earth.

use crate::unit::Unit;
use crate::wire::Stance;
use circuit::{Node, magnitude};
use machine::model::{StateId, TerminalId};

impl Unit<'_> {
    /// Gives for each terminal, in the machine's order, the volts to true earth; `None` where nothing ties it to earth.
    ///
    /// Plugged in it runs in `state`; with the plug out `state` only says how the controls are set. Stored charge is
    /// no part of it: a network at rest holds none.
    #[must_use]
    pub fn volts_to_earth(&self, state: StateId, plugged: bool) -> Vec<Option<f64>> {
        let flags = self.flags_for(state, plugged, &[]);
        let terminals = (0..self.machine().terminals.len()).map_while(|at| u16::try_from(at).ok()).map(TerminalId);
        self.with_body(|body| {
            let stance = Stance { state, pressed: false, plugged, direct: false, lifted: &[], flags: &flags };
            let solved = body.network(&stance).solve().ok();
            let volts = |terminal| solved.as_ref()?.voltage(body.node(terminal), Node(0)).map(magnitude);
            terminals.map(volts).collect()
        })
    }
}
