//! A page as one HTML file that needs nothing from elsewhere and reads well on paper.
//!
//! INVARIANT: every text passes [`escape`] on its way in; only a drawing comes as markup, and was made safe where it was drawn.

use crate::page::{Block, Page};
use book::Strokes;

/// Light on screen and on paper; no font, picture or script from elsewhere.
const STYLE: &str = "\
body{font:15px/1.45 system-ui,sans-serif;color:#111;background:#fff;max-width:46rem;margin:2rem auto;padding:0 1rem}\
h1{font-size:1.5rem;margin:0 0 .5rem}h2{font-size:1.05rem;margin:1.6rem 0 .4rem;border-bottom:1px solid #999}\
p{margin:.25rem 0}table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}\
th,td{text-align:left;vertical-align:top;padding:.2rem .6rem .2rem 0;border-bottom:1px solid #ddd}\
th{font-weight:600}.money td:last-child,.money th:last-child{text-align:right;white-space:nowrap}\
.money tr:last-child td{font-weight:600;border-bottom:2px solid #111}\
.warning{border:2px solid #111;padding:.4rem .6rem;margin:.4rem 0}.warning::before{content:'WARNING  ';font-weight:700}\
.sign{margin-top:3.5rem;border-top:1px solid #111;padding-top:.2rem;width:75%}.hand{display:block;width:75%;max-width:20rem}.sign.hand{margin-top:0;max-width:none}\
figure{margin:.4rem 0}figure svg{max-width:100%;height:auto}.small{color:#555;font-size:.8rem}\
@media print{body{margin:0;max-width:none;font-size:11pt}h2{break-after:avoid}tr,.warning,.sign{break-inside:avoid}\
@page{margin:18mm}}";

/// Draws a page as HTML.
#[must_use]
pub fn to_html(page: &Page) -> String {
    let mut html = String::from("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    html.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    html.push_str(&format!("<title>{}</title>\n<style>{STYLE}</style>\n</head>\n<body>\n", escape(&page.title)));
    html.push_str(&format!("<h1>{}</h1>\n", escape(&page.title)));
    for block in &page.blocks {
        html.push_str(&drawn(block));
        html.push('\n');
    }
    html.push_str("</body>\n</html>\n");
    html
}

fn drawn(block: &Block) -> String {
    match block {
        Block::Heading(text) => format!("<h2>{}</h2>", escape(text)),
        Block::Line(text) => format!("<p>{}</p>", escape(text)),
        Block::Named(name, text) => format!("<p><strong>{}:</strong> {}</p>", escape(name), escape(text)),
        Block::Warning(text) => format!("<p class=\"warning\">{}</p>", escape(text)),
        Block::Signature(text) => format!("<p class=\"sign\">{}</p>", escape(text)),
        Block::Signed(what, signed) => {
            let name = format!("{}: {}", escape(what), escape(&signed.name));
            match &signed.strokes {
                Some(strokes) => format!("{}<p class=\"sign hand\">{name}</p>", written(strokes)),
                None => format!("<p><strong>{name}</strong></p>"),
            }
        }
        Block::Drawing(svg) => format!("<figure>{svg}</figure>"),
        Block::Small(text) => format!("<p class=\"small\">{}</p>", escape(text)),
        Block::Table { head, rows, money } => {
            let class = if *money { " class=\"money\"" } else { "" };
            let head: String = head.iter().map(|name| format!("<th>{}</th>", escape(name))).collect();
            let row = |cells: &Vec<String>| {
                let cells: String = cells.iter().map(|cell| format!("<td>{}</td>", escape(cell))).collect();
                format!("<tr>{cells}</tr>\n")
            };
            let rows: String = rows.iter().map(row).collect();
            format!("<table{class}>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}</tbody>\n</table>")
        }
    }
}

/// Draws the strokes of a hand. They are numbers: nothing of them needs [`escape`].
pub(crate) fn written(strokes: &Strokes) -> String {
    let (width, height) = Strokes::FIELD;
    let stroke = |points: &[(u16, u16)]| {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        format!("<polyline points=\"{}\"/>", points.join(" "))
    };
    let lines: String = strokes.each().map(stroke).collect();
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"hand\" viewBox=\"0 0 {width} {height}\" role=\"img\" aria-label=\"signature\" fill=\"none\" \
         stroke=\"#111\" stroke-width=\"6\" stroke-linecap=\"round\" stroke-linejoin=\"round\">{lines}</svg>"
    )
}

/// Makes a text safe anywhere in a page: in an element and in an attribute; control characters become spaces.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '`' => safe.push_str("&#96;"),
            c if hidden(c) => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

/// Controls, and marks that turn the direction of writing round and so could hide what is written.
pub(crate) fn hidden(c: char) -> bool {
    c.is_control() || matches!(c, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}
