//! Draws a unit: values, one hidden suspect that shows, its size, the technician's meter.

use crate::dice::Dice;
use crate::fickle::Fickle;
use crate::meter::{MeterKind, OwnMeter};
use crate::unit::{Sound, Unit};
use crate::values::{Values, sized};
use machine::builds::Build;
use machine::model::{FaultId, Machine};
use std::rc::Rc;

/// How units are drawn. The defaults are common practice, no source.
#[derive(Clone, Copy, Debug)]
pub struct DrawSettings {
    /// Which world the prior weights are disturbed for: units of one world share the same disturbed weights.
    pub world: u64,
    /// Each prior weight is multiplied by a factor between 1 over this and this, even on a logarithmic scale.
    pub prior_factor: f64,
    /// Share of units with two unrelated faults.
    pub unrelated_pairs: f64,
    /// Share of units with nothing wrong.
    pub nothing_wrong: f64,
    /// Multiplies the shares in which the description says that faults come and go; 0 for none that do.
    pub intermittents: f64,
    /// Units are of all builds of the machine, as often as the description says; else of its first.
    pub untold_builds: bool,
    /// One-sigma spread of the logarithm of a fault's resistance, cut at two sigmas.
    pub fault_ohms_spread: f64,
    /// One-sigma relative spread of a fault's factor.
    pub fault_scale_spread: f64,
    /// Kelvins within which a room lies about the stated rest temperature.
    pub room_kelvins: f64,
    /// Chance that a new part is bad.
    pub bad_part: f64,
    /// Chance that a sound part looks damaged.
    pub false_look: f64,
    /// Chance that a probe lands on a neighbouring point.
    pub wrong_terminal: f64,
    /// Chance that a resistance shows over-range from a bad contact of the probe.
    pub bad_contact: f64,
    /// The kind of meter.
    pub meter: MeterKind,
}

impl Default for DrawSettings {
    fn default() -> Self {
        Self {
            world: 0,
            prior_factor: 3.0,
            unrelated_pairs: 0.03,
            nothing_wrong: 0.0,
            intermittents: 1.0,
            untold_builds: false,
            fault_ohms_spread: 0.4,
            fault_scale_spread: 0.05,
            room_kelvins: 3.0,
            bad_part: 0.01,
            false_look: 0.005,
            wrong_terminal: 0.007,
            bad_contact: 0.005,
            meter: MeterKind::ordinary(),
        }
    }
}

/// Draws units of one machine; works out once what its sound state looks like.
#[derive(Clone, Debug)]
pub struct Workshop<'m> {
    machine: &'m Machine,
    /// By build of the machine.
    sound: Vec<Sound>,
}

/// Words that keep the streams of chance apart.
const WORLD: u64 = 31;
const SUSPECT: u64 = 32;
const BUILD: u64 = 33;

/// Suspects drawn before one without symptom is taken as it is.
const MOST_DRAWS: u64 = 400;

impl<'m> Workshop<'m> {
    /// Opens a machine for drawing.
    #[must_use]
    pub fn new(machine: &'m Machine) -> Self {
        let sound = |build: &Build| {
            let nominal = Unit::nominal(machine, &[]).built(&build.effects);
            Rc::new(nominal.state_ids().map(|state| nominal.observe(state)).collect())
        };
        Self { machine, sound: machine.builds.iter().map(sound).collect() }
    }

    pub(crate) fn machine(&self) -> &'m Machine {
        self.machine
    }

    /// Draws one unit whose faults show in some state.
    #[must_use]
    pub fn draw(&self, seed: u64, settings: &DrawSettings) -> Unit<'m> {
        let weights = self.disturbed(settings);
        let nothing_wrong = Dice::of(seed, &[SUSPECT]).chance(settings.nothing_wrong);
        let mut last = self.unit(seed, settings, &[]);
        for draw in 0..if nothing_wrong { 0 } else { MOST_DRAWS } {
            let faults = self.suspect(&mut Dice::of(seed, &[SUSPECT, draw]), &weights, settings);
            last = self.unit(seed, settings, &faults);
            if !faults.is_empty() && self.shows(seed, settings, &faults) {
                break;
            }
        }
        last
    }

    /// Makes a unit of this seed with these faults, whether they show or not.
    #[must_use]
    pub fn unit(&self, seed: u64, settings: &DrawSettings, faults: &[FaultId]) -> Unit<'m> {
        let values = Values::draw(self.machine, seed, settings);
        let fickle = Fickle::draw(self.machine, faults, seed, settings);
        let faults = faults.iter().map(|&fault| (fault, sized(self.machine, fault, seed, settings))).collect();
        let meter = OwnMeter::draw(seed, settings);
        let build = if settings.untold_builds { self.build(seed) } else { 0 };
        let sound = self.sound.get(build).map(Rc::clone).unwrap_or_default();
        let mut unit = Unit::of(self.machine, seed, *settings, values, faults, meter, sound);
        unit.fickle = fickle;
        unit.build = self.machine.builds.get(build).map(|build| build.effects.clone()).unwrap_or_default();
        unit
    }

    /// Draws which build a unit of this seed is: as often as the description says.
    fn build(&self, seed: u64) -> usize {
        let shares: Vec<f64> = self.machine.builds.iter().map(|build| build.share).collect();
        Dice::of(seed, &[BUILD]).pick(&shares).unwrap_or(0)
    }

    /// Says whether each fault shows in some state by itself, or is cured along with one that does.
    ///
    /// A second fault that nobody could notice would make every technician leave an unsound machine.
    fn shows(&self, seed: u64, settings: &DrawSettings, faults: &[FaultId]) -> bool {
        let repair = |fault: FaultId| self.machine.faults[fault.index()].repair;
        let alone = |fault: FaultId| !self.unit(seed, settings, &[fault]).sound();
        let shown: Vec<FaultId> = faults.iter().copied().filter(|&fault| alone(fault)).collect();
        let cured_along = |fault: &FaultId| shown.iter().any(|&other| repair(other) == repair(*fault));
        faults.iter().all(cured_along) && (faults.len() < 2 || !self.unit(seed, settings, faults).sound())
    }

    /// Gives the prior weights as they are in this world: each off by up to the factor. For judging only.
    #[must_use]
    pub fn disturbed(&self, settings: &DrawSettings) -> Vec<f64> {
        let most = libm::log(settings.prior_factor.max(1.0));
        let faults = self.machine.faults.iter().zip(0..);
        faults
            .map(|(fault, id)| fault.weight * libm::exp(Dice::of(settings.world, &[WORLD, id]).between(-most, most)))
            .collect()
    }

    /// Draws a suspect: one fault with or without the cause that brought it about, or two that met by chance.
    fn suspect(&self, dice: &mut Dice, weights: &[f64], settings: &DrawSettings) -> Vec<FaultId> {
        let id = |index: usize| FaultId(u16::try_from(index).unwrap_or(u16::MAX));
        let Some(first) = dice.pick(weights) else { return Vec::new() };
        let mut faults = vec![id(first)];
        if dice.chance(settings.unrelated_pairs) {
            let part = |index: usize| self.machine.faults[index].part;
            let others: Vec<f64> =
                weights.iter().enumerate().map(|(i, &w)| if part(i) == part(first) { 0.0 } else { w }).collect();
            faults.extend(dice.pick(&others).map(id));
        } else {
            faults.extend(self.cause(dice, first));
        }
        faults.sort_unstable();
        faults
    }

    fn cause(&self, dice: &mut Dice, fault: usize) -> Option<FaultId> {
        let causes = &self.machine.faults[fault].caused_by;
        let mut left = dice.share();
        for &(cause, share) in causes {
            if left < share {
                return Some(cause);
            }
            left -= share;
        }
        None
    }
}

impl<'m> Unit<'m> {
    /// Draws one unit of a machine; for many of one machine keep a [`Workshop`].
    #[must_use]
    pub fn draw(machine: &'m Machine, seed: u64, settings: &DrawSettings) -> Self {
        Workshop::new(machine).draw(seed, settings)
    }
}

#[cfg(test)]
mod tests {
    use super::{DrawSettings, Workshop};

    #[test]
    fn disturbed_weights_stay_within_threefold_and_use_the_range() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/dryer-timer-240.toml");
        let machine = machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap();
        let weights = Workshop::new(&machine).disturbed(&DrawSettings::default());
        let stated = machine.faults.iter().map(|fault| fault.weight);
        let factors: Vec<f64> = stated.zip(weights).filter(|(w, _)| *w > 0.0).map(|(w, now)| now / w).collect();
        assert!(factors.iter().all(|f| (1.0 / 3.0 - 1e-9..=3.0 + 1e-9).contains(f)), "{factors:?}");
        assert!(factors.iter().any(|f| *f < 0.5) && factors.iter().any(|f| *f > 2.0), "{factors:?}");
    }
}
