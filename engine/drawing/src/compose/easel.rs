//! The scene as it grows: texts, lines, terminals and symbols, each with what the layers say about it.

use crate::graph::closed_at_rest;
use crate::layers::Layers;
use crate::layout::SMALL;
use crate::scene::{Dot, Label, LabelOf, Lead, Point, Rect, Scene, Symbol, SymbolKind, Touch, Wire};
use crate::{Volts, glyph, market_of, metrics};
use machine::model::{BranchId, Machine, PartId, TerminalId};

/// Side of a hit place, units; terminals stand at least 14 apart.
const HIT: f64 = 12.0;

pub(crate) struct Easel<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) layers: &'a Layers,
    pub(crate) scene: Scene,
}

/// A line to be drawn.
#[derive(Clone, Copy, Default)]
pub(crate) struct Line {
    pub(crate) part: Option<PartId>,
    pub(crate) current: bool,
    pub(crate) live: bool,
}

impl<'a> Easel<'a> {
    pub(crate) fn new(machine: &'a Machine, layers: &'a Layers) -> Self {
        let scene = Scene {
            machine: machine.id.clone(),
            title: machine.title.clone(),
            width: 0.0,
            height: 0.0,
            touch: Touch { hit: HIT, pixels_for_a_unit: 4.0 },
            market: market_of(machine),
            symbols: Vec::new(),
            wires: Vec::new(),
            terminals: Vec::new(),
            joints: Vec::new(),
            labels: Vec::new(),
            words: Vec::new(),
            folded: Vec::new(),
        };
        Self { machine, layers, scene }
    }

    /// Writes a line of text with its upper left corner at `at`.
    pub(crate) fn text(&mut self, text: &str, of: LabelOf, at: Point, size: f64) {
        if text.is_empty() {
            return;
        }
        let bounds = Rect { x: at.x, y: at.y, w: metrics::width(text, size), h: size };
        self.scene.labels.push(Label { text: text.to_owned(), of, bounds, size });
    }

    /// Writes a line of text with the middle of its upper edge at `at`.
    pub(crate) fn text_amid(&mut self, text: &str, of: LabelOf, at: Point, size: f64) {
        let x = at.x - metrics::width(text, size) / 2.0;
        self.text(text, of, Point { x, y: at.y }, size);
    }

    /// Writes a line of text with its upper right corner at `at`.
    pub(crate) fn text_before(&mut self, text: &str, of: LabelOf, at: Point, size: f64) {
        let x = at.x - metrics::width(text, size);
        self.text(text, of, Point { x, y: at.y }, size);
    }

    /// Draws a line that is no lead.
    pub(crate) fn wire(&mut self, points: Vec<Point>, line: Line) {
        let part = line.part.map(|part| self.machine[part].id.clone());
        let (current, live) = (line.current, line.live);
        self.scene.wires.push(Wire {
            lead: None,
            part,
            points,
            sleeve: None,
            colors: Vec::new(),
            drives: false,
            current,
            live,
        });
    }

    /// Draws a symbol with its room. `closed` is taken from the branches.
    pub(crate) fn symbol(
        &mut self,
        part: PartId,
        kind: SymbolKind,
        branches: &[BranchId],
        spot: glyph::Spot,
        room: Rect,
    ) {
        let closed = self.closed(branches);
        let live = branches.iter().any(|branch| {
            let branch = &self.machine[*branch];
            self.layers.is_live(branch.from) || self.layers.is_live(branch.to)
        });
        let mut strokes = glyph::strokes(kind, closed.unwrap_or(true), spot);
        if matches!(kind, SymbolKind::House | SymbolKind::Box) {
            strokes.push(glyph::edge(room));
        }
        self.scene.symbols.push(Symbol {
            part: self.machine[part].id.clone(),
            branches: branches.iter().map(|branch| self.machine[*branch].name.clone()).collect(),
            kind,
            bounds: room,
            strokes,
            closed,
            amps: self.layers.amps_of(branches),
            suspect: self.layers.share_of(part),
            live,
        });
    }

    /// Says whether the contact among these branches is closed; `None` if there is none.
    pub(crate) fn closed(&self, branches: &[BranchId]) -> Option<bool> {
        let contact = branches.iter().find(|branch| closed_at_rest(self.machine, **branch).is_some())?;
        match &self.layers.closed {
            Some(closed) => Some(closed.contains(contact)),
            None => closed_at_rest(self.machine, *contact),
        }
    }

    /// Marks a terminal that a probe can touch; `sign` is where its live sign goes.
    pub(crate) fn dot(&mut self, terminal: TerminalId, at: Point, sign: Point) {
        let described = &self.machine[terminal];
        if described.hidden {
            return;
        }
        let probe = match (self.layers.red == Some(terminal), self.layers.black == Some(terminal)) {
            (true, _) => Some(Lead::Red),
            (_, true) => Some(Lead::Black),
            _ => None,
        };
        self.scene.terminals.push(Dot {
            terminal: described.name.clone(),
            part: self.machine[described.part].id.clone(),
            at,
            hit: Rect::around(at, HIT / 2.0, HIT / 2.0, HIT / 2.0),
            live: self.layers.is_live(terminal),
            sign: Rect::around(sign, 2.5, 3.5, 3.5),
            probe,
        });
    }

    /// Gives the volts of a terminal as they are written beside it: the unit stands in the title.
    pub(crate) fn volts(&self, terminal: TerminalId) -> Option<String> {
        self.layers.volts_at(terminal).map(|volts| match volts {
            Volts::Value(value) if value < 9.95 => format!("{value:.1}"),
            Volts::Value(value) => format!("{value:.0}"),
            Volts::Floats(_) => "float".to_owned(),
        })
    }

    /// Names a terminal's label.
    pub(crate) fn of_terminal(&self, terminal: TerminalId) -> LabelOf {
        LabelOf::Terminal(self.machine[terminal].name.clone())
    }

    /// Writes label and volts of a terminal behind each other, in one line.
    pub(crate) fn label_line(&mut self, terminal: TerminalId, text: &str, at: Point) {
        self.text(text, self.of_terminal(terminal), at, SMALL);
        self.volts_at(terminal, Point { x: at.x + metrics::width(text, SMALL) + 4.0, y: at.y });
    }

    /// Writes label and volts of a terminal to the right of a plumb line.
    pub(crate) fn label_beside(&mut self, terminal: TerminalId, text: &str, at: Point) {
        self.text(text, self.of_terminal(terminal), at, SMALL);
        self.volts_at(terminal, Point { x: at.x, y: at.y + 7.5 });
    }

    /// Writes a terminal's volts, if they are shown.
    pub(crate) fn volts_at(&mut self, terminal: TerminalId, at: Point) {
        if let Some(volts) = self.volts(terminal) {
            let of = LabelOf::Volts(self.machine[terminal].name.clone());
            self.text(&volts, of, at, SMALL);
        }
    }
}
