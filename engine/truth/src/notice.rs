//! What a person notices: motion, heat, light, air, a tripped breaker, a tingle, a display.

use crate::settle::Rest;
use crate::wire::{Body, Stance};
use circuit::{Law as Element, Solved, magnitude};
use machine::faults::Effect;
use machine::model::{BranchId, CodeRule, FlagId, FlagRule, Need, ObservationId, Observed, PartId, PartKind, StateId};

/// Resistance of a person's body between hand and ground, ohms.
///
/// SOURCE: IEC 60990 touch-current network, about 2 kohm in all at supply frequency (from memory).
const BODY_OHMS: f64 = 2000.0;
/// Volts over that body from which a frame is said to tingle; common practice, no source.
const TINGLE_VOLTS: f64 = 30.0;

impl Body<'_> {
    /// Gives everything noticed in a state at rest, in the machine's order.
    pub(crate) fn notice(&self, state: StateId, rest: &Rest) -> Vec<(ObservationId, u8)> {
        let Some(at) = rest.solved.as_deref() else { return Vec::new() };
        let looked_for = self.machine.observations.iter().zip(0..);
        looked_for
            .filter(|(observation, _)| observation.states.contains(&state))
            .map(|(observation, id)| (ObservationId(id), self.value(&observation.of, state, &rest.flags, at)))
            .collect()
    }

    /// Gives what lies beyond the nearest limit of each thing's power, and how far off it is as a share of that limit.
    pub(crate) fn nearest_limits(&self, state: StateId, rest: &Rest) -> Vec<Option<(u8, f64)>> {
        let Some(at) = rest.solved.as_deref() else { return Vec::new() };
        let looked_for = self.machine.observations.iter().filter(|observation| observation.states.contains(&state));
        looked_for.map(|observation| self.nearest_limit(&observation.of, &rest.flags, at)).collect()
    }

    fn nearest_limit(&self, of: &Observed, flags: &[bool], at: &Solved) -> Option<(u8, f64)> {
        let (share, high) = match of {
            Observed::Heats { branches, rated_watts, air } => {
                let carried_off = air.is_none_or(|part| self.blows(part, flags, at) == 2);
                (self.share(branches, *rated_watts, at), carried_off.then_some(0.75))
            }
            Observed::Lights { branch, rated_watts } => (self.share(&[*branch], *rated_watts, at), Some(0.5)),
            _ => return None,
        };
        let beyond_low = (u8::from(share < 0.05), (share / 0.05 - 1.0).abs());
        let beyond_high = high.map(|high| (if share < high { 2 } else { 1 }, (share / high - 1.0).abs()));
        Some(beyond_high.filter(|(_, away)| *away < beyond_low.1).unwrap_or(beyond_low))
    }

    fn value(&self, of: &Observed, state: StateId, flags: &[bool], at: &Solved) -> u8 {
        match of {
            Observed::Turns(part) => u8::from(self.turns(*part, flags, at)),
            Observed::Sounds(flag) if flags[flag.index()] => 2,
            Observed::Sounds(flag) => u8::from(self.hums(*flag, at)),
            Observed::Heats { branches, rated_watts, air } => {
                let share = self.share(branches, *rated_watts, at);
                let carried_off = air.is_none_or(|part| self.blows(part, flags, at) == 2);
                match share {
                    _ if share < 0.05 => 0,
                    _ if share < 0.75 || !carried_off => 1,
                    _ => 2,
                }
            }
            Observed::Lights { branch, rated_watts } => match self.share(&[*branch], *rated_watts, at) {
                share if share < 0.05 => 0,
                share if share < 0.5 => 1,
                _ => 2,
            },
            Observed::Blows(part) | Observed::Flows(part) => self.blows(*part, flags, at),
            Observed::Burns { burner } => self.burns(*burner, flags, at),
            Observed::Trips(flag) => u8::from(flags[flag.index()]),
            Observed::Tingles => u8::from(self.touch_volts(state, flags) > TINGLE_VOLTS),
            Observed::Shows { supply, senses, rules, alive, .. } => {
                self.display((supply, senses, rules), *alive, state, (flags, at))
            }
            Observed::Warms { .. } => self.warms(of, state, flags, at),
        }
    }

    fn stopped(&self, part: PartId) -> bool {
        self.effects.contains(&Effect::Stops(part))
    }

    fn turns(&self, part: PartId, flags: &[bool], at: &Solved) -> bool {
        self.blows(part, flags, at) != 0
    }

    /// What comes through: nothing if the part's own motor or coil rests, if it is stopped, if it is cold or not lit, or if
    /// nothing comes to it; little through a blocked duct, through what is half blocked, or if little comes to it; else all
    /// of it.
    pub(crate) fn blows(&self, part: PartId, flags: &[bool], at: &Solved) -> u8 {
        if self.machine.parts[part.index()].lit_by.is_some_and(|by| !self.lights(by, flags, at)) {
            return 0;
        }
        self.comes(part, flags, at)
    }

    fn comes(&self, part: PartId, flags: &[bool], at: &Solved) -> u8 {
        let described = &self.machine.parts[part.index()];
        let rests = self.machine.flags.iter().zip(flags).any(|(flag, &stands)| {
            let moves = match flag.rule {
                FlagRule::Motor { .. } => true,
                FlagRule::Coil { .. } => matches!(described.kind, PartKind::Valve | PartKind::Winding),
                _ => false,
            };
            flag.part == part && moves && !stands
        });
        let warmth = match self.heater_share(part, at) {
            Some(share) if share < 0.05 => 0,
            Some(share) if share < 0.75 => 1,
            _ => 2,
        };
        let comes = described.driven_by.iter().map(|&driver| self.blows(driver, flags, at)).min().unwrap_or(2);
        let comes = comes.min(warmth);
        match (rests || comes == 0, self.stopped(part), described.kind) {
            (true, _, _) => 0,
            (false, true, PartKind::Vent) => 1,
            (false, true, _) => 0,
            (false, false, _) if self.effects.contains(&Effect::Weakens(part)) => 1,
            (false, false, _) => comes,
        }
    }

    /// What a heater gives of its rated watts; `None` for what is no heater.
    fn heater_share(&self, part: PartId, at: &Solved) -> Option<f64> {
        let rated = self.machine.parts[part.index()].rated.as_ref()?;
        Some(self.share(&rated.branches, rated.watts, at))
    }

    /// What branches give of what they are rated for on this unit: of one with half the ohms twice as much is expected.
    fn share(&self, branches: &[BranchId], described: f64, at: &Solved) -> f64 {
        let (mut given, mut expected, mut count) = (0.0, 0.0, 0.0);
        for &branch in branches {
            given += self.watts(branch, at);
            let mut times = 1.0;
            for effect in self.build {
                match *effect {
                    Effect::Scale(of, factor) if of == branch => times /= factor,
                    _ => {}
                }
            }
            expected += times;
            count += 1.0;
        }
        given * count / (described * expected)
    }

    fn lights(&self, by: PartId, flags: &[bool], at: &Solved) -> bool {
        match self.heater_share(by, at) {
            Some(share) => share >= Observed::LIGHTS,
            None => self.blows(by, flags, at) != 0,
        }
    }

    fn burns(&self, burner: PartId, flags: &[bool], at: &Solved) -> u8 {
        let gas = self.comes(burner, flags, at);
        let lit = self.machine.parts[burner.index()].lit_by.is_none_or(|by| self.lights(by, flags, at));
        if gas == 0 {
            0
        } else if lit {
            gas + 1
        } else {
            1
        }
    }

    /// A motor at standstill hums if a fair share of its voltage drives current through one of its windings.
    fn hums(&self, flag: FlagId, at: &Solved) -> bool {
        let FlagRule::Motor { run, start, hold_volts, .. } = &self.machine.flags[flag.index()].rule else {
            return false;
        };
        let carries = |branch: BranchId| magnitude(at.current(Self::wire(branch))) > 0.3;
        let fed = self.volts_over(*run, at) >= 0.3 * hold_volts;
        fed && (carries(*run) || start.is_some_and(carries))
    }

    pub(crate) fn watts(&self, branch: BranchId, at: &Solved) -> f64 {
        let ends = &self.machine.branches[branch.index()];
        let volts = at.voltage(self.node(ends.from), self.node(ends.to));
        let amps = at.current(Self::wire(branch));
        volts.map_or(0.0, |volts| (volts * amps.conj()).re.abs())
    }

    /// Lays a hand on the frame: a body from frame to true earth in a network of its own.
    fn touch_volts(&self, state: StateId, flags: &[bool]) -> f64 {
        let stance = Stance { state, pressed: false, plugged: true, direct: false, lifted: &[], flags };
        let supply = &self.machine.supply;
        let (frame, earth) = (self.node(supply.frame), self.node(supply.earth));
        let mut network = self.network(&stance);
        network.add(frame, earth, Element::ohms(BODY_OHMS));
        network.solve().ok().and_then(|at| at.voltage(frame, earth)).map_or(0.0, magnitude)
    }

    fn display(
        &self,
        (supply, senses, rules): (&Need, &[Need], &[CodeRule]),
        alive: FlagId,
        state: StateId,
        (flags, at): (&[bool], &Solved),
    ) -> u8 {
        let holds = |need: &Need| self.holds(need, state, flags, at);
        let dead = self.effects.contains(&Effect::Hold(alive, false));
        if dead || !holds(supply) {
            return 0;
        }
        let mut shown = 2;
        for sense in senses {
            let Need::Sense { low_ohms, code_low, .. } = sense else { continue };
            let codes = 1 + u8::from(code_low.is_some());
            if !holds(sense) {
                let below = Self::loop_ohms(sense, at) < *low_ohms;
                return if below { shown + codes - 1 } else { shown };
            }
            shown += codes;
        }
        for rule in rules.iter().filter(|rule| rule.states.contains(&state)) {
            if rule.with.iter().all(holds) && rule.without.iter().all(|need| !holds(need)) {
                return rule.value;
            }
        }
        1
    }
}
