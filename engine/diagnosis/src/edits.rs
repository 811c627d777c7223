//! Every description that differs from the given one in one thing. Knows no evidence and judges nothing.
//!
//! A lead's end sits on another terminal, two points are joined that no sheet joins, a part is left out or bridged
//! over, or a value is another. Terminals that plain leads tie together are one place: *approximate because* beside an
//! open lead they would not be.

use crate::words;
use machine::Machine;
use machine::faults::Effect;
use machine::model::{BranchId, FaultId, Law, PartId, PartKind, RepairId, TerminalId};
use std::collections::{BTreeMap, BTreeSet};

/// What differs; edits that differ alike are one thing to tell, whatever place or size each of them has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Differs {
    /// An end of this lead sits elsewhere.
    Moved(BranchId),
    /// Two points are joined.
    Joined(TerminalId, TerminalId),
    /// The part is not there.
    LeftOut(PartId),
    /// The branch is bridged over.
    BridgedOver(BranchId),
    /// The branch has another value.
    Value(BranchId),
}

/// One difference from the description.
#[derive(Clone, Debug)]
pub(crate) struct Edit {
    pub(crate) differs: Differs,
    /// In words; of a value what it is the value of.
    say: String,
    pub(crate) effects: Vec<Effect>,
    /// Prior share among all edits.
    pub(crate) weight: f64,
    /// Where a reading with the machine isolated would show it, the plainest first.
    pub(crate) shows_across: Vec<(TerminalId, TerminalId)>,
}

/// Prior share of each kind, in the order of [`Differs`]: common practice, no source.
const KINDS: [f64; 5] = [0.45, 0.10, 0.10, 0.15, 0.20];

/// Share of moved ends that sit on another terminal of the same part: common practice, no source.
const ON_THE_SAME_PART: f64 = 0.5;

/// Ohms of a lead that is where it should not be.
const LEAD_OHMS: f64 = 0.01;

/// Ohms up to which what does not move ties two terminals into one place.
const TIES_OHMS: f64 = 0.1;

/// Factors that are tried for a value: so many for each power of ten, each about 5 % from the next.
const FACTORS: i32 = 46;

/// Powers of ten up and down to which a value is tried.
const POWERS: i32 = 2;

/// Lists every edit; their weights sum to 1 as long as each kind has one.
pub(crate) fn edits(machine: &Machine) -> Vec<Edit> {
    let kinds = [moved(machine), joined(machine), left_out(machine), bridged_over(machine), values(machine)];
    let mut all = Vec::new();
    for (mut kind, share) in kinds.into_iter().zip(KINDS) {
        let sum: f64 = kind.iter().map(|edit| edit.weight).sum();
        kind.iter_mut().for_each(|edit| edit.weight *= share / sum);
        all.extend(kind);
    }
    all
}

/// Gives the machine with each edit as one fault more, and the faults that they are.
///
/// Such a fault is for prediction alone: it has no weight, no damage that shows, and the repair of any other.
pub(crate) fn with_edits(machine: &Machine, edits: &[Edit]) -> (Machine, Vec<FaultId>) {
    let mut edited = machine.clone();
    let first = edited.faults.len();
    let as_fault = |edit: &Edit| machine::faults::Fault {
        id: String::new(),
        part: edit.parts(machine).first().copied().unwrap_or(PartId(0)),
        say: String::new(),
        weight: 0.0,
        wear: 1.0,
        at_ages: Vec::new(),
        effects: edit.effects.clone(),
        caused_by: Vec::new(),
        visible: 0.0,
        repair: RepairId(0),
        dangerous: false,
        intermittent: None,
    };
    edited.faults.extend(edits.iter().map(as_fault));
    // A fault's number has sixteen bits; what would not fit is not searched.
    let ids = (first..edited.faults.len()).map_while(|index| u16::try_from(index).ok().map(FaultId));
    let ids = ids.collect();
    (edited, ids)
}

impl Edit {
    /// Gives the factor of a value.
    pub(crate) fn factor(&self) -> Option<f64> {
        match self.effects[..] {
            [Effect::Scale(_, factor), ..] => Some(factor),
            _ => None,
        }
    }

    /// Says what differs; of a value, between which factors nine tenths of the weights lie (`factors`, least first).
    pub(crate) fn say_of(&self, factors: &[(f64, f64)]) -> String {
        let all: f64 = factors.iter().map(|(_, weight)| weight).sum();
        let at = |share: f64| {
            let mut sum = 0.0;
            let reached = factors.iter().find(|(_, weight)| {
                sum += weight;
                sum >= share * all
            });
            reached.or(factors.last()).map(|(factor, _)| *factor)
        };
        match (at(0.05), at(0.5), at(0.95)) {
            (Some(low), Some(middle), Some(high)) if high < 1.3 * low => {
                format!("the {} has about {middle:.2} times its value", self.say)
            }
            (Some(low), _, Some(high)) => format!("the {} has {low:.2} to {high:.2} times its value", self.say),
            _ => self.say.clone(),
        }
    }

    /// Gives the parts that it is about.
    pub(crate) fn parts(&self, machine: &Machine) -> Vec<PartId> {
        match self.differs {
            Differs::Moved(branch) | Differs::BridgedOver(branch) | Differs::Value(branch) => {
                vec![machine.branches[branch.index()].part]
            }
            Differs::Joined(a, b) => vec![machine[a].part, machine[b].part],
            Differs::LeftOut(part) => vec![part],
        }
    }

    /// Says whether a new part in its place, as described, ends it.
    pub(crate) fn ends_with(&self, machine: &Machine, repair: RepairId) -> bool {
        let part = machine.repairs[repair.index()].part;
        !matches!(self.differs, Differs::Joined(..)) && self.parts(machine).contains(&part)
    }
}

fn moved(machine: &Machine) -> Vec<Edit> {
    let mut all = Vec::new();
    for (id, branch) in own(machine).filter(|(id, _)| kind(machine, *id) == PartKind::Lead) {
        let places = Places::without(machine, Some(id));
        for (stays, leaves) in [(branch.from, branch.to), (branch.to, branch.from)] {
            let part = machine[leaves].part;
            let elsewhere =
                places.each(part).filter(|place| !places.same(*place, stays) && !places.same(*place, leaves));
            let elsewhere: Vec<TerminalId> = elsewhere.collect();
            let on_it = elsewhere.iter().filter(|onto| machine[**onto].part == part).count();
            let beyond = elsewhere.len() - on_it;
            for onto in elsewhere {
                let same = machine[onto].part == part;
                let share = if same { ON_THE_SAME_PART } else { 1.0 - ON_THE_SAME_PART };
                all.push(Edit {
                    differs: Differs::Moved(id),
                    say: format!(
                        "the {} sits on {}, not on {}",
                        machine[branch.part].name,
                        words::terminal(machine, onto),
                        words::terminal(machine, leaves)
                    ),
                    effects: vec![Effect::Open(id), Effect::Bridge(stays, onto, LEAD_OHMS)],
                    weight: share / as_f64(if same { on_it } else { beyond }),
                    shows_across: vec![(stays, onto), (stays, leaves)],
                });
            }
        }
    }
    all
}

fn joined(machine: &Machine) -> Vec<Edit> {
    let places: Vec<TerminalId> = Places::without(machine, None).each(PartId(u16::MAX)).collect();
    let pairs = places.iter().enumerate().flat_map(|(at, &a)| places[at + 1..].iter().map(move |&b| (a, b)));
    let edit = |(a, b)| Edit {
        differs: Differs::Joined(a, b),
        say: format!("a lead joins {} and {}", words::terminal(machine, a), words::terminal(machine, b)),
        effects: vec![Effect::Bridge(a, b, LEAD_OHMS)],
        weight: 1.0,
        shows_across: vec![(a, b)],
    };
    pairs.map(edit).collect()
}

fn left_out(machine: &Machine) -> Vec<Edit> {
    let mut of_part: BTreeMap<PartId, Vec<BranchId>> = BTreeMap::new();
    for (id, branch) in own(machine).filter(|(id, _)| !matches!(kind(machine, *id), PartKind::Lead | PartKind::Joint)) {
        of_part.entry(branch.part).or_default().push(id);
    }
    let edit = |(part, branches): (PartId, Vec<BranchId>)| Edit {
        differs: Differs::LeftOut(part),
        say: format!("there is no {}", machine[part].name),
        effects: branches.iter().map(|&branch| Effect::Open(branch)).collect(),
        weight: 1.0,
        shows_across: across(machine, &branches),
    };
    of_part.into_iter().map(edit).collect()
}

fn bridged_over(machine: &Machine) -> Vec<Edit> {
    let bridged = own(machine).filter(|(id, branch)| {
        let ties = matches!(branch.law, Law::Resistance(r) if r.cold_ohms <= TIES_OHMS);
        let lead = matches!(kind(machine, *id), PartKind::Lead | PartKind::Joint);
        by_hand(machine, *id) && !lead && !ties && !matches!(branch.law, Law::Source { .. })
    });
    let edit = |(id, branch): (BranchId, &machine::model::Branch)| Edit {
        differs: Differs::BridgedOver(id),
        say: format!("the {} is bridged over", named(machine, &[id])),
        effects: vec![Effect::Bridge(branch.from, branch.to, LEAD_OHMS)],
        weight: 1.0,
        shows_across: vec![(branch.from, branch.to)],
    };
    bridged.map(edit).collect()
}

fn values(machine: &Machine) -> Vec<Edit> {
    let valued = own(machine).filter(|(_, branch)| match branch.law {
        Law::Resistance(r) => r.cold_ohms > 1.0,
        Law::Sensor { .. } | Law::Winding { .. } | Law::Capacitor { .. } => true,
        Law::Contact { .. } | Law::Source { .. } => false,
    });
    // The pieces of one thing that meet inside it have one value.
    let mut things: BTreeMap<(PartId, Option<BranchId>), Vec<BranchId>> = BTreeMap::new();
    for (id, branch) in valued {
        things.entry((branch.part, by_hand(machine, id).then_some(id))).or_default().push(id);
    }
    let factors = (-POWERS * FACTORS..=POWERS * FACTORS).map(|n| libm::pow(10.0, f64::from(n) / f64::from(FACTORS)));
    // Within the tolerance it is the described value.
    let factors: Vec<f64> = factors.filter(|factor| !(0.7..=1.4).contains(factor)).collect();
    let mut all = Vec::new();
    for branches in things.into_values() {
        let Some(&first) = branches.first() else { continue };
        all.extend(factors.iter().map(|&factor| Edit {
            differs: Differs::Value(first),
            say: named(machine, &branches),
            effects: branches.iter().map(|&branch| Effect::Scale(branch, factor)).collect(),
            weight: 1.0,
            shows_across: across(machine, &branches),
        }));
    }
    all
}

/// Gives the machine's own branches: what the house brings is as the house has it.
fn own(machine: &Machine) -> impl Iterator<Item = (BranchId, &machine::model::Branch)> {
    let all = (0..).map(BranchId).zip(&machine.branches);
    all.filter(|(_, branch)| !machine[branch.part].installation)
}

fn kind(machine: &Machine, branch: BranchId) -> PartKind {
    machine[machine.branches[branch.index()].part].kind
}

/// Says whether probes reach both ends of a branch.
fn by_hand(machine: &Machine, branch: BranchId) -> bool {
    let branch = &machine.branches[branch.index()];
    !machine[branch.from].hidden && !machine[branch.to].hidden
}

/// Gives the two points between which these branches of one part show, as far as probes reach them.
fn across(machine: &Machine, branches: &[BranchId]) -> Vec<(TerminalId, TerminalId)> {
    let mut ends: Vec<TerminalId> = Vec::new();
    for branch in branches.iter().map(|branch| &machine.branches[branch.index()]) {
        ends.extend([branch.from, branch.to].into_iter().filter(|end| !machine[*end].hidden));
    }
    ends.chunks_exact(2).map(|two| (two[0], two[1])).collect()
}

/// Names what branches of one part are: the part, and which of it where it has several.
fn named(machine: &Machine, branches: &[BranchId]) -> String {
    let [one, ..] = branches else { return String::new() };
    let branch = &machine.branches[one.index()];
    let part = &machine[branch.part];
    if machine.branches.iter().filter(|other| other.part == branch.part).count() == branches.len() {
        return part.name.clone();
    }
    match branch.name.split_once(':') {
        Some((_, which)) => format!("{} ({which})", part.name),
        None => {
            let label = |terminal| words::label_and_part(machine, terminal).0;
            format!("{} from {} to {}", part.name, label(branch.from), label(branch.to))
        }
    }
}

/// Terminals that something plain ties together, as one place each.
struct Places<'m> {
    machine: &'m Machine,
    /// By terminal: the least terminal of its place.
    least: Vec<usize>,
}

impl<'m> Places<'m> {
    /// Ties what leads, joints and other plain conductors tie, one branch left out.
    fn without(machine: &'m Machine, left_out: Option<BranchId>) -> Self {
        let mut least: Vec<usize> = (0..machine.terminals.len()).collect();
        let ties = (0..).map(BranchId).zip(&machine.branches).filter(|(id, branch)| {
            Some(*id) != left_out && matches!(branch.law, Law::Resistance(r) if r.cold_ohms <= TIES_OHMS)
        });
        for (_, branch) in ties {
            let (one, other) = (least[branch.from.index()], least[branch.to.index()]);
            let (keep, join) = (one.min(other), one.max(other));
            least.iter_mut().filter(|place| **place == join).for_each(|place| *place = keep);
        }
        Self { machine, least }
    }

    fn same(&self, one: TerminalId, other: TerminalId) -> bool {
        self.least[one.index()] == self.least[other.index()]
    }

    /// Gives one terminal for each place that a lead could be put on: one of `part` where there is one.
    fn each(&self, part: PartId) -> impl Iterator<Item = TerminalId> {
        let earth = self.machine.supply.earth;
        let ours = |terminal: TerminalId| {
            let point = &self.machine[terminal];
            !point.hidden && terminal != earth && !self.machine[point.part].installation
        };
        let all = (0..self.machine.terminals.len()).filter_map(|index| u16::try_from(index).ok().map(TerminalId));
        let mut all: Vec<TerminalId> = all.filter(|terminal| ours(*terminal)).collect();
        all.sort_by_key(|terminal| self.machine[*terminal].part != part);
        let mut seen = BTreeSet::new();
        all.retain(|terminal| seen.insert(self.least[terminal.index()]));
        all.into_iter()
    }
}

fn as_f64(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
