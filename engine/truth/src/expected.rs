//! What a reading shows on a unit exactly as described, and how far the description's own tolerances let it be off.
//!
//! The whole network is factored afresh; the width is the root of the sum of squares of what a one-sigma move of each
//! branch does, by the adjoint of that same factorisation. Knows no meter beyond its input, no slips and no likelihood.

use crate::meter::{Probe, Quantity};
use crate::unit::Unit;
use crate::values::{WELDED, tolerance};
use crate::wire::{Body, Stance};
use circuit::{Branch, Complex64, Law as Element, Network, Port, magnitude};
use machine::faults::Effect;
use machine::model::{BranchId, StateId};

/// One reading as asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// What the meter is set to.
    pub quantity: Quantity,
    /// Where it is.
    pub probe: Probe,
    /// The state whose controls are set.
    pub state: StateId,
    /// Plugged in and running; else unplugged, cold and at rest.
    pub plugged: bool,
    /// Leads that are off.
    pub lifted: Vec<BranchId>,
}

/// What is expected of a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Expected {
    /// A figure in volts, ohms or amperes, the meter's own leads and errors left out.
    Figure {
        /// Its magnitude.
        value: f64,
        /// One sigma of the tolerances of parts, supply and sizes of faults.
        sigma: f64,
    },
    /// Nothing ties the two points together.
    Apart {
        /// Most that may stand between them, volts; 0 where an ohm-meter looks.
        highest_volts: f64,
    },
}

/// One-sigma share of a resistance that a fault gives; the same spread as five sizes of a fault stand for.
const OHMS_SPREAD: f64 = 0.4;
/// One-sigma share of a factor that a fault gives.
const SCALE_SPREAD: f64 = 0.05;

impl Unit<'_> {
    /// Gives what a meter of this input (ohms, on volts) is expected to show; `None` where the network has no solution,
    /// or a clamp is asked for between two points.
    #[must_use]
    pub fn expect(&self, asked: &Asked, input_ohms: f64) -> Option<Expected> {
        let direct = asked.quantity == Quantity::Ohms;
        let flags = self.flags_for(asked.state, asked.plugged && !direct, &asked.lifted);
        let (state, plugged) = (asked.state, asked.plugged);
        let stance = Stance { state, pressed: false, plugged, direct, lifted: &asked.lifted, flags: &flags };
        self.with_body(|body| body.expect(&body.network(&stance), asked, input_ohms))
    }
}

impl Body<'_> {
    fn expect(&self, network: &Network, asked: &Asked, input_ohms: f64) -> Option<Expected> {
        let solved = network.solve().ok()?;
        let at = solved.unchanged();
        let (a, b) = match (asked.probe, asked.quantity) {
            (Probe::Across(a, b), Quantity::Volts | Quantity::Ohms) => (self.node(a), self.node(b)),
            (Probe::Around(branch), Quantity::Amps) => {
                let (amps, adjoint) = (at.current(Self::wire(branch)), at.current_adjoint(Self::wire(branch)));
                let moves = |b, by: Move| along(by.through(adjoint.per_ohm(b), adjoint.per_emf(b)), amps);
                return Some(Expected::Figure { value: magnitude(amps), sigma: self.sigma(network, moves) });
            }
            _ => return None,
        };
        let direct = asked.quantity == Quantity::Ohms;
        if direct && !at.same_island(a, b) {
            return Some(Expected::Apart { highest_volts: 0.0 });
        }
        let (open, source) = match at.port(a, b) {
            Port::Floating { highest_volts } => return Some(Expected::Apart { highest_volts }),
            Port::Tied { open_volts, source_impedance } => (open_volts, source_impedance),
        };
        let adjoint = at.port_adjoint(a, b)?;
        if direct {
            let moves = |b, by: Move| by.through(adjoint.source_impedance_per_ohm(b), Complex64::ZERO).re;
            return Some(Expected::Figure { value: source.re.max(0.0), sigma: self.sigma(network, moves) });
        }
        // The meter loads the port; that its input also loads the moves is one and the same divider.
        let divider = input_ohms / (source + input_ohms);
        let moves = |b, by: Move| along(by.through(adjoint.per_ohm(b), adjoint.per_emf(b)) * divider, open * divider);
        Some(Expected::Figure { value: magnitude(open * divider), sigma: self.sigma(network, moves) })
    }

    /// Adds up what a one-sigma move of each branch does to the reading.
    fn sigma(&self, network: &Network, moves: impl Fn(Branch, Move) -> f64) -> f64 {
        let branches = (0..network.branch_count()).filter_map(|index| u32::try_from(index).ok().map(Branch));
        let squares = branches.filter_map(|branch| {
            let share = self.spread(branch);
            let by = match network.law(branch)? {
                Element::Impedance(ohms) => Move::Ohms(ohms * share),
                Element::Source { emf, .. } => Move::Volts(emf * share),
                Element::Open => return None,
            };
            (share > 0.0).then(|| moves(branch, by)).filter(|moved| moved.is_finite()).map(|moved| moved * moved)
        });
        squares.sum::<f64>().sqrt()
    }

    /// Gives the one-sigma share by which a branch may be off: its tolerance, or the spread of what a fault made of it.
    fn spread(&self, branch: Branch) -> f64 {
        let Some(described) = self.machine.branches.get(branch.0 as usize) else { return OHMS_SPREAD };
        let is = |b: BranchId| Self::wire(b) == branch;
        let set = self
            .effects
            .iter()
            .rev()
            .find(|effect| matches!(**effect, Effect::Ohms(b, _) | Effect::Scale(b, _) | Effect::Open(b) if is(b)));
        match set {
            None => tolerance(&described.law) / 2.0,
            Some(Effect::Ohms(_, ohms)) if *ohms > WELDED => OHMS_SPREAD,
            Some(Effect::Scale(..)) => SCALE_SPREAD,
            Some(_) => 0.0,
        }
    }
}

/// A one-sigma move of a branch.
#[derive(Clone, Copy)]
enum Move {
    Ohms(Complex64),
    Volts(Complex64),
}

impl Move {
    fn through(self, per_ohm: Complex64, per_volt: Complex64) -> Complex64 {
        match self {
            Self::Ohms(by) => per_ohm * by,
            Self::Volts(by) => per_volt * by,
        }
    }
}

/// Gives the part of a small phasor that changes the magnitude of a large one.
fn along(small: Complex64, large: Complex64) -> f64 {
    let size = magnitude(large);
    if size < 1e-12 { magnitude(small) } else { (small * large.conj()).re / size }
}
