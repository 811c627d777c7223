//! How a zone of this unit warms up, stepped through time: every store of heat a number that changes a little at each
//! step. Written apart from any closed solution; knows no symptoms but its own.
//!
//! The zone, its wall and each heater hold heat; what flows between two is their conductance times their difference.
//! Classical fourth-order Runge-Kutta in steps far shorter than the quickest of them.

use crate::settle::Rest;
use crate::wire::Body;
use circuit::{Solved, magnitude};
use machine::faults::Effect;
use machine::model::{Heat, Law, Observed, Rule, SensorTable, StateId, ZoneId};
use quantity::thermistor::BetaCurve;
use quantity::{Celsius, Ohms, platinum};

/// Steps in the shortest time constant of a zone.
const STEPS: f64 = 20.0;
/// Steps after which a zone that is still not there never gets there.
const MOST_STEPS: u32 = 400_000;
/// Seconds after which nobody waits for a sound machine.
const LONGEST: f64 = 86_400.0;

/// Temperatures over the room: the zone, the wall, each heater.
#[derive(Clone, Debug)]
struct Warmth {
    zone: f64,
    wall: f64,
    heaters: Vec<f64>,
}

impl Warmth {
    fn cold(heaters: usize) -> Self {
        Self { zone: 0.0, wall: 0.0, heaters: vec![0.0; heaters] }
    }

    /// Goes so many seconds along these rates.
    fn after(&self, rates: &Self, seconds: f64) -> Self {
        let heaters = self.heaters.iter().zip(&rates.heaters).map(|(now, rate)| now + rate * seconds).collect();
        Self { zone: self.zone + rates.zone * seconds, wall: self.wall + rates.wall * seconds, heaters }
    }
}

/// A zone with the watts that its heaters give and the share of them that the air carries.
struct Oven<'a> {
    heat: &'a Heat,
    watts: Vec<f64>,
    carried: f64,
}

impl Oven<'_> {
    /// Gives how fast each store of heat warms, K/s.
    fn rates(&self, now: &Warmth) -> Warmth {
        let given = self.watts.iter().map(|watts| watts * self.carried);
        let mut into_zone = -now.zone * self.heat.loses * self.carried;
        let heaters = match self.heat.lag {
            Some((capacity, couples)) => given
                .zip(&now.heaters)
                .map(|(watts, heater)| {
                    let passed = couples * (heater - now.zone);
                    into_zone += passed;
                    (watts - passed) / capacity
                })
                .collect(),
            None => {
                into_zone += given.sum::<f64>();
                vec![0.0; now.heaters.len()]
            }
        };
        let wall = self.heat.wall.map_or(0.0, |wall| {
            let passed = wall.couples * (now.zone - now.wall);
            into_zone -= passed;
            (passed - wall.loses * now.wall) / wall.capacity
        });
        Warmth { zone: into_zone / self.heat.capacity, wall, heaters }
    }

    /// Gives the length of a step: a small part of the quickest time constant.
    fn step(&self) -> f64 {
        let heaters = f64::from(u32::try_from(self.watts.len()).unwrap_or(u32::MAX));
        let coupled = self.heat.lag.map_or(0.0, |(_, couples)| couples * heaters);
        let walled = self.heat.wall.map_or(0.0, |wall| wall.couples);
        let zone = self.heat.capacity / (self.heat.loses + coupled + walled).max(1e-9);
        let lag = self.heat.lag.map_or(f64::INFINITY, |(capacity, couples)| capacity / couples);
        let wall = self.heat.wall.map_or(f64::INFINITY, |wall| wall.capacity / (wall.couples + wall.loses));
        zone.min(lag).min(wall) / STEPS
    }

    fn next(&self, now: &Warmth, step: f64) -> Warmth {
        let one = self.rates(now);
        let two = self.rates(&now.after(&one, 0.5 * step));
        let three = self.rates(&now.after(&two, 0.5 * step));
        let four = self.rates(&now.after(&three, step));
        now.after(&one, step / 6.0).after(&two, step / 3.0).after(&three, step / 3.0).after(&four, step / 6.0)
    }

    /// Gives the seconds to a rise over the room within so many seconds; `None` if it is not there by then.
    fn seconds_to(&self, rise: f64, within: f64) -> Option<f64> {
        let (step, mut now) = (self.step(), Warmth::cold(self.watts.len()));
        let mut seconds = 0.0;
        for _ in 0..MOST_STEPS {
            let then = self.next(&now, step);
            if then.zone >= rise {
                return Some(seconds + step * (rise - now.zone) / (then.zone - now.zone)).filter(|&t| t <= within);
            }
            seconds += step;
            if seconds > within || then.zone - now.zone < 1e-9 * rise {
                return None;
            }
            now = then;
        }
        None
    }

    /// Gives the rise over the room after so many seconds.
    fn rise_after(&self, seconds: f64) -> f64 {
        let (mut left, step, mut now) = (seconds, self.step(), Warmth::cold(self.watts.len()));
        while left > 0.0 {
            now = self.next(&now, step.min(left));
            left -= step;
        }
        now.zone
    }
}

impl Body<'_> {
    /// Says how a zone warms up against a sound machine as described: see [`Observed::Warms`].
    pub(crate) fn warms(&self, of: &Observed, state: StateId, flags: &[bool], at: &Solved) -> u8 {
        let Observed::Warms { zone, to_c, slow_times, never_times } = *of else { return Observed::IN_TIME };
        let Some(heat) = self.machine.zones[zone.index()].heat.as_ref() else { return Observed::IN_TIME };
        let rise = to_c - self.machine.zones[zone.index()].rest_c;
        let Some(sound) = self.sound_seconds(zone, state, rise) else { return Observed::IN_TIME };
        let oven = self.oven(heat, flags, at);
        match oven.seconds_to(rise, never_times * sound) {
            None => Observed::NEVER,
            Some(seconds) if seconds > slow_times * sound => Observed::SLOW,
            Some(_) if self.control_stops(state, zone).is_some_and(|stops| stops < to_c) => Observed::SHORT,
            Some(_) => Observed::IN_TIME,
        }
    }

    /// Gives the temperature of a zone so many seconds after it was switched on from rest, °C; `None` where the
    /// description does not say how it warms up.
    pub(crate) fn celsius_after(&self, zone: ZoneId, state: StateId, rest: &Rest, seconds: f64) -> Option<f64> {
        let heat = self.machine.zones.get(zone.index())?.heat.as_ref()?;
        let at = rest.solved.as_deref()?;
        let reached = self.machine.zones[zone.index()].rest_c
            + self.values.rest_shift
            + self.oven(heat, &rest.flags, at).rise_after(seconds);
        let stops = [self.control_stops(state, zone), self.thermostat_stops(state, zone, at)];
        Some(stops.into_iter().flatten().fold(reached, f64::min))
    }

    /// Gives the seconds that a sound machine of the same build takes, all else exactly as described.
    fn sound_seconds(&self, zone: ZoneId, state: StateId, rise: f64) -> Option<f64> {
        let values = crate::values::Values::nominal(self.machine);
        let sound = Body { machine: self.machine, values: &values, effects: self.build, build: self.build };
        let rest = sound.rest_from_cold(state);
        let heat = self.machine.zones[zone.index()].heat.as_ref()?;
        sound.oven(heat, &rest.flags, rest.solved.as_deref()?).seconds_to(rise, LONGEST)
    }

    /// Brings a state to rest by way of every state that it is entered from.
    fn rest_from_cold(&self, state: StateId) -> Rest {
        let before = match self.machine.states[state.index()].entered_from {
            Some(before) => self.rest_from_cold(before).flags,
            None => self.flags_down(),
        };
        self.rest(state, &before, &[])
    }

    fn oven<'h>(&self, heat: &'h Heat, flags: &[bool], at: &Solved) -> Oven<'h> {
        let watts = heat.heaters.iter().map(|(_, ways)| ways.iter().map(|&way| self.watts(way, at)).sum()).collect();
        let carried = heat.air.map_or(1.0, |air| match self.blows(air.part, flags, at) {
            0 => 0.0,
            1 => air.weak,
            _ => 1.0,
        });
        Oven { heat, watts, carried }
    }

    /// Gives the true temperature at which the control takes its sensor to be at the set one, °C.
    fn control_stops(&self, state: StateId, zone: ZoneId) -> Option<f64> {
        let set = (*self.machine.states[state.index()].holds_c.get(zone.index())?)?;
        let sensor = self.machine.zones[zone.index()].heat.as_ref()?.felt_by?;
        let Law::Sensor { table, .. } = self.machine.branches[sensor.index()].law else { return None };
        let off = self.effects.iter().fold(self.values.factors[sensor.index()], |off, effect| match *effect {
            Effect::Scale(branch, factor) if branch == sensor => off * factor,
            _ => off,
        });
        match table {
            SensorTable::Platinum { ohms_at_0c } => {
                let wanted = platinum::resistance(Ohms(ohms_at_0c), Celsius(set)).0 / off;
                platinum::temperature(Ohms(ohms_at_0c), Ohms(wanted)).map(|celsius| celsius.0)
            }
            SensorTable::Thermistor { ohms_at_25c, beta } => {
                let curve = BetaCurve::at_25(Ohms(ohms_at_25c), beta);
                Some(curve.temperature(Ohms(curve.resistance(Celsius(set)).0 / off)).0)
            }
        }
    }

    /// Gives where the first thermostat in the heat's way opens as its zone warms up, °C.
    fn thermostat_stops(&self, state: StateId, zone: ZoneId, at: &Solved) -> Option<f64> {
        let now = self.machine.states[state.index()].temperatures_c[zone.index()];
        let mut first: Option<f64> = None;
        for (index, branch) in self.machine.branches.iter().enumerate() {
            let Law::Contact { rule: Rule::Temperature { zone: felt, trips_c, closed_cold, .. }, .. } = &branch.law
            else {
                continue;
            };
            let stuck = self.effects.iter().any(|e| matches!(e, Effect::Ohms(b, _) if b.index() == index));
            let wire = circuit::Branch(u32::try_from(index).unwrap_or(u32::MAX));
            let heats = magnitude(at.current(wire)) > 1.0;
            if *felt == zone && *closed_cold && !stuck && heats && *trips_c > now {
                first = Some(first.map_or(*trips_c, |lowest| lowest.min(*trips_c)));
            }
        }
        first
    }
}
