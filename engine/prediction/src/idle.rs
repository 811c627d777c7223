//! Which faults cannot show beside another: what they touch carries no current and parts nothing that is looked at.
//!
//! With one fault laid (or none), a run passes through certain configurations. A branch that conducts in each of them
//! and lies on no loop carries no current; opening it or changing its resistance moves no other current, and no voltage
//! but one that is taken across it. So two faults are one, exactly, wherever one of them touches such branches alone.
//! Decided on the graph; no solution is compared. Of ten pairs six to nine are answered so.

use crate::predictor::{Base, BaseKey, Predictor};
use crate::reading::{Probe, Quantity, Reading};
use crate::settle::{CERTAIN_OHMS, Config, Size, effects_of, hold};
use crate::wiring::{changes, element, net, node_of};
use circuit::{Change, Cuts, Node};
use machine::faults::{Effect, Fault};
use machine::model::{BranchId, FaultId, FlagId, FlagRule, Law, Machine, Need, Observed, Rule, StateId};
use std::collections::{BTreeMap, BTreeSet};
use std::rc::Rc;

/// What is idle in a run with a fault, or without one.
pub(crate) type InRuns = BTreeMap<(StateId, Option<FaultId>), Rc<InRun>>;

/// What is idle for a reading with a fault, or without one.
pub(crate) type InReadings = BTreeMap<Reading, BTreeMap<Option<FaultId>, Rc<Idle>>>;

/// A configuration, the leads lifted in it, the fault laid and the build.
type Place = (BaseKey, Vec<BranchId>, Option<FaultId>, usize);

/// The loops and cuts of the networks that were read; `None` for one that has none.
pub(crate) type Graphs = BTreeMap<Place, Option<Rc<Cuts>>>;

/// What faults, one by one, would change nothing beside the one laid: by fault of the machine.
#[derive(Clone, Debug)]
pub(crate) struct Idle(Vec<bool>);

impl Idle {
    fn all(machine: &Machine) -> Self {
        Self(vec![true; machine.faults.len()])
    }

    fn both(&mut self, other: &Self) {
        self.0.iter_mut().zip(&other.0).for_each(|(own, other)| *own &= other);
    }
}

/// What is idle in a run: for where it comes to rest, and for what is noticed there.
#[derive(Debug)]
pub(crate) struct InRun {
    rest: Idle,
    noticed: Idle,
}

/// What is looked at in a network.
#[derive(Clone, Copy)]
enum Look {
    /// The flags of a run.
    Flags,
    /// What is noticed: what stands still without a circuit, and displays held dark, too.
    Noticed,
    /// A meter; with `floating`, one that shows something even where nothing ties its leads together.
    Meter { floating: bool },
}

/// One network with the fault laid.
struct Laid<'a> {
    machine: &'a Machine,
    base: &'a Base,
    cuts: Rc<Cuts>,
    config: Config,
    plugged: bool,
    /// Branches that the fault itself has set, or the reading has lifted.
    set: Vec<BranchId>,
}

/// A network with the fault laid, and what is looked at in it.
struct Still<'a> {
    laid: &'a Laid<'a>,
    look: Look,
    across: &'a [(Node, Node)],
    /// By branch: some of what is looked at is parted by it.
    parts: Vec<bool>,
    /// Some output waits for the work of a part.
    felt: bool,
    /// What may float between two islands is looked at: it depends on all that hangs on them.
    floats: bool,
}

impl<'a> Still<'a> {
    fn of(laid: &'a Laid<'a>, look: Look, across: &'a [(Node, Node)]) -> Self {
        let cuts = &laid.cuts;
        let mut parts = vec![false; laid.machine.branches.len()];
        let source = |cut: &circuit::Branch| {
            laid.machine.branches.get(cut.0 as usize).is_some_and(|b| matches!(b.law, Law::Source { .. }))
        };
        for &(a, b) in across {
            let between = cuts.between(a, b);
            // Without current there is no voltage along cuts; a run tells that from no connection no more than it is.
            let nothing = !matches!(look, Look::Meter { .. }) && cuts.tied_by_cuts(a, b);
            if nothing && !between.iter().any(source) {
                continue;
            }
            for cut in between {
                if let Some(parts) = parts.get_mut(cut.0 as usize) {
                    *parts = true;
                }
            }
        }
        let floats = matches!(look, Look::Meter { floating: true }) && across.iter().any(|&(a, b)| !cuts.tied(a, b));
        let felt = matches!(look, Look::Flags) && laid.machine.flags.iter().any(|flag| feels(&flag.rule));
        Self { laid, look, across, parts, felt, floats }
    }

    fn idle(&self) -> Idle {
        Idle(self.laid.machine.faults.iter().map(|fault| self.hides_fault(fault)).collect())
    }

    fn hides_fault(&self, fault: &Fault) -> bool {
        let node = |terminal| node_of(self.laid.machine, terminal);
        match *fault.effects {
            // Several of them could close a loop together, one alone cannot.
            [Effect::Bridge(a, b, _)] => self.joins(node(a), node(b)),
            [Effect::Ohms(branch, _)] if self.open(branch) => self.pulled(branch) || self.closes_nothing(branch),
            ref effects => effects.iter().all(|effect| self.hides(effect)),
        }
    }

    fn hides(&self, effect: &Effect) -> bool {
        let noticed = matches!(self.look, Look::Noticed);
        match *effect {
            Effect::Open(branch) | Effect::Scale(branch, _) | Effect::Turn(branch, _) => {
                self.open(branch) || self.idles(branch)
            }
            Effect::Ohms(branch, ohms) => self.idles(branch) || self.pulled(branch) || self.has(branch, ohms),
            Effect::Hold(flag, false) => {
                let shows = noticed && on_display(self.laid.machine, flag);
                !shows && !self.laid.config.stands(flag)
            }
            Effect::Stops(_) | Effect::Weakens(_) => !noticed && !self.felt,
            Effect::Hold(_, true) | Effect::Bridge(..) => false,
        }
    }

    fn law(&self, branch: BranchId) -> &Law {
        &self.laid.machine.branches[branch.index()].law
    }

    /// Says whether a branch conducts, carries no current and parts nothing that is looked at.
    ///
    /// A source moves voltages without current, and a sensor is felt by its control.
    fn idles(&self, branch: BranchId) -> bool {
        self.laid.cuts.is_cut(net(branch))
            && !self.floats
            && !self.parts[branch.index()]
            && !self.laid.set.contains(&branch)
            && !matches!(self.law(branch), Law::Source { .. } | Law::Sensor { .. })
    }

    fn open(&self, branch: BranchId) -> bool {
        !self.laid.cuts.conducts(net(branch)) && !self.laid.set.contains(&branch)
    }

    fn pulled(&self, branch: BranchId) -> bool {
        !self.laid.plugged && self.laid.machine.supply.plug.contains(&branch)
    }

    /// Says whether a contact moved by no warmth is closed and has just this resistance: welding it changes nothing.
    fn has(&self, branch: BranchId, welded_ohms: f64) -> bool {
        let contact =
            matches!(self.law(branch), Law::Contact { rule, .. } if !matches!(rule, Rule::Temperature { .. }));
        let law = circuit::Law::ohms(welded_ohms);
        let (machine, base) = (self.laid.machine, self.laid.base);
        contact
            && welded_ohms <= CERTAIN_OHMS
            && !self.laid.set.contains(&branch)
            && !self.pulled(branch)
            && element(machine, &machine.branches[branch.index()], &base.setting, self.laid.config) == law
    }

    fn closes_nothing(&self, branch: BranchId) -> bool {
        let machine = self.laid.machine;
        let branch = &machine.branches[branch.index()];
        self.joins(node_of(machine, branch.from), node_of(machine, branch.to))
    }

    /// Says whether a connection joins two islands between which nothing is looked at: it would carry no current.
    fn joins(&self, a: Node, b: Node) -> bool {
        let cuts = &self.laid.cuts;
        let spans =
            |&(c, d): &(Node, Node)| (cuts.tied(a, c) && cuts.tied(b, d)) || (cuts.tied(a, d) && cuts.tied(b, c));
        !self.floats && !cuts.tied(a, b) && !self.across.iter().any(spans)
    }
}

/// A display goes dark with a fault that holds its flag down, whether or not the flag would stand.
fn on_display(machine: &Machine, flag: FlagId) -> bool {
    machine.observations.iter().any(|o| matches!(o.of, Observed::Shows { alive, .. } if alive == flag))
}

impl Predictor<'_> {
    /// Gives the faults without one that cannot change where this state rests; `None` where each of them may.
    pub(crate) fn felt_in_run<'f>(&self, state: StateId, faults: &'f [FaultId]) -> Option<&'f [FaultId]> {
        self.without_one(faults, |fault, left| self.idle_in_run(state, left).rest.0[fault.index()])
    }

    /// Gives the faults without one that cannot be noticed in a run of this state; `None` where each of them may.
    pub(crate) fn seen_in_run<'f>(&self, state: StateId, faults: &'f [FaultId]) -> Option<&'f [FaultId]> {
        self.without_one(faults, |fault, left| self.idle_in_run(state, left).noticed.0[fault.index()])
    }

    /// Gives the faults without one that cannot show in this reading; `None` where each of them may.
    pub(crate) fn seen_in_reading<'f>(&self, reading: &Reading, faults: &'f [FaultId]) -> Option<&'f [FaultId]> {
        self.without_one(faults, |fault, left| self.idle_in_reading(reading, left).0[fault.index()])
    }

    fn without_one<'f>(
        &self,
        faults: &'f [FaultId],
        hidden: impl Fn(FaultId, Option<FaultId>) -> bool,
    ) -> Option<&'f [FaultId]> {
        #[cfg(test)]
        if self.each_for_itself {
            return None;
        }
        match *faults {
            [fault] => hidden(fault, None).then_some(&[]),
            [one, other] if hidden(one, Some(other)) => Some(&faults[1..]),
            [one, other] if hidden(other, Some(one)) => Some(&faults[..1]),
            _ => None,
        }
    }

    fn idle_in_run(&self, state: StateId, left: Option<FaultId>) -> Rc<InRun> {
        if let Some(idle) = self.idle_runs.borrow().get(&(state, left)) {
            return Rc::clone(idle);
        }
        let idle = Rc::new(self.find_idle_in_run(state, left));
        self.idle_runs.borrow_mut().insert((state, left), Rc::clone(&idle));
        idle
    }

    fn find_idle_in_run(&self, state: StateId, left: Option<FaultId>) -> InRun {
        let (machine, faults) = (self.machine(), left.as_slice());
        let mut rest = match machine.states[state.index()].entered_from {
            Some(before) => self.idle_in_run(before, left).rest.clone(),
            None => Idle::all(machine),
        };
        let mut noticed = Idle::all(machine);
        let (flags, watched) = (flags_look(machine), watched(machine, state));
        let rests = self.rests(state, faults);
        let sizes = Size::of(machine, faults).into_iter();
        let steps =
            |size: Size| self.trail(state, faults, size).to_vec().into_iter().map(move |step| (size.build(), step));
        let passed: BTreeSet<(usize, (bool, Config))> = sizes.flat_map(steps).collect();
        for (build, (pressed, config)) in passed {
            let also = !pressed && rests.contains(&(build, config));
            let key = (state, pressed, true, false, config);
            let base = self.base(key);
            let walk = |base| Some(Rc::new(self.walk(base, key, (faults, build), &[])?));
            let laid = base.as_ref().and_then(|base| Some(self.lay((base, walk(base)?), key, (faults, build), &[])));
            let Some(laid) = laid else {
                rest = Idle(vec![false; machine.faults.len()]);
                continue;
            };
            rest.both(&Still::of(&laid, Look::Flags, &flags).idle());
            if also {
                noticed.both(&Still::of(&laid, Look::Noticed, &watched).idle());
            }
        }
        noticed.both(&rest);
        InRun { rest, noticed }
    }

    /// Gives the builds and the configurations in which a state rests with these faults of any size.
    fn rests(&self, state: StateId, faults: &[FaultId]) -> BTreeSet<(usize, Config)> {
        let sizes = Size::of(self.machine(), faults).into_iter();
        sizes.map(|size| (size.build(), self.settle_sized(state, faults, size).config)).collect()
    }

    fn idle_in_reading(&self, reading: &Reading, left: Option<FaultId>) -> Rc<Idle> {
        if let Some(idle) = self.idle_readings.borrow().get(reading).and_then(|known| known.get(&left)) {
            return Rc::clone(idle);
        }
        let idle = Rc::new(self.find_idle_in_reading(reading, left));
        let mut readings = self.idle_readings.borrow_mut();
        if !readings.contains_key(reading) {
            readings.insert(reading.clone(), BTreeMap::new());
        }
        if let Some(known) = readings.get_mut(reading) {
            known.insert(left, Rc::clone(&idle));
        }
        idle
    }

    fn find_idle_in_reading(&self, reading: &Reading, left: Option<FaultId>) -> Idle {
        let (machine, faults, condition) = (self.machine(), left.as_slice(), &reading.condition);
        let (mut idle, configs) = if condition.plugged {
            (self.idle_in_run(condition.state, left).rest.clone(), self.rests(condition.state, faults))
        } else {
            let sizes = Size::of(machine, &[]).into_iter();
            let held = |size| hold(&effects_of(machine, faults, size), Config::default());
            (Idle::all(machine), sizes.map(|size| (size.build(), held(size))).collect())
        };
        let across = match reading.probe {
            Probe::Across(a, b) => vec![(node_of(machine, a), node_of(machine, b))],
            Probe::Around(_) => Vec::new(),
        };
        let direct = reading.quantity == Quantity::Ohms;
        for (build, config) in configs {
            let key = (condition.state, false, condition.plugged, direct, config);
            let base = self.base(key);
            let graph = |base| self.graph(base, (key, condition.lifted.clone(), left, build));
            let laid = base
                .as_ref()
                .and_then(|base| Some(self.lay((base, graph(base)?), key, (faults, build), &condition.lifted)));
            idle.both(&match laid {
                Some(laid) => {
                    Still::of(&laid, Look::Meter { floating: !reading.quantity.isolated_only() }, &across).idle()
                }
                None => Idle(vec![false; machine.faults.len()]),
            });
        }
        idle
    }

    /// Gives the graph of a network that is read; readings of one condition share it.
    fn graph(&self, base: &Base, place: Place) -> Option<Rc<Cuts>> {
        if let Some(graph) = self.graphs.borrow().get(&place) {
            return graph.clone();
        }
        let graph = self.walk(base, place.0, (place.2.as_slice(), place.3), &place.1).map(Rc::new);
        self.graphs.borrow_mut().insert(place, graph.clone());
        graph
    }

    fn walk(
        &self,
        base: &Base,
        key: BaseKey,
        (faults, build): (&[FaultId], usize),
        lifted: &[BranchId],
    ) -> Option<Cuts> {
        let effects = effects_of(self.machine(), faults, Size::in_build(build));
        let mut made = changes(self.machine(), &effects, &base.setting, key.4);
        made.extend(lifted.iter().map(|&lead| Change::Law(net(lead), circuit::Law::Open)));
        base.solved.cuts(&made).ok()
    }

    fn lay<'b>(
        &'b self,
        (base, cuts): (&'b Base, Rc<Cuts>),
        (.., plugged, _, config): BaseKey,
        (faults, build): (&[FaultId], usize),
        lifted: &[BranchId],
    ) -> Laid<'b> {
        let machine = self.machine();
        let effects = effects_of(machine, faults, Size::in_build(build));
        let set = effects.into_iter().filter_map(|effect| match effect {
            Effect::Open(branch) | Effect::Ohms(branch, _) | Effect::Scale(branch, _) | Effect::Turn(branch, _) => {
                Some(branch)
            }
            Effect::Bridge(..) | Effect::Hold(..) | Effect::Stops(_) | Effect::Weakens(_) => None,
        });
        let set = set.chain(lifted.iter().copied()).collect();
        Laid { machine, base, cuts, config, plugged, set }
    }
}

/// Gives the pairs of points whose voltage moves a flag.
fn flags_look(machine: &Machine) -> Vec<(Node, Node)> {
    let mut looks = Vec::new();
    for flag in &machine.flags {
        match &flag.rule {
            FlagRule::Motor { run: branch, .. } | FlagRule::Coil { branch, .. } => {
                let branch = &machine.branches[branch.index()];
                looks.push((node_of(machine, branch.from), node_of(machine, branch.to)));
            }
            FlagRule::Output { needs, .. } => looks.extend(needs.iter().filter_map(|need| volts(machine, need))),
            // Currents alone move these.
            FlagRule::Breaker { .. } | FlagRule::Residual { .. } => {}
        }
    }
    looks
}

/// Gives the pairs of points whose voltage is noticed in a state.
///
/// The watts of a branch are none of them: without current there are none, whatever it is parted from.
fn watched(machine: &Machine, state: StateId) -> Vec<(Node, Node)> {
    // A motor that hums is told by the volts over its winding.
    let mut looks = flags_look(machine);
    let frame = (node_of(machine, machine.supply.frame), node_of(machine, machine.supply.earth));
    for observation in machine.observations.iter().filter(|o| o.states.contains(&state)) {
        match &observation.of {
            Observed::Tingles => looks.push(frame),
            Observed::Shows { supply, rules, .. } => {
                let asked = rules.iter().flat_map(|rule| rule.with.iter().chain(&rule.without));
                looks.extend(asked.chain([supply]).filter_map(|need| volts(machine, need)));
            }
            _ => {}
        }
    }
    looks
}

/// Says whether a flag waits for the work of a part.
fn feels(rule: &FlagRule) -> bool {
    matches!(rule, FlagRule::Output { needs, .. } if needs.iter().any(|need| matches!(need, Need::Works { .. })))
}

fn volts(machine: &Machine, need: &Need) -> Option<(Node, Node)> {
    match need {
        Need::Volts { from, to, .. } => Some((node_of(machine, *from), node_of(machine, *to))),
        Need::Sense { .. } | Need::Works { .. } => None,
    }
}

#[cfg(test)]
mod tests;
