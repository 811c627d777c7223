//! One visit: the technician decides, the unit answers, the ledger counts, the stop rule ends it.
//!
//! The stop rule is the same for everyone. After a repair the states in which the trouble showed are run again. When
//! they go as they should, every state is run once; only when all of them go as on a sound machine does he leave. What
//! a run shows to be amiss is told to him and he goes on. So is the rule that no board is condemned by elimination:
//! whoever decides to change one first takes the readings that it is owed. Before he leaves, the proofs that a reading
//! decides are taken as well; while one of them fails, nothing is handed back for use.

mod proofs;

use crate::Case;
use crate::complaint::{answers, in_state, watched_there};
use crate::ledger::{Counts, Ledger, REFER_MINUTES};
use crate::planted::{Planted, PlantedEnd, ToldBy, told_by};
use crate::reading;
use crate::safety::{Violation, Watch};
use crate::settings::Settings;
use crate::technician::{Event, Move, Technician};
use crate::trace::Trace;
use diagnosis::Suspect;
use machine::Machine;
use machine::faults::RepairKind;
use machine::model::{FaultId, RepairId, StateId};
use prediction::{Predictor, Reading, Seen};
use repair::board::evidence_owed;
use repair::plan::ProblemError;
use repair::proving::{Owed, Proved, is_hazard};
use repair::{Act, Bench};
use std::collections::BTreeMap;
use truth::Unit;

/// How a visit ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub enum End {
    /// Mended, and every state went as it should.
    Proved,
    /// Nothing was mended, the use was explained, every state went as it should.
    Explained,
    /// A fault was named to those licensed for it.
    ReferredWith(RepairId),
    /// Handed on without a fault named.
    Referred,
    /// Not ended: the technician has not decided what comes next.
    Waiting,
}

/// What one visit came to.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Visit {
    /// Seed of the call.
    pub seed: u64,
    /// How it ended.
    pub end: End,
    /// Right: everything shows as on a sound machine and no planted fault was missed (one that nothing asked for tells is
    /// counted apart, in [`Self::planted`]), or what is left of what he was called for is
    /// all for those licensed and was named to them.
    pub right: bool,
    /// Minutes from arrival until the repair that cured was decided on; all minutes of a visit that was not right.
    pub minutes_to_find: f64,
    /// Minutes from arrival to the start of that repair, the way in to it included; likewise.
    pub minutes: f64,
    /// Minutes of the whole visit.
    pub minutes_in_all: f64,
    /// Parts fitted (or leads mended) that cured nothing.
    pub needless_parts: u32,
    /// Left as sound and is not.
    pub callback: bool,
    /// Steps decided.
    pub steps: usize,
    /// What was counted.
    pub counts: Counts,
    /// Repairs done, in order.
    pub repairs: Vec<RepairId>,
    /// The unrelated dangerous fault, where one was planted.
    pub planted: Option<Planted>,
    /// Things done by hand, each of them seen by the judge of safety.
    pub hands: u32,
    /// What was done against safety, by that judge.
    pub violations: Vec<Violation>,
    /// The reason of each probing by hand in the open, energised machine.
    pub probing_reasons: Vec<String>,
    /// Each repair decided on: what the technician claimed and what was so; none for one whose shares are not judged.
    pub claims: Vec<Claim>,
    /// Before each step the leading suspect's share, and whether it was the truth then, the planted fault apart.
    pub leading: Vec<Claim>,
    /// Before each step the same of every suspect of [`WORTH_STATING`] or more.
    pub suspects: Vec<Claim>,
}

/// Least share of a suspect that is judged: below it there are hundreds in every belief, and nearly none is ever so.
pub const WORTH_STATING: f64 = 0.01;

/// What was claimed of a repair or a suspect, and what was so.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct Claim {
    /// Share of the suspects that the repair cures, or of the one suspect, 0 to 1.
    pub share: f64,
    /// The unit had a fault that the repair cures; the suspect was the truth.
    pub cures: bool,
}

/// Makes one visit.
pub(crate) fn make(
    case: &Case<'_>,
    predictor: &Predictor<'_>,
    settings: &Settings,
    technician: &mut dyn Technician,
    mut trace: Option<&mut Trace>,
) -> Result<Visit, ProblemError> {
    let machine = case.unit.machine();
    // What the customer saw was another time: what comes and goes is drawn for this one.
    let mut unit = case.unit.clone();
    unit.sit_down();
    let told = intake(case, settings, technician, trace.as_deref_mut());
    let mut visit = Visiting {
        machine,
        predictor,
        settings,
        planted: case.planted,
        unit,
        ledger: Ledger::new(machine, &settings.prices),
        bench: Bench { trouble: trouble(&case.unit, &told), ..Bench::default() },
        technician,
        trace,
        found_at: None,
        needless: 0,
        steps: 0,
        seen: Vec::new(),
        claims: Vec::new(),
        leading: Vec::new(),
        suspects: Vec::new(),
        proved: BTreeMap::new(),
        failing: None,
        watch_for: Watch::of(machine),
    };
    let end = visit.go()?;
    Ok(visit.close(case.seed, end))
}

/// Asks the customer what the technician wants to know; gives all that was said.
fn intake(
    case: &Case<'_>,
    settings: &Settings,
    technician: &mut dyn Technician,
    mut trace: Option<&mut Trace>,
) -> Vec<Seen> {
    let mut told = case.complaint.all();
    let mut asked: Vec<StateId> = Vec::new();
    for _ in 0..settings.saying.most_asked {
        let Some(state) = technician.ask(&asked) else { break };
        asked.push(state);
        let mut answers = answers(&case.unit, case.seed, state, &settings.saying);
        answers.retain(|seen| !told.iter().any(|known| (known.state, known.what) == (seen.state, seen.what)));
        if let Some(trace) = trace.as_deref_mut() {
            trace.asked(case.unit.machine(), state, &answers);
        }
        told.extend(&answers);
        technician.learn(&Event::Answered(answers));
    }
    told
}

/// Gives the states in which the customer says something is amiss; where nothing is, the one with most to see.
fn trouble(unit: &Unit<'_>, reported: &[Seen]) -> Vec<StateId> {
    let mut states: Vec<StateId> = Vec::new();
    for seen in reported {
        if amiss(unit, seen) && !states.contains(&seen.state) {
            states.push(seen.state);
        }
    }
    if states.is_empty() {
        states.extend(unit.state_ids().max_by_key(|&s| (watched_there(unit.machine(), s), std::cmp::Reverse(s))));
    }
    states
}

fn amiss(unit: &Unit<'_>, seen: &Seen) -> bool {
    !unit.sound_in(seen.state).contains(&(seen.what, seen.value))
}

struct Visiting<'a, 'm> {
    machine: &'m Machine,
    predictor: &'a Predictor<'a>,
    settings: &'a Settings,
    /// For judging.
    planted: Option<FaultId>,
    unit: Unit<'m>,
    ledger: Ledger<'a>,
    bench: Bench,
    technician: &'a mut dyn Technician,
    trace: Option<&'a mut Trace>,
    /// Minutes at which the repair that cured was decided on and begun, once there was one.
    found_at: Option<(f64, f64)>,
    needless: u32,
    steps: usize,
    /// What was watched since the last repair.
    seen: Vec<Seen>,
    claims: Vec<Claim>,
    leading: Vec<Claim>,
    suspects: Vec<Claim>,
    /// What was decided by a reading since the last repair.
    proved: BTreeMap<Owed, Proved>,
    /// What failed since the last repair.
    failing: Option<Owed>,
    /// The independent judge of safety.
    watch_for: Watch<'m>,
}

impl Visiting<'_, '_> {
    fn go(&mut self) -> Result<End, ProblemError> {
        loop {
            self.state();
            let next = if self.steps < self.settings.most_steps {
                self.technician.next(&self.bench)?
            } else {
                Move::Do(Act::Refer)
            };
            self.steps += 1;
            if let Some(end) = self.take(next) {
                return Ok(end);
            }
            self.bench.open = self.ledger.open().clone();
            self.bench.isolated = self.ledger.isolated();
        }
    }

    /// Sets what the technician states of his suspects against the truth.
    fn state(&mut self) {
        let faults: Vec<FaultId> = self.unit.faults().into_iter().filter(|f| Some(*f) != self.planted).collect();
        let truth = Suspect::of(&faults);
        let judged = |(suspect, share): (Suspect, f64)| Claim { share: share.clamp(0.0, 1.0), cures: suspect == truth };
        let stated: Vec<Claim> = self.technician.states(WORTH_STATING).into_iter().map(judged).collect();
        self.leading.extend(stated.first());
        self.suspects.extend(stated);
    }

    /// Does what was decided; gives the end if it is one.
    fn take(&mut self, next: Move) -> Option<End> {
        match next {
            Move::Prove => self.prove().then_some(End::Proved),
            Move::Wait => Some(End::Waiting),
            Move::Do(act) => {
                let begun = self.ledger.minutes();
                match &act {
                    Act::Read(reading, _) => self.read(&act, reading),
                    Act::Look(part) => {
                        self.ledger.find(&act);
                        let (damage, mut like) = (self.unit.look(*part), self.unit.damage(*part));
                        if self.unit.misleads(*part) {
                            like.extend(self.faults_of(*part));
                        }
                        self.bench.looked.insert(*part);
                        self.tell(begun, &act, &Event::Looked { part: *part, damage, like });
                    }
                    Act::Try(state) => {
                        self.ledger.run(*state);
                        let seen = self.watch(*state);
                        self.tell(begun, &act, &Event::Watched { state: *state, seen });
                    }
                    Act::Change(repair) => {
                        let owed = evidence_owed(self.machine, &self.bench, *repair, &self.seen);
                        match owed.first() {
                            Some(act @ Act::Read(reading, _)) => self.read(act, reading),
                            _ => return self.change(*repair),
                        }
                    }
                    Act::Explain if self.failing.is_none() => return self.explain(),
                    // With a proof that fails nothing is explained and left: it is disconnected and handed on.
                    Act::Explain | Act::Refer => {
                        self.note(&act, "handed on");
                        self.ledger.refer();
                        return Some(End::Referred);
                    }
                }
                None
            }
        }
    }

    fn faults_of(&self, part: machine::model::PartId) -> Vec<FaultId> {
        self.machine.faults_of(part)
    }

    fn read(&mut self, act: &Act, reading: &Reading) {
        let begun = self.ledger.minutes();
        self.ledger.find(act);
        let measured = reading::take(&mut self.unit, reading, self.settings);
        self.bench.read.push(reading.clone());
        self.tell(begun, act, &Event::Read { reading: reading.clone(), measured });
        let condition = &reading.condition;
        if condition.plugged && !self.bench.watched.contains(&condition.state) {
            // It runs anyway, so what it does is seen for nothing.
            let seen = self.watch(condition.state);
            self.tell(
                self.ledger.minutes(),
                &Act::Try(condition.state),
                &Event::Watched { state: condition.state, seen },
            );
        }
    }

    /// Runs a state, notes on the bench whether the trouble shows there, and gives what is seen.
    fn watch(&mut self, state: StateId) -> Vec<Seen> {
        let seen = in_state(state, self.unit.observe(state));
        let shows = seen.iter().any(|seen| amiss(&self.unit, seen));
        self.seen.extend(&seen);
        self.bench.watched.insert(state);
        if shows && !self.bench.trouble.contains(&state) {
            self.bench.trouble.insert(0, state);
        } else if !shows && self.bench.trouble.len() > 1 {
            self.bench.trouble.retain(|&other| other != state);
        }
        seen
    }

    fn change(&mut self, repair: RepairId) -> Option<End> {
        let act = Act::Change(repair);
        let described = &self.machine.repairs[repair.index()];
        let decided = self.ledger.minutes();
        if let Some(share) = self.technician.claims(repair) {
            let cures = |fault: FaultId| self.machine.faults[fault.index()].repair == repair;
            self.claims.push(Claim { share, cures: self.unit.faults().into_iter().any(cures) });
        }
        let start = self.ledger.start_repair(repair);
        if described.kind == RepairKind::Refer {
            self.found_at = Some((decided, start));
            self.note(&act, "named to those licensed for it");
            self.ledger.finish_repair(repair);
            return Some(End::ReferredWith(repair));
        }
        self.ledger.finish_repair(repair);
        self.judge_hands();
        let came = self.unit.repair(repair);
        // Hands have been at it: what comes and goes may be otherwise now.
        self.unit.sit_down();
        if came.cured.is_empty() && !came.bad_part && described.kind != RepairKind::Clean {
            self.needless += 1;
        }
        if !came.cured.is_empty() && self.found_at.is_none() && self.called_for_is_cured() {
            self.found_at = Some((decided, start));
        }
        self.bench.repaired.push(repair);
        let hazard = self.failing.filter(|&owed| is_hazard(self.machine, owed));
        self.prove_anew(repair);
        self.bench.read.clear();
        self.bench.watched.clear();
        self.bench.explained = false;
        self.seen.clear();
        for part in std::iter::once(described.part).chain(described.together.iter().copied()) {
            self.bench.looked.remove(&part);
        }
        self.tell(start, &act, &Event::Repaired(repair));
        if hazard.is_none_or(|owed| self.hazard_is_gone(owed)) {
            let works = self.try_again();
            self.technician.learn(&Event::Tried { works });
        }
        None
    }

    /// Runs the states in which the trouble showed until one shows it still.
    fn try_again(&mut self) -> bool {
        for state in self.bench.trouble.clone() {
            let begun = self.ledger.minutes();
            self.ledger.run(state);
            let seen = self.watch(state);
            let shows = seen.iter().any(|seen| amiss(&self.unit, seen));
            self.tell(begun, &Act::Try(state), &Event::Watched { state, seen });
            if shows {
                return false;
            }
        }
        true
    }

    fn explain(&mut self) -> Option<End> {
        self.note(&Act::Explain, "explained");
        if self.called_for_is_cured() {
            self.found_at = self.found_at.or_else(|| Some((self.ledger.minutes(), self.ledger.minutes())));
        }
        self.ledger.explain();
        self.bench.explained = true;
        let done = self.try_again() && self.prove();
        let mended = !self.bench.repaired.is_empty();
        done.then_some(if mended { End::Proved } else { End::Explained })
    }

    /// Runs every state not run since the last repair; tells the technician and stops at the first that is amiss.
    fn prove(&mut self) -> bool {
        let states: Vec<StateId> = self.unit.state_ids().collect();
        for state in states {
            if watched_there(self.machine, state) == 0 || self.bench.watched.contains(&state) {
                continue;
            }
            let begun = self.ledger.minutes();
            self.ledger.run(state);
            let seen = self.watch(state);
            let shows = seen.iter().any(|seen| amiss(&self.unit, seen));
            self.tell(begun, &Act::Try(state), &Event::Watched { state, seen: seen.clone() });
            if shows {
                self.technician.learn(&Event::ProofFailed(seen));
                return false;
            }
        }
        self.prove_by_reading()
    }

    /// Says whether what the customer called for is gone, the planted fault apart.
    fn called_for_is_cured(&self) -> bool {
        self.planted.map_or_else(|| self.unit.sound(), |fault| self.unit.without(fault).sound())
    }

    /// Lets the judge of safety see what hands have done, at the unit as it is now.
    fn judge_hands(&mut self) {
        let trail = self.ledger.take_trail();
        self.watch_for.see(&self.unit, &trail);
    }

    fn tell(&mut self, begun: f64, act: &Act, event: &Event) {
        self.judge_hands();
        self.technician.learn(event);
        if let Some(trace) = self.trace.as_deref_mut() {
            trace.line(self.machine, begun, act, event, self.technician.top(3));
        }
    }

    fn note(&mut self, act: &Act, what: &str) {
        if let Some(trace) = self.trace.as_deref_mut() {
            trace.end(self.machine, self.ledger.minutes(), act, what, self.technician.top(3));
        }
    }

    fn judge_planted(&self, fault: FaultId, end: End) -> Planted {
        let told_by = told_by(self.predictor, &self.unit, fault);
        let there = self.unit.faults().contains(&fault);
        let repair = self.machine.faults[fault.index()].repair;
        let open = |proved: Option<&Proved>| matches!(proved, Some(Proved::NotDecided(_)));
        let end = match end {
            _ if !there => PlantedEnd::Mended,
            End::ReferredWith(named) if named == repair => PlantedEnd::Named,
            End::Referred | End::ReferredWith(_) if self.failing.is_some() => PlantedEnd::Disconnected,
            End::Referred | End::ReferredWith(_) | End::Waiting => PlantedEnd::HandedOn,
            End::Proved | End::Explained => match told_by {
                ToldBy::Nothing => PlantedEnd::Untold,
                ToldBy::Reading(owed) if open(self.proved.get(&owed)) => PlantedEnd::NotDecided,
                ToldBy::Reading(_) | ToldBy::Run(_) => PlantedEnd::Missed,
            },
        };
        Planted { fault, told_by, end }
    }

    fn close(mut self, seed: u64, end: End) -> Visit {
        let licensed = |fault: &FaultId| {
            let repair = self.machine.faults[fault.index()].repair;
            self.machine.repairs[repair.index()].kind == RepairKind::Refer
        };
        let left = self.unit.faults();
        let sound = self.unit.sound();
        let planted = self.planted.map(|fault| self.judge_planted(fault, end));
        let called_for: Vec<FaultId> = left.iter().copied().filter(|fault| Some(*fault) != self.planted).collect();
        let right = match end {
            End::Proved | End::Explained => sound && planted.is_none_or(|planted| planted.end != PlantedEnd::Missed),
            // What a reading showed to be out of its limit and is handed on is no mistake, when the trouble itself is gone.
            End::Referred => (!left.is_empty() || self.failing.is_some()) && called_for.iter().all(licensed),
            End::ReferredWith(repair) => {
                let names = |fault: &FaultId| self.machine.faults[fault.index()].repair == repair;
                left.iter().any(names) && called_for.iter().all(licensed)
            }
            End::Waiting => false,
        };
        if matches!(end, End::Proved | End::Explained) {
            self.ledger.look_at_proofs();
        } else if end != End::Waiting {
            let handed_on = self.ledger.minutes() - REFER_MINUTES;
            self.found_at = self.found_at.or(Some((handed_on, handed_on)));
        }
        if end != End::Waiting {
            self.ledger.close_up(self.failing.is_some_and(|owed| is_hazard(self.machine, owed)));
        }
        self.judge_hands();
        let minutes = self.ledger.minutes();
        if let Some(trace) = self.trace.as_deref_mut() {
            trace.close(end, right, minutes, self.machine, &left);
        }
        let found = self.found_at.filter(|_| right);
        Visit {
            seed,
            end,
            right,
            minutes_to_find: found.map_or(minutes, |(decided, _)| decided),
            minutes: found.map_or(minutes, |(_, start)| start),
            minutes_in_all: minutes,
            needless_parts: self.needless,
            callback: matches!(end, End::Proved | End::Explained) && !sound,
            steps: self.steps,
            counts: self.ledger.counts(),
            repairs: self.bench.repaired,
            planted,
            hands: self.watch_for.hands(),
            violations: self.watch_for.violations().to_vec(),
            probing_reasons: self.watch_for.reasons().to_vec(),
            claims: self.claims,
            leading: self.leading,
            suspects: self.suspects,
        }
    }
}
