//! What a person notices without a meter, computed from the settled circuit.

use crate::heat::carried;
use crate::moment::{Moment, Noticed, sensed, step};
use crate::predictor::{FaultSet, Predictor};
use crate::settle::{Config, Size, is_uncertain, magnitude};
use crate::wiring::{net, node_of};
use circuit::{Changed, Port};
use machine::faults::Effect;
use machine::model::{
    BranchId, CodeRule, FaultId, FlagId, FlagRule, Heat, Need, ObservationId, Observed, PartId, StateId, ZoneId,
};
use num_complex::Complex64;
use std::rc::Rc;

/// One observation with the value it takes, an index into its list of values.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Seen {
    /// In which state.
    pub state: StateId,
    /// What.
    pub what: ObservationId,
    /// Which of its values.
    pub value: u8,
}

/// Resistance of a person's body between hand and ground for a tingle, ohms.
///
/// SOURCE: IEC 60990 touch-current network, about 2 kohm in all at supply frequency (from memory).
const BODY_OHMS: f64 = 2000.0;
/// Volts over that body from which a frame is said to tingle.
const TINGLE_VOLTS: f64 = 30.0;

/// One way a state could go with certain faults: its share among the sizes those faults can have and the builds that the
/// machine may be, and what is seen.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Share, of size and build; the shares of all ways sum to 1.
    pub share: f64,
    /// The value of each observation of the state, in the machine's order.
    pub values: Vec<u8>,
    /// For each of them the value that it is close to, with the chance that it is taken for that one: half on the very
    /// limit between the two, falling to nothing a twelfth away.
    pub close_to: Vec<Option<(u8, f64)>>,
}

/// Chance below which a zone held too cool is not thought of.
const WORTH_A_DOUBT: f64 = 0.01;

impl Predictor<'_> {
    /// Gives everything that would be noticed in this state with these faults as described, in the machine's order.
    #[must_use]
    pub fn observe(&self, state: StateId, faults: &[FaultId]) -> Vec<Seen> {
        let noticed = self.noticed(state, faults, Size::DESCRIBED);
        self.observed_in(state).zip(noticed).map(|(what, (value, _))| Seen { state, what, value }).collect()
    }

    /// Says whether a sound machine shows the same there.
    #[must_use]
    pub fn is_sound(&self, seen: &Seen) -> bool {
        let at = self.observed_in(seen.state).position(|what| what == seen.what);
        at.is_some_and(|at| self.ways(seen.state, &[]).iter().any(|way| way.values[at] == seen.value))
    }

    /// Gives the shares of the sizes that these faults can have, in the order of [`Self::ways`].
    #[must_use]
    pub fn size_shares(&self, faults: &[FaultId]) -> Vec<f64> {
        let uncertain = is_uncertain(self.machine(), faults);
        let magnitude = |size: &Size| if uncertain { size.share() } else { 1.0 };
        let sizes = Size::of(self.machine(), faults);
        sizes.iter().map(|size| magnitude(size) * self.machine().builds[size.build()].share).collect()
    }

    /// Gives the ways this state could go with these faults: for each size that they can have, smallest first, one for each
    /// build of the machine, even where two look alike; for faults without a size one for each build.
    ///
    /// *Approximate because* five sizes stand for all of them, and faults of a pair share theirs.
    #[must_use]
    pub fn ways(&self, state: StateId, faults: &[FaultId]) -> Rc<[Way]> {
        if let Some(left) = self.seen_in_run(state, faults) {
            return self.ways_of(state, left, faults);
        }
        let key = (state, FaultSet(faults.into()));
        if let Some(ways) = self.ways.borrow().get(&key) {
            return Rc::clone(ways);
        }
        let sizes = Size::of(self.machine(), faults);
        let way = |(&size, share): (&Size, f64)| {
            let (values, close_to) = self.noticed(state, faults, size).into_iter().unzip();
            Way { share, values, close_to }
        };
        let ways: Rc<[Way]> = sizes.iter().zip(self.size_shares(faults)).map(way).collect();
        self.ways.borrow_mut().insert(key, Rc::clone(&ways));
        ways
    }

    /// Gives the ways of a state with the faults that show in it, counted by the sizes of all of them.
    fn ways_of(&self, state: StateId, left: &[FaultId], all: &[FaultId]) -> Rc<[Way]> {
        let (ways, shares) = (self.ways(state, left), self.size_shares(all));
        if ways.len() == shares.len() {
            return ways;
        }
        let key = (state, FaultSet(left.into()));
        if let Some(ways) = self.alike.borrow().get(&key) {
            return Rc::clone(ways);
        }
        // What is left has no size: in each build it looks the same at each size of what does not show.
        let each = shares.iter().zip(ways.iter().cycle()).map(|(&share, way)| Way { share, ..way.clone() });
        let alike: Rc<[Way]> = each.collect();
        self.alike.borrow_mut().insert(key, Rc::clone(&alike));
        alike
    }

    /// Gives the observations of a state, in the machine's order.
    pub fn observed_in(&self, state: StateId) -> impl Iterator<Item = ObservationId> {
        let observations = self.machine().observations.iter().enumerate();
        observations
            .filter(move |(_, observation)| observation.states.contains(&state))
            .map(|(index, _)| ObservationId(u16::try_from(index).unwrap_or(u16::MAX)))
    }

    /// Gives how much air carries a zone's heat in a settled solution: 0 none, 1 little, 2 all of it.
    pub(crate) fn air_of(
        &self,
        heat: &Heat,
        (state, build): (StateId, usize),
        effects: &[Effect],
        (solution, config): (&Changed<'_>, Config),
    ) -> u8 {
        Moment { predictor: self, machine: self.machine(), build, state, effects, solution, config }.air(heat)
    }

    fn noticed(&self, state: StateId, faults: &[FaultId], size: Size) -> Vec<Noticed> {
        let machine = self.machine();
        let effects = crate::settle::effects_of(machine, faults, size);
        self.settling(state, (faults, size), |solution, config| {
            let moment =
                Moment { predictor: self, machine, build: size.build(), state, effects: &effects, solution, config };
            self.observed_in(state).map(|what| moment.noticed(what)).collect()
        })
        .unwrap_or_default()
    }
}

impl Moment<'_, '_> {
    fn noticed(&self, what: ObservationId) -> Noticed {
        let sharp = match &self.machine.observations[what.index()].of {
            Observed::Heats { branches, rated_watts, air } => {
                let strong = air.is_none_or(|part| self.passes(part) == 2);
                return step(self.share(branches, *rated_watts), 0.05, if strong { 0.75 } else { f64::INFINITY });
            }
            Observed::Lights { branch, rated_watts } => return step(self.share(&[*branch], *rated_watts), 0.05, 0.5),
            Observed::Turns(part) => u8::from(self.turns(*part)),
            Observed::Sounds(flag) if self.config.stands(*flag) => 2,
            Observed::Sounds(flag) => u8::from(self.windings_carry(*flag)),
            Observed::Blows(part) | Observed::Flows(part) => self.passes(*part),
            Observed::Burns { burner } => self.burns(*burner),
            Observed::Trips(flag) => u8::from(self.config.stands(*flag)),
            Observed::Tingles => u8::from(self.touch_volts() > TINGLE_VOLTS),
            Observed::Shows { supply, senses, rules, alive, .. } => self.display(supply, senses, rules, *alive),
            Observed::Warms { zone, to_c, .. } => return self.warms(what, *zone, *to_c),
        };
        (sharp, None)
    }

    /// How a zone gets hot against the sound machine; one that heats well enough may yet be held too cool.
    fn warms(&self, what: ObservationId, zone: ZoneId, to_c: f64) -> Noticed {
        let heat = self.machine.zones[zone.index()].heat.as_ref();
        let (Some(heat), Some(pace)) = (heat, self.predictor.pace(self.state, what, self.build)) else {
            return (Observed::IN_TIME, None);
        };
        let air = self.air(heat);
        if carried(heat, air) <= 0.0 {
            return (Observed::NEVER, None);
        }
        let (never, slow) = pace.limits[usize::from(air == 1)];
        let watts: f64 = self.predictor.heat_watts(heat, self.solution).iter().sum();
        let named = |value: u8| if value == 2 { Observed::IN_TIME } else { value };
        let (value, close) = step(watts / pace.sound_watts, never, slow);
        let close = close.map(|(other, chance)| (named(other), chance));
        if value < 2 {
            return (value, close);
        }
        let held = self.predictor.held(self.state, zone, self.effects);
        let too_cool =
            held.map_or(0.0, |held| 0.5 * libm::erfc((held.celsius - to_c) / (held.sigma * std::f64::consts::SQRT_2)));
        match too_cool {
            chance if chance > 0.5 => (Observed::SHORT, Some((Observed::IN_TIME, 1.0 - chance))),
            chance if chance > WORTH_A_DOUBT => (Observed::IN_TIME, Some((Observed::SHORT, chance))),
            _ => (Observed::IN_TIME, close),
        }
    }

    /// How much air carries the heat: 2 where it needs none.
    fn air(&self, heat: &Heat) -> u8 {
        heat.air.map_or(2, |air| self.passes(air.part))
    }

    fn turns(&self, part: PartId) -> bool {
        self.passes(part) > 0
    }

    /// A burner without gas does not burn; with gas, it needs to be lit.
    fn burns(&self, burner: PartId) -> u8 {
        match self.gets(burner) {
            0 => 0,
            _ if !self.is_lit(burner) => 1,
            1 => 2,
            _ => 3,
        }
    }

    fn windings_carry(&self, flag: FlagId) -> bool {
        let FlagRule::Motor { run, start, hold_volts, .. } = &self.machine.flags[flag.index()].rule else {
            return false;
        };
        let volts = self.predictor.volts_over(*run, self.solution);
        let carries = |b: BranchId| magnitude(self.solution.current(net(b))) > 0.3;
        volts >= 0.3 * hold_volts && (carries(*run) || start.is_some_and(carries))
    }

    fn touch_volts(&self) -> f64 {
        let supply = &self.machine.supply;
        let (frame, earth) = (node_of(self.machine, supply.frame), node_of(self.machine, supply.earth));
        if !self.solution.same_island(frame, earth) {
            return 0.0;
        }
        match self.solution.port(frame, earth) {
            Port::Tied { open_volts, source_impedance } => {
                let body = Complex64::new(BODY_OHMS, 0.0);
                magnitude(open_volts * (body / (body + source_impedance)))
            }
            Port::Floating { .. } => 0.0,
        }
    }

    fn display(&self, supply: &Need, senses: &[Need], rules: &[CodeRule], alive: FlagId) -> u8 {
        let held_down = self.effects.contains(&Effect::Hold(alive, false));
        if held_down || !self.holds(supply) {
            return 0;
        }
        let mut value = 2;
        for sense in senses {
            let Need::Sense { low_ohms, high_ohms, code_low, .. } = sense else { continue };
            let sensed = sensed(sense, self.solution).unwrap_or(f64::INFINITY);
            if sensed < *low_ohms {
                return value + u8::from(code_low.is_some());
            } else if sensed > *high_ohms {
                return value;
            }
            value += 1 + u8::from(code_low.is_some());
        }
        let fits = |rule: &&CodeRule| {
            rule.states.contains(&self.state)
                && rule.with.iter().all(|need| self.holds(need))
                && !rule.without.iter().any(|need| self.holds(need))
        };
        rules.iter().find(fits).map_or(Observed::NORMAL, |rule| rule.value)
    }
}
