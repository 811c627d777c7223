//! The drawing as it is shown: with the probes, what may be read between them, and the states to choose from.

use crate::probing::Probing;
use crate::screen::{Choice, Drawing, Ruler};
use diagnosis::words;
use drawing::{Layers, Question};
use machine::model::{Machine, PartId, StateId, TerminalId};
use prediction::{Condition, Probe, Quantity, Reading};

/// What is drawn.
pub(crate) struct Drawn<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) probing: &'a Probing,
    /// The state that is drawn.
    pub(crate) state: StateId,
    /// What is shown on top; the probes are added here.
    pub(crate) layers: Layers,
    /// Where the probes belong while none were put down.
    pub(crate) asked: Vec<TerminalId>,
    /// The parts that matter, beside those under the probes.
    pub(crate) matters: Vec<PartId>,
    /// What is drawn, and what a tap does.
    pub(crate) note: &'static str,
}

impl Drawn<'_> {
    /// Draws it. What may be read between the probes is handed in.
    pub(crate) fn show(self, rulers: Vec<Ruler>, take: Vec<Choice>) -> Drawing {
        let Self { machine, probing, state, mut layers, asked, matters, note } = self;
        let at = if probing.probes.is_empty() { asked } else { probing.probes.clone() };
        layers.red = at.first().copied();
        layers.black = at.get(1).copied();
        let mut only = matters;
        only.extend(at.iter().map(|terminal| machine[*terminal].part));
        let folded = probing.folded && !only.is_empty();
        let scene = drawing::draw(machine, &Question { only: folded.then_some(only), layers });
        Drawing {
            svg: drawing::svg::svg(&scene, None),
            state: machine[state].id.clone(),
            note: note.to_owned(),
            words: scene.words.into_iter().map(|line| line.text).collect(),
            folded,
            probes: at.iter().map(|terminal| words::terminal(machine, *terminal)).collect(),
            rulers,
            take,
            states: machine.states.iter().map(|of| Choice { answer: of.id.clone(), say: of.say.clone() }).collect(),
        }
    }
}

/// Gives the ohms between the two probes, the machine isolated and its controls set as drawn.
pub(crate) fn ohms(probing: &Probing, state: StateId) -> Option<Reading> {
    between(probing, Quantity::Ohms, Condition::isolated(state))
}

/// Gives the volts between the two probes while the drawn state runs.
pub(crate) fn volts(probing: &Probing, state: StateId) -> Option<Reading> {
    between(probing, Quantity::Volts, Condition::running(state))
}

fn between(probing: &Probing, quantity: Quantity, condition: Condition) -> Option<Reading> {
    let [a, b] = probing.probes[..] else { return None };
    Some(Reading { quantity, probe: Probe::Across(a.min(b), a.max(b)), condition })
}
