//! Counts what a call takes: minutes of hands, covers, energy, readings. One ledger for every technician, written apart
//! from the planner, on `teardown` and the prices alone.
//!
//! The rules: a cover comes off with the machine isolated; to run, what must be on to run is put back first; a clipped
//! reading leaves the machine isolated again. Danger and money are no minutes and are not counted here.

use crate::hands::Hand;
use machine::Machine;
use machine::faults::RepairKind;
use machine::model::{PartId, PartKind, PlaceId, RepairId, StateId, TerminalId};
use prediction::{Probe, Reading};
use repair::candidates::{lifted_end, places};
use repair::{Act, Hands, Prices};
use std::collections::BTreeSet;
use teardown::{Act as Cover, Open, Step, close_to_run, legal_order, minutes_to_close, plan_teardown, way_back};

/// What was counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Counts {
    /// Readings on the isolated machine.
    pub readings: u32,
    /// Readings clipped on dead and read standing clear.
    pub clipped_readings: u32,
    /// Readings by hand inside the open energised machine: no technician here takes any.
    pub open_energised_probing: u32,
    /// Readings at the receptacle, and one for each time the machine is proved dead.
    pub supply_and_proving_readings: u32,
    /// Looks.
    pub looks: u32,
    /// States run and watched.
    pub tries: u32,
    /// Covers taken off.
    pub covers_off: u32,
    /// Repairs done.
    pub repairs: u32,
    /// Work points proved dead, each conductor to every other and to a proven earth.
    pub proved_dead: u32,
}

/// The running account of one call.
#[derive(Clone, Debug)]
pub struct Ledger<'a> {
    machine: &'a Machine,
    prices: &'a Prices,
    open: Open,
    isolated: bool,
    minutes: f64,
    counts: Counts,
    /// Conductors measured dead since the machine was last on.
    dead: BTreeSet<TerminalId>,
    trail: Vec<Hand>,
}

impl<'a> Ledger<'a> {
    /// Starts at arrival: everything closed, plugged in.
    #[must_use]
    pub fn new(machine: &'a Machine, prices: &'a Prices) -> Self {
        let (counts, dead, trail) = Default::default();
        Self { machine, prices, open: Open::nothing(), isolated: false, minutes: 0.0, counts, dead, trail }
    }

    /// Gives the minutes since arrival.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        self.minutes
    }

    /// Gives what was counted.
    #[must_use]
    pub fn counts(&self) -> Counts {
        self.counts
    }

    /// Takes what hands have done since this was last asked, in order.
    pub fn take_trail(&mut self) -> Vec<Hand> {
        std::mem::take(&mut self.trail)
    }

    /// Gives the covers that are off.
    #[must_use]
    pub fn open(&self) -> &Open {
        &self.open
    }

    /// Says whether the machine is isolated and proved dead.
    #[must_use]
    pub fn isolated(&self) -> bool {
        self.isolated
    }

    /// Takes a reading or a look; other acts cost nothing here.
    pub fn find(&mut self, act: &Act) {
        match act {
            Act::Read(reading, hands) => {
                self.isolate();
                self.reach(&places(self.machine, act));
                match hands {
                    Hands::Isolated => {
                        let set = if reading.condition.state == StateId(0) { 0.0 } else { self.prices.set_controls };
                        let leads = reading.condition.lifted.len() as f64;
                        self.minutes += self.prices.reading + set + self.prices.lift_lead * leads;
                        self.counts.readings += 1;
                        let touched = touched(self.machine, reading);
                        self.touch(touched);
                    }
                    Hands::Supply => {
                        if let Probe::Across(a, b) = reading.probe {
                            self.trail.push(Hand::ReadSupply(a, b));
                        }
                        self.minutes += self.prices.supply_reading;
                        self.counts.supply_and_proving_readings += 1;
                    }
                    Hands::Clipped => {
                        let state = &self.machine.states[reading.condition.state.index()];
                        self.minutes += self.prices.clipped + state.minutes;
                        self.counts.clipped_readings += 1;
                        self.clip(reading);
                    }
                }
            }
            Act::Look(_) => {
                self.isolate();
                self.reach(&places(self.machine, act));
                self.minutes += self.prices.look;
                self.counts.looks += 1;
                self.trail.extend(places(self.machine, act).into_iter().map(Hand::Look));
            }
            Act::Try(_) | Act::Change(_) | Act::Explain | Act::Refer => {}
        }
    }

    /// Takes the cheapest reading there is, where the hands are; a look instead where a look would do.
    pub(crate) fn confirm(&mut self, a_look_does: bool) {
        self.isolate();
        let reading = self.prices.reading.min(self.prices.supply_reading);
        self.minutes += if a_look_does { reading.min(self.prices.look) } else { reading };
    }

    /// Runs a state and watches it.
    pub fn run(&mut self, state: StateId) {
        self.energise();
        self.minutes += self.machine.states[state.index()].minutes + WATCH_MINUTES;
        self.counts.tries += 1;
        self.trail.push(Hand::Run(state));
    }

    /// Gets to where a repair is done and gives the minutes at which it starts.
    pub fn start_repair(&mut self, repair: RepairId) -> f64 {
        if self.machine.repairs[repair.index()].kind != RepairKind::Refer {
            self.isolate();
            self.reach(&places(self.machine, &Act::Change(repair)));
            let handled = handled(self.machine, repair);
            self.prove_dead(&handled);
            self.trail.push(Hand::Repair(repair));
        }
        self.minutes
    }

    /// Does the repair that was got to.
    pub fn finish_repair(&mut self, repair: RepairId) {
        let repair = &self.machine.repairs[repair.index()];
        self.minutes += if repair.kind == RepairKind::Refer { REFER_MINUTES } else { repair.minutes };
        self.counts.repairs += u32::from(repair.kind != RepairKind::Refer);
    }

    /// Explains the use.
    pub fn explain(&mut self) {
        self.energise();
        self.minutes += self.prices.explain;
    }

    /// Hands the job on.
    pub fn refer(&mut self) {
        self.minutes += REFER_MINUTES;
    }

    /// Puts everything back and leaves; what stays disconnected is not switched on again.
    pub fn close_up(&mut self, disconnected: bool) {
        if !self.open.is_empty() {
            // What is live behind them is not covered with the feed on.
            self.isolate();
        }
        let steps = way_back(&self.machine.access, &legal_order(&self.machine.access, &self.open));
        self.close(&steps);
        if self.isolated && !disconnected {
            self.minutes += self.prices.energise;
            self.switch_on();
        }
    }

    /// Takes a proving reading: counted with the supply readings, whatever it is called at the bench; one that is
    /// clipped on is a clipped one.
    pub fn prove(&mut self, act: &Act) {
        let before = self.counts.readings;
        self.find(act);
        self.counts.supply_and_proving_readings += self.counts.readings - before;
        self.counts.readings = before;
    }

    /// Makes the proofs that are only looked at and can be made at once.
    pub fn look_at_proofs(&mut self) {
        let at_once = self.machine.proofs.iter().filter(|proof| proof.deferred_hours <= 0.0);
        let looks = at_once.filter(|proof| matches!(proof.how, machine::model::ProofHow::Look));
        self.minutes += looks.map(|proof| proof.minutes).sum::<f64>();
    }

    fn isolate(&mut self) {
        if !self.isolated {
            self.isolated = true;
            self.minutes += self.prices.isolate;
            self.counts.supply_and_proving_readings += 1;
            self.trail.push(Hand::Isolate);
        }
    }

    fn energise(&mut self) {
        if self.isolated {
            let steps = close_to_run(&self.machine.access, &self.open);
            self.close(&steps);
            self.minutes += self.prices.energise;
            self.switch_on();
        }
    }

    fn switch_on(&mut self) {
        self.isolated = false;
        self.dead.clear();
        self.trail.push(Hand::Energise);
    }

    /// Proves these conductors dead, the frame with them, unless they were since it was last on.
    fn prove_dead(&mut self, terminals: &[TerminalId]) {
        if terminals.iter().any(|terminal| !self.dead.contains(terminal)) {
            let mut work: BTreeSet<TerminalId> = terminals.iter().copied().collect();
            work.insert(self.machine.supply.frame);
            self.dead.extend(&work);
            self.counts.proved_dead += 1;
            self.trail.push(Hand::ProveDead(work.into_iter().collect()));
        }
    }

    fn touch(&mut self, terminals: Vec<TerminalId>) {
        self.prove_dead(&terminals);
        self.trail.push(Hand::Touch(terminals));
    }

    /// Clips on dead, runs it, isolates and proves it dead again before the clips come off.
    fn clip(&mut self, reading: &Reading) {
        let at = touched(self.machine, reading);
        let on_cord = match reading.probe {
            Probe::Around(branch) => Some(branch).filter(|&branch| {
                let part = self.machine.branches[branch.index()].part;
                self.machine.parts[part.index()].kind == PartKind::Cord
            }),
            Probe::Across(_, _) => None,
        };
        match on_cord {
            Some(branch) => self.trail.push(Hand::ClampCord(branch)),
            None => {
                self.prove_dead(&at);
                self.trail.push(Hand::Clip(at.clone()));
            }
        }
        self.switch_on();
        self.trail.extend([Hand::Run(reading.condition.state), Hand::Isolate]);
        self.isolated = true;
        if on_cord.is_none() {
            self.prove_dead(&at);
            self.trail.push(Hand::Unclip(at));
        }
    }

    fn reach(&mut self, places: &[PlaceId]) {
        // A place that nothing exposes is refused by the reader of a machine; here it would cost nothing.
        let Ok(plan) = plan_teardown(&self.machine.access, places, &self.open) else { return };
        self.minutes += plan.minutes_in;
        for cover in plan.opens() {
            self.open.opened(cover);
            self.counts.covers_off += 1;
            self.trail.push(Hand::Open(cover));
        }
    }

    fn close(&mut self, steps: &[Step]) {
        self.minutes += minutes_to_close(steps);
        for step in steps {
            if let Cover::Close(cover) = step.act {
                self.open.closed(cover);
                self.trail.push(Hand::Close(cover));
            }
        }
    }
}

/// Lists the conductors that a reading's probes, clips or clamp come to, and those of the leads that are lifted for it.
fn touched(machine: &Machine, reading: &Reading) -> Vec<TerminalId> {
    let mut all = match reading.probe {
        Probe::Across(a, b) => vec![a, b],
        Probe::Around(branch) => {
            let branch = &machine.branches[branch.index()];
            vec![branch.from, branch.to]
        }
    };
    all.extend(reading.condition.lifted.iter().map(|&lead| lifted_end(machine, lead, reading.probe)));
    all.retain(|&terminal| terminal != machine.supply.earth && !machine.terminals[terminal.index()].hidden);
    all
}

/// Lists the conductors that hands come to in a repair: those of its parts, of a lead the end where it is mended.
fn handled(machine: &Machine, repair: RepairId) -> Vec<TerminalId> {
    let repair = &machine.repairs[repair.index()];
    let parts = std::iter::once(repair.part).chain(repair.together.iter().copied());
    let at_hand = |id: PartId| {
        let part = &machine.parts[id.index()];
        let branches = machine.branches.iter().filter(move |branch| branch.part == id);
        let ends = branches.flat_map(|branch| [branch.from, branch.to]).chain(part.terminals.iter().copied());
        let lead = part.kind == PartKind::Lead;
        ends.filter(move |at| !lead || machine.terminals[at.index()].place == part.place)
    };
    let mut all: Vec<TerminalId> = parts.flat_map(at_hand).collect();
    let of_machine = |terminal: &TerminalId| {
        let terminal = &machine.terminals[terminal.index()];
        let part = &machine.parts[terminal.part.index()];
        !terminal.hidden && (!part.installation || part.kind == PartKind::Cord)
    };
    all.retain(of_machine);
    all
}

/// Minutes to tell the customer, make safe and write down what is handed on; common practice, no source.
///
/// WHY NOT the planner's price: that one also stands for what a second visit costs, which no hand spends on this call.
pub const REFER_MINUTES: f64 = 15.0;

/// Minutes to watch a state once it runs; common practice, no source.
const WATCH_MINUTES: f64 = 0.5;
