//! How fast a zone gets hot against a sound machine, and where its control or thermostat lets go of the heat.
//!
//! The zone's heat network is linear and all its heaters are alike in it, so that its rise at every moment is the watts
//! times the rise that one watt gives: T(t) = rest + s W u(t), with s the share of the heat that the air still carries
//! and u the response of the network with its own loss times s. u only rises, so that "within so many times the sound
//! machine's time" is a limit on W, reckoned once for a state; no suspect needs a transient of its own.
//!
//! Refuses to know when somebody turns the heat off.

use crate::moment::watts;
use crate::predictor::{FAULT_SCALE_SPREAD, Predictor};
use crate::settle::{Size, effects_of, magnitude};
use crate::wiring::{net, sensor_ohms};
use circuit::{Changed, Node, RcNetwork, Transient};
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, Heat, Law, ObservationId, Observed, Rule, SensorTable, StateId, ZoneId};
use std::rc::Rc;

/// Watts of the sound machine, and the shares of them at which a zone is never hot and slow.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pace {
    pub(crate) sound_watts: f64,
    /// Below the first never, below the second slow; with all its air, and with little.
    pub(crate) limits: [(f64, f64); 2],
}

/// Where the heat lets go, °C, and its one-sigma width, K.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct LetsGo {
    pub(crate) celsius: f64,
    pub(crate) sigma: f64,
}

/// What heats a zone in a settled state.
#[derive(Clone, Debug)]
pub(crate) struct Heating {
    /// What each of its heaters gives, watts.
    pub(crate) watts: Vec<f64>,
    /// 0 no air, 1 little, 2 all of it.
    pub(crate) air: u8,
    pub(crate) lets_go: Option<LetsGo>,
}

/// Amperes that a contact must carry to count as the heat's own: common practice, no source.
const HEAT_AMPS: f64 = 1.0;
/// One-sigma width of the temperature at which a bimetal thermostat trips, K: common practice, no source.
const BIMETAL_SIGMA: f64 = 2.0;

impl Predictor<'_> {
    /// Gives what slow and never mean in a state, against a sound machine of this build; `None` where it does not get there
    /// either.
    pub(crate) fn pace(&self, state: StateId, what: ObservationId, build: usize) -> Option<Pace> {
        if let Some(pace) = self.paces.borrow().get(&(state, what, build)) {
            return *pace;
        }
        let pace = self.work_out_pace(state, what, build);
        self.paces.borrow_mut().insert((state, what, build), pace);
        pace
    }

    fn work_out_pace(&self, state: StateId, what: ObservationId, build: usize) -> Option<Pace> {
        let Observed::Warms { zone, to_c, slow_times, never_times } = self.machine()[what].of else { return None };
        let described = &self.machine().zones[zone.index()];
        let heat = described.heat.as_ref()?;
        let watts_of = |solution: &Changed<'_>| self.heat_watts(heat, solution).iter().sum::<f64>();
        let sound_watts = self.running(state, (&[], Size::in_build(build)), |solution, _| watts_of(solution))?;
        let rise = to_c - described.rest_c;
        let unit = self.unit_rise(zone, false)?;
        let sound_seconds = unit.first_time(rise / sound_watts)?;
        let limit = |times: f64, weak: bool| {
            let share = carried(heat, if weak { 1 } else { 2 });
            let rises = self.unit_rise(zone, weak).and_then(|unit| unit.at(times * sound_seconds));
            rises.map_or(f64::INFINITY, |rises| rise / (share * rises) / sound_watts)
        };
        Some(Pace {
            sound_watts,
            limits: [false, true].map(|weak| (limit(never_times, weak), limit(slow_times, weak))),
        })
    }

    /// Gives what each heater of a zone turns into heat, watts.
    pub(crate) fn heat_watts(&self, heat: &Heat, solution: &Changed<'_>) -> Vec<f64> {
        let of = |branches: &Vec<BranchId>| branches.iter().map(|&b| watts(self.machine(), b, solution)).sum();
        heat.heaters.iter().map(|(_, branches)| of(branches)).collect()
    }

    /// Gives what heats a zone in a settled state with these faults, and where it lets go; `None` where nothing can be
    /// said.
    pub(crate) fn heating(&self, state: StateId, zone: ZoneId, (faults, size): (&[FaultId], Size)) -> Option<Heating> {
        let heat = self.machine().zones.get(zone.index())?.heat.as_ref()?;
        let effects = effects_of(self.machine(), faults, size);
        let held = self.held(state, zone, &effects);
        self.running(state, (faults, size), |solution, config| {
            let trips = self.trips(state, zone, &effects, solution);
            let both = [held, trips].into_iter().flatten();
            Heating {
                watts: self.heat_watts(heat, solution),
                air: self.air_of(heat, (state, size.build()), &effects, (solution, config)),
                lets_go: both.min_by(|a, b| a.celsius.total_cmp(&b.celsius)),
            }
        })
    }

    /// Gives a zone's rise for one watt, with all its air or with little; `None` where it cannot be reckoned.
    pub(crate) fn unit_rise(&self, zone: ZoneId, weak: bool) -> Option<Rc<UnitRise>> {
        if let Some(rise) = self.rises.borrow().get(&(zone, weak)) {
            return rise.clone();
        }
        let heat = self.machine().zones[zone.index()].heat.as_ref();
        let rise = heat.and_then(|heat| UnitRise::of(heat, if weak { 1 } else { 2 })).map(Rc::new);
        self.rises.borrow_mut().insert((zone, weak), rise.clone());
        rise
    }

    /// Gives where the control holds a zone with these effects; `None` where nothing holds it.
    ///
    /// *Approximate because* only what is wrong with the sensor itself moves it, not a joint of its loop.
    pub(crate) fn held(&self, state: StateId, zone: ZoneId, effects: &[Effect]) -> Option<LetsGo> {
        let machine = self.machine();
        let set = machine[state].holds_c.get(zone.index()).copied().flatten()?;
        let branch = machine.zones[zone.index()].heat.as_ref()?.felt_by?;
        let Law::Sensor { table, tolerance, .. } = machine[branch].law else { return None };
        let scaled: Vec<f64> = effects
            .iter()
            .filter_map(|effect| match *effect {
                Effect::Scale(b, factor) if b == branch => Some(factor),
                _ => None,
            })
            .collect();
        let ohms = sensor_ohms(table, set) / scaled.iter().product::<f64>();
        let celsius = temperature(table, ohms);
        let spread = tolerance / 2.0 + if scaled.is_empty() { 0.0 } else { FAULT_SCALE_SPREAD };
        let per_kelvin = (sensor_ohms(table, celsius + 0.5) - sensor_ohms(table, celsius - 0.5)).abs();
        Some(LetsGo { celsius, sigma: spread * ohms / per_kelvin.max(1e-9) })
    }

    /// Gives where a thermostat of the zone lets go of the heat, the lowest of them; `None` where none does.
    ///
    /// A contact is taken to switch the heat if the heat's current flows through it; one that a fault has welded or
    /// burnt opens no more.
    pub(crate) fn trips(
        &self,
        state: StateId,
        zone: ZoneId,
        effects: &[Effect],
        solution: &Changed<'_>,
    ) -> Option<LetsGo> {
        let now = self.machine()[state].temperatures_c[zone.index()];
        let set = |branch: BranchId| effects.iter().any(|e| matches!(*e, Effect::Ohms(b, _) if b == branch));
        let contacts = (0..).map(BranchId).zip(&self.machine().branches);
        let trips = contacts.filter_map(|(id, branch)| match &branch.law {
            Law::Contact { rule: Rule::Temperature { zone: felt, trips_c, closed_cold: true, .. }, .. } => {
                let carries = *felt == zone && *trips_c > now && !set(id);
                (carries && magnitude(solution.current(net(id))) > HEAT_AMPS).then_some(*trips_c)
            }
            _ => None,
        });
        trips.min_by(f64::total_cmp).map(|celsius| LetsGo { celsius, sigma: BIMETAL_SIGMA })
    }
}

/// Gives the share of the heat that reaches the zone with so much air (0 none, 1 little, 2 all of it).
pub(crate) fn carried(heat: &Heat, air: u8) -> f64 {
    match (heat.air, air) {
        (None, _) | (Some(_), 2..) => 1.0,
        (Some(of), 1) => of.weak,
        (Some(_), 0) => 0.0,
    }
}

/// A zone's rise over its rest for one watt of its heaters.
#[derive(Debug)]
pub(crate) struct UnitRise {
    transient: Transient,
    inside: Node,
}

impl UnitRise {
    /// Lays the zone's heat network with so much air and one watt into one of its heaters, which are all alike.
    fn of(heat: &Heat, air: u8) -> Option<Self> {
        let mut watts = vec![0.0; heat.heaters.len()];
        *watts.first_mut()? = 1.0;
        let (transient, inside) = lay(heat, &watts, carried(heat, air))?;
        Some(Self { transient, inside })
    }

    fn start(&self) -> Vec<f64> {
        vec![0.0; self.transient.node_count()]
    }

    /// Gives the rise after so many seconds, K/W.
    pub(crate) fn at(&self, seconds: f64) -> Option<f64> {
        self.transient.curve(&self.start(), self.inside, &[seconds]).ok()?.first().copied()
    }

    /// Gives the seconds to so much rise, K/W; `None` if it never gets there.
    pub(crate) fn first_time(&self, rise: f64) -> Option<f64> {
        self.transient.first_time(&self.start(), self.inside, rise).ok()?
    }
}

/// Builds the zone's heat network over the room; the zone's own node comes with it. With a share below 1 only that much
/// of the heat arrives and of the zone's own loss goes.
pub(crate) fn lay(heat: &Heat, watts: &[f64], share: f64) -> Option<(Transient, Node)> {
    let room = Node(0);
    let mut network = RcNetwork::new();
    let inside = network.add_node(heat.capacity);
    network.join(inside, room, heat.loses * share);
    if let Some(wall) = heat.wall {
        let node = network.add_node(wall.capacity);
        network.join(inside, node, wall.couples);
        network.join(node, room, wall.loses);
    }
    for &given in watts {
        let fed = match heat.lag {
            Some((capacity, couples)) => {
                let element = network.add_node(capacity);
                network.join(element, inside, couples);
                element
            }
            None => inside,
        };
        network.feed(fed, given).ok()?;
    }
    Some((network.solve().ok()?, inside))
}

/// Gives the temperature at which a sensor has this resistance, °C, by halving between -80 and 800.
fn temperature(table: SensorTable, ohms: f64) -> f64 {
    let (mut low, mut high) = (-80.0, 800.0);
    let rises = sensor_ohms(table, high) > sensor_ohms(table, low);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if (sensor_ohms(table, middle) < ohms) == rises { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}
