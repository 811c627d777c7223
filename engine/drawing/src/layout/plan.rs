//! Lengths: how wide the columns and channels of a bank are, how high its rows, and where its bars stand.

use super::Grid;
use crate::graph::{Bar, Chain, Item, ItemKind, Net, Step};
use crate::{glyph, metrics};
use machine::model::TerminalId;

/// Font sizes.
pub(crate) const NAME: f64 = 8.0;
pub(crate) const SMALL: f64 = 7.0;
/// Height of a line of a name.
pub(crate) const NAME_LINE: f64 = 9.0;
/// From a cell's edge to the terminal in it.
pub(crate) const INSET: f64 = 7.0;
/// Under a row's line.
pub(crate) const UNDER: f64 = 22.0;
/// Between rows.
const ROW_GAP: f64 = 2.0;
/// Least width of a symbol's cell: two terminals with their volts, and a share between.
const SYMBOL_CELL: f64 = 53.0;
/// Least width of a lead's cell.
const LEAD_CELL: f64 = 20.0;
/// From a channel's edge to its first bar, and between bars.
const BAR_BEFORE: f64 = 7.0;
/// Least room behind a bar.
const BAR_AFTER: f64 = 7.0;
/// Room of a terminal's volts.
pub(crate) const VOLTS: f64 = 14.5;

/// What is written at an item.
#[derive(Clone, Debug)]
pub(crate) struct Tag {
    /// Name of the part, or the lead's id and colour.
    pub(crate) text: String,
    /// Labels of its two terminals, from and to.
    pub(crate) ends: (String, String),
}

/// Everything that is written in the ladder.
#[derive(Clone, Debug)]
pub(crate) struct Tags {
    pub(crate) items: Vec<Tag>,
    /// Label of every terminal beside its own part, and its full name elsewhere.
    pub(crate) terminals: Vec<(String, String)>,
}

impl Tags {
    /// Gives what is written at a terminal.
    pub(crate) fn terminal(&self, terminal: TerminalId, own: bool) -> &str {
        let label = self.terminals.get(terminal.index());
        label.map_or("", |(short, full)| if own { short } else { full })
    }
}

/// A bank in lengths.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub(crate) grid: Grid,
    /// Left edge of every column's cells, and its width.
    pub(crate) columns: Vec<(f64, f64)>,
    /// Place of every bar of the net that is in this bank.
    pub(crate) bars: Vec<Option<f64>>,
    /// Height of every row's line, from the bank's top.
    pub(crate) lines: Vec<f64>,
    pub(crate) width: f64,
    pub(crate) height: f64,
}

impl Plan {
    pub(crate) fn new(items: &[Item], net: &Net, tags: &Tags, grid: Grid, needs: &[Vec<f64>], least: f64) -> Self {
        let mut widths = column_widths(needs, &grid);
        let short = least - widths.iter().sum::<f64>();
        if let Some(last) = widths.last_mut().filter(|_| short > 0.0) {
            *last += short;
        }
        let (mut columns, mut bars) = (Vec::new(), vec![None; net.bars.len()]);
        let mut x = 0.0;
        for channel in 0..=grid.columns {
            x = place_bars(items, net, tags, &grid, channel, x, &mut bars);
            if let Some(width) = widths.get(channel) {
                columns.push((x, *width));
                x += width;
            }
        }
        let mut plan = Self { grid, columns, bars, lines: Vec::new(), width: x, height: 0.0 };
        plan.place_rows(items, net, tags);
        plan
    }

    /// Breaks a name to the width of its column.
    pub(crate) fn name_lines(&self, tag: &Tag, cell: usize) -> Vec<String> {
        let width = self.columns.get(cell).map_or(SYMBOL_CELL, |(_, width)| *width);
        metrics::wrap(&tag.text, NAME, width - 4.0)
    }

    fn place_rows(&mut self, items: &[Item], net: &Net, tags: &Tags) {
        let rows = self.grid.rows.iter().max().map_or(0, |row| row + 1);
        let mut up = vec![12.0_f64; rows];
        let taken = self.grid.cells.iter().zip(&self.grid.rows);
        for (chain, (cells, row)) in self.grid.chains.iter().zip(taken) {
            for (step, cell) in net.chains[*chain].steps.iter().zip(cells) {
                let ItemKind::Symbol(kind) = items[step.item].kind else { continue };
                let lines =
                    f64::from(u16::try_from(self.name_lines(&tags.items[step.item], *cell).len()).unwrap_or(u16::MAX));
                up[*row] = up[*row].max(glyph::reach(kind).0 + 3.0 + NAME_LINE * lines);
            }
        }
        for up in up {
            self.lines.push(self.height + up);
            self.height += up + UNDER + ROW_GAP;
        }
    }
}

fn column_widths(needs: &[Vec<f64>], grid: &Grid) -> Vec<f64> {
    let mut widths = vec![LEAD_CELL; grid.columns];
    for (cells, needs) in grid.cells.iter().zip(needs) {
        cells.iter().zip(needs).for_each(|(cell, need)| widths[*cell] = widths[*cell].max(*need));
    }
    widths
}

/// Gives the width that each item of a chain needs with its name in so many lines.
pub(crate) fn needs(items: &[Item], tags: &Tags, chain: &Chain, lines: usize) -> Vec<f64> {
    let need = |(place, step): (usize, &Step)| {
        let tag = &tags.items[step.item];
        let before = place.checked_sub(1).map(|before| &items[chain.steps[before].item]);
        match items[step.item].kind {
            ItemKind::Lead if before.is_some_and(|before| before.kind == ItemKind::Lead) => {
                let joins = start_of(items, *step);
                let label = VOLTS.max(metrics::width(tags.terminal(joins, false), SMALL));
                (label + INSET + 3.0).max(metrics::width(&tag.text, SMALL) + 6.0)
            }
            ItemKind::Lead => metrics::width(&tag.text, SMALL) + 6.0,
            ItemKind::Symbol(_) => {
                let ends = metrics::width(&tag.ends.0, SMALL) + metrics::width(&tag.ends.1, SMALL);
                SYMBOL_CELL.max(metrics::least_width(&tag.text, NAME, lines) + 4.0).max(ends + 14.0)
            }
        }
    };
    chain.steps.iter().enumerate().map(need).collect()
}

/// Gives the terminal at which a chain enters an item.
pub(crate) fn start_of(items: &[Item], step: Step) -> TerminalId {
    let item = &items[step.item];
    if step.turned { item.to } else { item.from }
}

/// Places the bars of a channel from `x` on; gives where the channel ends.
fn place_bars(
    items: &[Item],
    net: &Net,
    tags: &Tags,
    grid: &Grid,
    channel: usize,
    x: f64,
    bars: &mut [Option<f64>],
) -> f64 {
    let mut here: Vec<usize> =
        (0..net.bars.len()).filter(|bar| grid.channels[*bar] == channel && extent(net, grid, *bar).is_some()).collect();
    here.sort_by_key(|bar| match net.bars[*bar] {
        Bar::Left(_) => (0, net.bars[*bar]),
        Bar::Right(_) => (2, net.bars[*bar]),
        _ => (1, net.bars[*bar]),
    });
    sort_bars(net, grid, &mut here);
    let mut tracks: Vec<usize> = Vec::new();
    for (place, bar) in here.iter().enumerate() {
        let after =
            (0..place).filter(|other| touch(net, grid, here[*other], *bar)).map(|other| tracks[other] + 1).max();
        tracks.push(after.unwrap_or(0));
    }
    let count = tracks.iter().max().map_or(0, |track| track + 1);
    let mut edge = x;
    for track in 0..count {
        let mine = || here.iter().zip(&tracks).filter(|(_, of)| **of == track).map(|(bar, _)| *bar);
        mine().for_each(|bar| bars[bar] = Some(edge + BAR_BEFORE));
        let after = mine().map(|bar| room_behind(items, net, tags, grid, bar)).fold(BAR_AFTER, f64::max);
        edge += BAR_BEFORE + after;
    }
    edge
}

/// First and last row that a bar joins; rails come down from the top.
pub(crate) fn extent(net: &Net, grid: &Grid, bar: usize) -> Option<(usize, usize)> {
    let joins = |chain: &usize| net.chains[*chain].from == bar || net.chains[*chain].to == bar;
    let rows = || grid.chains.iter().zip(&grid.rows).filter(|(chain, _)| joins(chain)).map(|(_, row)| *row);
    let rail = matches!(net.bars[bar], Bar::Left(_) | Bar::Right(_));
    let first = if rail { Some(0) } else { rows().min() };
    first.zip(rows().max())
}

/// Says whether two bars cannot share a track; a rail shares its own with none.
fn touch(net: &Net, grid: &Grid, one: usize, other: usize) -> bool {
    if [one, other].iter().any(|bar| matches!(net.bars[*bar], Bar::Left(_) | Bar::Right(_))) {
        return true;
    }
    match (extent(net, grid, one), extent(net, grid, other)) {
        (Some(one), Some(other)) => one.0 <= other.1 && other.0 <= one.1,
        _ => false,
    }
}

/// Exchanges neighbours in a channel while that saves crossings; rails keep their places.
fn sort_bars(net: &Net, grid: &Grid, here: &mut [usize]) {
    let inner = |bar: usize| matches!(net.bars[bar], Bar::Terminal(_) | Bar::Bend(_));
    for _ in 0..here.len() {
        let mut moved = false;
        for place in 1..here.len() {
            let (left, right) = (here[place - 1], here[place]);
            if inner(left) && inner(right) && stubs_cross(net, grid, right, left) < stubs_cross(net, grid, left, right)
            {
                here.swap(place - 1, place);
                moved = true;
            }
        }
        if !moved {
            return;
        }
    }
}

/// Counts how often the lines to two bars of a channel cross the other bar.
fn stubs_cross(net: &Net, grid: &Grid, left: usize, right: usize) -> usize {
    let spans = |bar: usize, row: usize| extent(net, grid, bar).is_some_and(|(low, high)| low <= row && row <= high);
    let chains = || grid.chains.iter().zip(&grid.rows).map(|(chain, row)| (&net.chains[*chain], *row));
    let out = chains().filter(|(chain, row)| chain.from == left && spans(right, *row)).count();
    let into = chains().filter(|(chain, row)| chain.to == right && spans(left, *row)).count();
    out + into
}

/// A bar's own terminal: the row in which it is marked and its label.
pub(crate) fn mark(items: &[Item], net: &Net, grid: &Grid, bar: usize) -> Option<(TerminalId, usize, bool)> {
    let Bar::Terminal(terminal) = net.bars[bar] else { return None };
    let chains = || grid.chains.iter().zip(&grid.rows).map(|(chain, row)| (&net.chains[*chain], *row));
    let next_to = |chain: &&Chain| {
        let out = chain.steps.first().filter(|_| chain.from == bar);
        let into = chain.steps.last().filter(|_| chain.to == bar);
        [out, into].into_iter().flatten().any(|step| items[step.item].kind != ItemKind::Lead)
    };
    let own = chains().filter(|(chain, _)| next_to(chain)).map(|(_, row)| row).min();
    let any = || chains().filter(|(chain, _)| chain.from == bar || chain.to == bar).map(|(_, row)| row).min();
    own.map(|row| (terminal, row, true)).or_else(|| any().map(|row| (terminal, row, false)))
}

/// Room for the label and the volts of a bar's own terminal.
fn room_behind(items: &[Item], net: &Net, tags: &Tags, grid: &Grid, bar: usize) -> f64 {
    match mark(items, net, grid, bar) {
        Some((terminal, _, own)) => VOLTS.max(metrics::width(tags.terminal(terminal, own), SMALL)) + 5.0,
        None => BAR_AFTER,
    }
}
