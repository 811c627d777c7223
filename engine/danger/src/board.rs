//! Evidence against an electronic control. A board is a black box and is never condemned by elimination: only by what
//! was measured at its own terminals. [`BoardEvidence`] is made by [`judge_board`] and by nothing else.

use machine::model::{
    BranchId, CodeRule, FlagId, FlagRule, Law, Machine, Need, Observed, PartId, PartKind, Rule, StateId, TerminalId,
};

/// What the board does wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum BoardTrouble {
    /// Supplies good, request present, output absent under load.
    OutputAbsent,
    /// Output present with nothing calling for it.
    OutputStuck,
    /// Supplies good, and nothing on the display or any output.
    NoLife,
}

/// One need of an output, as measured at the board's terminals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NeedFact {
    /// Volts between two terminals.
    Volts {
        /// From.
        from: TerminalId,
        /// To.
        to: TerminalId,
        /// What the meter showed.
        volts: f64,
    },
    /// Ohms of a sensor loop at the board's connector, unplugged from the board.
    Ohms {
        /// The board's own sensing source, which names the loop.
        source: BranchId,
        /// What the meter showed.
        ohms: f64,
    },
}

/// The output, as measured with its load connected.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutputFact {
    /// The output's contact.
    pub contact: BranchId,
    /// The load and its leads were connected.
    pub load_connected: bool,
    /// Volts of the supply of that load at the time.
    pub supply_volts: f64,
    /// Volts across the contact: near zero when closed, near the supply when open.
    pub across_volts: f64,
}

/// What was measured.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardFacts {
    /// The board.
    pub board: PartId,
    /// The output in question: its flag. For [`BoardTrouble::NoLife`] any output of the board.
    pub output: FlagId,
    /// The state in which it was measured.
    pub state: StateId,
    /// The needs, measured in that state.
    pub needs: Vec<NeedFact>,
    /// The output, measured in that state; not asked for when the board shows no life.
    pub contact: Option<OutputFact>,
    /// The display is dark and no output moves.
    pub no_life: bool,
    /// The display was watched in that state and shows what it always shows: lit, and no code. That is the board's own
    /// word that its supply and its senses are good, and as positive as a reading.
    pub display_normal: bool,
}

/// Why the facts do not condemn the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyNotBoard {
    /// The part is no electronic control.
    NotABoard,
    /// The flag is no output of this board.
    NotItsOutput,
    /// The contact does not follow that output.
    NotItsContact,
    /// A supply or input was not measured.
    NeedNotMeasured,
    /// A supply, input or sensor is out of its limits: look there first.
    NeedNotMet,
    /// The load or its leads were off, so nothing was asked of the output.
    NoLoad,
    /// The output does what it should.
    OutputAsItShould,
    /// The reading says neither open nor closed.
    Unclear,
}

/// Positive evidence that a board is bad. Only [`judge_board`] makes one.
///
/// ```compile_fail
/// let guess = danger::BoardEvidence { board: todo!(), trouble: danger::BoardTrouble::NoLife };
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BoardEvidence {
    board: PartId,
    trouble: BoardTrouble,
}

impl BoardEvidence {
    /// Gives the board.
    #[must_use]
    pub fn board(&self) -> PartId {
        self.board
    }

    /// Says what it does wrong.
    #[must_use]
    pub fn trouble(&self) -> BoardTrouble {
        self.trouble
    }
}

/// An open contact carries at least this share of its supply, a closed one at most the other share.
/// Common practice, no source.
const OPEN_SHARE: f64 = 0.8;
const CLOSED_SHARE: f64 = 0.1;

/// Judges the facts.
///
/// # Errors
/// [`WhyNotBoard`] says what is lacking or what speaks for the board.
pub fn judge_board(machine: &Machine, facts: &BoardFacts) -> Result<BoardEvidence, WhyNotBoard> {
    let part = machine.parts.get(facts.board.index()).ok_or(WhyNotBoard::NotABoard)?;
    if part.kind != PartKind::Control {
        return Err(WhyNotBoard::NotABoard);
    }
    let flag = machine.flags.get(facts.output.index()).filter(|flag| flag.part == facts.board);
    let Some(FlagRule::Output { requested_in, needs }) = flag.map(|flag| &flag.rule) else {
        return Err(WhyNotBoard::NotItsOutput);
    };
    let evidence = |trouble| Ok(BoardEvidence { board: facts.board, trouble });
    if facts.no_life {
        judge_needs(machine, needs, facts, true)?;
        return evidence(BoardTrouble::NoLife);
    }
    let closed = judge_contact(machine, facts)?;
    match (requested_in.contains(&facts.state), closed) {
        (false, true) => evidence(BoardTrouble::OutputStuck),
        (true, false) => {
            judge_needs(machine, needs, facts, false)?;
            evidence(BoardTrouble::OutputAbsent)
        }
        _ => Err(WhyNotBoard::OutputAsItShould),
    }
}

/// Every need must be measured and met. A board without life is owed its supplies only.
fn judge_needs(machine: &Machine, needs: &[Need], facts: &BoardFacts, supplies_only: bool) -> Result<(), WhyNotBoard> {
    let mut supplies = 0;
    for need in needs {
        if facts.display_normal && display_vouches(machine, facts.board, need) {
            supplies += u32::from(matches!(need, Need::Volts { .. }));
            continue;
        }
        match need {
            Need::Volts { from, to, at_least } => {
                let read = facts.needs.iter().find_map(|fact| volts_between(fact, *from, *to));
                let read = read.ok_or(WhyNotBoard::NeedNotMeasured)?;
                // No figure is no reading, and meets nothing.
                let met = read >= *at_least;
                if !met {
                    return Err(WhyNotBoard::NeedNotMet);
                }
                supplies += 1;
            }
            Need::Sense { .. } | Need::Works { .. } if supplies_only => {}
            // Nothing is measured of it: only a display that would tell vouches for it.
            Need::Works { asked_in, .. } if !asked_in.contains(&facts.state) => {}
            Need::Works { .. } => return Err(WhyNotBoard::NeedNotMeasured),
            Need::Sense { source, low_ohms, high_ohms, .. } => {
                let read = facts.needs.iter().find_map(|fact| loop_ohms(fact, *source));
                let read = read.ok_or(WhyNotBoard::NeedNotMeasured)?;
                if !(read >= *low_ohms && read <= *high_ohms) {
                    return Err(WhyNotBoard::NeedNotMet);
                }
            }
        }
    }
    if supplies == 0 { Err(WhyNotBoard::NeedNotMeasured) } else { Ok(()) }
}

/// Says whether a board's display would not look as it always does if this need were not met: it is lit from that
/// supply, or it shows a code for that sense, or for that work of another part.
#[must_use]
pub fn display_vouches(machine: &Machine, board: PartId, need: &Need) -> bool {
    machine.observations.iter().any(|observation| match &observation.of {
        of @ Observed::Shows { supply, senses, rules, .. } if of.is_display_of(&machine.flags, board) => {
            supply == need
                || senses.iter().any(|sense| sense == need && carries_code(sense))
                || rules.iter().any(|rule| tells(rule, need))
        }
        _ => false,
    })
}

/// Says whether a rule shows its code for this need alone, in every state in which it is asked for.
fn tells(rule: &CodeRule, need: &Need) -> bool {
    let alone = rule.with.is_empty() && rule.without.iter().eq([need]);
    alone && matches!(need, Need::Works { asked_in, .. } if asked_in.iter().all(|state| rule.states.contains(state)))
}

fn carries_code(sense: &Need) -> bool {
    matches!(sense, Need::Sense { code: Some(_), .. })
}

fn volts_between(fact: &NeedFact, from: TerminalId, to: TerminalId) -> Option<f64> {
    match *fact {
        NeedFact::Volts { from: a, to: b, volts } if (a, b) == (from, to) || (b, a) == (from, to) => Some(volts.abs()),
        _ => None,
    }
}

fn loop_ohms(fact: &NeedFact, loop_of: BranchId) -> Option<f64> {
    match *fact {
        NeedFact::Ohms { source, ohms } if source == loop_of => Some(ohms),
        _ => None,
    }
}

/// Says whether the output's contact reads closed.
fn judge_contact(machine: &Machine, facts: &BoardFacts) -> Result<bool, WhyNotBoard> {
    let read = facts.contact.ok_or(WhyNotBoard::NeedNotMeasured)?;
    let branch = machine.branches.get(read.contact.index()).ok_or(WhyNotBoard::NotItsContact)?;
    let follows =
        matches!(branch.law, Law::Contact { rule: Rule::Flag { flag, inverted: false }, .. } if flag == facts.output);
    if !follows || branch.part != facts.board {
        return Err(WhyNotBoard::NotItsContact);
    }
    if !read.load_connected {
        return Err(WhyNotBoard::NoLoad);
    }
    let supply = read.supply_volts.abs();
    let across = read.across_volts.abs();
    let supplied = supply > 0.0;
    if !supplied {
        Err(WhyNotBoard::NeedNotMet)
    } else if across >= OPEN_SHARE * supply {
        Ok(false)
    } else if across <= CLOSED_SHARE * supply {
        Ok(true)
    } else {
        Err(WhyNotBoard::Unclear)
    }
}
