//! Checks of the lowered wiring that need no simulation: dead shorts and terminals that float. Knows no TOML.

use crate::diagnostic::{DEAD_SHORT, FLOATING};
use crate::model::{Branch, Conductor, Law, Machine, PartKind, Rule, TerminalId};
use crate::reader::{Reader, Span, list_words};
use std::collections::BTreeMap;

/// A closed way of less resistance between two supply conductors is a dead short.
const SHORT_OHMS: f64 = 0.5;

/// Joined sets of terminals.
#[derive(Debug)]
struct Islands {
    parent: Vec<usize>,
}

impl Islands {
    fn new(len: usize) -> Self {
        Self { parent: (0..len).collect() }
    }

    fn root(&mut self, of: TerminalId) -> usize {
        let mut at = of.index();
        while let Some(up) = self.parent.get(at).copied().filter(|up| *up != at) {
            let above = self.parent.get(up).copied().unwrap_or(up);
            if let Some(entry) = self.parent.get_mut(at) {
                *entry = above;
            }
            at = up;
        }
        at
    }

    /// Joins two sets; says whether they were apart.
    fn join(&mut self, a: TerminalId, b: TerminalId) -> bool {
        let (a, b) = (self.root(a), self.root(b));
        if let Some(entry) = self.parent.get_mut(a) {
            *entry = b;
        }
        a != b
    }
}

/// Whether the branch conducts for good, with next to no resistance.
fn is_solid(machine: &Machine, branch: &Branch) -> bool {
    let house = machine.parts.get(branch.part.index()).is_some_and(|part| part.kind == PartKind::House);
    match &branch.law {
        Law::Resistance(law) => !house && law.cold_ohms < SHORT_OHMS,
        Law::Contact { rule: Rule::Always, .. } => true,
        _ => false,
    }
}

/// Complains about a dead short; `spans` says where each part is described.
///
/// Joins the machine's own solid branches one after the other; the one that ties two supply conductors is named.
pub(crate) fn shorts(reader: &mut Reader<'_>, machine: &Machine, spans: &[Span]) {
    let mut islands = Islands::new(machine.terminals.len());
    let (own, supply): (Vec<&Branch>, Vec<&Branch>) = machine
        .branches
        .iter()
        .filter(|branch| is_solid(machine, branch))
        .partition(|branch| machine.parts.get(branch.part.index()).is_some_and(|part| !part.installation));
    for branch in supply {
        islands.join(branch.from, branch.to);
    }
    let conductors: Vec<(Conductor, TerminalId)> =
        machine.supply.slots.iter().copied().filter(|(conductor, _)| *conductor != Conductor::Ground).collect();
    for branch in own {
        if !islands.join(branch.from, branch.to) {
            continue;
        }
        let pair = conductors.iter().enumerate().find_map(|(at, one)| {
            conductors
                .iter()
                .skip(at + 1)
                .find(|two| islands.root(one.1) == islands.root(two.1))
                .map(|two| (*one, *two))
        });
        if let Some((one, two)) = pair {
            let name = |id: TerminalId| machine.terminals.get(id.index()).map_or("", |terminal| terminal.name.as_str());
            let message =
                format!("`{}` joins `{}` and `{}` for good: a dead short", branch.name, name(one.1), name(two.1));
            let span = spans.get(branch.part.index()).cloned().unwrap_or(0..0);
            reader.error(DEAD_SHORT, &span, message, "see where its ends belong");
            return;
        }
    }
}

/// Complains about terminals that float; `spans` says where each part is described.
///
/// Only terminals with a lead on them count: one without is warned about elsewhere.
pub(crate) fn floating(reader: &mut Reader<'_>, machine: &Machine, spans: &[Span]) {
    let mut islands = Islands::new(machine.terminals.len());
    let mut wired = vec![false; machine.terminals.len()];
    for branch in &machine.branches {
        islands.join(branch.from, branch.to);
        let is_lead = machine.parts.get(branch.part.index()).is_some_and(|part| part.kind == PartKind::Lead);
        for end in [branch.from, branch.to] {
            if let Some(entry) = wired.get_mut(end.index()).filter(|_| is_lead) {
                *entry = true;
            }
        }
    }
    let home = islands.root(machine.supply.earth);
    let mut lost: BTreeMap<usize, Vec<(&str, usize)>> = BTreeMap::new();
    for ((at, terminal), wired) in (0..).zip(&machine.terminals).zip(&wired) {
        let root = islands.root(TerminalId(at));
        if *wired && root != home {
            lost.entry(root).or_default().push((&terminal.name, terminal.part.index()));
        }
    }
    for names in lost.values() {
        let span = names.first().and_then(|(_, part)| spans.get(*part)).cloned().unwrap_or(0..0);
        let list = list_words(names.iter().map(|(name, _)| *name));
        let message = format!("no way leads from {list} to the supply");
        reader.error(FLOATING, &span, message, "add the lead that ties them in");
    }
}
