//! Which contacts end up where once a state is entered: flags iterate until they rest.
//!
//! A flag (motor runs, coil pulled, output closed, breaker tripped) is decided from the circuit solved with the flags
//! as they were; all flags move together, so the order in which parts are described cannot matter.

use crate::moment::Moment;
use crate::predictor::Predictor;
use circuit::Changed;
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, FlagId, FlagRule, Law, Machine, StateId};
use num_complex::Complex64;
use std::rc::Rc;

/// Which flags stand, one bit a flag.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Config(pub u64);

impl Config {
    /// Says whether the flag stands.
    #[must_use]
    pub fn stands(self, flag: FlagId) -> bool {
        self.0 >> flag.0 & 1 == 1
    }

    fn with(self, flag: usize, stands: bool) -> Self {
        if stands { Self(self.0 | 1 << flag) } else { Self(self.0 & !(1 << flag)) }
    }
}

/// Where a state comes to rest.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settled {
    /// The flags at rest (or, with `chatters`, at the last turn).
    pub config: Config,
    /// Flags that never come to rest; empty when all did.
    pub chatters: Vec<FlagId>,
}

/// The configurations in which a state is solved on its way to rest, each with whether its buttons are held.
pub(crate) type Trail = Rc<[(bool, Config)]>;

/// Turns after which what still moves is said to chatter.
const MOST_TURNS: usize = 24;

/// Settles `state` with these faults of this size, entered through the states it is entered from, and says by which way.
///
/// Where it comes to rest, `look` sees the solution there.
pub(crate) fn settle(
    predictor: &Predictor<'_>,
    state: StateId,
    (faults, size): (&[FaultId], Size),
    mut look: impl FnMut(&Changed<'_>, Config),
) -> (Settled, Trail) {
    let machine = predictor.machine();
    let described = &machine.states[state.index()];
    let mut config = match described.entered_from {
        Some(before) => predictor.settle_sized(before, faults, size).config,
        None => Config::default(),
    };
    let effects = effects_of(machine, faults, size);
    let (mut chatters, mut trail) = (Vec::new(), Vec::new());
    let phases: &[bool] = if described.pressed.is_empty() { &[false] } else { &[true, false] };
    for &pressed in phases {
        (config, chatters) =
            rest(predictor, (state, pressed, size.build()), &effects, (config, &mut trail), &mut |solution, config| {
                if !pressed {
                    look(solution, config);
                }
            });
    }
    (Settled { config, chatters }, trail.into())
}

fn rest(
    predictor: &Predictor<'_>,
    at @ (_, pressed, _): (StateId, bool, usize),
    effects: &[Effect],
    (start, trail): (Config, &mut Vec<(bool, Config)>),
    look: &mut impl FnMut(&Changed<'_>, Config),
) -> (Config, Vec<FlagId>) {
    let machine = predictor.machine();
    let mut config = hold(effects, start);
    let mut seen = vec![config];
    trail.push((pressed, config));
    for _ in 0..MOST_TURNS {
        let next = turn(predictor, machine, at, (effects, config), look);
        if next == config {
            return (config, Vec::new());
        }
        if let Some(first) = seen.iter().position(|&c| c == next) {
            let moved = seen[first..].iter().fold(0, |moved, c| moved | (c.0 ^ next.0));
            let chatters = (0..machine.flags.len()).filter(|f| moved >> f & 1 == 1);
            return (next, chatters.map(|f| FlagId(u16::try_from(f).unwrap_or(u16::MAX))).collect());
        }
        seen.push(next);
        trail.push((pressed, next));
        config = next;
    }
    (config, Vec::new())
}

/// Gives the flags after one turn; if they rest, `look` sees the solution.
fn turn(
    predictor: &Predictor<'_>,
    machine: &Machine,
    (state, pressed, build): (StateId, bool, usize),
    (effects, config): (&[Effect], Config),
    look: &mut impl FnMut(&Changed<'_>, Config),
) -> Config {
    let next = predictor.solved(state, pressed, config, effects, |solution| {
        let moment = Moment { predictor, machine, build, state, effects, solution, config };
        let next = machine.flags.iter().enumerate().fold(Config::default(), |next, (index, flag)| {
            let stood = config.0 >> index & 1 == 1;
            next.with(index, stands(&moment, &flag.rule, stood))
        });
        if hold(effects, next) == config {
            look(solution, config);
        }
        next
    });
    hold(effects, next)
}

/// Holds the flags that a fault holds.
pub(crate) fn hold(effects: &[Effect], config: Config) -> Config {
    effects.iter().fold(config, |config, effect| match *effect {
        Effect::Hold(flag, stands) => config.with(flag.index(), stands),
        _ => config,
    })
}

fn stands(moment: &Moment<'_, '_>, rule: &FlagRule, stood: bool) -> bool {
    let (predictor, at) = (moment.predictor, moment.solution);
    match rule {
        FlagRule::Motor { run, start, sound_torque, load_share, hold_volts } => {
            let i = at.current(crate::wiring::net(*run));
            // An open winding drives nothing, whatever stands across it.
            let holds = || predictor.volts_over(*run, at) >= *hold_volts && magnitude(i) > NO_CURRENT;
            match start {
                _ if stood => holds(),
                None => holds(),
                Some(start) => {
                    let j = at.current(crate::wiring::net(*start));
                    // |i||j||sin| is the magnitude of the cross product of the two phasors.
                    let torque = (i.re * j.im - i.im * j.re).abs();
                    torque >= load_share * sound_torque
                }
            }
        }
        FlagRule::Coil { branch, pull_in_volts, drop_out_volts } => {
            // What pulls is the current: an open coil with all the volts across it does not.
            let amps = magnitude(at.current(crate::wiring::net(*branch)));
            let ohms = coil_ohms(&moment.machine.branches[branch.index()].law);
            amps * ohms >= if stood { *drop_out_volts } else { *pull_in_volts }
        }
        FlagRule::Output { requested_in, needs } => {
            requested_in.contains(&moment.state) && needs.iter().all(|need| moment.holds(need))
        }
        FlagRule::Breaker { poles, amps } => {
            stood || poles.iter().any(|&pole| magnitude(at.current(crate::wiring::net(pole))) > *amps)
        }
        FlagRule::Residual { poles, amps } => stood || magnitude(residual(poles, at)) > *amps,
    }
}

/// Amperes that are none: what is left by rounding.
const NO_CURRENT: f64 = 1e-6;

/// Gives the impedance of a sound coil, by which its current stands for volts.
fn coil_ohms(law: &Law) -> f64 {
    let Law::Winding { ohms, reactance, .. } = *law else { return 0.0 };
    libm::hypot(ohms, reactance)
}

/// Gives the phasor sum of the currents through these poles: what comes back by another way, amperes.
pub(crate) fn residual(poles: &[BranchId], at: &Changed<'_>) -> Complex64 {
    poles.iter().map(|&pole| at.current(crate::wiring::net(pole))).sum()
}

/// Gives all effects of these faults at this size in this build, of two on one branch the one that prevails last: what is
/// broken conducts no more whatever else ails it, what is burnt or shorted no longer follows its own law, and factors
/// multiply.
pub(crate) fn effects_of(machine: &Machine, faults: &[FaultId], size: Size) -> Vec<Effect> {
    let of_build = machine.builds.get(size.build()).into_iter().flat_map(|build| build.effects.iter().copied());
    let of_faults = faults.iter().flat_map(|fault| machine.faults[fault.index()].effects.iter().copied());
    let sized = of_faults.map(|effect| match effect {
        Effect::Ohms(branch, ohms) if ohms > CERTAIN_OHMS => Effect::Ohms(branch, ohms * size.factor()),
        Effect::Bridge(a, b, ohms) if ohms > CERTAIN_OHMS => Effect::Bridge(a, b, ohms * size.factor()),
        other => other,
    });
    let mut effects: Vec<Effect> = Vec::new();
    for effect in of_build.chain(sized) {
        let scaled = |branch| move |known: &&mut Effect| matches!(known, Effect::Scale(of, _) if *of == branch);
        match effect {
            Effect::Scale(branch, factor) => match effects.iter_mut().find(scaled(branch)) {
                Some(Effect::Scale(_, all)) => *all *= factor,
                _ => effects.push(effect),
            },
            other => effects.push(other),
        }
    }
    effects.sort_by_key(|effect| match effect {
        Effect::Ohms(..) => 1,
        Effect::Open(_) => 2,
        _ => 0,
    });
    effects
}

/// A fault that gives at most this resistance (a welded contact, two leads that touch) has no size to be uncertain about,
/// ohms.
pub(crate) const CERTAIN_OHMS: f64 = 0.1;

/// What of a unit is uncertain beside its faults: how large a fault of uncertain size turned out, one of five sizes that
/// stand for a log-normal spread about the described one, and which build of the machine it is.
///
/// WHY NOT five equally likely sizes: what a joint does at the far end of the spread (a motor that no longer starts) is
/// rare, but it is what the customer calls about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Size {
    magnitude: u8,
    build: u8,
}

/// The magnitude that is as described, among [`MAGNITUDES`].
const DESCRIBED: u8 = 2;
/// How many magnitudes there are.
const MAGNITUDES: u8 = 5;

impl Size {
    /// As described, in the machine's first build.
    pub(crate) const DESCRIBED: Self = Self { magnitude: DESCRIBED, build: 0 };

    /// Gives what multiplies the described resistance.
    ///
    /// SOURCE: Gauss-Hermite nodes for five points, Abramowitz and Stegun, Handbook of Mathematical Functions, table
    /// 25.10, times the square root of 2 for a standard normal variable.
    fn factor(self) -> f64 {
        let z = [-2.856_970_0, -1.355_626_2, 0.0, 1.355_626_2, 2.856_970_0][usize::from(self.magnitude)];
        libm::exp(crate::predictor::FAULT_OHMS_SPREAD * z)
    }

    /// Gives which of the machine's builds it is.
    pub(crate) fn build(self) -> usize {
        usize::from(self.build)
    }

    /// Gives the share of its magnitude: the weights of the same table over the square root of pi.
    pub(crate) fn share(self) -> f64 {
        [0.011_257_41, 0.222_075_92, 0.533_333_34, 0.222_075_92, 0.011_257_41][usize::from(self.magnitude)]
    }

    /// Gives faults as described in one of the machine's builds.
    pub(crate) fn in_build(build: usize) -> Self {
        Self { magnitude: DESCRIBED, build: u8::try_from(build).unwrap_or(u8::MAX) }
    }

    /// Gives the same build with faults as described.
    pub(crate) fn as_described(self) -> Self {
        Self { magnitude: DESCRIBED, ..self }
    }

    /// Gives this size for faults that have one, the described one for others; the build stays.
    pub(crate) fn of_these(self, machine: &Machine, faults: &[FaultId]) -> Self {
        if is_uncertain(machine, faults) { self } else { self.as_described() }
    }

    /// Gives the sizes that these faults can have: for each magnitude every build, in the machine's order.
    pub(crate) fn of(machine: &Machine, faults: &[FaultId]) -> Vec<Self> {
        let magnitudes = if is_uncertain(machine, faults) { 0..MAGNITUDES } else { DESCRIBED..DESCRIBED + 1 };
        let builds = u8::try_from(machine.builds.len()).unwrap_or(u8::MAX);
        magnitudes.flat_map(|magnitude| (0..builds).map(move |build| Self { magnitude, build })).collect()
    }
}

/// Says whether one of these faults has a size to be uncertain about.
pub(crate) fn is_uncertain(machine: &Machine, faults: &[FaultId]) -> bool {
    let mut effects = faults.iter().flat_map(|fault| &machine.faults[fault.index()].effects);
    effects.any(|effect| matches!(*effect, Effect::Ohms(_, ohms) | Effect::Bridge(_, _, ohms) if ohms > CERTAIN_OHMS))
}

/// Gives the magnitude of a phasor by plain square root, so that it has the same bits everywhere.
pub(crate) fn magnitude(phasor: num_complex::Complex64) -> f64 {
    (phasor.re * phasor.re + phasor.im * phasor.im).sqrt()
}
