//! Nothing passes the gate that breaks a rule: thousands of days at the bench machine, acts and requests drawn at random,
//! judged by a reckoning that shares no rule with the gate. It keeps its own truth of what is on, what was measured since
//! and what hangs open, and names places and terminals by hand.

use crate::support::{Dice, bench, branch_of, good_record, meter_good, place};
use danger::{
    DeadFact, DeadReading, End, Gate, HazardAction, HazardFound, IsolatedReading, Isolator, LastResort, Pair, Permit,
    Secured, Signature, Situation, StepRequest, Store, Valve, WorkPoint, judge_dead, required_measurements,
};
use machine::Machine;
use machine::access::Hazard;
use machine::faults::RepairKind;
use machine::model::{BranchId, CoverId, PartId, PlaceId, RepairId, StateId, TerminalId};
use std::collections::{BTreeMap, BTreeSet};

/// What is so, whatever the gate believes.
#[derive(Default)]
struct Truth {
    /// Parted by plug or breaker, and kept so.
    parted: bool,
    kept: bool,
    /// Measured dead with everything proper since the machine was last on.
    measured: BTreeSet<Pair>,
    /// Stores measured down since.
    down: BTreeSet<Store>,
}

impl Truth {
    fn on(&mut self) {
        *self = Self::default();
    }

    fn dead(&self, machine: &Machine, terminals: &[TerminalId]) -> bool {
        let mut all: Vec<TerminalId> = terminals.iter().copied().filter(|&t| t != machine.supply.earth).collect();
        all.push(machine.supply.frame);
        let pairs = all.iter().flat_map(|&a| all.iter().map(move |&b| (a, b))).filter(|(a, b)| a != b);
        let between = pairs.map(|(a, b)| Pair::between(a, b)).all(|pair| self.measured.contains(&pair));
        let charged = danger::stores(machine).into_iter().any(|store| !self.down.contains(&store));
        self.parted
            && self.kept
            && !charged
            && between
            && all.iter().all(|&a| self.measured.contains(&Pair::to_earth(a)))
    }
}

/// The rule that a permitted step breaks, if any.
fn broken(machine: &Machine, request: &StepRequest, now: &Situation, truth: &Truth) -> Option<&'static str> {
    if now.gas_smelled {
        return (*request != StepRequest::Evacuate).then_some("gas: nothing but leaving");
    }
    let off = truth.parted && truth.kept;
    let name = |id: TerminalId| machine.terminals[id.index()].name.as_str();
    match request {
        StepRequest::ReadIsolated { from, to, .. } => {
            (!truth.dead(machine, &[*from, *to])).then_some("isolated reading on what is not proved dead")
        }
        StepRequest::ReadClipped { from, to, .. } => {
            let bus = [*from, *to].iter().any(|&id| name(id).starts_with("control."));
            if !truth.dead(machine, &[*from, *to]) {
                Some("clips put on what is not proved dead")
            } else if bus {
                Some("clips on a bus")
            } else {
                starts(now)
            }
        }
        StepRequest::ProbeEnergised { from, to, reason, .. } => {
            let never = ["control.", "cap.", "heater.", "sensor.", "house.", "breaker."];
            if [*from, *to].iter().any(|&id| never.iter().any(|part| name(id).starts_with(part))) {
                Some("a hand on a bus, a capacitor, or in the wet")
            } else if reason.no_dead_test.is_empty() || reason.no_clips.is_empty() {
                Some("a hand in it without a reason")
            } else {
                starts(now)
            }
        }
        StepRequest::Clamp { branch, .. } => {
            let branch = &machine.branches[branch.index()];
            let cord = machine.parts[branch.part.index()].id == "cord";
            let ends: Vec<TerminalId> =
                [branch.from, branch.to].into_iter().filter(|id| !machine.terminals[id.index()].hidden).collect();
            if !off || !(cord || truth.dead(machine, &ends)) { Some("clamp laid on live") } else { starts(now) }
        }
        StepRequest::OpenCover(cover) | StepRequest::CloseCover(cover) => {
            let id = machine.access.steps[cover.index()].id.as_str();
            (!off && !["pull-out", "drawer"].contains(&id)).then_some("cover moved with the feed on")
        }
        StepRequest::Look(place) => {
            let id = machine.access.places[place.index()].id.as_str();
            let inside = ["block", "console", "drive", "sump", "burner"].contains(&id);
            (inside && !off).then_some("look inside with the feed on")
        }
        StepRequest::Try { standing_clear, .. } | StepRequest::Energise { standing_clear } => {
            let panels = now.open.iter().any(|cover| machine.access.steps[cover.index()].closed_to_run);
            if panels && !standing_clear { Some("runs with panels off and people at it") } else { starts(now) }
        }
        StepRequest::LiftLead { at, .. } => (!truth.dead(machine, &[*at])).then_some("lead lifted live"),
        StepRequest::Unplug(part) => work(machine, *part, now, truth, false),
        StepRequest::Change(part) => work(machine, *part, now, truth, true),
        StepRequest::Repair(id) => mended(machine, *id, now, truth),
        StepRequest::Discharge(_) | StepRequest::ProveDead(_) => (!off).then_some("hands in with the feed on"),
        StepRequest::ReadSupply { from, to } => {
            let slot = |id: TerminalId| name(id).starts_with("receptacle.") || name(id) == "EARTH";
            if now.wet || !slot(*from) || !slot(*to) { Some("supply reading in the wet, or none") } else { None }
        }
        StepRequest::End(_) => {
            let open = |hazard: &HazardFound| {
                hazard.dangerous
                    && !matches!(
                        hazard.action,
                        HazardAction::Disconnected | HazardAction::ShutOff | HazardAction::Mended
                    )
            };
            now.hazards.iter().any(open).then_some("left with a dangerous hazard")
        }
        StepRequest::Isolate(Isolator::Plug) => now.wet.then_some("plug pulled in the wet"),
        StepRequest::Isolate(_) | StepRequest::Evacuate | StepRequest::ProveMeter | StepRequest::Disconnect => None,
    }
}

fn mended(machine: &Machine, id: RepairId, now: &Situation, truth: &Truth) -> Option<&'static str> {
    let repair = &machine.repairs[id.index()];
    let part = machine.parts[repair.part.index()].id.as_str();
    if repair.kind == RepairKind::Clean && ["cord", "breaker"].contains(&part) {
        return starts(now);
    }
    if repair.kind == RepairKind::Refer {
        return Some("licensed work");
    }
    let mut parts = vec![repair.part];
    parts.extend(&repair.together);
    parts.into_iter().find_map(|part| work(machine, part, now, truth, repair.kind == RepairKind::Replace))
}

fn starts(now: &Situation) -> Option<&'static str> {
    if now.wet {
        Some("starts in the wet")
    } else if !now.people_clear {
        Some("starts with people at it")
    } else if now.lifted.iter().any(|end| !now.capped.contains(end)) {
        Some("starts with bare ends")
    } else if now.hazards.iter().any(|hazard| hazard.dangerous && hazard.action != HazardAction::Mended) {
        Some("starts with a dangerous hazard")
    } else {
        None
    }
}

fn work(machine: &Machine, part: PartId, now: &Situation, truth: &Truth, new: bool) -> Option<&'static str> {
    let part = &machine.parts[part.index()];
    if ["house", "breaker", "receptacle"].contains(&part.id.as_str()) {
        return Some("licensed work");
    }
    if !(truth.parted && truth.kept) {
        return Some("work with the feed on");
    }
    let seen = |id: &TerminalId| !machine.terminals[id.index()].hidden;
    let own: Vec<TerminalId> = part.terminals.iter().copied().filter(seen).collect();
    let block: Vec<TerminalId> = machine.supply.block.iter().map(|&(_, terminal)| terminal).collect();
    let at_place: Vec<TerminalId> = (0..machine.terminals.len())
        .map(|index| TerminalId(u16::try_from(index).unwrap()))
        .filter(|id| machine.terminals[id.index()].place == part.place && seen(id))
        .collect();
    let dead = if own.is_empty() {
        truth.dead(machine, &block) || truth.dead(machine, &at_place)
    } else {
        truth.dead(machine, &own)
    };
    if !dead {
        Some("work on what is not proved dead")
    } else if new && part.id == "control" {
        // No evidence against the board is ever made on these days.
        Some("board changed by elimination")
    } else if new && machine.access.places[part.place.index()].id == "burner" && now.energy.gas() == Valve::On {
        Some("work by the burner with the gas on")
    } else {
        None
    }
}

struct Day<'m> {
    machine: &'m Machine,
    dice: Dice,
    now: Situation,
    truth: Truth,
}

impl Day<'_> {
    fn number(&mut self, end: usize) -> u16 {
        u16::try_from(self.dice.below(end)).unwrap()
    }

    fn terminal(&mut self) -> TerminalId {
        TerminalId(self.number(self.machine.terminals.len()))
    }

    /// Something happens, or somebody does something, sensible or not.
    fn act(&mut self) {
        match self.dice.below(28) {
            0 => {
                self.now.energy.energise();
                self.truth.on();
            }
            1 => {
                self.now.energy.left_alone();
                if self.now.energy.secured() != Some(Secured::LockedAndTagged) {
                    self.truth.on();
                }
            }
            2 => {
                let by = self.dice.pick(&[Isolator::Plug, Isolator::Breaker]);
                if self.now.energy.feed() != danger::Feed::Off(by) {
                    self.truth.kept = false;
                }
                self.now.energy.isolate(by);
                self.truth.parted = true;
            }
            3 | 4 => {
                let by = self.dice.pick(&[Secured::PlugInSight, Secured::LockedAndTagged]);
                if self.now.energy.secure(by).is_ok() {
                    self.truth.kept = true;
                }
            }
            5..=7 => self.make_safe(),
            14.. => {
                if self.dice.chance(50) {
                    self.make_safe();
                }
                self.prove();
            }
            8 => {
                let cover = CoverId(self.number(self.machine.access.steps.len()));
                if self.now.open.has(cover) { self.now.open.closed(cover) } else { self.now.open.opened(cover) }
            }
            9 => self.now.people_clear = self.dice.chance(80),
            10 => self.now.wet = self.dice.chance(15),
            11 => {
                let end = self.terminal();
                if self.dice.chance(50) {
                    self.now.lifted.clear()
                } else {
                    self.now.lifted.extend([end])
                }
                if self.dice.chance(50) {
                    self.now.capped = self.now.lifted.clone()
                }
            }
            12 => self.hazard(),
            _ => {
                self.now.gas_smelled = self.dice.chance(8);
                self.now.energy.set_gas(self.dice.pick(&[Valve::On, Valve::Shut]));
            }
        }
    }

    /// Does it properly, so that permits are given too.
    fn make_safe(&mut self) {
        self.now.energy.isolate(Isolator::Plug);
        self.now.energy.secure(Secured::PlugInSight).unwrap();
        (self.truth.parted, self.truth.kept) = (true, true);
        for store in danger::stores(self.machine) {
            if self.dice.chance(95) && self.now.energy.discharged(store, 0.3).is_ok() {
                self.truth.down.insert(store);
            }
        }
    }

    /// Proves a place dead, often wrongly; then no proof may come of it.
    fn prove(&mut self) {
        let place = PlaceId(self.number(self.machine.access.places.len()));
        let work = WorkPoint::place(self.machine, place);
        let mut record = good_record(&work, self.now.energy.epoch());
        let mut proper = self.truth.parted && self.truth.kept;
        if self.dice.chance(40) {
            proper = false;
            match self.dice.below(5) {
                0 => record.facts.truncate(1),
                1 => drop(record.facts.pop()),
                2 => drop(record.facts.remove(0)),
                3 => record.epoch = record.epoch.wrapping_sub(1),
                _ => {
                    let pair = self.dice.pick(&required_measurements(&work));
                    record.facts.insert(2, DeadFact::Reading(DeadReading { pair, ac_volts: 0.0, dc_volts: 0.0 }));
                    record.facts.push(DeadFact::Reading(DeadReading { pair, ac_volts: 57.0, dc_volts: 0.0 }));
                    record.facts.push(meter_good());
                }
            }
        }
        let all_down = danger::stores(self.machine).iter().all(|store| self.truth.down.contains(store));
        match judge_dead(self.machine, &self.now.energy, &record) {
            Ok(proof) => {
                assert!(proper && all_down, "a proof came of what proves nothing");
                self.truth.measured.extend(required_measurements(&work));
                self.now.dead.push(proof);
            }
            Err(why) => assert!(!(proper && all_down), "a proper proof was refused: {why:?}"),
        }
    }

    fn hazard(&mut self) {
        if self.dice.chance(60) {
            self.now.hazards.clear();
            return;
        }
        let actions = [
            HazardAction::None,
            HazardAction::Tagged,
            HazardAction::Disconnected,
            HazardAction::ShutOff,
            HazardAction::Mended,
        ];
        self.now.hazards.push(HazardFound {
            what: "found".into(),
            kind: Hazard::Shock,
            dangerous: self.dice.chance(60),
            told_to: "the customer".into(),
            action: self.dice.pick(&actions),
            signed: Signature::Refused,
        });
    }

    fn request(&mut self) -> StepRequest {
        let state = StateId(self.number(self.machine.states.len()));
        let (from, to) = (self.terminal(), self.near());
        let how =
            [IsolatedReading::Ohms, IsolatedReading::Diode, IsolatedReading::Capacitance, IsolatedReading::Insulation];
        let part = PartId(self.number(self.machine.parts.len()));
        let branch = BranchId(self.number(self.machine.branches.len()));
        let standing_clear = self.dice.chance(50);
        match self.dice.below(20) {
            0 => StepRequest::Evacuate,
            1 => StepRequest::ProveMeter,
            2 => self.supply(),
            3 => StepRequest::Isolate(self.dice.pick(&[Isolator::Plug, Isolator::Breaker, Isolator::Disconnect])),
            4 => {
                StepRequest::Discharge(self.dice.pick(&[
                    Store::Capacitor(branch_of(self.machine, "cap")),
                    Store::Bus(place(self.machine, "console")),
                ]))
            }
            5 => StepRequest::ProveDead(if standing_clear { Pair::between(from, to) } else { Pair::to_earth(from) }),
            6 => StepRequest::OpenCover(CoverId(self.number(self.machine.access.steps.len()))),
            7 => StepRequest::CloseCover(CoverId(self.number(self.machine.access.steps.len()))),
            8 => StepRequest::Look(PlaceId(self.number(self.machine.access.places.len()))),
            9 => StepRequest::ReadIsolated { from: to, to: self.near(), how: self.dice.pick(&how) },
            10 => StepRequest::ReadClipped { from: to, to: self.near(), state },
            11 => {
                let reason = if self.dice.chance(80) {
                    LastResort { no_dead_test: "warm only".into(), no_clips: "no room".into() }
                } else {
                    LastResort::default()
                };
                StepRequest::ProbeEnergised { from: to, to: self.near(), state, reason }
            }
            12 => StepRequest::Clamp { branch, state },
            13 => StepRequest::Try { state, standing_clear },
            14 => {
                let branch = &self.machine.branches[branch.index()];
                StepRequest::LiftLead { lead: branch.part, at: branch.to }
            }
            15 => StepRequest::Unplug(PartId(
                u16::try_from(self.machine.parts.iter().position(|p| p.id == "plug4").unwrap()).unwrap(),
            )),
            16 => StepRequest::Change(part),
            17 => StepRequest::Repair(RepairId(self.number(self.machine.repairs.len()))),
            18 => StepRequest::Energise { standing_clear },
            _ => self
                .dice
                .pick(&[&StepRequest::Disconnect, &StepRequest::End(End::Leave), &StepRequest::End(End::Proved)])
                .clone(),
        }
    }

    /// A terminal at the motor more often than not, so that two of them lie at one place.
    fn near(&mut self) -> TerminalId {
        let drive = place(self.machine, "drive");
        loop {
            let terminal = self.terminal();
            if self.machine.terminals[terminal.index()].place == drive || self.dice.chance(10) {
                return terminal;
            }
        }
    }

    fn supply(&mut self) -> StepRequest {
        let slots: Vec<TerminalId> = self.machine.supply.slots.iter().map(|&(_, slot)| slot).collect();
        let to = if self.dice.chance(20) { self.terminal() } else { self.dice.pick(&slots) };
        StepRequest::ReadSupply { from: self.dice.pick(&slots), to }
    }
}

#[test]
fn nothing_passes_that_breaks_a_rule() {
    let machine = bench();
    let gate = Gate::of(&machine);
    let mut permitted: BTreeMap<String, u32> = BTreeMap::new();
    let mut refused: BTreeMap<String, u32> = BTreeMap::new();
    for seed in 0..1500 {
        let now = Situation { people_clear: true, ..Situation::default() };
        let mut day = Day { machine: &machine, dice: Dice::seeded(seed), now, truth: Truth::default() };
        if seed % 2 == 0 {
            // Half of the days start opened up, for there most rules bite.
            day.now.open = (0..6).map(CoverId).collect();
        }
        for _ in 0..60 {
            day.act();
            for _ in 0..3 {
                let request = day.request();
                let kind = format!("{request:?}").split(['(', ' ']).next().unwrap_or_default().to_owned();
                match gate.permit(request.clone(), &day.now) {
                    Ok(permit) => {
                        let rule = broken(&machine, &request, &day.now, &day.truth);
                        assert_eq!(rule, None, "seed {seed}: permitted {request:?}");
                        sound(&permit, &request, &day.now);
                        *permitted.entry(kind).or_default() += 1;
                    }
                    Err(_) => *refused.entry(kind).or_default() += 1,
                }
            }
        }
    }
    // A gate that refuses everything would pass; this one must let each kind of step through, and stop each.
    assert_eq!(permitted.len(), 21, "{permitted:?}");
    assert!(permitted.values().all(|&count| count > 20), "{permitted:?}");
    assert!(refused.len() >= 20, "{refused:?}");
}

fn sound(permit: &Permit, request: &StepRequest, now: &Situation) {
    assert_eq!(permit.request(), request);
    assert!(permit.holds(&now.energy));
    assert!(permit.cautions().is_sorted());
    let live = matches!(
        request,
        StepRequest::ProbeEnergised { .. } | StepRequest::ReadClipped { .. } | StepRequest::ReadSupply { .. }
    );
    assert!(!live || permit.cautions().iter().any(|caution| caution.signal == danger::Signal::Danger));
}
