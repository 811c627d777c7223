//! Chains of items between bars, and which way they read: from supply to load.
//!
//! A bar is a point where more than two items meet (or one ends), or a rail. Every bar gets a potential: leg 1 stands at
//! 0, the other rails at 1, and each item is a resistance; a chain reads from the lower potential to the higher one, so
//! that no way ever leads back. A faint tie to one half keeps what hangs on one end only in order.

use super::Item;
use machine::model::{Conductor, TerminalId};
use std::collections::{BTreeMap, BTreeSet};

/// What is drawn plumb.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Bar {
    /// A rail on the left.
    Left(Conductor),
    /// A terminal where items meet.
    Terminal(TerminalId),
    /// A bend that is no terminal, where an item leads back to where it came from.
    Bend(usize),
    /// A rail on the right.
    Right(Conductor),
}

/// An item as a chain passes through it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Step {
    /// Place in the list of items.
    pub(crate) item: usize,
    /// Passed from its `to` to its `from`.
    pub(crate) turned: bool,
}

/// Items one behind the other between two bars.
#[derive(Clone, Debug)]
pub(crate) struct Chain {
    pub(crate) steps: Vec<Step>,
    /// Place of the bar on its left.
    pub(crate) from: usize,
    /// Place of the bar on its right.
    pub(crate) to: usize,
    /// Which connected group it belongs to, rails left out.
    pub(crate) group: usize,
}

/// Bars and chains.
#[derive(Clone, Debug)]
pub(crate) struct Net {
    pub(crate) bars: Vec<Bar>,
    pub(crate) chains: Vec<Chain>,
    pub(crate) groups: usize,
}

/// A chain before its rails have sides and it has a direction.
struct Loose {
    steps: Vec<Step>,
    ends: (Node, Node),
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Node {
    Terminal(TerminalId),
    Bend(usize),
}

impl Net {
    /// Chains the items that are kept.
    pub(crate) fn new(items: &[Item], kept: &[bool], rails: &[(Conductor, TerminalId)]) -> Self {
        let loose = loose_chains(items, kept, rails);
        let rail = |node: Node| rails.iter().find(|(_, terminal)| node == Node::Terminal(*terminal)).map(|(c, _)| *c);
        let groups = groups(&loose, &rail);
        let mut bars: BTreeMap<Bar, usize> = BTreeMap::new();
        let mut chains = Vec::new();
        for (chain, group) in loose.into_iter().zip(&groups.of) {
            let touched = &groups.rails[*group];
            let mut bar = |node: Node| {
                let bar = match (rail(node), node) {
                    (Some(conductor), _) => side(conductor, touched),
                    (None, Node::Terminal(terminal)) => Bar::Terminal(terminal),
                    (None, Node::Bend(bend)) => Bar::Bend(bend),
                };
                let next = bars.len();
                *bars.entry(bar).or_insert(next)
            };
            let (from, to) = (bar(chain.ends.0), bar(chain.ends.1));
            chains.push(Chain { steps: chain.steps, from, to, group: *group });
        }
        let mut list: Vec<(usize, Bar)> = bars.into_iter().map(|(bar, place)| (place, bar)).collect();
        list.sort_unstable();
        let bars: Vec<Bar> = list.into_iter().map(|(_, bar)| bar).collect();
        let mut net = Self { bars, chains, groups: groups.rails.len() };
        net.orient();
        net
    }

    /// Turns every chain from the lower potential to the higher.
    fn orient(&mut self) {
        let potentials = self.potentials();
        for chain in &mut self.chains {
            let key = |bar: usize| (potentials[bar], bar);
            let (from, to) = (key(chain.from), key(chain.to));
            if to.0.total_cmp(&from.0).then(to.1.cmp(&from.1)).is_lt() {
                (chain.from, chain.to) = (chain.to, chain.from);
                chain.steps.reverse();
                chain.steps.iter_mut().for_each(|step| step.turned = !step.turned);
            }
        }
    }

    /// Solves the net of resistances for the potential of every bar.
    fn potentials(&self) -> Vec<f64> {
        const LEAK: f64 = 1e-6;
        let size = self.bars.len();
        let mut matrix = vec![vec![0.0; size + 1]; size];
        for (bar, row) in matrix.iter_mut().enumerate() {
            row[bar] = LEAK;
            row[size] = LEAK * 0.5;
        }
        for chain in &self.chains {
            let conducts = 1.0 / f64::from(u16::try_from(chain.steps.len().max(1)).unwrap_or(u16::MAX));
            for (one, other) in [(chain.from, chain.to), (chain.to, chain.from)] {
                matrix[one][one] += conducts;
                matrix[one][other] -= conducts;
            }
        }
        for (bar, row) in matrix.iter_mut().enumerate() {
            let fixed = match self.bars[bar] {
                Bar::Left(_) => 0.0,
                Bar::Right(_) => 1.0,
                Bar::Terminal(_) | Bar::Bend(_) => continue,
            };
            row.fill(0.0);
            row[bar] = 1.0;
            row[size] = fixed;
        }
        solve(matrix)
    }
}

/// Solves by elimination; the diagonal leads in every row, so that no rows need be exchanged.
fn solve(mut matrix: Vec<Vec<f64>>) -> Vec<f64> {
    let size = matrix.len();
    for pivot in 0..size {
        let row = matrix[pivot].clone();
        for below in matrix.iter_mut().skip(pivot + 1) {
            let factor = below[pivot] / row[pivot];
            if factor.abs() > 0.0 {
                below.iter_mut().zip(&row).skip(pivot).for_each(|(to, from)| *to -= factor * from);
            }
        }
    }
    let mut solved = vec![0.0; size];
    for row in (0..size).rev() {
        let rest: f64 = (row + 1..size).map(|column| matrix[row][column] * solved[column]).sum();
        solved[row] = (matrix[row][size] - rest) / matrix[row][row];
    }
    solved
}

/// The least rail that a group touches stands on its left, the others on its right; one alone stands where it belongs.
fn side(conductor: Conductor, touched: &BTreeSet<Conductor>) -> Bar {
    let left = match touched.len() {
        1 => conductor == Conductor::Leg1,
        _ => touched.first() == Some(&conductor),
    };
    if left { Bar::Left(conductor) } else { Bar::Right(conductor) }
}

fn loose_chains(items: &[Item], kept: &[bool], rails: &[(Conductor, TerminalId)]) -> Vec<Loose> {
    let mut at: BTreeMap<TerminalId, Vec<usize>> = BTreeMap::new();
    for (place, item) in items.iter().enumerate().filter(|(place, _)| kept[*place]) {
        at.entry(item.from).or_default().push(place);
        at.entry(item.to).or_default().push(place);
    }
    let is_rail = |terminal: TerminalId| rails.iter().any(|(_, rail)| *rail == terminal);
    let is_bar = |terminal: TerminalId| is_rail(terminal) || at.get(&terminal).is_none_or(|ends| ends.len() != 2);
    let mut used = vec![false; items.len()];
    let mut chains = Vec::new();
    let starts = at.keys().filter(|terminal| is_bar(**terminal));
    // What is a ring without a bar starts anywhere.
    for start in starts.chain(at.keys()) {
        for &first in at.get(start).into_iter().flatten() {
            if !used[first] {
                chains.push(walk(items, &at, *start, first, &mut used, &is_bar));
            }
        }
    }
    unroll(chains, items)
}

fn walk(
    items: &[Item],
    at: &BTreeMap<TerminalId, Vec<usize>>,
    start: TerminalId,
    first: usize,
    used: &mut [bool],
    is_bar: &impl Fn(TerminalId) -> bool,
) -> Loose {
    let mut steps = Vec::new();
    let (mut end, mut next) = (start, Some(first));
    while let Some(item) = next {
        used[item] = true;
        let turned = items[item].from != end;
        steps.push(Step { item, turned });
        end = if turned { items[item].from } else { items[item].to };
        next = match is_bar(end) || end == start {
            true => None,
            false => at.get(&end).into_iter().flatten().copied().find(|other| !used[*other]),
        };
    }
    Loose { steps, ends: (Node::Terminal(start), Node::Terminal(end)) }
}

/// Parts a chain that leads back to its start in two, so that it reads one way.
fn unroll(chains: Vec<Loose>, items: &[Item]) -> Vec<Loose> {
    let mut unrolled = Vec::new();
    for (number, mut chain) in chains.into_iter().enumerate() {
        if chain.ends.0 != chain.ends.1 {
            unrolled.push(chain);
            continue;
        }
        let rest = chain.steps.split_off(1.min(chain.steps.len()));
        let after = chain.steps.first().map(|step| {
            let item = &items[step.item];
            if step.turned { item.from } else { item.to }
        });
        let middle = match after {
            Some(terminal) if !rest.is_empty() => Node::Terminal(terminal),
            _ => Node::Bend(number),
        };
        unrolled.push(Loose { steps: chain.steps, ends: (chain.ends.0, middle) });
        unrolled.push(Loose { steps: rest, ends: (middle, chain.ends.1) });
    }
    unrolled
}

struct Groups {
    /// Group of each chain.
    of: Vec<usize>,
    /// Rails that each group touches.
    rails: Vec<BTreeSet<Conductor>>,
}

/// Tells apart what only the rails tie together.
fn groups(chains: &[Loose], rail: &impl Fn(Node) -> Option<Conductor>) -> Groups {
    let mut root: Vec<usize> = (0..chains.len()).collect();
    let find = |root: &[usize], mut chain: usize| {
        while root[chain] != chain {
            chain = root[chain];
        }
        chain
    };
    let mut first: BTreeMap<Node, usize> = BTreeMap::new();
    for (chain, loose) in chains.iter().enumerate() {
        for node in [loose.ends.0, loose.ends.1].into_iter().filter(|node| rail(*node).is_none()) {
            let other = *first.entry(node).or_insert(chain);
            let (a, b) = (find(&root, chain), find(&root, other));
            root[a.max(b)] = a.min(b);
        }
    }
    let mut numbers: BTreeMap<usize, usize> = BTreeMap::new();
    let mut groups = Groups { of: Vec::new(), rails: Vec::new() };
    for (chain, loose) in chains.iter().enumerate() {
        let next = numbers.len();
        let group = *numbers.entry(find(&root, chain)).or_insert(next);
        if group == groups.rails.len() {
            groups.rails.push(BTreeSet::new());
        }
        groups.rails[group].extend([loose.ends.0, loose.ends.1].into_iter().filter_map(rail));
        groups.of.push(group);
    }
    groups
}
