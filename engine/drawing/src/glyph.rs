//! Shapes of the symbols, after the general ones of IEC 60617 and IEEE 315, drawn by hand here.
//!
//! A shape lies on the level line y = 0, its ends at x = -14 and x = 14, y down; it can be turned to stand in a rail.

use crate::scene::{Point, Rect, Stroke, SymbolKind};

/// Half the length of a symbol between its stubs.
pub(crate) const HALF: f64 = 14.0;

/// Where a shape goes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Spot {
    /// Its middle.
    pub(crate) at: Point,
    /// Turned a quarter, so that its left end is on top.
    pub(crate) stands: bool,
}

impl Spot {
    fn place(self, (x, y): (f64, f64)) -> (f64, f64) {
        let (x, y) = if self.stands { (-y, x) } else { (x, y) };
        (self.at.x + x, self.at.y + y)
    }
}

/// Gives how far a symbol reaches up and down from its line.
pub(crate) fn reach(kind: SymbolKind) -> (f64, f64) {
    match kind {
        SymbolKind::PushContact
        | SymbolKind::HandContact
        | SymbolKind::DoorContact
        | SymbolKind::TimerContact
        | SymbolKind::ThermostatContact
        | SymbolKind::RelayContact
        | SymbolKind::SpeedContact
        | SymbolKind::SwitchedStartWinding => (19.0, 3.0),
        SymbolKind::CutOff => (15.0, 5.0),
        SymbolKind::Motor | SymbolKind::ElectronicsSupply => (10.0, 10.0),
        SymbolKind::Lamp | SymbolKind::TimerMotor | SymbolKind::Capacitor | SymbolKind::Sensor => (9.0, 9.0),
        _ => (8.0, 8.0),
    }
}

/// Gives the room of a symbol.
pub(crate) fn bounds(kind: SymbolKind, at: Point) -> Rect {
    let (up, down) = reach(kind);
    Rect::around(at, HALF, up, down)
}

/// Gives the strokes of a symbol in its place. `closed` moves a contact's blade.
pub(crate) fn strokes(kind: SymbolKind, closed: bool, spot: Spot) -> Vec<Stroke> {
    plain_shape(kind, closed).into_iter().map(|(path, style)| stroke(&path, style, spot)).collect()
}

/// Draws the edge of a box.
pub(crate) fn edge(room: Rect) -> Stroke {
    let (left, top, right, bottom) = (short(room.x), short(room.y), short(room.x + room.w), short(room.y + room.h));
    let path = format!("M{left},{top} L{right},{top} L{right},{bottom} L{left},{bottom} Z");
    Stroke { path, filled: false, dashed: false }
}

/// Makes the live sign, an arrow bolt, 5 wide and 7 high.
pub(crate) fn bolt(room: Rect) -> Stroke {
    let at = Point { x: room.x + room.w / 2.0, y: room.y + room.h / 2.0 };
    stroke("M0.8,-3.5 L-2,0.6 L-0.2,0.6 L-0.9,3.5 L2,-0.8 L0.3,-0.8 Z", Style::Filled, Spot { at, stands: false })
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Style {
    Line,
    Filled,
    Dashed,
}

type Shape = Vec<(String, Style)>;

fn line(path: &str) -> (String, Style) {
    (path.to_owned(), Style::Line)
}

fn stroke(path: &str, style: Style, spot: Spot) -> Stroke {
    let moved: Vec<String> = path.split_whitespace().map(|token| move_token(token, spot)).collect();
    Stroke { path: moved.join(" "), filled: style == Style::Filled, dashed: style == Style::Dashed }
}

/// Moves one corner of a path: an optional letter, then `x,y`.
fn move_token(token: &str, spot: Spot) -> String {
    let numbers = token.trim_start_matches(|c: char| c.is_ascii_alphabetic());
    let letter = token.strip_suffix(numbers).unwrap_or("");
    let Some((x, y)) = numbers.split_once(',') else { return token.to_owned() };
    let (x, y) = spot.place((x.parse().unwrap_or(0.0), y.parse().unwrap_or(0.0)));
    format!("{letter}{},{}", short(x), short(y))
}

/// Writes a number with at most two decimals.
pub(crate) fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Draws a circle by four curves. SOURCE: the usual constant 0.5523 of a quarter circle as a cubic.
fn circle(x: f64, y: f64, r: f64) -> String {
    let k = 0.5523 * r;
    format!(
        "M{},{y} C{},{} {},{} {x},{} C{},{} {},{} {},{y} C{},{} {},{} {x},{} C{},{} {},{} {},{y} Z",
        x + r,
        x + r,
        y + k,
        x + k,
        y + r,
        y + r,
        x - k,
        y + r,
        x - r,
        y + k,
        x - r,
        x - r,
        y - k,
        x - k,
        y - r,
        y - r,
        x + k,
        y - r,
        x + r,
        y - k,
        x + r,
    )
}

fn plain_shape(kind: SymbolKind, closed: bool) -> Shape {
    match kind {
        SymbolKind::Heater => vec![line("M-14,-5 L14,-5 L14,5 L-14,5 Z"), line("M-7,-5 L-7,5 M0,-5 L0,5 M7,-5 L7,5")],
        SymbolKind::Fuse => fuse(),
        SymbolKind::CutOff => [fuse(), vec![dashed("M0,-6 L0,-4")], theta(0.0, -10.0)].concat(),
        SymbolKind::Joint => vec![line("M-14,0 L-3,0 M3,0 L14,0"), line(&circle(0.0, 0.0, 3.0))],
        SymbolKind::Pin => vec![
            line("M-14,0 L-5,0 M6,0 L14,0 M1,-5 C7.6,-5 7.6,5 1,5"),
            ("M-5,-1.7 L3,-1.7 L3,1.7 L-5,1.7 Z".to_owned(), Style::Filled),
        ],
        SymbolKind::Motor => round("M-3.8,4.5 L-3.8,-4.5 L0,1.5 L3.8,-4.5 L3.8,4.5", 10.0),
        SymbolKind::TimerMotor => round("M-3,3.5 L-3,-3.5 L0,1 L3,-3.5 L3,3.5", 8.0),
        SymbolKind::StartWinding => {
            vec![line("M-14,0 L-12,0 C-12,-6 -6,-6 -6,0 C-6,-6 0,-6 0,0 C0,-6 6,-6 6,0 C6,-6 12,-6 12,0 L14,0")]
        }
        SymbolKind::SwitchedStartWinding => switched_winding(closed),
        SymbolKind::Coil => vec![line("M-14,0 L-9,0 M9,0 L14,0 M-9,-6 L9,-6 L9,6 L-9,6 Z")],
        SymbolKind::Capacitor => vec![line("M-14,0 L-2.5,0 M2.5,0 L14,0 M-2.5,-8 L-2.5,8 M2.5,-8 L2.5,8")],
        SymbolKind::Lamp => round("M-5.6,-5.6 L5.6,5.6 M-5.6,5.6 L5.6,-5.6", 8.0),
        SymbolKind::Sensor => {
            vec![line("M-14,0 L-11,0 M11,0 L14,0 M-11,-4 L11,-4 L11,4 L-11,4 Z"), line("M-10,8 L-6,8 L8,-8")]
        }
        SymbolKind::ElectronicsSupply => vec![
            line("M-14,0 L-9.5,0 M9.5,0 L14,0 M-9.5,-9.5 L9.5,-9.5 L9.5,9.5 L-9.5,9.5 Z M-9.5,9.5 L9.5,-9.5"),
            line("M-7,-4.5 C-5.6,-7.5 -4.2,-7.5 -3,-5 C-1.8,-2.5 -0.6,-2.5 0.6,-5.5 M0.5,4 L7,4 M0.5,6.5 L7,6.5"),
        ],
        SymbolKind::ElectronicsInput => boxed("M-3.5,-4 L0,4 L3.5,-4"),
        SymbolKind::ElectronicsSense => {
            boxed("M-4.5,4.5 L-1.6,4.5 L-1.6,3.6 C-5.5,1.6 -4.5,-5 0,-5 C4.5,-5 5.5,1.6 1.6,3.6 L1.6,4.5 L4.5,4.5")
        }
        SymbolKind::House => vec![line("M-8,0 C-4,-7 -4,-7 0,0 C4,7 4,7 8,0")],
        SymbolKind::Box => Vec::new(),
        SymbolKind::Terminal => vec![line(&circle(0.0, 0.0, 4.5))],
        SymbolKind::Cable => vec![line("M-6,-2 L6,-2 M-6,2 L6,2 M-2,-3 L2,3")],
        SymbolKind::Frame => vec![line("M-4,-6 L-4,6 M-4,-5 L3,-2 M-4,0 L3,3 M-4,4.5 L1,6")],
        SymbolKind::BreakerPole => [blade(closed), vec![line("M5.6,-2.4 L10.4,2.4 M5.6,2.4 L10.4,-2.4")]].concat(),
        SymbolKind::Disconnect => [blade(closed), vec![line("M8,-3.5 L8,3.5")]].concat(),
        SymbolKind::Slot => vec![line("M-14,0 L-4,0 M2.3,-5.5 C-6.3,-5.5 -6.3,5.5 2.3,5.5")],
        SymbolKind::Blade => {
            vec![("M2.6,-1.8 L9,-1.8 L9,1.8 L2.6,1.8 Z".to_owned(), Style::Filled), line("M9,0 L14,0")]
        }
        SymbolKind::HandContact
        | SymbolKind::PushContact
        | SymbolKind::DoorContact
        | SymbolKind::TimerContact
        | SymbolKind::ThermostatContact
        | SymbolKind::RelayContact
        | SymbolKind::SpeedContact => [blade(closed), link(0.0, closed, -11.0), actuator(kind)].concat(),
    }
}

fn dashed(path: &str) -> (String, Style) {
    (path.to_owned(), Style::Dashed)
}

/// A contact's fixed ends and its blade.
fn blade(closed: bool) -> Shape {
    let tip = if closed { "M-8,0 L9,0" } else { "M-8,0 L7,-8" };
    vec![line("M-14,0 L-8,0 M8,0 L14,0"), line(tip)]
}

/// The link from the middle of the blade up to what moves it.
fn link(x: f64, closed: bool, top: f64) -> Shape {
    let foot = if closed { 0.0 } else { -4.3 };
    vec![dashed(&format!("M{x},{foot} L{x},{top}"))]
}

fn actuator(kind: SymbolKind) -> Shape {
    match kind {
        SymbolKind::PushContact => vec![line("M-5,-13 L-5,-17 L5,-17 L5,-13 M0,-17 L0,-11")],
        SymbolKind::HandContact => vec![line("M-5,-17 L5,-17 L5,-13.5 M0,-17 L0,-11 M-5,-17 L-5,-18.5")],
        SymbolKind::DoorContact => vec![line("M-5,-11 L5,-11 L0,-18 Z")],
        SymbolKind::TimerContact => vec![line(&circle(0.0, -14.5, 3.8)), line("M0,-17 L0,-14.5 L2,-14.5")],
        SymbolKind::ThermostatContact => theta(0.0, -14.8),
        SymbolKind::RelayContact => vec![line("M-5.5,-18 L5.5,-18 L5.5,-11.5 L-5.5,-11.5 Z")],
        SymbolKind::SpeedContact => speed(0.0),
        _ => Vec::new(),
    }
}

/// Moved by turning: an `n` in a circle.
fn speed(x: f64) -> Shape {
    let n = format!(
        "M{},-12.6 L{},-16.2 M{},-15 C{},-16.9 {},-16.9 {},-15 L{},-12.6",
        x - 1.5,
        x - 1.5,
        x - 1.5,
        x - 1.0,
        x + 1.5,
        x + 1.5,
        x + 1.5
    );
    vec![line(&circle(x, -14.5, 3.8)), line(&n)]
}

/// The sign of temperature.
fn theta(x: f64, y: f64) -> Shape {
    let (left, right, top, bottom) = (x - 2.6, x + 2.6, y - 4.0, y + 4.0);
    let ring = format!(
        "M{x},{top} C{},{top} {},{bottom} {x},{bottom} C{},{bottom} {},{top} {x},{top} Z M{},{y} L{},{y}",
        right + 0.9,
        right + 0.9,
        left - 0.9,
        left - 0.9,
        left,
        right,
    );
    vec![line(&ring)]
}

fn fuse() -> Shape {
    vec![line("M-14,0 L14,0"), line("M-11,-4 L11,-4 L11,4 L-11,4 Z")]
}

fn round(sign: &str, r: f64) -> Shape {
    vec![line(&format!("M-14,0 L{},0 M{r},0 L14,0", -r)), line(&circle(0.0, 0.0, r)), line(sign)]
}

fn boxed(sign: &str) -> Shape {
    vec![line("M-14,0 L-8,0 M8,0 L14,0 M-8,-7.5 L8,-7.5 L8,7.5 L-8,7.5 Z"), line(sign)]
}

/// Start winding with the centrifugal switch behind it.
fn switched_winding(closed: bool) -> Shape {
    let tip = if closed { "M4,0 L12.5,0" } else { "M4,0 L11,-7" };
    let foot = if closed { 0.0 } else { -4.0 };
    let mut shape = vec![
        line("M-14,0 L-13,0 C-13,-5 -8,-5 -8,0 C-8,-5 -3,-5 -3,0 C-3,-5 2,-5 2,0 L4,0 M12,0 L14,0"),
        line(tip),
        dashed(&format!("M8,{foot} L8,-10.7")),
    ];
    shape.extend(speed(8.0));
    shape
}

#[cfg(test)]
mod tests {
    use super::{Spot, short, stroke};
    use crate::scene::Point;

    #[test]
    fn turned_shape_has_its_left_end_on_top() {
        let at = Point { x: 10.0, y: 20.0 };
        assert_eq!(stroke("M-14,0 L14,-2", super::Style::Line, Spot { at, stands: true }).path, "M10,6 L12,34");
        assert_eq!(stroke("M-14,0 L14,-2", super::Style::Line, Spot { at, stands: false }).path, "M-4,20 L24,18");
    }

    #[test]
    fn numbers_are_short() {
        assert_eq!([short(1.0), short(-0.0), short(2.504), short(10.0)], ["1", "0", "2.5", "10"]);
    }
}
