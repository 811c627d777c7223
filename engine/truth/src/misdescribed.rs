//! Units that are wired otherwise than described: one thing differs, and the technician is not told.
//!
//! A lead's end sits on another terminal, a connection exists that no sheet shows, a part is left out or bridged over,
//! or a value is another. It may be the whole trouble, or an old peculiarity that does no harm beside a fault of the
//! usual kind. What differs is drawn and described here, apart from whatever a reasoner may think of.

use crate::dice::Dice;
use crate::draw::{DrawSettings, Workshop};
use crate::unit::Unit;
use crate::values::within_reach;
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, Law, Machine, PartId, PartKind, TerminalId};

/// The one thing in which a unit differs from its description.
#[derive(Clone, Debug, PartialEq)]
pub struct Peculiarity {
    /// In words.
    pub say: String,
    /// The parts whose repair would put it right or show it.
    pub parts: Vec<PartId>,
    /// What it does to the wiring.
    pub(crate) effects: Vec<Effect>,
}

/// Words that keep the streams of chance apart.
const PECULIAR: u64 = 61;
const BESIDE: u64 = 62;

/// Peculiarities drawn before one that shows nothing is taken as it is.
const MOST_DRAWS: u64 = 300;

/// Ohms of a crimped lead that is where it should not be.
const LEAD_OHMS: f64 = 0.01;

/// Share of peculiarities of each kind: a lead moved, a connection too many, a part left out, a part bridged over, a
/// value off. Common practice, no source.
const KINDS: [f64; 5] = [0.4, 0.15, 0.15, 0.15, 0.15];

impl<'m> Workshop<'m> {
    /// Draws a unit that is not as described and in which something shows: by its peculiarity alone, or, every other
    /// time, by a usual fault beside a peculiarity that does no harm.
    #[must_use]
    pub fn misdescribed(&self, seed: u64, settings: &DrawSettings) -> Unit<'m> {
        let beside = Dice::of(seed, &[BESIDE]).chance(0.5);
        let faults = if beside { self.draw(seed, settings).faults() } else { Vec::new() };
        let mut last = self.unit(seed, settings, &faults);
        for draw in 0..MOST_DRAWS {
            let mut dice = Dice::of(seed, &[PECULIAR, draw]);
            let Some(peculiarity) = draw_one(self.machine(), &mut dice, &faults) else { continue };
            let alone = self.unit(seed, settings, &[]).peculiar(peculiarity.clone());
            last = self.unit(seed, settings, &faults).peculiar(peculiarity);
            if alone.sound() == beside && !last.sound() {
                break;
            }
        }
        last
    }
}

fn draw_one(machine: &Machine, dice: &mut Dice, faults: &[FaultId]) -> Option<Peculiarity> {
    let peculiarity = match dice.pick(&KINDS)? {
        0 => moved(machine, dice),
        1 => added(machine, dice),
        2 => left_out(machine, dice),
        3 => bridged_over(machine, dice),
        _ => another_value(machine, dice),
    }?;
    // What is broken and what differs are two things.
    let ails = |part: &PartId| faults.iter().any(|fault| machine.faults[fault.index()].part == *part);
    (!peculiarity.parts.iter().any(ails)).then_some(peculiarity)
}

/// Puts one end of a lead on another terminal: of the same part every other time, since such are mixed up soonest.
fn moved(machine: &Machine, dice: &mut Dice) -> Option<Peculiarity> {
    let leads = branches(machine, |kind| kind == PartKind::Lead);
    let lead = *leads.get(dice.one_of(leads.len())?)?;
    let branch = &machine.branches[lead.index()];
    let (stays, leaves) = if dice.chance(0.5) { (branch.from, branch.to) } else { (branch.to, branch.from) };
    let old_part = machine.terminals[leaves.index()].part;
    let near = dice.chance(0.5);
    let fits = |terminal: TerminalId| terminal != leaves && (!near || of(machine, terminal) == old_part);
    let onto = terminal(machine, dice, stays, fits)?;
    Some(Peculiarity {
        say: format!("{} sits on {}, not on {}", branch.name, name(machine, onto), name(machine, leaves)),
        parts: vec![branch.part],
        effects: vec![Effect::Open(lead), Effect::Bridge(stays, onto, LEAD_OHMS)],
    })
}

fn added(machine: &Machine, dice: &mut Dice) -> Option<Peculiarity> {
    let earth = machine.supply.earth;
    let one = terminal(machine, dice, earth, |_| true)?;
    let other = terminal(machine, dice, one, |_| true)?;
    Some(Peculiarity {
        say: format!("a lead joins {} and {}", name(machine, one), name(machine, other)),
        parts: Vec::new(),
        effects: vec![Effect::Bridge(one, other, LEAD_OHMS)],
    })
}

fn left_out(machine: &Machine, dice: &mut Dice) -> Option<Peculiarity> {
    let part = part(machine, dice)?;
    let own = (0..).zip(&machine.branches).filter(|(_, branch)| branch.part == part);
    Some(Peculiarity {
        say: format!("{} is not there", machine.parts[part.index()].name),
        parts: vec![part],
        effects: own.map(|(index, _)| Effect::Open(BranchId(index))).collect(),
    })
}

fn bridged_over(machine: &Machine, dice: &mut Dice) -> Option<Peculiarity> {
    let contacts = branches(machine, |kind| !matches!(kind, PartKind::Lead | PartKind::Joint) && within_reach(kind));
    let contact = *contacts.get(dice.one_of(contacts.len())?)?;
    let branch = &machine.branches[contact.index()];
    Some(Peculiarity {
        say: format!("{} is bridged over", branch.name),
        parts: vec![branch.part],
        effects: vec![Effect::Bridge(branch.from, branch.to, LEAD_OHMS)],
    })
}

fn another_value(machine: &Machine, dice: &mut Dice) -> Option<Peculiarity> {
    let valued = (0..).zip(&machine.branches).filter(|(_, branch)| {
        let kind = machine.parts[branch.part.index()].kind;
        let has_value = matches!(branch.law, Law::Resistance(r) if r.cold_ohms > 1.0)
            || matches!(branch.law, Law::Sensor { .. } | Law::Winding { .. } | Law::Capacitor { .. });
        has_value && within_reach(kind)
    });
    let valued: Vec<u16> = valued.map(|(index, _)| index).collect();
    let branch = BranchId(*valued.get(dice.one_of(valued.len())?)?);
    let factor = libm::exp(dice.between(libm::log(1.5), libm::log(10.0)));
    let factor = if dice.chance(0.5) { factor } else { 1.0 / factor };
    let described = &machine.branches[branch.index()];
    Some(Peculiarity {
        say: format!("{} has {factor:.2} times its value", described.name),
        parts: vec![described.part],
        effects: vec![Effect::Scale(branch, factor)],
    })
}

fn branches(machine: &Machine, fits: impl Fn(PartKind) -> bool) -> Vec<BranchId> {
    let kind = |part: PartId| machine.parts[part.index()].kind;
    let all = (0..).zip(&machine.branches).filter(|(_, b)| fits(kind(b.part)) && !of_the_house(machine, b.part));
    all.map(|(index, _)| BranchId(index)).collect()
}

fn part(machine: &Machine, dice: &mut Dice) -> Option<PartId> {
    let wired = |id: u16| machine.branches.iter().any(|b| b.part == PartId(id));
    let parts = (0..).zip(&machine.parts).filter(|(id, part)| {
        !part.installation && !matches!(part.kind, PartKind::Lead | PartKind::Joint) && wired(*id)
    });
    let parts: Vec<u16> = parts.map(|(id, _)| id).collect();
    Some(PartId(*parts.get(dice.one_of(parts.len())?)?))
}

/// Draws a terminal of the machine itself that a lead can be put on, other than `not`.
fn terminal(
    machine: &Machine,
    dice: &mut Dice,
    not: TerminalId,
    fits: impl Fn(TerminalId) -> bool,
) -> Option<TerminalId> {
    let all = (0..).zip(&machine.terminals).filter(|(id, terminal)| {
        !terminal.hidden
            && !of_the_house(machine, terminal.part)
            && TerminalId(*id) != machine.supply.earth
            && TerminalId(*id) != not
            && fits(TerminalId(*id))
    });
    let all: Vec<u16> = all.map(|(id, _)| id).collect();
    Some(TerminalId(*all.get(dice.one_of(all.len())?)?))
}

fn of_the_house(machine: &Machine, part: PartId) -> bool {
    machine.parts[part.index()].installation
}

fn of(machine: &Machine, terminal: TerminalId) -> PartId {
    machine.terminals[terminal.index()].part
}

fn name(machine: &Machine, terminal: TerminalId) -> &str {
    &machine.terminals[terminal.index()].name
}
