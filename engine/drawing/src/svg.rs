//! A scene as standalone SVG: no script, nothing fetched; light and dark by the reader's preference, dark lines on white
//! in print. Meaning is in thickness, band, bolt and hatching; colours only help.

use crate::glyph::{bolt, short};
use crate::scene::{Dot, Label, LabelOf, Lead, Point, Rect, Scene, Stroke, Symbol, Wire};
use std::fmt::Write;

/// The printed page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 297 by 210 mm, lying.
    A4,
    /// 11 by 8.5 in, lying.
    Letter,
}

impl Paper {
    /// Gives the room within its margins, millimetres.
    #[must_use]
    pub fn room(self) -> (f64, f64) {
        match self {
            Self::A4 => (283.0, 196.0),
            Self::Letter => (265.4, 201.9),
        }
    }

    /// Gives the millimetres of a unit when a scene fills the page.
    #[must_use]
    pub fn scale(self, scene: &Scene) -> f64 {
        let (width, height) = self.room();
        (width / scene.width).min(height / scene.height)
    }
}

const STYLE: &str = "
svg{--ink:#14181d;--paper:#ffffff;--soft:#4a525c;--band:#f5a30a;--shade:#c93a1e;--halo:#ffffff;background:var(--paper)}
@media (prefers-color-scheme:dark){svg{--ink:#eef1f4;--paper:#12161b;--soft:#b4bdc7;--band:#9a6400;--shade:#ff8a6b;--halo:#12161b}}
@media print{svg{--ink:#000000;--paper:#ffffff;--soft:#333333;--band:#f5a30a;--shade:#c93a1e;--halo:#ffffff}
@page{size:landscape;margin:7mm}}
.w,.s{fill:none;stroke:var(--ink);stroke-width:1;stroke-linejoin:round;stroke-linecap:round}
.s{stroke-width:1.25}.f{fill:var(--ink);stroke:none}.k{stroke-dasharray:1.6 1.6;stroke-width:.8}
.w.l{stroke-width:2}.w.c{stroke-width:3.2}.s.c{stroke-width:2.1}.d{stroke-dasharray:4 2.5;stroke:var(--soft)}
.b{fill:none;stroke:var(--band);stroke-width:7.5;stroke-linecap:round;opacity:.55}
.t{fill:var(--paper);stroke:var(--ink);stroke-width:1.1}.t.l{stroke-width:1.8}.j{fill:var(--ink)}
.h{fill:url(#hatch);stroke:var(--shade);stroke-width:1}
.v{stroke:var(--ink);stroke-width:.6}
text{font-family:Helvetica,Arial,'Liberation Sans','Nimbus Sans',sans-serif;fill:var(--ink);font-variant-numeric:tabular-nums}
.p{font-weight:500}.n{fill:var(--soft)}.g{font-weight:600}.q{font-weight:600}
.red{fill:#c81e1e}.black{fill:#000000;stroke:#ffffff;stroke-width:.8}.sign{stroke:#ffffff;stroke-width:1.4;fill:none}
.hit{fill:none;stroke:none;pointer-events:all}
";

/// Prints a scene. With a paper its size is that page's, else it fills what it is shown in.
#[must_use]
pub fn svg(scene: &Scene, paper: Option<Paper>) -> String {
    let mut out = String::new();
    let (width, height) = (short(scene.width), short(scene.height));
    let size = paper.map_or_else(String::new, |paper| {
        let scale = paper.scale(scene);
        format!(" width=\"{}mm\" height=\"{}mm\"", short(scene.width * scale), short(scene.height * scale))
    });
    // Writing to a string cannot fail.
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\"{size} role=\"img\" \
         aria-labelledby=\"title\">\n<title id=\"title\">{}</title>\n<style>{STYLE}</style>\n\
         <defs><pattern id=\"hatch\" width=\"3.5\" height=\"3.5\" patternUnits=\"userSpaceOnUse\" \
         patternTransform=\"rotate(45)\"><path d=\"M0,0 L0,3.5\" style=\"stroke:var(--shade);stroke-width:1.1\" \
         opacity=\".75\"/></pattern></defs>\n<rect width=\"{width}\" height=\"{height}\" style=\"fill:var(--paper)\"/>\n",
        escape(&scene.title)
    );
    scene.wires.iter().filter(|wire| wire.live).for_each(|wire| line(&mut out, "b", &wire.points));
    scene.symbols.iter().for_each(|symbol| shade(&mut out, symbol));
    scene.wires.iter().for_each(|wire| draw_wire(&mut out, wire));
    scene.symbols.iter().for_each(|symbol| draw_symbol(&mut out, symbol));
    for joint in &scene.joints {
        let _ = writeln!(out, "<circle class=\"j\" cx=\"{}\" cy=\"{}\" r=\"1.9\"/>", short(joint.x), short(joint.y));
    }
    scene.terminals.iter().for_each(|dot| draw_dot(&mut out, dot));
    scene.labels.iter().for_each(|label| draw_label(&mut out, label));
    out.push_str("</svg>\n");
    out
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

fn line(out: &mut String, class: &str, points: &[Point]) {
    let corners: Vec<String> = points.iter().map(|at| format!("{},{}", short(at.x), short(at.y))).collect();
    let _ = writeln!(out, "<path class=\"{class}\" d=\"M{}\"/>", corners.join(" L"));
}

fn draw_wire(out: &mut String, wire: &Wire) {
    let class = match (wire.drives, wire.current, wire.live) {
        (true, ..) => "w d",
        (_, true, _) => "w c",
        (_, _, true) => "w l",
        _ => "w",
    };
    if let Some(lead) = &wire.lead {
        let _ = writeln!(out, "<g data-part=\"{}\">", escape(lead));
    }
    line(out, class, &wire.points);
    if let Some(at) = wire.sleeve {
        draw_sleeve(out, at, &wire.colors);
    }
    if wire.lead.is_some() {
        out.push_str("</g>\n");
    }
}

/// A short piece of the jacket on the line, its second colour as a stripe.
fn draw_sleeve(out: &mut String, at: Point, colors: &[String]) {
    let Some(jacket) = colors.first() else { return };
    let room = Rect::around(at, 6.0, 2.0, 2.0);
    rect(out, &format!("class=\"v\" rx=\"1\" style=\"fill:{jacket}\""), room);
    if let Some(stripe) = colors.get(1) {
        let room = Rect { x: at.x - 1.6, y: at.y - 1.7, w: 3.2, h: 3.4 };
        rect(out, &format!("style=\"fill:{stripe}\""), room);
    }
}

fn rect(out: &mut String, attributes: &str, room: Rect) {
    let _ = writeln!(
        out,
        "<rect {attributes} x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
        short(room.x),
        short(room.y),
        short(room.w),
        short(room.h)
    );
}

/// Hatches a suspect, the more of its room the likelier it is.
fn shade(out: &mut String, symbol: &Symbol) {
    let Some(share) = symbol.suspect else { return };
    let room = symbol.bounds;
    let high = room.h * share.clamp(0.12, 1.0);
    rect(out, "class=\"h\"", Rect { x: room.x, y: room.y + room.h - high, w: room.w, h: high });
}

fn draw_symbol(out: &mut String, symbol: &Symbol) {
    let _ = writeln!(out, "<g data-part=\"{}\">", escape(&symbol.part));
    let mut current = if symbol.amps.is_some() { " c" } else { "" };
    for stroke in &symbol.strokes {
        // Behind its link comes what moves a contact: no current there.
        if stroke.dashed {
            current = "";
        }
        draw_stroke(out, stroke, current);
    }
    rect(out, "class=\"hit\"", symbol.bounds);
    out.push_str("</g>\n");
}

fn draw_stroke(out: &mut String, stroke: &Stroke, current: &str) {
    let class = match (stroke.filled, stroke.dashed) {
        (true, _) => "f".to_owned(),
        (_, true) => "s k".to_owned(),
        _ => format!("s{current}"),
    };
    let _ = writeln!(out, "<path class=\"{class}\" d=\"{}\"/>", stroke.path);
}

fn draw_dot(out: &mut String, dot: &Dot) {
    let (x, y) = (short(dot.at.x), short(dot.at.y));
    let _ = writeln!(out, "<g data-terminal=\"{}\">", escape(&dot.terminal));
    let live = if dot.live { " l" } else { "" };
    let _ = writeln!(out, "<circle class=\"t{live}\" cx=\"{x}\" cy=\"{y}\" r=\"2.4\"/>");
    if dot.live {
        draw_stroke(out, &bolt(dot.sign), "");
    }
    if let Some(probe) = dot.probe {
        let (class, sign) = match probe {
            Lead::Red => ("red", "M-3,0 L3,0 M0,-3 L0,3"),
            Lead::Black => ("black", "M-3,0 L3,0"),
        };
        let _ = writeln!(out, "<circle class=\"{class}\" cx=\"{x}\" cy=\"{y}\" r=\"5.4\"/>");
        let _ = writeln!(out, "<path class=\"sign\" transform=\"translate({x} {y})\" d=\"{sign}\"/>");
    }
    rect(out, "class=\"hit\"", dot.hit);
    out.push_str("</g>\n");
}

fn draw_label(out: &mut String, label: &Label) {
    let class = match &label.of {
        LabelOf::Part(_) => "p",
        LabelOf::Lead(_) | LabelOf::Terminal(_) | LabelOf::Note => "n",
        LabelOf::Rail | LabelOf::Title => "g",
        LabelOf::Volts(_) | LabelOf::Share(_) => "q",
    };
    let _ = writeln!(
        out,
        "<text class=\"{class}\" x=\"{}\" y=\"{}\" font-size=\"{}\" textLength=\"{}\" \
         lengthAdjust=\"spacingAndGlyphs\">{}</text>",
        short(label.bounds.x),
        short(label.bounds.y + 0.76 * label.size),
        short(label.size),
        short(label.bounds.w),
        escape(&label.text)
    );
}
