//! A thermometer in a zone, read so many seconds after a state was switched on from rest.
//!
//! *Approximate because* the width is put together to first order, and where the heat has let go the zone is taken to
//! stand there within [`SWING_SIGMA`]. Refuses to know where in the zone the thermometer hangs.

use crate::heat::{Heating, carried};
use crate::predictor::{FaultSet, Predictor};
use crate::settle::Size;
use machine::model::{FaultId, Heat, Law, PartKind, StateId, ZoneId};
use std::rc::Rc;

/// One look at a thermometer as asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ZoneReading {
    /// The state that runs.
    pub state: StateId,
    /// The zone in which the thermometer hangs.
    pub zone: ZoneId,
    /// Seconds since the state was switched on, everything at rest before.
    pub seconds: u32,
}

impl ZoneReading {
    /// Makes a reading after so many minutes, counted to whole seconds; `None` unless they are from 0 to 1440.
    #[must_use]
    pub fn after_minutes(state: StateId, zone: ZoneId, minutes: f64) -> Option<Self> {
        let seconds = (minutes * 60.0).round();
        let within = (0.0..=86_400.0).contains(&seconds);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number within a day")]
        within.then_some(Self { state, zone, seconds: seconds as u32 })
    }
}

/// What a thermometer is predicted to show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZoneTemperature {
    /// °C.
    pub celsius: f64,
    /// One sigma of zone, parts, supply, room and thermometer together, K.
    pub sigma: f64,
}

impl ZoneTemperature {
    /// Gives the interval that holds 95 % of what the thermometer would show, °C.
    #[must_use]
    pub fn interval(&self) -> (f64, f64) {
        (self.celsius - 2.0 * self.sigma, self.celsius + 2.0 * self.sigma)
    }
}

/// One-sigma error of an oven thermometer and of where it hangs, K: common practice, no source.
pub const THERMOMETER_SIGMA: f64 = 3.0;
/// One-sigma swing about the temperature at which the heat goes off and on, K: common practice, no source.
pub const SWING_SIGMA: f64 = 8.0;
/// One-sigma spread of the room, K: common practice, no source.
const ROOM_SIGMA: f64 = 1.5;
/// One-sigma share of a rise by which an appliance's heat differs from its description (racks, load, seal): common
/// practice, no source.
const HEAT_SPREAD: f64 = 0.04;

/// What a thermometer shows with each set of faults, by size, as far as it was asked for.
pub(crate) type Temperatures = std::collections::BTreeMap<(ZoneReading, FaultSet), Rc<[Option<ZoneTemperature>]>>;

impl Predictor<'_> {
    /// Predicts a thermometer with these faults as described; `None` where the zone has no heat or nothing settles.
    #[must_use]
    pub fn zone_temperature(&self, reading: &ZoneReading, faults: &[FaultId]) -> Option<ZoneTemperature> {
        let (ways, builds) = (self.zone_temperatures(reading, faults), self.machine().builds.len());
        // The middle size, in the first build.
        ways.get(ways.len() / builds / 2 * builds).copied().flatten()
    }

    /// Predicts a thermometer for each size that the faults can have and each build, in the order of [`Self::ways`].
    #[must_use]
    pub fn zone_temperatures(&self, reading: &ZoneReading, faults: &[FaultId]) -> Rc<[Option<ZoneTemperature>]> {
        let key = (*reading, FaultSet(faults.into()));
        if let Some(known) = self.temperatures.borrow().get(&key) {
            return Rc::clone(known);
        }
        let sizes = Size::of(self.machine(), faults);
        let found: Rc<[_]> = sizes.iter().map(|&size| self.read_zone(reading, faults, size)).collect();
        self.temperatures.borrow_mut().insert(key, Rc::clone(&found));
        found
    }

    fn read_zone(&self, reading: &ZoneReading, faults: &[FaultId], size: Size) -> Option<ZoneTemperature> {
        let zone = self.machine().zones.get(reading.zone.index())?;
        let heat = zone.heat.as_ref()?;
        let heating = self.heating(reading.state, reading.zone, (faults, size))?;
        let share = carried(heat, heating.air);
        let watts: f64 = heating.watts.iter().sum();
        // Without any air nothing arrives.
        let unit = if share > 0.0 {
            self.unit_rise(reading.zone, heating.air == 1)?.at(f64::from(reading.seconds))?
        } else {
            0.0
        };
        let rise = watts * share * unit;
        let spread = self.watts_spread(heat, &heating);
        let rise_sigma = rise * (spread * spread + HEAT_SPREAD * HEAT_SPREAD).sqrt();
        let outside = ROOM_SIGMA * ROOM_SIGMA + THERMOMETER_SIGMA * THERMOMETER_SIGMA;
        let reached = zone.rest_c + rise;
        let Some(lets_go) = heating.lets_go.filter(|lets_go| lets_go.celsius < reached) else {
            return Some(ZoneTemperature { celsius: reached, sigma: (rise_sigma * rise_sigma + outside).sqrt() });
        };
        // Soon after it let go the rise's own spread tells whether it has; later only the swing is left.
        let just = rise_sigma.min(reached - lets_go.celsius);
        let square = lets_go.sigma * lets_go.sigma + SWING_SIGMA * SWING_SIGMA + just * just / 4.0 + outside;
        Some(ZoneTemperature { celsius: lets_go.celsius, sigma: square.sqrt() })
    }

    /// Gives the one-sigma relative spread of a zone's watts: of each heater, and twice that of the supply's volts.
    fn watts_spread(&self, heat: &Heat, heating: &Heating) -> f64 {
        let machine = self.machine();
        let watts: f64 = heating.watts.iter().sum();
        if watts <= 0.0 {
            return 0.0;
        }
        let each = heat.heaters.iter().zip(&heating.watts).map(|((_, branches), given)| {
            // The lengths of one heater stand in series; their tolerances are independent.
            let lengths = branches.iter().filter_map(|&b| match machine[b].law {
                Law::Resistance(r) => Some((r.hot_ohms, r.hot_ohms * r.tolerance / 2.0)),
                _ => None,
            });
            let (ohms, square) = lengths.fold((0.0, 0.0), |(ohms, square), (r, dr)| (ohms + r, square + dr * dr));
            let moved = if ohms > 0.0 { given / watts * square.sqrt() / ohms } else { 0.0 };
            moved * moved
        });
        let supply = machine.branches.iter().filter(|b| machine[b.part].kind == PartKind::House);
        let volts =
            supply.filter_map(|b| if let Law::Source { tolerance, .. } = b.law { Some(tolerance) } else { None });
        let volts = volts.fold(0.0, f64::max);
        (each.sum::<f64>() + volts * volts).sqrt()
    }
}
