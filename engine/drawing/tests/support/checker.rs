//! A checker of scenes written apart from the layout: it sees lengths only.

use drawing::Scene;
use drawing::scene::{Point, Rect, SymbolKind};

/// A thin rectangle along a stretch of a line.
fn stretch(from: Point, to: Point) -> Rect {
    const HALF: f64 = 0.5;
    let (x, y) = (from.x.min(to.x), from.y.min(to.y));
    let (w, h) = ((from.x - to.x).abs(), (from.y - to.y).abs());
    assert!(w < 1e-9 || h < 1e-9, "a line runs aslant: {from:?} to {to:?}");
    if h < 1e-9 { Rect { x, y: y - HALF, w, h: 2.0 * HALF } } else { Rect { x: x - HALF, y, w: 2.0 * HALF, h } }
}

/// Lists what is wrong with a scene as a picture.
pub(crate) fn wrong(scene: &Scene) -> Vec<String> {
    let mut wrong = Vec::new();
    overlaps(scene, &mut wrong);
    lines(scene, &mut wrong);
    let page = Rect { x: 0.0, y: 0.0, w: scene.width, h: scene.height };
    let rooms = scene.labels.iter().map(|label| (label.text.clone(), label.bounds));
    let rooms = rooms.chain(scene.symbols.iter().map(|symbol| (symbol.part.clone(), symbol.bounds)));
    let rooms = rooms.chain(scene.terminals.iter().map(|dot| (dot.terminal.clone(), dot.hit)));
    for (name, room) in rooms {
        if !page.contains(&room) {
            wrong.push(format!("`{name}` stands off the page: {room:?}"));
        }
    }
    for wire in &scene.wires {
        for at in &wire.points {
            if !page.contains(&Rect { x: at.x, y: at.y, w: 0.0, h: 0.0 }) {
                wrong.push(format!("a line leaves the page at {at:?}"));
            }
        }
    }
    wrong
}

fn overlaps(scene: &Scene, wrong: &mut Vec<String>) {
    for (place, label) in scene.labels.iter().enumerate() {
        for other in &scene.labels[place + 1..] {
            if label.bounds.overlaps(&other.bounds) {
                wrong.push(format!("label `{}` overlaps label `{}`", label.text, other.text));
            }
        }
        for symbol in &scene.symbols {
            let boxed = symbol.bounds.contains(&label.bounds) && symbol.branches.is_empty();
            if !boxed && label.bounds.overlaps(&symbol.bounds) {
                wrong.push(format!("label `{}` overlaps the symbol of `{}`", label.text, symbol.part));
            }
        }
        for dot in &scene.terminals {
            let mark = Rect { x: dot.at.x - 2.4, y: dot.at.y - 2.4, w: 4.8, h: 4.8 };
            if label.bounds.overlaps(&mark) || (label.bounds.overlaps(&dot.sign)) {
                wrong.push(format!("label `{}` overlaps the terminal `{}`", label.text, dot.terminal));
            }
        }
        for joint in &scene.joints {
            if label.bounds.overlaps(&Rect { x: joint.x - 1.9, y: joint.y - 1.9, w: 3.8, h: 3.8 }) {
                wrong.push(format!("label `{}` overlaps a joint", label.text));
            }
        }
    }
    for (place, symbol) in scene.symbols.iter().enumerate() {
        for other in scene.symbols[place + 1..].iter().filter(|other| symbol.bounds.overlaps(&other.bounds)) {
            wrong.push(format!("symbols of `{}` and `{}` overlap", symbol.part, other.part));
        }
    }
    for (place, dot) in scene.terminals.iter().enumerate() {
        for other in &scene.terminals[place + 1..] {
            // 8 pixels between, at 4 pixels for a unit.
            let apart = Rect { x: dot.hit.x - 2.0, y: dot.hit.y - 2.0, w: dot.hit.w + 4.0, h: dot.hit.h + 4.0 };
            if apart.overlaps(&other.hit) {
                wrong.push(format!("a thumb on `{}` may hit `{}`", dot.terminal, other.terminal));
            }
        }
    }
}

fn lines(scene: &Scene, wrong: &mut Vec<String>) {
    for wire in &scene.wires {
        for pair in wire.points.windows(2) {
            let room = stretch(pair[0], pair[1]);
            for symbol in scene.symbols.iter().filter(|symbol| symbol.bounds.overlaps(&room)) {
                wrong.push(format!("a line at {:?} runs through the symbol of `{}`", pair[0], symbol.part));
            }
            for label in scene.labels.iter().filter(|label| label.bounds.overlaps(&room)) {
                wrong.push(format!("a line at {:?} runs through `{}`", pair[0], label.text));
            }
            for dot in &scene.terminals {
                let mark = Rect { x: dot.at.x - 1.0, y: dot.at.y - 1.0, w: 2.0, h: 2.0 };
                let ends = pair.iter().any(|end| near(*end, dot.at));
                if !ends && room.overlaps(&mark) && !wire_passes_own(scene, wire, dot.at) {
                    wrong.push(format!("a line at {:?} runs through terminal `{}`", pair[0], dot.terminal));
                }
            }
        }
    }
}

fn near(one: Point, other: Point) -> bool {
    (one.x - other.x).abs() < 1e-6 && (one.y - other.y).abs() < 1e-6
}

/// Rails and the plumb lines of the supply pass through the marks of terminals on them.
fn wire_passes_own(scene: &Scene, wire: &drawing::scene::Wire, at: Point) -> bool {
    let own = wire.lead.is_none() && wire.part.is_none();
    own && scene.wires.iter().any(|other| !std::ptr::eq(other, wire) && other.points.iter().any(|end| near(*end, at)))
}

/// Follows the lines of a scene as a meter would: says which terminals are tied together by plain lines, leads left out.
pub(crate) fn tied(scene: &Scene) -> Vec<Vec<Point>> {
    let plain: Vec<&Vec<Point>> =
        scene.wires.iter().filter(|wire| wire.lead.is_none() && !wire.drives).map(|wire| &wire.points).collect();
    let mut groups: Vec<Vec<Point>> = Vec::new();
    for points in plain {
        let (mut mine, rest): (Vec<Vec<Point>>, Vec<Vec<Point>>) =
            groups.into_iter().partition(|group| group.iter().any(|at| points.iter().any(|end| near(*at, *end))));
        mine.push(points.clone());
        groups = rest;
        groups.push(mine.concat());
    }
    groups
}

/// Says whether a terminal's mark is where a line ends, or tied to it. On the terminal block lines end on its ring.
pub(crate) fn joined(scene: &Scene, groups: &[Vec<Point>], mark: Point, end: Point) -> bool {
    let ringed = scene.symbols.iter().any(|symbol| {
        let middle = Point { x: symbol.bounds.x + symbol.bounds.w / 2.0, y: symbol.bounds.y + symbol.bounds.h / 2.0 };
        symbol.kind == SymbolKind::Terminal && near(middle, mark)
    });
    let on = |at: Point| {
        let away = (at.x - mark.x).abs() + (at.y - mark.y).abs();
        near(at, mark) || (ringed && (away - 4.5).abs() < 1e-6)
    };
    on(end) || groups.iter().any(|group| group.iter().any(|at| on(*at)) && group.iter().any(|at| near(*at, end)))
}
