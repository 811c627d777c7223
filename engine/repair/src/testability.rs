//! Which single faults nothing that can be read or watched tells apart, and which further point would part them.
//!
//! Two faults are told apart by a reading whose intervals, each holding 95 % of what the meter would show, do not meet, or
//! by a run that shows something else. Faults that one repair cures need not be. *Approximate because* faults of uncertain
//! size stand as described, and readings that only together part two faults are not weighed.

use crate::bench::Bench;
use crate::candidates::{Act, candidates};
use machine::Machine;
use machine::model::{FaultId, PartId, PartKind, StateId, TerminalId};
use prediction::{Condition, Meter, Predictor, Probe, Quantity, Reading, Shown};
use std::collections::{BTreeMap, BTreeSet};

/// What can be told apart on a machine.
#[derive(Clone, Debug)]
pub struct Testability {
    /// Single faults in all.
    pub faults: usize,
    /// Faults with which everything reads and runs as on a sound machine.
    pub silent: Vec<FaultId>,
    /// Faults that are not told apart, though each needs another repair.
    pub twins: Vec<Twins>,
}

/// Faults that nothing offered tells apart.
#[derive(Clone, Debug)]
pub struct Twins {
    /// The faults.
    pub faults: Vec<FaultId>,
    /// Chance that a look at the parts shows which it is: the best there is among them.
    pub look: f64,
    /// A reading at a further point that parts two of them, if any does.
    pub added: Option<Reading>,
}

/// Finds out what can be told apart when some points cannot be reached.
#[must_use]
pub fn testability(predictor: &Predictor<'_>, out_of_reach: &BTreeSet<TerminalId>) -> Testability {
    let machine = predictor.machine();
    let mut parted = Parted::of(predictor);
    for state in predictor.state_ids() {
        parted.by_run(state);
    }
    for reading in offered(machine, predictor.meter(), out_of_reach) {
        parted.by_reading(&reading);
    }
    let twins = parted.groups().into_iter().map(|faults| Twins {
        look: faults.iter().map(|fault| machine[*fault].visible).fold(0.0, f64::max),
        added: added(predictor, out_of_reach, &faults),
        faults,
    });
    Testability { faults: machine.faults.len(), silent: parted.silent(), twins: twins.collect() }
}

/// Lists every reading that is offered in any state.
fn offered(machine: &Machine, meter: &Meter, out_of_reach: &BTreeSet<TerminalId>) -> BTreeSet<Reading> {
    let parts: BTreeSet<PartId> = machine.faults.iter().map(|fault| fault.part).collect();
    let states = (0..machine.states.len()).map(|at| StateId(u16::try_from(at).unwrap_or(u16::MAX)));
    let acts = states.flat_map(|state| {
        let bench = Bench { trouble: vec![state], out_of_reach: out_of_reach.clone(), ..Bench::default() };
        candidates(machine, &bench, meter, &parts)
    });
    acts.filter_map(|act| if let Act::Read(reading, _) = act { Some(reading) } else { None }).collect()
}

/// Finds a reading that is not offered and parts two of the faults: at points that can be reached but lie apart, else at
/// points inside parts or out of reach.
fn added(predictor: &Predictor<'_>, out_of_reach: &BTreeSet<TerminalId>, faults: &[FaultId]) -> Option<Reading> {
    let machine = predictor.machine();
    let all = (0..machine.terminals.len()).map(|at| TerminalId(u16::try_from(at).unwrap_or(u16::MAX)));
    let house = |id: &TerminalId| {
        let kind = machine[machine[*id].part].kind;
        matches!(kind, PartKind::House | PartKind::Breaker | PartKind::Receptacle) || *id == machine.supply.earth
    };
    let hard = |id: &TerminalId| machine[*id].hidden || out_of_reach.contains(id);
    let mut points: Vec<TerminalId> = all.filter(|id| !house(id)).collect();
    points.sort_by_key(hard);
    let parts = |reading: &Reading| {
        let shown: Vec<Shown> = faults.iter().map(|fault| predictor.predict(reading, &[*fault]).shown).collect();
        shown.iter().enumerate().any(|(at, one)| {
            shown.iter().skip(at + 1).any(|other| apart(one, other, reading.quantity, predictor.meter()))
        })
    };
    let pairs: Vec<Probe> =
        points.iter().enumerate().flat_map(|(at, &b)| points[..at].iter().map(move |&a| Probe::Across(a, b))).collect();
    // What is read on the dead machine comes before what is read on the running one.
    let isolated = predictor.state_ids().map(|state| (Quantity::Ohms, Condition::isolated(state)));
    let running = predictor.state_ids().map(|state| (Quantity::Volts, Condition::running(state)));
    isolated.chain(running).find_map(|(quantity, condition)| {
        pairs.iter().map(|&probe| Reading { quantity, probe, condition: condition.clone() }).find(parts)
    })
}

/// Says whether what a meter shows would tell two predictions apart.
fn apart(one: &Shown, other: &Shown, quantity: Quantity, meter: &Meter) -> bool {
    let interval = |shown: &Shown| prediction::Prediction { shown: *shown }.interval(quantity, meter);
    let ((low, high), (other_low, other_high)) = (interval(one), interval(other));
    match (one, other) {
        (Shown::OverRange, Shown::OverRange) => false,
        _ => high < other_low || other_high < low,
    }
}

/// Which pairs of faults are told apart already; the last of all is the sound machine.
struct Parted<'p, 'm> {
    predictor: &'p Predictor<'m>,
    /// By pair, the lesser first: not told apart yet, and worth telling apart.
    open: BTreeSet<(usize, usize)>,
}

impl<'p, 'm> Parted<'p, 'm> {
    fn of(predictor: &'p Predictor<'m>) -> Self {
        let faults = &predictor.machine().faults;
        let sound = faults.len();
        let same = |a: usize, b: usize| b < sound && faults[a].repair == faults[b].repair;
        let open = (0..sound).flat_map(|a| (a + 1..=sound).map(move |b| (a, b))).filter(|&(a, b)| !same(a, b));
        Self { predictor, open: open.collect() }
    }

    fn set(&self, at: usize) -> Vec<FaultId> {
        let sound = at == self.predictor.machine().faults.len();
        if sound { Vec::new() } else { vec![FaultId(u16::try_from(at).unwrap_or(u16::MAX))] }
    }

    /// Those that are not yet told from every other, with what they show.
    fn shown<T>(&self, show: impl Fn(&[FaultId]) -> T) -> BTreeMap<usize, T> {
        let still: BTreeSet<usize> = self.open.iter().flat_map(|&(a, b)| [a, b]).collect();
        still.into_iter().map(|at| (at, show(&self.set(at)))).collect()
    }

    fn by_run(&mut self, state: StateId) {
        let seen = self.shown(|faults| self.predictor.observe(state, faults));
        self.open.retain(|(a, b)| seen[a] == seen[b]);
    }

    fn by_reading(&mut self, reading: &Reading) {
        let meter = self.predictor.meter();
        let shown = self.shown(|faults| self.predictor.predict(reading, faults).shown);
        self.open.retain(|(a, b)| !apart(&shown[a], &shown[b], reading.quantity, meter));
    }

    fn silent(&self) -> Vec<FaultId> {
        let sound = self.predictor.machine().faults.len();
        self.open.iter().filter(|(_, b)| *b == sound).flat_map(|&(a, _)| self.set(a)).collect()
    }

    /// Gives what hangs together of the pairs that are not told apart; what is silent is told elsewhere.
    fn groups(&self) -> Vec<Vec<FaultId>> {
        let sound = self.predictor.machine().faults.len();
        let silent: BTreeSet<usize> = self.open.iter().filter(|(_, b)| *b == sound).map(|(a, _)| *a).collect();
        let mut groups: Vec<BTreeSet<usize>> = Vec::new();
        for &(a, b) in self.open.iter().filter(|(a, b)| *b != sound && !silent.contains(a) && !silent.contains(b)) {
            let (mut joined, rest): (Vec<_>, Vec<_>) =
                groups.into_iter().partition(|group| group.contains(&a) || group.contains(&b));
            let mut group: BTreeSet<usize> = joined.drain(..).flatten().collect();
            group.extend([a, b]);
            groups = rest;
            groups.push(group);
        }
        groups.sort();
        groups.iter().map(|group| group.iter().flat_map(|&at| self.set(at)).collect()).collect()
    }
}
