//! One machine with its factored configurations: settles states, predicts readings, remembers what it worked out.
//!
//! A base is one network (state, pressed or not, plugged or not, alternating or direct current, flags); it is factored
//! once. A set of faults and lifted leads is a low-rank change of a base. Nothing here depends on belief.

use crate::heat::{Pace, UnitRise};
use crate::idle::{Graphs, InReadings, InRuns};
use crate::meters::Meter;
use crate::observe::Way;
use crate::reading::{Condition, Prediction, Probe, Quantity, Reading, Shown};
use crate::settle::{CERTAIN_OHMS, Config, Settled, Size, Trail, effects_of, hold, magnitude, settle};
use crate::thermometer::Temperatures;
use crate::wiring::{Setting, changes, closed, element, net, network, node_of, scaled_element, turned};
use circuit::{Adjoint, Change, Changed, Port, Solved};
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, Law, Machine, ObservationId, StateId, TerminalId, ZoneId};
use num_complex::Complex64;
use std::borrow::Borrow;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// State, pressed, plugged, direct, flags.
pub(crate) type BaseKey = (StateId, bool, bool, bool, Config);

/// The ways each state could go with each set of faults, as far as they were asked for.
pub(crate) type Ways = BTreeMap<(StateId, FaultSet), Rc<[Way]>>;

/// What each reading shows with each set of faults, by size, as far as it was asked for.
type BySize = BTreeMap<Reading, BTreeMap<FaultSet, Rc<[Prediction]>>>;

/// Each zone's rise for one watt, with all its air and with little, as far as it was asked for.
type Rises = BTreeMap<(ZoneId, bool), Option<Rc<UnitRise>>>;

/// Where each state came to rest, and through which configurations.
type Rests = BTreeMap<(StateId, FaultSet, Size), (Settled, Trail)>;

/// One factored configuration.
#[derive(Debug)]
pub(crate) struct Base {
    pub(crate) setting: Setting,
    pub(crate) solved: Solved,
}

/// Predicts one machine's behaviour and readings under any set of faults.
#[derive(Debug)]
pub struct Predictor<'m> {
    machine: &'m Machine,
    meter: Meter,
    bases: RefCell<BTreeMap<BaseKey, Option<Rc<Base>>>>,
    settled: RefCell<Rests>,
    pub(crate) ways: RefCell<Ways>,
    /// The ways of faults without a size, once for each size.
    pub(crate) alike: RefCell<Ways>,
    predictions: RefCell<BTreeMap<Reading, BTreeMap<FaultSet, Prediction>>>,
    /// Readings that faults of one size and another would show differently.
    by_size: RefCell<BySize>,
    pub(crate) temperatures: RefCell<Temperatures>,
    pub(crate) paces: RefCell<BTreeMap<(StateId, ObservationId, usize), Option<Pace>>>,
    pub(crate) rises: RefCell<Rises>,
    /// Solves each set of faults for itself, whatever is idle: what the shortened way is tested against.
    #[cfg(test)]
    pub(crate) each_for_itself: bool,
    pub(crate) idle_runs: RefCell<InRuns>,
    pub(crate) idle_readings: RefCell<InReadings>,
    pub(crate) graphs: RefCell<Graphs>,
}

/// A set of faults as a key, in the order given.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct FaultSet(pub(crate) Box<[FaultId]>);

/// INVARIANT: ordered as its slice is, so that a table can be asked without making a key.
impl Borrow<[FaultId]> for FaultSet {
    fn borrow(&self) -> &[FaultId] {
        &self.0
    }
}

impl<'m> Predictor<'m> {
    /// Opens a machine for prediction with this meter.
    #[must_use]
    pub fn new(machine: &'m Machine, meter: Meter) -> Self {
        Self {
            machine,
            meter,
            bases: RefCell::default(),
            settled: RefCell::default(),
            ways: RefCell::default(),
            alike: RefCell::default(),
            predictions: RefCell::default(),
            by_size: RefCell::default(),
            temperatures: RefCell::default(),
            paces: RefCell::default(),
            rises: RefCell::default(),
            #[cfg(test)]
            each_for_itself: false,
            idle_runs: RefCell::default(),
            idle_readings: RefCell::default(),
            graphs: RefCell::default(),
        }
    }

    /// Gives the machine.
    #[must_use]
    pub fn machine(&self) -> &'m Machine {
        self.machine
    }

    /// Gives the meter.
    #[must_use]
    pub fn meter(&self) -> &Meter {
        &self.meter
    }

    /// Says where a state comes to rest with these faults.
    #[must_use]
    pub fn settle(&self, state: StateId, faults: &[FaultId]) -> Settled {
        self.settle_sized(state, faults, Size::DESCRIBED)
    }

    /// Lists the contacts that conduct where a state comes to rest: as their rules say, unless a fault holds one.
    #[must_use]
    pub fn closed_contacts(&self, state: StateId, faults: &[FaultId]) -> Vec<BranchId> {
        let config = self.settle(state, faults).config;
        let setting = self.setting((state, false, true, false, config));
        let effects = effects_of(self.machine, faults, Size::DESCRIBED);
        let contacts = (0..).map(BranchId).zip(&self.machine.branches).filter(|(id, branch)| {
            let Law::Contact { rule, .. } = &branch.law else { return false };
            match effects.iter().rev().find(|effect| sets(effect, *id)) {
                Some(Effect::Open(_)) => false,
                Some(_) => true,
                None => closed(rule, &setting, config),
            }
        });
        contacts.map(|(id, _)| id).collect()
    }

    /// Says where a state comes to rest with these faults of this size.
    pub(crate) fn settle_sized(&self, state: StateId, faults: &[FaultId], size: Size) -> Settled {
        match self.felt_in_run(state, faults) {
            Some(left) => self.settle_sized(state, left, size.of_these(self.machine, left)),
            None => self.settled_along(state, faults, size).0,
        }
    }

    /// Gives the configurations that a state is solved in until it rests with these faults of this size.
    pub(crate) fn trail(&self, state: StateId, faults: &[FaultId], size: Size) -> Trail {
        match self.felt_in_run(state, faults) {
            Some(left) => self.trail(state, left, size.of_these(self.machine, left)),
            None => self.settled_along(state, faults, size).1,
        }
    }

    fn settled_along(&self, state: StateId, faults: &[FaultId], size: Size) -> (Settled, Trail) {
        let key = (state, FaultSet(faults.into()), size);
        if let Some(settled) = self.settled.borrow().get(&key) {
            return settled.clone();
        }
        let settled = settle(self, state, (faults, size), |_, _| ());
        self.settled.borrow_mut().insert(key, settled.clone());
        settled
    }

    /// Solves a settled state, plugged in, and hands the solution on; if it has yet to settle, the last of its turns.
    pub(crate) fn settling<R>(
        &self,
        state: StateId,
        (faults, size): (&[FaultId], Size),
        then: impl Fn(&Changed<'_>, Config) -> R,
    ) -> Option<R> {
        let key = (state, FaultSet(faults.into()), size);
        let known = self.felt_in_run(state, faults).is_some() || self.settled.borrow().contains_key(&key);
        let mut seen = None;
        if !known {
            let settled = settle(self, state, (faults, size), |solution, config| seen = Some(then(solution, config)));
            self.settled.borrow_mut().insert(key, settled);
        }
        seen.or_else(|| self.running(state, (faults, size), then))
    }

    /// Predicts what the meter shows for one reading with these faults.
    ///
    /// *Exact* in the linear network of the settled configuration; the tolerance width is first-order.
    #[must_use]
    pub fn predict(&self, reading: &Reading, faults: &[FaultId]) -> Prediction {
        match self.seen_in_reading(reading, faults) {
            Some(left) => self.predict(reading, left),
            None => self.predict_these(reading, faults),
        }
    }

    /// Predicts with faults each of which may show in the reading.
    fn predict_these(&self, reading: &Reading, faults: &[FaultId]) -> Prediction {
        if let Some(known) = self.predictions.borrow().get(reading).and_then(|column| column.get(faults)) {
            return *known;
        }
        let prediction = self.predict_sized(reading, faults, Size::DESCRIBED);
        let mut predictions = self.predictions.borrow_mut();
        if !predictions.contains_key(reading) {
            predictions.insert(reading.clone(), BTreeMap::new());
        }
        if let Some(column) = predictions.get_mut(reading) {
            column.insert(FaultSet(faults.into()), prediction);
        }
        prediction
    }

    /// Predicts a reading for each size that the faults can have and each build, in the order of [`Self::ways`]; one for
    /// each build where the size shows only in the width, and a single prediction where nothing of it shows.
    ///
    /// With a worse joint the motor no longer starts, and every voltage is another. *Approximate because* among the sizes
    /// at which the controls rest alike the likeliest stands for all, its spread being in the width.
    #[must_use]
    pub fn predict_ways(&self, reading: &Reading, faults: &[FaultId]) -> Rc<[Prediction]> {
        if let Some(known) = self.by_size.borrow().get(reading).and_then(|column| column.get(faults)) {
            return Rc::clone(known);
        }
        let predicted = match self.seen_in_reading(reading, faults) {
            Some(left) => self.predict_ways(reading, left),
            None => self.predict_these_ways(reading, faults),
        };
        let mut by_size = self.by_size.borrow_mut();
        if !by_size.contains_key(reading) {
            by_size.insert(reading.clone(), BTreeMap::new());
        }
        if let Some(column) = by_size.get_mut(reading) {
            column.insert(FaultSet(faults.into()), Rc::clone(&predicted));
        }
        predicted
    }

    /// Predicts for each size with faults each of which may show in the reading.
    fn predict_these_ways(&self, reading: &Reading, faults: &[FaultId]) -> Rc<[Prediction]> {
        let (sizes, builds) = (Size::of(self.machine, faults), self.machine.builds.len());
        let stand_ins: Vec<Size> = if !reading.condition.plugged || sizes.len() == builds {
            sizes.iter().take(builds).map(|size| size.as_described()).collect()
        } else {
            let rest = |size: Size| self.settle_sized(reading.condition.state, faults, size).config;
            let rests: Vec<(Size, Config)> = sizes.iter().map(|&size| (size, rest(size))).collect();
            let like = |&(size, rest): &(Size, Config)| {
                let alike = rests.iter().filter(|(s, other)| s.build() == size.build() && *other == rest);
                alike.map(|(size, _)| *size).max_by(|a, b| a.share().total_cmp(&b.share())).unwrap_or(size)
            };
            rests.iter().map(like).collect()
        };
        if stand_ins.iter().all(|&size| size == Size::DESCRIBED) {
            return Rc::new([self.predict_these(reading, faults)]);
        }
        let mut known: BTreeMap<Size, Prediction> = BTreeMap::new();
        let mut of = |size| *known.entry(size).or_insert_with(|| self.predict_sized(reading, faults, size));
        let predicted: Vec<Prediction> = stand_ins.into_iter().map(&mut of).collect();
        if predicted.iter().all(|one| *one == predicted[0]) {
            return Rc::new([predicted[0]]);
        }
        predicted.into()
    }

    fn predict_sized(&self, reading: &Reading, faults: &[FaultId], size: Size) -> Prediction {
        let effects = effects_of(self.machine, faults, size);
        let shown = self
            .at(&reading.condition, reading.quantity == Quantity::Ohms, (faults, size), &effects, |solution, case| {
                match reading.probe {
                    Probe::Across(a, b) if reading.quantity == Quantity::Ohms => self.shown_ohms(a, b, case, solution),
                    Probe::Across(a, b) if reading.quantity == Quantity::Farads => {
                        self.shown_farads(a, b, case, solution)
                    }
                    Probe::Across(a, b) => self.shown_volts(a, b, case, solution),
                    Probe::Around(branch) => self.shown_amps(branch, case, solution),
                }
            })
            .unwrap_or(Shown::Ghost { highest: f64::INFINITY });
        Prediction { shown }
    }

    /// Solves one condition with these faults and hands the solution on; `None` when it cannot be solved.
    fn at<R>(
        &self,
        condition: &Condition,
        direct: bool,
        (faults, size): (&[FaultId], Size),
        effects: &[Effect],
        then: impl FnOnce(&Changed<'_>, &Case<'_>) -> R,
    ) -> Option<R> {
        let config = if condition.plugged {
            self.settle_sized(condition.state, faults, size).config
        } else {
            hold(effects, Config::default())
        };
        let key = (condition.state, false, condition.plugged, direct, config);
        let base = self.base(key)?;
        let mut made = changes(self.machine, effects, &base.setting, config);
        made.extend(condition.lifted.iter().map(|&lead| Change::Law(net(lead), circuit::Law::Open)));
        let case = Case { effects, setting: &base.setting, config };
        base.solved.with(&made).ok().map(|solution| then(&solution, &case))
    }

    /// Solves a state at given flags, before it has settled; what cannot be solved leaves the flags as they are.
    pub(crate) fn solved(
        &self,
        state: StateId,
        pressed: bool,
        config: Config,
        effects: &[Effect],
        then: impl FnOnce(&Changed<'_>) -> Config,
    ) -> Config {
        let Some(base) = self.base((state, pressed, true, false, config)) else { return config };
        let made = changes(self.machine, effects, &base.setting, config);
        base.solved.with(&made).ok().map_or(config, |solution| then(&solution))
    }

    /// Solves a settled state, plugged in, and hands the solution on.
    pub(crate) fn running<R>(
        &self,
        state: StateId,
        (faults, size): (&[FaultId], Size),
        then: impl FnOnce(&Changed<'_>, Config) -> R,
    ) -> Option<R> {
        let effects = effects_of(self.machine, faults, size);
        let config = self.settle_sized(state, faults, size).config;
        self.at(&Condition::running(state), false, (faults, size), &effects, |solution, _| then(solution, config))
    }

    pub(crate) fn base(&self, key: BaseKey) -> Option<Rc<Base>> {
        if let Some(base) = self.bases.borrow().get(&key) {
            return base.clone();
        }
        let setting = self.setting(key);
        let solved = network(self.machine, &setting, key.4).solve().ok();
        let base = solved.map(|solved| Rc::new(Base { setting, solved }));
        self.bases.borrow_mut().insert(key, base.clone());
        base
    }

    fn setting(&self, (state, pressed, plugged, direct, _): BaseKey) -> Setting {
        let state = &self.machine.states[state.index()];
        let mut positions = state.positions.clone();
        if pressed {
            positions.retain(|(part, _)| !state.pressed.iter().any(|(held, _)| held == part));
            positions.extend(state.pressed.iter().cloned());
        }
        let temperatures_c = if plugged {
            state.temperatures_c.clone()
        } else {
            self.machine.zones.iter().map(|zone| zone.rest_c).collect()
        };
        Setting { positions, temperatures_c, plugged, direct }
    }

    /// Gives the unloaded volts over a branch.
    pub(crate) fn volts_over(&self, branch: BranchId, at: &Changed<'_>) -> f64 {
        let branch = &self.machine.branches[branch.index()];
        self.volts_between(branch.from, branch.to, at)
    }

    /// Gives the unloaded volts between two terminals; 0 where nothing ties them together.
    pub(crate) fn volts_between(&self, a: TerminalId, b: TerminalId, at: &Changed<'_>) -> f64 {
        at.voltage(node_of(self.machine, a), node_of(self.machine, b)).map_or(0.0, magnitude)
    }

    fn shown_ohms(&self, a: TerminalId, b: TerminalId, case: &Case<'_>, at: &Changed<'_>) -> Shown {
        let (a, b) = (node_of(self.machine, a), node_of(self.machine, b));
        // What floats between two islands is no matter for an ohm-meter, and dear to bound.
        if !at.same_island(a, b) {
            return Shown::OverRange;
        }
        let Port::Tied { source_impedance, .. } = at.port(a, b) else { return Shown::OverRange };
        let value = source_impedance.re.max(0.0) + self.meter.lead_shown();
        if value > self.meter.ohms_limit {
            return Shown::OverRange;
        }
        let adjoint = at.port_adjoint(a, b);
        let variance = self.variance(case, at, |branch, moved| match (&adjoint, moved) {
            (Some(adjoint), Moved::Ohms(dz)) => (adjoint.source_impedance_per_ohm(branch) * dz).re,
            _ => 0.0,
        });
        Shown::Value { value, phase_deg: 0.0, sigma: variance.sqrt() }
    }

    /// Shows the capacitance of what lies between two points, as long as it is more of a capacitor than of a resistor or a
    /// coil; else the meter cannot charge it and shows over-range.
    ///
    /// *Approximate because* what lies in parallel is weighed at the supply's frequency, whatever the meter's own is.
    fn shown_farads(&self, a: TerminalId, b: TerminalId, case: &Case<'_>, at: &Changed<'_>) -> Shown {
        let (a, b) = (node_of(self.machine, a), node_of(self.machine, b));
        let nothing = Shown::Value { value: 0.0, phase_deg: 0.0, sigma: 0.0 };
        if !at.same_island(a, b) {
            return nothing;
        }
        let Port::Tied { source_impedance, .. } = at.port(a, b) else { return nothing };
        let admittance = source_impedance.inv();
        if !admittance.is_finite() || admittance.im <= admittance.re.abs() {
            return Shown::OverRange;
        }
        let omega = 2.0 * std::f64::consts::PI * self.machine.hertz;
        let adjoint = at.port_adjoint(a, b);
        let variance = self.variance(case, at, |branch, moved| match (&adjoint, moved) {
            // d(1/Z) = -dZ / Z^2.
            (Some(adjoint), Moved::Ohms(dz)) => {
                let moved = adjoint.source_impedance_per_ohm(branch) * dz;
                (-moved * admittance * admittance).im / omega
            }
            _ => 0.0,
        });
        Shown::Value { value: admittance.im / omega, phase_deg: 0.0, sigma: variance.sqrt() }
    }

    fn shown_volts(&self, a: TerminalId, b: TerminalId, case: &Case<'_>, at: &Changed<'_>) -> Shown {
        let (a, b) = (node_of(self.machine, a), node_of(self.machine, b));
        let (open_volts, source_impedance) = match at.port(a, b) {
            Port::Tied { open_volts, source_impedance } => (open_volts, source_impedance),
            Port::Floating { highest_volts } => return self.meter.across_islands(highest_volts),
        };
        let input = Complex64::new(self.meter.volts_input_ohms, 0.0);
        let loading = input / (input + source_impedance);
        let loaded = open_volts * loading;
        let adjoint = at.port_adjoint(a, b);
        let variance = self.variance(case, at, |branch, moved| {
            adjoint.as_ref().map_or(0.0, |adjoint| along(moved.through(adjoint, branch) * loading, loaded))
        });
        Shown::Value { value: magnitude(loaded), phase_deg: degrees(loaded), sigma: variance.sqrt() }
    }

    fn shown_amps(&self, branch: BranchId, case: &Case<'_>, at: &Changed<'_>) -> Shown {
        let current = at.current(net(branch));
        let adjoint = at.current_adjoint(net(branch));
        let variance = self.variance(case, at, |other, moved| along(moved.through(&adjoint, other), current));
        Shown::Value { value: magnitude(current), phase_deg: degrees(current), sigma: variance.sqrt() }
    }

    /// Sums the squares of what `effect` gives for a one-sigma move of each branch that has a tolerance or a fault of
    /// uncertain size.
    fn variance(&self, case: &Case<'_>, at: &Changed<'_>, effect: impl Fn(circuit::Branch, Moved) -> f64) -> f64 {
        let sound = self.machine.branches.iter().enumerate().filter_map(|(index, branch)| {
            let id = BranchId(u16::try_from(index).unwrap_or(u16::MAX));
            let moved = match case.effects.iter().rev().find(|e| sets(e, id)) {
                Some(Effect::Turn(_, degrees)) => {
                    let law = turned(element(self.machine, branch, case.setting, case.config), *degrees);
                    Moved::by(&law, tolerance(&branch.law) / 2.0)?
                }
                Some(fault) => fault_moved(fault, |factor| {
                    scaled_element(self.machine, branch, case.setting, case.config, factor)
                })?,
                None => {
                    let share = tolerance(&branch.law) / 2.0;
                    if share <= 0.0 {
                        return None;
                    }
                    Moved::by(&element(self.machine, branch, case.setting, case.config), share)?
                }
            };
            Some((net(id), moved))
        });
        let bridges = case.effects.iter().filter_map(|effect| match effect {
            Effect::Bridge(_, _, ohms) => Some(*ohms),
            _ => None,
        });
        let bridges = bridges
            .enumerate()
            .map(|(index, ohms)| (at.bridge(index), Moved::Ohms(Complex64::new(ohms * FAULT_OHMS_SPREAD, 0.0))));
        let squares = sound.chain(bridges).map(|(branch, moved)| {
            let part = effect(branch, moved);
            if part.is_finite() { part * part } else { 0.0 }
        });
        squares.sum()
    }
}

/// What a solution stands for, beside the network itself.
struct Case<'a> {
    effects: &'a [Effect],
    setting: &'a Setting,
    config: Config,
}

/// A one-sigma move of a branch's value.
#[derive(Clone, Copy, Debug)]
enum Moved {
    /// Of its impedance.
    Ohms(Complex64),
    /// Of its electromotive force.
    Volts(Complex64),
}

impl Moved {
    fn by(element: &circuit::Law, share: f64) -> Option<Self> {
        match element {
            _ if share <= 0.0 => None,
            circuit::Law::Impedance(z) => Some(Self::Ohms(z * share)),
            circuit::Law::Source { emf, .. } => Some(Self::Volts(emf * share)),
            circuit::Law::Open => None,
        }
    }

    fn through(self, adjoint: &Adjoint<'_>, branch: circuit::Branch) -> Complex64 {
        match self {
            Self::Ohms(dz) => adjoint.per_ohm(branch) * dz,
            Self::Volts(de) => adjoint.per_emf(branch) * de,
        }
    }
}

fn sets(effect: &Effect, branch: BranchId) -> bool {
    matches!(*effect, Effect::Ohms(b, _) | Effect::Scale(b, _) | Effect::Turn(b, _) | Effect::Open(b) if b == branch)
}

/// Gives the one-sigma move of a branch that a fault has set; a welded contact and an open are certain.
///
/// A burnt joint of 3 ohm stands for all burnt joints: common practice, no source.
fn fault_moved(effect: &Effect, scaled: impl FnOnce(f64) -> circuit::Law) -> Option<Moved> {
    match *effect {
        Effect::Ohms(_, ohms) if ohms > CERTAIN_OHMS => {
            Some(Moved::Ohms(Complex64::new(ohms * FAULT_OHMS_SPREAD, 0.0)))
        }
        Effect::Scale(_, factor) => Moved::by(&scaled(factor), FAULT_SCALE_SPREAD),
        _ => None,
    }
}

/// Gives the relative half-width (95 %) of a sound branch.
fn tolerance(law: &Law) -> f64 {
    match law {
        Law::Resistance(r) => r.tolerance,
        Law::Sensor { tolerance, .. }
        | Law::Winding { tolerance, .. }
        | Law::Capacitor { tolerance, .. }
        | Law::Source { tolerance, .. } => *tolerance,
        Law::Contact { .. } => 0.0,
    }
}

/// One-sigma share of the resistance that a fault gives a branch.
pub const FAULT_OHMS_SPREAD: f64 = 0.4;
/// One-sigma share of the factor that a fault gives a branch.
pub const FAULT_SCALE_SPREAD: f64 = 0.05;

/// Gives the part of a small phasor that changes the magnitude of a large one.
fn along(small: Complex64, large: Complex64) -> f64 {
    let size = magnitude(large);
    if size < 1e-12 { magnitude(small) } else { (small.re * large.re + small.im * large.im) / size }
}

fn degrees(phasor: Complex64) -> f64 {
    libm::atan2(phasor.im, phasor.re).to_degrees()
}
