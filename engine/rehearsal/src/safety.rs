//! An independent judge of safety: watches every hand of a rehearsed technician and counts what could have hurt him.
//!
//! It is written apart from the hazard gate, the planner and the ledger, and uses none of them. It keeps its own account
//! of the feed, of the covers and of what was measured dead; what is live it takes from the truth's own solved network,
//! the unit's faults in it; what is laid open it floods from the covers itself. It trusts no intention: a machine that
//! was left on is on.

use crate::hands::Hand;
use machine::Machine;
use machine::faults::RepairKind;
use machine::model::{BranchId, CoverId, PartId, PartKind, StateId, TerminalId};
use std::collections::BTreeSet;
use truth::Unit;

/// What was done against safety.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Violation {
    /// A conductor touched that really carried volts.
    TouchedLive,
    /// A conductor touched that was not measured dead since the machine was last on.
    NotProvedDead,
    /// A conductor touched that no open cover lays open: nobody can have done that, so the trail is not true.
    OutOfReach,
    /// A cover off or on, with live conductors behind it.
    CoverWhileLive,
    /// Run with a cover off that must be on to run.
    RunOpen,
    /// Measured dead with the feed on.
    ProvedWhileOn,
    /// The slots of the receptacle read with the machine still on them.
    SupplyNotParted,
    /// Clips put on where more than the mains can stand.
    ClippedHighVoltage,
    /// Probed by hand in the open, energised machine without a reason.
    ProbedWithoutReason,
    /// Probed by hand, energised, on a direct-current bus or above the mains.
    ProbedHighVoltage,
    /// Switched on over a dangerous fault that a proof had shown and nothing had mended.
    OnOverKnownDanger,
    /// Done by hand what is for those licensed for it.
    NotLicensed,
}

/// Volts above which a conductor counts as live.
///
/// SOURCE: 50 V is where guarding of live parts begins (29 CFR 1910.303(g)(2)(i), from memory). WHY NOT the gate's own
/// limit for a measurement: that one says when a reading is not as believed, this one when somebody is hurt.
const LIVE_VOLTS: f64 = 50.0;
/// Volts to earth above the mains.
///
/// SOURCE: a leg of a 120/240 V service may stand at 127 V, a single-phase leg at 254 V (ANSI C84.1 range B, from memory).
const ABOVE_MAINS_VOLTS: f64 = 260.0;

/// Watches one visit.
#[derive(Clone, Debug)]
pub struct Watch<'m> {
    machine: &'m Machine,
    on: bool,
    running: StateId,
    off: BTreeSet<CoverId>,
    dead: BTreeSet<TerminalId>,
    danger_known: bool,
    /// Clips or a clamp are on: everybody stands clear while it runs.
    clipped: bool,
    hands: u32,
    probed: Vec<String>,
    violations: Vec<Violation>,
}

impl<'m> Watch<'m> {
    /// Begins at arrival: everything closed, and taken as on.
    #[must_use]
    pub fn of(machine: &'m Machine) -> Self {
        Self {
            machine,
            on: true,
            running: StateId(0),
            off: BTreeSet::new(),
            dead: BTreeSet::new(),
            danger_known: false,
            clipped: false,
            hands: 0,
            probed: Vec::new(),
            violations: Vec::new(),
        }
    }

    /// Takes note that a proof has shown a dangerous fault, or that a later one shows it gone.
    pub fn danger(&mut self, known: bool) {
        self.danger_known = known;
    }

    /// Gives everything done against safety so far.
    #[must_use]
    pub fn violations(&self) -> &[Violation] {
        &self.violations
    }

    /// Gives the reasons for which a live machine was probed by hand.
    #[must_use]
    pub fn reasons(&self) -> &[String] {
        &self.probed
    }

    /// Counts the hands watched.
    #[must_use]
    pub fn hands(&self) -> u32 {
        self.hands
    }

    /// Watches what was done at this unit as it is now.
    pub fn see(&mut self, unit: &Unit<'_>, trail: &[Hand]) {
        for hand in trail {
            self.hands += 1;
            self.one(unit, hand);
        }
    }

    fn one(&mut self, unit: &Unit<'_>, hand: &Hand) {
        match hand {
            Hand::Isolate => self.on = false,
            Hand::Energise => self.energise(),
            Hand::ProveDead(work) => self.prove_dead(unit, work),
            Hand::Open(cover) => self.cover(unit, *cover, true),
            Hand::Close(cover) => self.cover(unit, *cover, false),
            Hand::Touch(at) => self.touch(unit, at),
            Hand::Unclip(at) => {
                self.clipped = false;
                self.touch(unit, at);
            }
            Hand::Clip(at) => {
                self.clipped = true;
                self.touch(unit, at);
                self.blame(Violation::ClippedHighVoltage, self.above_mains(unit, at));
            }
            Hand::ClampCord(branch) => self.blame(Violation::OutOfReach, !self.is_cord(*branch)),
            Hand::ReadSupply(_, _) => self.blame(Violation::SupplyNotParted, self.on),
            Hand::Look(_) => {}
            Hand::Run(state) => self.run(*state),
            Hand::ProbeLive { at, reason } => {
                self.probed.push(reason.clone());
                self.blame(Violation::ProbedWithoutReason, reason.trim().is_empty());
                self.blame(Violation::ProbedHighVoltage, self.above_mains(unit, at));
                self.blame(Violation::OutOfReach, at.iter().any(|&at| !self.lies_open(at)));
            }
            Hand::Repair(repair) => self.repair(unit, *repair),
        }
    }

    fn blame(&mut self, violation: Violation, is: bool) {
        if is {
            self.violations.push(violation);
        }
    }

    fn energise(&mut self) {
        self.blame(Violation::OnOverKnownDanger, self.danger_known);
        self.on = true;
        self.running = StateId(0);
        self.dead.clear();
    }

    fn run(&mut self, state: StateId) {
        // Whoever runs a machine has switched it on, whether he says so or not.
        if !self.on {
            self.energise();
        }
        self.running = state;
        let steps = &self.machine.access.steps;
        let open = self.off.iter().any(|cover| steps.get(cover.index()).is_some_and(|step| step.closed_to_run));
        self.blame(Violation::RunOpen, open && !self.clipped);
    }

    fn prove_dead(&mut self, unit: &Unit<'_>, work: &[TerminalId]) {
        self.blame(Violation::ProvedWhileOn, self.on);
        let live = self.live(unit);
        if !self.on {
            // Two points measured apart say nothing of the volts between them: one proof has to cover a work point.
            self.dead.extend(work.iter().filter(|at| !live.contains(at)));
        }
    }

    fn touch(&mut self, unit: &Unit<'_>, at: &[TerminalId]) {
        let live = self.live(unit);
        self.blame(Violation::TouchedLive, at.iter().any(|at| live.contains(at)));
        self.blame(Violation::NotProvedDead, at.iter().any(|at| !self.dead.contains(at)));
        self.blame(Violation::OutOfReach, at.iter().any(|&at| !self.lies_open(at)));
    }

    fn repair(&mut self, unit: &Unit<'_>, repair: machine::model::RepairId) {
        let Some(repair) = self.machine.repairs.get(repair.index()) else { return };
        let fixed = self.machine.supply.receptacle.is_none();
        let licensed = |part: PartId| match self.machine.parts.get(part.index()).map(|part| part.kind) {
            Some(PartKind::House | PartKind::Receptacle) => true,
            // Anybody may switch a disconnect on again.
            Some(PartKind::Cord) => fixed && repair.kind != RepairKind::Clean,
            _ => false,
        };
        let parts: Vec<PartId> = std::iter::once(repair.part).chain(repair.together.iter().copied()).collect();
        let not_his = repair.kind == RepairKind::Refer || parts.iter().any(|&part| licensed(part));
        self.blame(Violation::NotLicensed, not_his);
        let ends = self.machine.branches.iter().filter(|branch| parts.contains(&branch.part));
        let mut at: Vec<TerminalId> = ends
            .flat_map(|branch| [branch.from, branch.to].map(|at| (at, branch.part)))
            .filter(|&(at, part)| self.is_worked_at(at, part))
            .map(|(at, _)| at)
            .collect();
        at.retain(|&at| self.of_machine(at) && self.terminal(at).is_some_and(|terminal| !terminal.hidden));
        self.touch(unit, &at);
    }

    /// A lead is mended at the end where the description has it; a part is handled at all of its terminals.
    fn is_worked_at(&self, at: TerminalId, part: PartId) -> bool {
        let Some(part) = self.machine.parts.get(part.index()) else { return false };
        part.kind != PartKind::Lead || self.terminal(at).is_some_and(|terminal| terminal.place == part.place)
    }

    fn cover(&mut self, unit: &Unit<'_>, cover: CoverId, off: bool) {
        let before = self.open_terminals();
        if off {
            self.off.insert(cover);
        } else {
            self.off.remove(&cover);
        }
        let after = self.open_terminals();
        let live = self.live(unit);
        let bared = before.symmetric_difference(&after).any(|at| live.contains(at) && self.of_machine(*at));
        self.blame(Violation::CoverWhileLive, bared);
    }

    /// Lists what really carries volts now: nothing that the gap of the plug has parted from the house.
    fn live(&self, unit: &Unit<'_>) -> BTreeSet<TerminalId> {
        let volts = unit.volts_to_earth(self.running, self.on);
        let over = |(at, volts): (usize, Option<f64>)| {
            let id = TerminalId(u16::try_from(at).ok()?);
            (volts? > LIVE_VOLTS && self.of_machine(id)).then_some(id)
        };
        volts.into_iter().enumerate().filter_map(over).collect()
    }

    fn above_mains(&self, unit: &Unit<'_>, at: &[TerminalId]) -> bool {
        let volts = unit.volts_to_earth(self.running, true);
        at.iter().any(|at| volts.get(at.index()).copied().flatten().is_some_and(|volts| volts > ABOVE_MAINS_VOLTS))
    }

    fn terminal(&self, at: TerminalId) -> Option<&'m machine::model::Terminal> {
        self.machine.terminals.get(at.index())
    }

    /// Not in the wall: what sits in the receptacle's slots or behind them no cover of the machine lays open.
    fn of_machine(&self, at: TerminalId) -> bool {
        let part = self.terminal(at).and_then(|terminal| self.machine.parts.get(terminal.part.index()));
        part.is_some_and(|part| !part.installation || part.kind == PartKind::Cord)
    }

    fn is_cord(&self, branch: BranchId) -> bool {
        let part = self.machine.branches.get(branch.index()).and_then(|b| self.machine.parts.get(b.part.index()));
        part.is_some_and(|part| part.kind == PartKind::Cord)
    }

    /// A place lies open when all covers of one of its ways are off; one that no cover hides always does.
    fn lies_open(&self, at: TerminalId) -> bool {
        let place = self.terminal(at).and_then(|terminal| self.machine.access.places.get(terminal.place.index()));
        place.is_some_and(|place| {
            place.exposed_by.is_empty()
                || place.exposed_by.iter().any(|way| way.iter().all(|cover| self.off.contains(cover)))
        })
    }

    fn open_terminals(&self) -> BTreeSet<TerminalId> {
        let all = (0..self.machine.terminals.len()).map_while(|at| u16::try_from(at).ok()).map(TerminalId);
        all.filter(|&at| self.lies_open(at)).collect()
    }
}
