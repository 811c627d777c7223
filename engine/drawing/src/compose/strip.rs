//! Below the ladder: parts that do not conduct, each behind what drives it, and terminals that nothing ends on.

use super::easel::{Easel, Line};
use crate::glyph::Spot;
use crate::layout::{NAME, SMALL};
use crate::metrics;
use crate::scene::{LabelOf, Point, Rect, SymbolKind};
use machine::model::{PartId, TerminalId};

/// Height of a box.
const BOX: f64 = 14.0;
/// From box to box, level and plumb.
const GAP: f64 = 18.0;
const ROW: f64 = 20.0;
/// Room for a suspect's share in its box.
const SHARE: f64 = 20.0;

/// A box or a text in a tree of drives, relative to the tree's corner.
struct Piece {
    part: Option<PartId>,
    text: String,
    at: Point,
    width: f64,
    /// The piece that drives it.
    behind: Option<usize>,
}

/// Draws the strip; gives where it ends.
pub(crate) fn draw(easel: &mut Easel<'_>, parts: &[PartId], corner: Point) -> f64 {
    let (mut x, mut y, mut high) = (corner.x, corner.y + 8.0, 0.0_f64);
    let right = easel.scene.width - super::MARGIN;
    for tree in trees(easel, parts) {
        let width = tree.iter().map(|piece| piece.at.x + piece.width).fold(0.0, f64::max);
        let height = tree.iter().map(|piece| piece.at.y + ROW).fold(0.0, f64::max);
        if x > corner.x && x + width > right {
            (x, y, high) = (corner.x, y + high, 0.0);
        }
        easel.scene.width = easel.scene.width.max(x + width + super::MARGIN);
        draw_tree(easel, &tree, Point { x, y });
        x += width + 2.0 * GAP;
        high = high.max(height);
    }
    for terminal in loose_terminals(easel) {
        let name = easel.machine[terminal].name.clone();
        let width = metrics::width(&name, SMALL) + 20.0;
        if x > corner.x && x + width > right {
            (x, y, high) = (corner.x, y + high, 0.0);
        }
        let at = Point { x: x + 8.0, y: y + BOX / 2.0 };
        easel.dot(terminal, at, Point { x: at.x - 6.0, y: at.y });
        easel.text(&name, LabelOf::Terminal(name.clone()), Point { x: at.x + 6.0, y: at.y - 3.5 }, SMALL);
        x += width;
        high = high.max(ROW);
    }
    y + high
}

/// Lists the terminals that nothing ends on.
fn loose_terminals(easel: &Easel<'_>) -> Vec<TerminalId> {
    let machine = easel.machine;
    let folded = |terminal: TerminalId| !machine.branches_at(terminal).is_empty();
    let ids = (0..machine.terminals.len()).map(|place| TerminalId(u16::try_from(place).unwrap_or(u16::MAX)));
    let loose = |id: &TerminalId| !machine[*id].hidden && !folded(*id) && *id != machine.supply.frame;
    ids.filter(loose).collect()
}

fn trees(easel: &Easel<'_>, parts: &[PartId]) -> Vec<Vec<Piece>> {
    let machine = easel.machine;
    let mut placed: Vec<PartId> = Vec::new();
    let mut trees = Vec::new();
    let inside = |part: PartId| machine[part].driven_by.iter().any(|driver| parts.contains(driver));
    let roots = parts.iter().filter(|part| !inside(**part)).chain(parts);
    let mut starts: Vec<(Option<PartId>, Vec<PartId>)> = Vec::new();
    for root in roots {
        let driver = machine[*root].driven_by.first().copied().filter(|driver| !parts.contains(driver));
        match starts.iter_mut().find(|(known, _)| driver.is_some() && *known == driver) {
            Some((_, roots)) => roots.push(*root),
            None => starts.push((driver, vec![*root])),
        }
    }
    for (driver, roots) in starts {
        let mut tree = Vec::new();
        let (mut x, mut behind) = (0.0, None);
        if roots.iter().all(|root| placed.contains(root)) {
            continue;
        }
        if let Some(driver) = driver {
            let text = format!("{} drives", machine[driver].name);
            let width = metrics::width(&text, NAME) + 4.0;
            tree.push(Piece { part: None, text, at: Point { x, y: 0.0 }, width, behind });
            (x, behind) = (width + GAP, Some(0));
        }
        let mut row = 0.0;
        for root in roots {
            row = grow(easel, parts, root, (x, row, behind), &mut placed, &mut tree);
        }
        trees.push(tree);
    }
    trees
}

/// Adds a part and what it drives; gives the next free row.
fn grow(
    easel: &Easel<'_>,
    parts: &[PartId],
    part: PartId,
    (x, row, behind): (f64, f64, Option<usize>),
    placed: &mut Vec<PartId>,
    tree: &mut Vec<Piece>,
) -> f64 {
    if placed.contains(&part) {
        return row;
    }
    placed.push(part);
    let text = easel.machine[part].name.clone();
    let width = metrics::width(&text, NAME) + SHARE + 12.0;
    let me = tree.len();
    tree.push(Piece { part: Some(part), text, at: Point { x, y: row }, width, behind });
    let mut next = row;
    for driven in parts.iter().filter(|other| easel.machine[**other].driven_by.contains(&part)) {
        next = grow(easel, parts, *driven, (x + width + GAP, next, Some(me)), placed, tree);
    }
    next.max(row + ROW)
}

fn draw_tree(easel: &mut Easel<'_>, tree: &[Piece], corner: Point) {
    for piece in tree {
        let at = Point { x: corner.x + piece.at.x, y: corner.y + piece.at.y };
        let middle = Point { x: at.x + piece.width / 2.0, y: at.y + BOX / 2.0 };
        let text = Point { x: middle.x, y: middle.y - NAME / 2.0 };
        let Some(part) = piece.part else {
            easel.text_amid(&piece.text, LabelOf::Note, text, NAME);
            continue;
        };
        let room = Rect { x: at.x, y: at.y, w: piece.width, h: BOX };
        easel.symbol(part, SymbolKind::Box, &[], Spot { at: middle, stands: false }, room);
        let id = easel.machine[part].id.clone();
        let name = Point { x: room.x + 6.0, y: text.y };
        match easel.layers.share_of(part).map(|share| format!("{:.0} %", share * 100.0)) {
            Some(share) => {
                easel.text(&piece.text, LabelOf::Part(id.clone()), name, NAME);
                let end = Point { x: room.x + room.w - 4.0, y: middle.y - SMALL / 2.0 };
                easel.text_before(&share, LabelOf::Share(id), end, SMALL);
            }
            None => easel.text_amid(&piece.text, LabelOf::Part(id), text, NAME),
        }
        if let Some(driver) = piece.behind.and_then(|behind| tree.get(behind)) {
            let from = Point { x: corner.x + driver.at.x + driver.width, y: corner.y + driver.at.y + BOX / 2.0 };
            let bend = at.x - GAP / 2.0;
            let points = if (from.y - middle.y).abs() < 1e-9 {
                vec![from, Point { x: at.x, y: middle.y }]
            } else {
                vec![Point { x: bend, y: from.y }, Point { x: bend, y: middle.y }, Point { x: at.x, y: middle.y }]
            };
            link(easel, points);
        }
    }
}

/// Draws a mechanical link.
fn link(easel: &mut Easel<'_>, points: Vec<Point>) {
    easel.wire(points, Line::default());
    if let Some(wire) = easel.scene.wires.last_mut() {
        wire.drives = true;
    }
}
