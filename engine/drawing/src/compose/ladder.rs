//! The ladder itself: rails, rungs, bars between rungs, and everything written along them.

use super::easel::{Easel, Line};
use super::{Sheet, head};
use crate::colors;
use crate::glyph::{self, HALF, Spot};
use crate::graph::{Bar, ItemKind};
use crate::layout::{INSET, NAME, NAME_LINE, Plan, SMALL, extent, mark, start_of};
use crate::scene::{LabelOf, Point, Wire};
use machine::model::TerminalId;

/// Draws every bank; gives the height where the ladder ends.
pub(crate) fn draw(easel: &mut Easel<'_>, sheet: &Sheet<'_>, corner: Point) -> f64 {
    let top = corner.y + head::height(easel.machine);
    let mut bottom = top;
    for (plan, left) in banks(sheet, corner.x) {
        let bank = Bank { sheet, plan, left, top };
        for ((chain, row), cells) in plan.grid.chains.iter().zip(&plan.grid.rows).zip(&plan.grid.cells) {
            bank.draw_chain(easel, *chain, *row, cells);
        }
        for bar in 0..sheet.net.bars.len() {
            bank.draw_bar(easel, bar);
        }
        bottom = bottom.max(top + plan.height);
    }
    bottom
}

/// Gives the banks with their left edges.
pub(crate) fn banks<'a>(sheet: &Sheet<'a>, left: f64) -> Vec<(&'a Plan, f64)> {
    let mut x = left + head::aside(sheet);
    let mut banks = Vec::new();
    for plan in sheet.plans {
        banks.push((plan, x));
        x += plan.width;
    }
    banks
}

pub(crate) struct Bank<'s, 'a> {
    pub(crate) sheet: &'s Sheet<'a>,
    pub(crate) plan: &'a Plan,
    pub(crate) left: f64,
    pub(crate) top: f64,
}

impl Bank<'_, '_> {
    /// Gives where a bar stands.
    pub(crate) fn bar_x(&self, bar: usize) -> Option<f64> {
        self.plan.bars[bar].map(|x| self.left + x)
    }

    fn line_y(&self, row: usize) -> f64 {
        self.top + self.plan.lines.get(row).copied().unwrap_or(0.0)
    }

    fn cell(&self, cell: usize) -> (f64, f64) {
        let (x, width) = self.plan.columns.get(cell).copied().unwrap_or((0.0, 0.0));
        (self.left + x, self.left + x + width)
    }

    fn draw_chain(&self, easel: &mut Easel<'_>, chain: usize, row: usize, cells: &[usize]) {
        let (items, net) = (self.sheet.items, self.sheet.net);
        let described = &net.chains[chain];
        let y = self.line_y(row);
        let (Some(from), Some(to)) = (self.bar_x(described.from), self.bar_x(described.to)) else { return };
        let mut x = from;
        if described.steps.is_empty() {
            easel.wire(vec![Point { x: from, y }, Point { x: to, y }], Line::default());
        }
        for (place, (step, cell)) in described.steps.iter().zip(cells).enumerate() {
            let next = described.steps.get(place + 1).zip(cells.get(place + 1));
            let end = match next {
                Some((next, next_cell)) => {
                    let symbol = matches!(items[step.item].kind, ItemKind::Symbol(_));
                    let joins = start_of(items, *next);
                    let own = symbol || matches!(items[next.item].kind, ItemKind::Symbol(_));
                    if symbol {
                        let x = self.cell(*cell).1 - INSET;
                        self.draw_end(easel, joins, Point { x, y }, own, true)
                    } else {
                        let x = self.cell(*next_cell).0 + INSET;
                        self.draw_end(easel, joins, Point { x, y }, own, false)
                    }
                }
                None => to,
            };
            self.draw_item(easel, step.item, *cell, (x, end), y);
            x = end;
        }
    }

    /// Marks a terminal between two items of a chain; gives where it stands.
    fn draw_end(&self, easel: &mut Easel<'_>, terminal: TerminalId, at: Point, own: bool, right: bool) -> f64 {
        easel.dot(terminal, at, Point { x: at.x, y: at.y - 7.0 });
        let label = self.sheet.tags.terminal(terminal, own);
        let volts = easel.volts(terminal).unwrap_or_default();
        for (text, of, down) in [
            (label, easel.of_terminal(terminal), 6.0),
            (volts.as_str(), LabelOf::Volts(easel.machine[terminal].name.clone()), 13.5),
        ] {
            let corner = Point { x: at.x + if right { 5.0 } else { -5.0 }, y: at.y + down };
            if right {
                easel.text_before(text, of, corner, SMALL);
            } else {
                easel.text(text, of, corner, SMALL);
            }
        }
        at.x
    }

    fn draw_item(&self, easel: &mut Easel<'_>, item: usize, cell: usize, (from, to): (f64, f64), y: f64) {
        let described = &self.sheet.items[item];
        let (left, right) = self.cell(cell);
        let middle = f64::midpoint(left, right);
        let tag = &self.sheet.tags.items[item];
        let live = easel.layers.is_live(described.from) || easel.layers.is_live(described.to);
        let current = easel.layers.amps_of(&described.branches).is_some();
        let ItemKind::Symbol(kind) = described.kind else {
            let part = &easel.machine[described.part];
            let (id, color) = (part.id.clone(), part.color.as_deref().unwrap_or("").to_owned());
            easel.scene.wires.push(Wire {
                lead: Some(id.clone()),
                part: None,
                points: vec![Point { x: from, y }, Point { x: to, y }],
                sleeve: Some(Point { x: middle, y }),
                colors: colors::looks(&color),
                drives: false,
                current,
                live,
            });
            easel.text_amid(&tag.text, LabelOf::Lead(id), Point { x: middle, y: y - 10.5 }, SMALL);
            return;
        };
        let at = Point { x: middle, y };
        let line = Line { part: Some(described.part), current, live };
        easel.wire(vec![Point { x: from, y }, Point { x: middle - HALF, y }], line);
        easel.wire(vec![Point { x: middle + HALF, y }, Point { x: to, y }], line);
        easel.symbol(described.part, kind, &described.branches, Spot { at, stands: false }, glyph::bounds(kind, at));
        let id = easel.machine[described.part].id.clone();
        let lines = self.plan.name_lines(tag, cell);
        let mut up = y - glyph::reach(kind).0 - 2.0;
        for text in lines.iter().rev() {
            up -= NAME_LINE;
            easel.text_amid(text, LabelOf::Part(id.clone()), Point { x: middle, y: up }, NAME);
        }
        if let Some(share) = easel.layers.share_of(described.part) {
            let text = format!("{:.0} %", share * 100.0);
            easel.text_amid(&text, LabelOf::Share(id), Point { x: middle, y: y + 13.5 }, SMALL);
        }
    }

    fn draw_bar(&self, easel: &mut Easel<'_>, bar: usize) {
        let net = self.sheet.net;
        let (Some(x), Some((low, high))) = (self.bar_x(bar), extent(net, &self.plan.grid, bar)) else { return };
        let rail = matches!(net.bars[bar], Bar::Left(_) | Bar::Right(_));
        let live = self.terminal_of(easel, bar).is_some_and(|terminal| easel.layers.is_live(terminal));
        let stops = self.stops(bar);
        for pair in stops.windows(2) {
            let &[upper, lower] = pair else { continue };
            let current = self.carries(easel, bar, lower, high) && (rail || self.carries(easel, bar, low, upper));
            let points = vec![Point { x, y: self.line_y(upper) }, Point { x, y: self.line_y(lower) }];
            easel.wire(points, Line { part: None, current, live });
        }
        let marked = mark(self.sheet.items, net, &self.plan.grid, bar);
        if let Some((terminal, row, own)) = marked {
            let y = self.line_y(row);
            easel.dot(terminal, Point { x, y }, Point { x: x + 5.0, y: y - 7.0 });
            let label = self.sheet.tags.terminal(terminal, own);
            easel.text(label, easel.of_terminal(terminal), Point { x: x + 3.0, y: y + 6.0 }, SMALL);
            easel.volts_at(terminal, Point { x: x + 3.0, y: y + 13.5 });
        }
        for row in stops {
            let (left, right) = self.sides(bar, row);
            let ways =
                usize::from(left) + usize::from(right) + usize::from(row > low || rail) + usize::from(row < high);
            if ways > 2 && marked.is_none_or(|(_, at, _)| at != row) {
                easel.scene.joints.push(Point { x, y: self.line_y(row) });
            }
        }
    }

    /// Gives the terminal of a bar or rail.
    pub(crate) fn terminal_of(&self, easel: &Easel<'_>, bar: usize) -> Option<TerminalId> {
        match self.sheet.net.bars[bar] {
            Bar::Terminal(terminal) => Some(terminal),
            Bar::Left(conductor) | Bar::Right(conductor) => Some(head::rail_terminal(easel.machine, conductor)),
            Bar::Bend(_) => None,
        }
    }

    /// Lists the rows in which chains join a bar.
    fn stops(&self, bar: usize) -> Vec<usize> {
        let mut rows: Vec<usize> = self.joined(bar).map(|(_, row)| row).collect();
        rows.sort_unstable();
        rows.dedup();
        rows
    }

    /// Gives the first row in which a chain joins a bar, and whether current runs through the bar down to there.
    pub(crate) fn first_stop(&self, easel: &Easel<'_>, bar: usize) -> Option<(f64, bool)> {
        let row = self.stops(bar).first().copied()?;
        Some((self.line_y(row), self.carries(easel, bar, 0, usize::MAX)))
    }

    fn joined(&self, bar: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let grid = &self.plan.grid;
        let chains = &self.sheet.net.chains;
        let both = grid.chains.iter().zip(&grid.rows).map(|(chain, row)| (*chain, *row));
        both.filter(move |(chain, _)| chains[*chain].from == bar || chains[*chain].to == bar)
    }

    /// Says whether a chain that joins a bar in these rows carries current.
    fn carries(&self, easel: &Easel<'_>, bar: usize, low: usize, high: usize) -> bool {
        self.joined(bar).filter(|(_, row)| low <= *row && *row <= high).any(|(chain, _)| {
            let steps = &self.sheet.net.chains[chain].steps;
            steps.iter().any(|step| easel.layers.amps_of(&self.sheet.items[step.item].branches).is_some())
        })
    }

    /// Says whether chains leave a bar to the left and to the right in a row.
    fn sides(&self, bar: usize, row: usize) -> (bool, bool) {
        let here = || self.joined(bar).filter(|(_, at)| *at == row).map(|(chain, _)| &self.sheet.net.chains[chain]);
        (here().any(|chain| chain.to == bar), here().any(|chain| chain.from == bar))
    }
}
