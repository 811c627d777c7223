//! Where everything goes: groups of chains into banks side by side, chains into rows and columns, and both into lengths.
//!
//! Symbols and labels stand in cells; plumb lines run only in the channels between the columns, level ones only along
//! the middle of a row. So no line ever runs through a symbol or a label, whatever the machine.

mod columns;
mod plan;
mod rows;

pub(crate) use plan::{INSET, NAME, NAME_LINE, Plan, SMALL, Tag, Tags, extent, mark, start_of};

use crate::graph::{Bar, Item, Net};
use machine::model::Conductor;

/// Rows and columns of the chains of one bank.
#[derive(Clone, Debug)]
pub(crate) struct Grid {
    /// The chains, by their place in the net.
    pub(crate) chains: Vec<usize>,
    /// Row of each chain, in the order of `chains`.
    pub(crate) rows: Vec<usize>,
    /// Cell of each item of each chain, in the order of `chains`.
    pub(crate) cells: Vec<Vec<usize>>,
    /// Channel of each bar of the net; bars of other banks stand at 0 and are not used.
    pub(crate) channels: Vec<usize>,
    /// How many columns.
    pub(crate) columns: usize,
}

/// Printed page less its margins, millimetres: A4 and Letter, whichever is less.
const PAGE: (f64, f64) = (265.0, 196.0);
/// Lines into which names may be broken.
const NAME_LINES: [usize; 2] = [3, 2];
/// Most banks side by side.
const MOST_BANKS: usize = 4;

/// Lays a net out in as many banks, and its names in as many lines, as make it largest on the page. `over` is the
/// height of what is not the ladder, `least` the least width of the first bank.
pub(crate) fn lay_out(items: &[Item], net: &Net, tags: &Tags, over: f64, least: f64) -> Vec<Plan> {
    let order = group_order(net);
    let heights: Vec<usize> = order.iter().map(|group| rows::count(net, *group)).collect();
    let mut best: Option<(f64, Vec<Plan>)> = None;
    for banks in 1..=MOST_BANKS.min(order.len().max(1)) {
        let sketches: Vec<Sketch> =
            split(&order, &heights, banks).iter().map(|groups| sketch(items, net, groups)).collect();
        for lines in NAME_LINES {
            let plan = |(bank, sketch): (usize, &Sketch)| {
                let least = if bank == 0 { least } else { 0.0 };
                sketch.plan(items, net, tags, lines, least)
            };
            let plans: Vec<Plan> = sketches.iter().enumerate().map(plan).collect();
            let width: f64 = plans.iter().map(|plan| plan.width).sum();
            let height = plans.iter().map(|plan| plan.height).fold(0.0, f64::max) + over;
            let scale = (PAGE.0 / width.max(1.0)).min(PAGE.1 / height.max(1.0));
            if best.as_ref().is_none_or(|(known, _)| scale > known * 1.02) {
                best = Some((scale, plans));
            }
        }
    }
    best.map(|(_, plans)| plans).unwrap_or_default()
}

/// A bank's rows and channels, before its items have cells.
struct Sketch {
    chains: Vec<usize>,
    columns: columns::Columns,
    rows: Vec<usize>,
}

fn sketch(items: &[Item], net: &Net, groups: &[usize]) -> Sketch {
    let of = |group: usize| (0..net.chains.len()).filter(move |chain| net.chains[*chain].group == group);
    let chains: Vec<usize> = groups.iter().flat_map(|group| of(*group)).collect();
    let columns = columns::assign(items, net, &chains);
    let rows = rows::assign(net, groups, &columns.channels);
    let row_of = |chain: usize| rows.iter().find(|(known, _)| *known == chain).map_or(0, |(_, row)| *row);
    let rows = chains.iter().map(|chain| row_of(*chain)).collect();
    Sketch { chains, columns, rows }
}

impl Sketch {
    fn plan(&self, items: &[Item], net: &Net, tags: &Tags, lines: usize, least: f64) -> Plan {
        let needs: Vec<Vec<f64>> =
            self.chains.iter().map(|chain| plan::needs(items, tags, &net.chains[*chain], lines)).collect();
        let grid = Grid {
            cells: columns::cells(items, net, &self.chains, &self.columns, &needs),
            chains: self.chains.clone(),
            rows: self.rows.clone(),
            channels: self.columns.channels.clone(),
            columns: self.columns.count,
        };
        Plan::new(items, net, tags, grid, &needs, least)
    }
}

/// Orders the groups: those between the legs first, then those to neutral, then those to the frame.
fn group_order(net: &Net) -> Vec<usize> {
    let key = |group: usize| {
        let bars = net.chains.iter().filter(|chain| chain.group == group).flat_map(|chain| [chain.from, chain.to]);
        let rails: Vec<Conductor> = bars
            .filter_map(|bar| match net.bars[bar] {
                Bar::Right(conductor) => Some(conductor),
                _ => None,
            })
            .collect();
        let first = net.chains.iter().filter(|chain| chain.group == group).flat_map(|chain| &chain.steps);
        (rails.iter().min().copied(), rails.iter().max().copied(), first.map(|step| step.item).min())
    };
    let mut order: Vec<usize> = (0..net.groups).collect();
    order.sort_by_key(|group| key(*group));
    order
}

/// Deals the groups out to so many banks, the tallest first to the bank that is lowest so far; in each bank, and from
/// bank to bank by their first ones, they keep their order.
fn split(order: &[usize], heights: &[usize], banks: usize) -> Vec<Vec<usize>> {
    let mut tallest: Vec<usize> = (0..order.len()).collect();
    tallest.sort_by_key(|place| std::cmp::Reverse(heights[*place]));
    let mut dealt: Vec<(usize, Vec<usize>)> = vec![(0, Vec::new()); banks];
    for place in tallest {
        if let Some(lowest) = dealt.iter_mut().min_by_key(|bank| bank.0) {
            lowest.0 += heights[place];
            lowest.1.push(place);
        }
    }
    dealt.iter_mut().for_each(|bank| bank.1.sort_unstable());
    dealt.sort_by(|one, other| one.1.first().cmp(&other.1.first()));
    dealt.into_iter().map(|(_, places)| places.into_iter().map(|place| order[place]).collect()).collect()
}
