//! One unit: what it does in a state, what a look shows, what a repair cures, whether it is sound.

use crate::dice::Dice;
use crate::draw::DrawSettings;
use crate::fickle::Fickle;
use crate::meter::{MeterKind, OwnMeter};
use crate::misdescribed::Peculiarity;
use crate::settle::Rest;
use crate::values::{Values, stated};
use crate::wire::Body;
use machine::faults::{Effect, RepairKind};
use machine::model::{BranchId, FaultId, Machine, ObservationId, PartId, RepairId, StateId, ZoneId};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// What is noticed in each state of a sound machine, by state.
pub(crate) type Sound = Rc<Vec<Vec<(ObservationId, u8)>>>;

/// States at rest, by state, faults and whether the peculiarity is still there.
type Rested = BTreeMap<(StateId, Vec<FaultId>, bool), Rest>;

/// One appliance with its own values, faults and technician's meter.
#[derive(Clone, Debug)]
pub struct Unit<'m> {
    machine: &'m Machine,
    seed: u64,
    settings: DrawSettings,
    values: Values,
    faults: Vec<(FaultId, Vec<Effect>)>,
    pub(crate) fickle: Fickle,
    peculiarity: Option<Peculiarity>,
    /// What is otherwise than described because this unit is another build: no fault of it.
    pub(crate) build: Vec<Effect>,
    meter: OwnMeter,
    sound: Sound,
    /// Times that each reading was taken, by its words.
    readings: BTreeMap<Vec<u64>, u64>,
    /// Times that each repair was done.
    repairs: BTreeMap<RepairId, u64>,
    /// States brought to rest, by state and by the faults there were; clones of one unit share it.
    rested: Rc<RefCell<Rested>>,
}

/// What came of a repair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repaired {
    /// Faults that it cured.
    pub cured: Vec<FaultId>,
    /// It would have cured, but the new part was bad.
    pub bad_part: bool,
}

/// Words that keep the streams of chance apart.
const LOOK: u64 = 21;
const PART: u64 = 22;

impl<'m> Unit<'m> {
    /// Makes a unit exactly as described, with these faults as described, read with a meter without errors.
    #[must_use]
    pub fn nominal(machine: &'m Machine, faults: &[FaultId]) -> Self {
        let faults = faults.iter().map(|&fault| (fault, stated(machine, fault))).collect();
        let meter = OwnMeter::exact(MeterKind::ordinary());
        let settings = DrawSettings { bad_part: 0.0, false_look: 0.0, ..DrawSettings::default() };
        Self::of(machine, 0, settings, Values::nominal(machine), faults, meter, Rc::default())
    }

    /// Makes a unit exactly as described but for these faults, each with effects of the caller's own choice.
    #[must_use]
    pub fn with_effects(machine: &'m Machine, faults: Vec<(FaultId, Vec<Effect>)>) -> Self {
        Self { faults, ..Self::nominal(machine, &[]) }
    }

    pub(crate) fn of(
        machine: &'m Machine,
        seed: u64,
        settings: DrawSettings,
        values: Values,
        faults: Vec<(FaultId, Vec<Effect>)>,
        meter: OwnMeter,
        sound: Sound,
    ) -> Self {
        let (peculiarity, build, readings, repairs, rested) = Default::default();
        let fickle = Fickle::default();
        Self {
            machine,
            seed,
            settings,
            values,
            faults,
            fickle,
            peculiarity,
            build,
            meter,
            sound,
            readings,
            repairs,
            rested,
        }
    }

    /// Gives the machine it is one of.
    #[must_use]
    pub fn machine(&self) -> &'m Machine {
        self.machine
    }

    /// Gives the faults it has now: the truth, for judging and never for the technician.
    #[must_use]
    pub fn faults(&self) -> Vec<FaultId> {
        self.faults.iter().map(|(fault, _)| *fault).collect()
    }

    /// Makes it another build of the machine: sound is what such a one does.
    #[must_use]
    pub fn built(self, effects: &[Effect]) -> Self {
        if effects == self.build.as_slice() {
            return self;
        }
        let (build, sound) = (effects.to_vec(), Rc::default());
        Self { build, sound, rested: Rc::default(), ..self }
    }

    /// Gives a unit of the same build exactly as described, without faults.
    fn as_it_should_be(&self) -> Self {
        Unit::nominal(self.machine, &[]).built(&self.build)
    }

    /// Makes it differ from its description in this one thing.
    #[must_use]
    pub(crate) fn peculiar(self, peculiarity: Peculiarity) -> Self {
        Self { peculiarity: Some(peculiarity), rested: Rc::default(), ..self }
    }

    /// Gives the one thing in which it still differs from its description: for judging and never for the technician.
    #[must_use]
    pub fn peculiarity(&self) -> Option<&Peculiarity> {
        self.peculiarity.as_ref()
    }

    /// Gives what is noticed in a state, as a careful person notices it, in the machine's order.
    #[must_use]
    pub fn observe(&self, state: StateId) -> Vec<(ObservationId, u8)> {
        let rest = self.rest(state);
        self.with_body(|body| body.notice(state, &rest))
    }

    /// Gives the temperature of a zone so many seconds after this state was switched on from rest, °C; `None` where the
    /// description does not say how it warms up, or nothing settles.
    #[must_use]
    pub fn celsius_after(&self, state: StateId, zone: ZoneId, seconds: f64) -> Option<f64> {
        let rest = self.rest(state);
        self.with_body(|body| body.celsius_after(zone, state, &rest, seconds))
    }

    /// Gives, beside each thing of [`Self::observe`], what lies beyond the nearest limit of the power that decides it, with
    /// how far off that limit is as a share of it; nothing for what no power decides.
    #[must_use]
    pub fn nearest_limits(&self, state: StateId) -> Vec<Option<(u8, f64)>> {
        let rest = self.rest(state);
        self.with_body(|body| body.nearest_limits(state, &rest))
    }

    /// Gives the flags that stand in a state at rest.
    #[must_use]
    pub fn flags(&self, state: StateId) -> Vec<bool> {
        self.rest(state).flags
    }

    /// Looks closely at a part and says whether it shows damage.
    ///
    /// Whether a fault can be seen is drawn once for the unit: looking again shows the same.
    #[must_use]
    pub fn look(&self, part: PartId) -> bool {
        !self.damage(part).is_empty() || self.misleads(part)
    }

    /// Gives the faults of a part that a close look shows, for one who knows what each looks like.
    #[must_use]
    pub fn damage(&self, part: PartId) -> Vec<FaultId> {
        let shows = |fault: FaultId| {
            let described = &self.machine.faults[fault.index()];
            let mut dice = Dice::of(self.seed, &[LOOK, 1, u64::from(fault.0)]);
            described.part == part && dice.chance(described.visible)
        };
        self.faults().into_iter().filter(|&fault| shows(fault)).collect()
    }

    /// Says whether a part looks damaged though it is not; a new part is looked at afresh.
    #[must_use]
    pub fn misleads(&self, part: PartId) -> bool {
        let replaces = |repair: RepairId| {
            let repair = &self.machine.repairs[repair.index()];
            repair.kind == RepairKind::Replace && (repair.part == part || repair.together.contains(&part))
        };
        let renewed: u64 = self.repairs.iter().filter(|(repair, _)| replaces(**repair)).map(|(_, times)| times).sum();
        Dice::of(self.seed, &[LOOK, 0, u64::from(part.0), renewed]).chance(self.settings.false_look)
    }

    /// Does a repair: every fault that it cures is gone, unless the new part is bad. A part or lead renewed is as
    /// described from then on.
    pub fn repair(&mut self, repair: RepairId) -> Repaired {
        let times = self.repairs.entry(repair).or_default();
        *times += 1;
        let machine = self.machine;
        let new_part = machine.repairs[repair.index()].kind == RepairKind::Replace;
        let bad = new_part && Dice::of(self.seed, &[PART, u64::from(repair.0), *times]).chance(self.settings.bad_part);
        let touched = self.faults.iter().map(|(fault, _)| *fault);
        let touched: Vec<FaultId> = touched.filter(|f| machine.faults[f.index()].repair == repair).collect();
        if let Some(peculiarity) = &self.peculiarity
            && peculiarity.parts.contains(&machine.repairs[repair.index()].part)
        {
            self.peculiarity = None;
        }
        if bad || touched.is_empty() {
            return Repaired { bad_part: bad && !touched.is_empty(), cured: Vec::new() };
        }
        self.faults.retain(|(fault, _)| !touched.contains(fault));
        Repaired { cured: touched, bad_part: false }
    }

    /// Says whether every state goes as on a sound machine, whatever hides now.
    #[must_use]
    pub fn sound(&self) -> bool {
        if !self.fickle.hidden.is_empty() {
            return self.at_its_worst().sound();
        }
        (self.faults.is_empty() && self.peculiarity.is_none()) || !self.state_ids().any(|state| self.differs(state))
    }

    /// Says whether something in this state goes otherwise than on a sound machine.
    #[must_use]
    pub fn differs(&self, state: StateId) -> bool {
        match self.sound.get(state.index()) {
            Some(sound) => self.observe(state) != *sound,
            None => self.observe(state) != self.as_it_should_be().observe(state),
        }
    }

    /// Gives what is noticed in this state on a sound machine.
    #[must_use]
    pub fn sound_in(&self, state: StateId) -> Vec<(ObservationId, u8)> {
        match self.sound.get(state.index()) {
            Some(sound) => sound.clone(),
            None => self.as_it_should_be().observe(state),
        }
    }

    /// Gives every state's id in order.
    pub fn state_ids(&self) -> impl Iterator<Item = StateId> + use<> {
        (0..self.machine.states.len()).map_while(|index| u16::try_from(index).ok().map(StateId))
    }

    /// Gives its faults with their sizes.
    pub(crate) fn own_faults(&self) -> &[(FaultId, Vec<Effect>)] {
        &self.faults
    }

    /// Gives the same unit with a meter of the same kind that errs in nothing.
    #[must_use]
    pub fn exactly_read(&self) -> Self {
        Self { meter: OwnMeter::exact(self.settings.meter), ..self.clone() }
    }

    /// Gives the same unit with these faults in the place of its own.
    pub(crate) fn having(&self, faults: Vec<(FaultId, Vec<Effect>)>) -> Self {
        Self { faults, ..self.clone() }
    }

    pub(crate) fn seed(&self) -> u64 {
        self.seed
    }

    pub(crate) fn meter(&self) -> &OwnMeter {
        &self.meter
    }

    pub(crate) fn count_reading(&mut self, words: &[u64]) -> u64 {
        let times = self.readings.entry(words.to_vec()).or_default();
        *times += 1;
        *times
    }

    pub(crate) fn with_body<R>(&self, then: impl FnOnce(&Body<'_>) -> R) -> R {
        let showing = self.faults.iter().filter(|(fault, _)| !self.fickle.hidden.contains(fault));
        let of_faults = showing.flat_map(|(_, effects)| effects.iter().copied());
        let peculiar = self.peculiarity.iter().flat_map(|peculiarity| peculiarity.effects.iter().copied());
        let effects: Vec<Effect> = self.build.iter().copied().chain(of_faults).chain(peculiar).collect();
        then(&Body { machine: self.machine, values: &self.values, effects: &effects, build: &self.build })
    }

    /// Gives the flags while a reading is taken; unplugged, everything has fallen back.
    pub(crate) fn flags_for(&self, state: StateId, plugged: bool, lifted: &[BranchId]) -> Vec<bool> {
        if !plugged {
            self.with_body(|body| body.flags_down())
        } else if lifted.is_empty() {
            self.rest(state).flags
        } else {
            self.with_body(|body| rest_through(body, state, lifted).flags)
        }
    }

    fn rest(&self, state: StateId) -> Rest {
        let key = (state, self.showing(), self.peculiarity.is_some());
        if let Some(rest) = self.rested.borrow().get(&key) {
            return rest.clone();
        }
        let before = self.machine.states[state.index()].entered_from.map(|before| self.rest(before).flags);
        let rest = self.with_body(|body| {
            let before = before.unwrap_or_else(|| vec![false; self.machine.flags.len()]);
            body.rest(state, &before, &[])
        });
        self.rested.borrow_mut().insert(key, rest.clone());
        rest
    }
}

/// Brings a state to rest through all the states on the way to it, with leads off.
fn rest_through(body: &Body<'_>, state: StateId, lifted: &[BranchId]) -> Rest {
    let before = match body.machine.states[state.index()].entered_from {
        Some(before) => rest_through(body, before, lifted).flags,
        None => vec![false; body.machine.flags.len()],
    };
    body.rest(state, &before, lifted)
}
