//! The plain loop that brings a state to rest: solve, look at every flag, solve again, until nothing moves.

use crate::wire::{Body, Stance};
use circuit::{Solved, magnitude};
use machine::faults::Effect;
use machine::model::{BranchId, FlagRule, Law, Need, StateId, TerminalId};
use std::rc::Rc;

/// A state at rest: its flags and its solved network.
#[derive(Clone, Debug)]
pub(crate) struct Rest {
    /// Flags that stand.
    pub(crate) flags: Vec<bool>,
    /// The network at rest; `None` where it has no solution.
    pub(crate) solved: Option<Rc<Solved>>,
}

/// Turns after which what still moves is taken as it is.
const MOST_TURNS: usize = 24;

impl Body<'_> {
    /// Brings a state to rest, plugged in, from the flags of the state before it.
    pub(crate) fn rest(&self, state: StateId, before: &[bool], lifted: &[BranchId]) -> Rest {
        let has_press = !self.machine.states[state.index()].pressed.is_empty();
        let mut flags = before.to_vec();
        if has_press {
            flags = self.come_to_rest(state, true, &flags, lifted).flags;
        }
        self.come_to_rest(state, false, &flags, lifted)
    }

    /// Gives all flags down, but for those that a fault holds.
    pub(crate) fn flags_down(&self) -> Vec<bool> {
        self.hold(vec![false; self.machine.flags.len()])
    }

    fn come_to_rest(&self, state: StateId, pressed: bool, start: &[bool], lifted: &[BranchId]) -> Rest {
        let mut flags = self.hold(start.to_vec());
        let mut seen: Vec<Vec<bool>> = Vec::new();
        loop {
            let stance = Stance { state, pressed, plugged: true, direct: false, lifted, flags: &flags };
            let solved = self.network(&stance).solve().ok().map(Rc::new);
            let Some(at) = solved.as_deref() else { return Rest { flags, solved } };
            let rules = self.machine.flags.iter().zip(&flags);
            let next =
                self.hold(rules.map(|(flag, &stood)| self.stands(&flag.rule, state, stood, (&flags, at))).collect());
            // What comes round again would chatter for ever: it is left where it was met first.
            if next == flags || seen.contains(&flags) || seen.len() >= MOST_TURNS {
                return Rest { flags, solved };
            }
            seen.push(std::mem::replace(&mut flags, next));
        }
    }

    fn hold(&self, mut flags: Vec<bool>) -> Vec<bool> {
        for effect in self.effects {
            if let Effect::Hold(flag, stands) = *effect {
                flags[flag.index()] = stands;
            }
        }
        flags
    }

    fn stands(&self, rule: &FlagRule, state: StateId, stood: bool, (flags, at): (&[bool], &Solved)) -> bool {
        match rule {
            FlagRule::Motor { run, start, sound_torque, load_share, hold_volts } => match start {
                Some(start) if !stood => {
                    let (main, aid) = (at.current(Self::wire(*run)), at.current(Self::wire(*start)));
                    let torque = (main.re * aid.im - main.im * aid.re).abs();
                    torque >= load_share * sound_torque
                }
                // A winding without current drives nothing.
                _ => self.volts_over(*run, at) >= *hold_volts && magnitude(at.current(Self::wire(*run))) > 1e-6,
            },
            FlagRule::Coil { branch, pull_in_volts, drop_out_volts } => {
                let needed = if stood { drop_out_volts } else { pull_in_volts };
                let Law::Winding { ohms, reactance, .. } = self.machine.branches[branch.index()].law else {
                    return false;
                };
                let amps = magnitude(at.current(Self::wire(*branch)));
                amps * (ohms * ohms + reactance * reactance).sqrt() >= *needed
            }
            FlagRule::Output { requested_in, needs } => {
                requested_in.contains(&state) && needs.iter().all(|need| self.holds(need, state, flags, at))
            }
            FlagRule::Breaker { poles, amps } => {
                stood || poles.iter().any(|&pole| magnitude(at.current(Self::wire(pole))) > *amps)
            }
            FlagRule::Residual { poles, amps } => {
                let missing: circuit::Complex64 = poles.iter().map(|&pole| at.current(Self::wire(pole))).sum();
                stood || magnitude(missing) > *amps
            }
        }
    }

    /// Says whether a control finds what it needs.
    pub(crate) fn holds(&self, need: &Need, state: StateId, flags: &[bool], at: &Solved) -> bool {
        match need {
            Need::Volts { from, to, at_least } => self.volts_between(*from, *to, at) >= *at_least,
            Need::Sense { low_ohms, high_ohms, .. } => {
                let loop_ohms = Self::loop_ohms(need, at);
                loop_ohms >= *low_ohms && loop_ohms <= *high_ohms
            }
            Need::Works { asked_in, .. } if !asked_in.contains(&state) => true,
            Need::Works { part, all, .. } => self.blows(*part, flags, at) > u8::from(*all),
        }
    }

    /// Gives what a control makes of its sensor loop; no current at all is an endless resistance.
    pub(crate) fn loop_ohms(need: &Need, at: &Solved) -> f64 {
        match need {
            Need::Sense { source, open_volts, reference_ohms, .. } => {
                open_volts / magnitude(at.current(Self::wire(*source))) - reference_ohms
            }
            Need::Volts { .. } | Need::Works { .. } => f64::INFINITY,
        }
    }

    pub(crate) fn volts_over(&self, branch: BranchId, at: &Solved) -> f64 {
        let branch = &self.machine.branches[branch.index()];
        self.volts_between(branch.from, branch.to, at)
    }

    /// Gives the volts between two points; nothing where nothing ties them together.
    pub(crate) fn volts_between(&self, a: TerminalId, b: TerminalId, at: &Solved) -> f64 {
        at.voltage(self.node(a), self.node(b)).map_or(0.0, magnitude)
    }
}
