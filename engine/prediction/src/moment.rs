//! One moment of a machine: its circuit solved with the flags as they stand, and what follows from it without a meter:
//! heat, the work that parts do, and whether a control finds what it needs.

use crate::predictor::Predictor;
use crate::settle::{Config, magnitude};
use crate::wiring::{net, node_of};
use circuit::Changed;
use machine::faults::Effect;
use machine::model::{BranchId, FlagRule, Machine, Need, Observed, PartId, PartKind, StateId};

/// One settled solution with what is needed to look at it.
#[derive(Clone, Copy)]
pub(crate) struct Moment<'a, 'm> {
    pub(crate) predictor: &'a Predictor<'m>,
    pub(crate) machine: &'a Machine,
    /// Which of the machine's builds it is.
    pub(crate) build: usize,
    pub(crate) state: StateId,
    pub(crate) effects: &'a [Effect],
    pub(crate) solution: &'a Changed<'a>,
    pub(crate) config: Config,
}

impl Moment<'_, '_> {
    /// How much of its work a part does: 0 none, 1 little, 2 all. None without its own motor, coil or heat, nothing of a
    /// burner that is not lit, and never more than what drives it.
    pub(crate) fn passes(&self, part: PartId) -> u8 {
        if self.is_lit(part) { self.gets(part) } else { 0 }
    }

    /// The same of a burner before it is asked whether it is lit.
    pub(crate) fn gets(&self, part: PartId) -> u8 {
        let machine = self.machine;
        let described = &machine.parts[part.index()];
        let moves = |rule: &FlagRule| match rule {
            FlagRule::Motor { .. } => true,
            FlagRule::Coil { .. } => matches!(described.kind, PartKind::Valve | PartKind::Winding),
            _ => false,
        };
        let own = machine.flags.iter().position(|flag| flag.part == part && moves(&flag.rule));
        if own.is_some_and(|flag| self.config.0 >> flag & 1 == 0) {
            return 0;
        }
        let stopped = self.effects.contains(&Effect::Stops(part));
        let own = match described.kind {
            // A blocked vent still lets a little through.
            PartKind::Vent if stopped => 1,
            _ if stopped => return 0,
            _ if self.effects.contains(&Effect::Weakens(part)) => 1,
            _ => 2,
        };
        let warm =
            described.rated.as_ref().map_or(2, |rated| step(self.share(&rated.branches, rated.watts), 0.05, 0.75).0);
        described.driven_by.iter().map(|&driver| self.passes(driver)).fold(own.min(warm), u8::min)
    }

    /// Says whether what lights a burner does so: a heater by its watts, all else by its work.
    pub(crate) fn is_lit(&self, burner: PartId) -> bool {
        self.machine.parts[burner.index()].lit_by.is_none_or(|by| match &self.machine.parts[by.index()].rated {
            Some(rated) => self.share(&rated.branches, rated.watts) >= Observed::LIGHTS,
            None => self.passes(by) > 0,
        })
    }

    /// Gives what these branches turn into heat, as a share of what they are rated for in this build; `described` is what
    /// the description rates them for, watts.
    pub(crate) fn share(&self, branches: &[BranchId], described: f64) -> f64 {
        let watts: f64 = branches.iter().map(|&branch| self.watts(branch)).sum();
        watts / self.machine.builds.get(self.build).map_or(described, |build| build.rated(branches, described))
    }

    fn watts(&self, branch: BranchId) -> f64 {
        watts(self.machine, branch, self.solution)
    }

    /// Says whether a control finds what it needs.
    pub(crate) fn holds(&self, need: &Need) -> bool {
        match need {
            Need::Volts { from, to, at_least } => self.predictor.volts_between(*from, *to, self.solution) >= *at_least,
            Need::Sense { low_ohms, high_ohms, .. } => {
                sensed(need, self.solution).is_some_and(|ohms| (*low_ohms..=*high_ohms).contains(&ohms))
            }
            Need::Works { part, all, asked_in } => {
                !asked_in.contains(&self.state) || self.passes(*part) >= if *all { 2 } else { 1 }
            }
        }
    }
}

/// Gives the resistance that a control senses over its reference resistor, ohms; `None` for a need that is no sense.
pub(crate) fn sensed(need: &Need, at: &Changed<'_>) -> Option<f64> {
    let Need::Sense { source, open_volts, reference_ohms, .. } = need else { return None };
    let amps = magnitude(at.current(crate::wiring::net(*source)));
    Some(open_volts / amps.max(1e-12) - reference_ohms)
}

/// What is noticed, and what it might be taken for.
pub(crate) type Noticed = (u8, Option<(u8, f64)>);

/// Share of a limit within which what is seen may fall to either side: values and supply lie within some per cent, and
/// nobody sees three quarters of a heat sharply. Common practice, no source.
const CLOSE: f64 = 0.12;

/// Sorts a share into 0 (under `low`), 1 (under `high`) and 2, and says what it is close to.
pub(crate) fn step(share: f64, low: f64, high: f64) -> Noticed {
    let close = |limit: f64, other: u8| {
        let away = (share / limit - 1.0).abs() / CLOSE;
        (limit.is_finite() && away < 1.0).then_some((other, 0.5 * (1.0 - away)))
    };
    if share < low {
        (0, close(low, 1))
    } else if share < high {
        (1, close(high, 2).or_else(|| close(low, 0)))
    } else {
        (2, close(high, 1))
    }
}

/// Gives what a branch turns into heat in a solution, watts.
pub(crate) fn watts(machine: &Machine, branch: BranchId, solution: &Changed<'_>) -> f64 {
    let wired = &machine.branches[branch.index()];
    let Some(volts) = solution.voltage(node_of(machine, wired.from), node_of(machine, wired.to)) else { return 0.0 };
    let current = solution.current(net(branch));
    (volts.re * current.re + volts.im * current.im).abs()
}
