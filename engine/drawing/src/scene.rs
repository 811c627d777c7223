//! The finished picture as plain data: symbols, wires, terminals, labels, each with the machine's own id.
//!
//! Lengths are in units of the scene, y down. A scene holds nothing that has to be worked out again to show it.

use crate::colors::Market;
use serde::Serialize;

/// A ladder diagram, laid out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Scene {
    /// The machine's id.
    pub machine: String,
    /// Its title.
    pub title: String,
    /// Width, units.
    pub width: f64,
    /// Height, units.
    pub height: f64,
    /// How much to magnify for a thumb.
    pub touch: Touch,
    /// Whose colour codes the labels use.
    pub market: Market,
    /// One for every stretch of a part between two terminals, and for every part that does not conduct.
    pub symbols: Vec<Symbol>,
    /// Lines.
    pub wires: Vec<Wire>,
    /// Points a probe can touch.
    pub terminals: Vec<Dot>,
    /// Places where lines that meet are tied together.
    pub joints: Vec<Point>,
    /// Texts.
    pub labels: Vec<Label>,
    /// The picture in words, in reading order.
    pub words: Vec<Line>,
    /// Ids of the parts folded away.
    pub folded: Vec<String>,
}

/// How much to magnify so that a thumb hits terminals.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Touch {
    /// Side of a hit place, units.
    pub hit: f64,
    /// Pixels for a unit at which every hit place is 48 pixels wide and they lie 8 pixels apart.
    pub pixels_for_a_unit: f64,
}

/// A point.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// From the left.
    pub x: f64,
    /// From the top.
    pub y: f64,
}

/// A rectangle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rect {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Rect {
    /// Makes a rectangle around a point, reaching so far to either side, up and down.
    pub(crate) fn around(at: Point, side: f64, up: f64, down: f64) -> Self {
        Self { x: at.x - side, y: at.y - up, w: 2.0 * side, h: up + down }
    }

    /// Says whether two rectangles share more than an edge.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        const GRAZE: f64 = 1e-6;
        self.x + self.w > other.x + GRAZE
            && other.x + other.w > self.x + GRAZE
            && self.y + self.h > other.y + GRAZE
            && other.y + other.h > self.y + GRAZE
    }

    /// Says whether another rectangle lies within.
    #[must_use]
    pub fn contains(&self, other: &Self) -> bool {
        const GRAZE: f64 = 1e-6;
        other.x >= self.x - GRAZE
            && other.y >= self.y - GRAZE
            && other.x + other.w <= self.x + self.w + GRAZE
            && other.y + other.h <= self.y + self.h + GRAZE
    }
}

/// What a symbol stands for, after the general shapes of IEC 60617 and IEEE 315.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
#[expect(missing_docs, reason = "each is the trade's own word")]
pub enum SymbolKind {
    Heater,
    Fuse,
    CutOff,
    Joint,
    Pin,
    HandContact,
    PushContact,
    DoorContact,
    TimerContact,
    ThermostatContact,
    RelayContact,
    SpeedContact,
    Motor,
    StartWinding,
    SwitchedStartWinding,
    TimerMotor,
    Coil,
    Capacitor,
    Lamp,
    Sensor,
    ElectronicsSupply,
    ElectronicsInput,
    ElectronicsSense,
    House,
    BreakerPole,
    Disconnect,
    Slot,
    Blade,
    Terminal,
    Cable,
    Frame,
    Box,
}

/// A stroke of a symbol.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stroke {
    /// Path in SVG's path language, scene units.
    pub path: String,
    /// Filled with the line's colour.
    pub filled: bool,
    /// Dashed: a mechanical link.
    pub dashed: bool,
}

/// One symbol.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Symbol {
    /// Id of the part.
    pub part: String,
    /// The stretch's branches, for a part that is drawn in several places; empty for a part that does not conduct.
    pub branches: Vec<String>,
    /// What it is.
    pub kind: SymbolKind,
    /// Room that nothing else may use.
    pub bounds: Rect,
    /// Its strokes.
    pub strokes: Vec<Stroke>,
    /// For a contact: closed.
    pub closed: Option<bool>,
    /// Amperes through it, if any.
    pub amps: Option<f64>,
    /// Share of the belief, if it is a suspect.
    pub suspect: Option<f64>,
    /// May be live at a terminal of it.
    pub live: bool,
}

/// A line between terminals.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Wire {
    /// The lead, if it is one; other lines belong to rails, cords and the stubs of symbols.
    pub lead: Option<String>,
    /// For a stub: the part whose symbol it leads to, through which nothing else may run.
    pub part: Option<String>,
    /// Corners; every stretch runs level or plumb.
    pub points: Vec<Point>,
    /// Where a lead shows its colours.
    pub sleeve: Option<Point>,
    /// Colours of the sleeve, jacket first.
    pub colors: Vec<String>,
    /// Drives rather than conducts: a mechanical link.
    pub drives: bool,
    /// Carries current.
    pub current: bool,
    /// May be live.
    pub live: bool,
}

/// A terminal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dot {
    /// Full name, such as `heater.1`.
    pub terminal: String,
    /// Id of the part.
    pub part: String,
    /// Centre.
    pub at: Point,
    /// Where a touch means this terminal.
    pub hit: Rect,
    /// May be live.
    pub live: bool,
    /// Place of the live sign.
    pub sign: Rect,
    /// A probe stands on it.
    pub probe: Option<Lead>,
}

/// A lead of the meter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Lead {
    /// Red, marked +.
    Red,
    /// Black, marked -.
    Black,
}

/// What a label names.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum LabelOf {
    /// A part.
    Part(String),
    /// A lead.
    Lead(String),
    /// A terminal.
    Terminal(String),
    /// Volts at a terminal.
    Volts(String),
    /// Share of a suspected part.
    Share(String),
    /// A rail.
    Rail,
    /// Title.
    Title,
    /// Notes and keys.
    Note,
}

/// A text, one line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Label {
    /// The text.
    pub text: String,
    /// What it names.
    pub of: LabelOf,
    /// Room it takes: the text fills its width, and its baseline lies at 0.76 of its height.
    pub bounds: Rect,
    /// Size of the font, units.
    pub size: f64,
}

/// A line of the text alternative.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Line {
    /// The sentence.
    pub text: String,
    /// Belongs under the line before.
    pub under: bool,
}
