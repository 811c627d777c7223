//! Evidence before an electronic control is changed: its supplies, the request, the output under load. Never by
//! elimination; the judging is `danger`'s.

use crate::ask::Sort;
use crate::session::{Next, Session};
use crate::stages::{arrive, pursue};
use book::Stage;
use danger::{BoardEvidence, BoardFacts, NeedFact, OutputFact, display_vouches, judge_board};
use diagnosis::{Evidence, Measured};
use machine::faults::{Effect, RepairKind};
use machine::model::{
    BranchId, FlagId, FlagRule, Law, Machine, Need, Observed, PartId, PartKind, RepairId, Rule, StateId, TerminalId,
};
use prediction::{Condition, Probe, Quantity, Reading};
use repair::{Act, Hands};

/// Says what must be read before a board is changed; nothing for other parts and once there is evidence.
pub(crate) fn next(s: &Session<'_, '_>, repair: RepairId) -> Option<Next> {
    let machine = s.machine();
    let chosen = &machine[repair];
    let is_board = |part: &PartId| machine[*part].kind == PartKind::Control;
    let board = super::fit::parts_of(s, repair).into_iter().find(is_board)?;
    let condemned = evidence(s).iter().any(|evidence| evidence.board() == board);
    if chosen.kind != RepairKind::Replace || condemned {
        return None;
    }
    for (output, state) in cases(s, board) {
        let missing = readings(s, board, output, state).into_iter().find(|act| !taken(s, act));
        if let Some(act) = missing {
            let next = pursue::step(s, &act, Stage::Find, true)?;
            let Next::Ask(mut ask) = next else { return Some(next) };
            let why =
                format!("evidence before the {} is changed: supplies, request, output under load", machine[board].name);
            ask.lines.push(crate::ask::Line { sort: Sort::Why, say: why });
            return Some(Next::Ask(ask));
        }
    }
    let say = format!("Measured: nothing speaks against the {}. It stays. Look further.", machine[board].name);
    Next::ask(arrive::line("set-aside", Stage::Find, say).with_own_way())
}

/// The outputs of a board with the state to measure each in: those that suspects hold first, and of a board that shows
/// no life any output in the state in which it was seen dark.
fn cases(s: &Session<'_, '_>, board: PartId) -> Vec<(FlagId, StateId)> {
    let machine = s.machine();
    let flags = (0..).map(FlagId).zip(&machine.flags).filter(|(_, flag)| flag.part == board);
    let outputs: Vec<FlagId> = flags
        .filter(|(id, flag)| matches!(flag.rule, FlagRule::Output { .. }) && contact_of(machine, board, *id).is_some())
        .map(|(id, _)| id)
        .collect();
    if let Some(state) = s.predictor.state_ids().find(|&state| display(s, board, state) == Some(Observed::DARK)) {
        return outputs.first().map(|&output| (output, state)).into_iter().collect();
    }
    let trouble = s.trouble();
    let suspected = suspected(s, board, &outputs);
    let mut all: Vec<(FlagId, StateId, u64)> = Vec::new();
    for (output, share) in outputs.into_iter().zip(suspected) {
        let FlagRule::Output { requested_in, .. } = &machine[output].rule else { continue };
        let called = trouble.iter().find(|state| requested_in.contains(state)).or(requested_in.first());
        all.extend(called.map(|&state| (output, state, share)));
        // An output that should be open and is not shows in a state that does not call for it.
        let idle = trouble.iter().find(|state| !requested_in.contains(state));
        all.extend(idle.filter(|_| share > STUCK_SHARE).map(|&state| (output, state, share)));
    }
    all.sort_by_key(|(.., share)| std::cmp::Reverse(*share));
    all.truncate(MOST_CASES);
    all.into_iter().map(|(output, state, _)| (output, state)).collect()
}

/// Outputs measured before a board is let go.
const MOST_CASES: usize = 4;
/// Share, in millionths, from which an output is measured idle too.
const STUCK_SHARE: u64 = 10_000;

/// Share of suspects that hold each of a board's outputs, in millionths.
fn suspected(s: &Session<'_, '_>, board: PartId, outputs: &[FlagId]) -> Vec<u64> {
    let machine = s.machine();
    let contacts: Vec<Option<BranchId>> = outputs.iter().map(|&flag| contact_of(machine, board, flag)).collect();
    let holds = |effect: &Effect, at: usize| match effect {
        Effect::Hold(of, _) => *of == outputs[at],
        Effect::Open(branch) | Effect::Ohms(branch, _) => contacts[at] == Some(*branch),
        _ => false,
    };
    // The outputs that each fault of the board holds; none of most parts' faults.
    let held: Vec<Vec<usize>> = machine
        .faults
        .iter()
        .map(|fault| {
            let of_board = fault.part == board;
            let by = |at: &usize| of_board && fault.effects.iter().any(|effect| holds(effect, *at));
            (0..outputs.len()).filter(by).collect()
        })
        .collect();
    let mut shares = vec![0.0; outputs.len()];
    for (suspect, share) in s.belief.shares() {
        let mut of: Vec<usize> = suspect.0.iter().flat_map(|fault| held[fault.index()].iter().copied()).collect();
        of.sort_unstable();
        of.dedup();
        of.into_iter().for_each(|at| shares[at] += share);
    }
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share times a million")]
    let millionths = |share: f64| (share * 1e6) as u64;
    shares.into_iter().map(millionths).collect()
}

fn contact_of(machine: &Machine, board: PartId, flag: FlagId) -> Option<BranchId> {
    let of_flag =
        |law: &Law| matches!(law, Law::Contact { rule: Rule::Flag { flag: of, inverted: false }, .. } if *of == flag);
    let branches = (0..).map(BranchId).zip(&machine.branches);
    branches.into_iter().find(|(_, branch)| branch.part == board && of_flag(&branch.law)).map(|(id, _)| id)
}

fn readings(s: &Session<'_, '_>, board: PartId, output: FlagId, state: StateId) -> Vec<Act> {
    let machine = s.machine();
    let FlagRule::Output { needs, .. } = &machine[output].rule else { return Vec::new() };
    let mut all: Vec<Act> = Vec::new();
    let shown = display(s, board, state);
    let lifeless = shown == Some(Observed::DARK);
    for need in needs {
        let act = match need {
            _ if shown == Some(Observed::NORMAL) && display_vouches(machine, board, need) => continue,
            Need::Volts { from, to, .. } => volts(*from, *to, state),
            Need::Works { .. } => continue,
            Need::Sense { .. } if lifeless => continue,
            Need::Sense { source, .. } => sensor_loop(machine, *source),
        };
        if !all.contains(&act) {
            all.push(act);
        }
    }
    if lifeless {
        return all;
    }
    all.extend(supply_of_load(machine).map(|(a, b)| volts(a, b, state)));
    all.extend(
        contact_of(machine, board, output).map(|contact| volts(machine[contact].from, machine[contact].to, state)),
    );
    all
}

fn volts(a: TerminalId, b: TerminalId, state: StateId) -> Act {
    Act::Read(
        Reading { quantity: Quantity::Volts, probe: Probe::Across(a, b), condition: Condition::running(state) },
        Hands::Clipped,
    )
}

/// The supply of a heating load: leg to leg at the terminal block, or leg to neutral.
fn supply_of_load(machine: &Machine) -> Option<(TerminalId, TerminalId)> {
    match machine.supply.block.as_slice() {
        [(_, a), (_, b), ..] => Some((*a, *b)),
        _ => None,
    }
}

/// The loop at the board's connector, the connector off it: every sense of the board at these two points is off with it.
fn sensor_loop(machine: &Machine, source: BranchId) -> Act {
    let (part, ends) = (machine[source].part, (machine[source].from, machine[source].to));
    let branches = (0..).map(BranchId).zip(&machine.branches);
    let same = branches.filter(|(_, branch)| branch.part == part && (branch.from, branch.to) == ends);
    let lifted: Vec<BranchId> =
        same.filter(|(_, branch)| matches!(branch.law, Law::Source { .. })).map(|(id, _)| id).collect();
    let condition = Condition { lifted, ..Condition::isolated(StateId(0)) };
    Act::Read(Reading { quantity: Quantity::Ohms, probe: Probe::Across(ends.0, ends.1), condition }, Hands::Isolated)
}

fn taken(s: &Session<'_, '_>, act: &Act) -> bool {
    value(s, act).is_some()
}

fn value(s: &Session<'_, '_>, act: &Act) -> Option<Measured> {
    let Act::Read(reading, _) = act else { return None };
    let since = s.now.changes.len();
    let found = s.now.taken.iter().rev().find(|taken| taken.reading == *reading && taken.after_changes == since);
    found.map(|taken| taken.measured)
}

fn figure(measured: Measured) -> f64 {
    match measured {
        Measured::Value(value) => value,
        Measured::OverRange => f64::INFINITY,
    }
}

/// Gives the evidence against boards that was measured since the last repair.
pub(crate) fn evidence(s: &Session<'_, '_>) -> Vec<BoardEvidence> {
    let machine = s.machine();
    let boards = (0..).map(PartId).zip(&machine.parts).filter(|(_, part)| part.kind == PartKind::Control);
    let mut all = Vec::new();
    for (board, _) in boards {
        for (output, state) in cases(s, board) {
            all.extend(facts(s, board, output, state).and_then(|facts| judge_board(machine, &facts).ok()));
        }
    }
    all
}

fn facts(s: &Session<'_, '_>, board: PartId, output: FlagId, state: StateId) -> Option<BoardFacts> {
    let machine = s.machine();
    let FlagRule::Output { needs, .. } = &machine[output].rule else { return None };
    let mut measured = Vec::new();
    for need in needs {
        match need {
            Need::Volts { from, to, .. } => {
                let read = value(s, &volts(*from, *to, state));
                measured.extend(read.map(|read| NeedFact::Volts { from: *from, to: *to, volts: figure(read) }));
            }
            Need::Sense { source, .. } => {
                let read = value(s, &sensor_loop(machine, *source));
                measured.extend(read.map(|read| NeedFact::Ohms { source: *source, ohms: figure(read) }));
            }
            Need::Works { .. } => {}
        }
    }
    let across = contact_of(machine, board, output).and_then(|contact| {
        let across = value(s, &volts(machine[contact].from, machine[contact].to, state))?;
        let (a, b) = supply_of_load(machine)?;
        let supply = value(s, &volts(a, b, state))?;
        let (supply_volts, across_volts) = (figure(supply), figure(across));
        Some(OutputFact { contact, load_connected: true, supply_volts, across_volts })
    });
    let shown = display(s, board, state);
    let (no_life, display_normal) = (shown == Some(Observed::DARK), shown == Some(Observed::NORMAL));
    Some(BoardFacts { board, output, state, needs: measured, contact: across, no_life, display_normal })
}

/// What the board's display was last watched to show in this state since the last repair.
fn display(s: &Session<'_, '_>, board: PartId, state: StateId) -> Option<u8> {
    let machine = s.machine();
    let last_change =
        s.now.evidence.iter().rposition(|item| matches!(item, Evidence::Repaired(_))).map_or(0, |at| at + 1);
    s.now.evidence.iter().skip(last_change).rev().find_map(|item| match item {
        Evidence::Watched(seen) if seen.state == state => {
            machine[seen.what].of.is_display_of(&machine.flags, board).then_some(seen.value)
        }
        _ => None,
    })
}
