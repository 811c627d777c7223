//! A page as plain data, for a typesetter's template: the shape is part of what a shop's own templates rest on.
//!
//! Every block is an object with its `kind`; docs/papers.md lists them.

use crate::html::written;
use crate::page::{Block, Page};
use crate::text::clean;
use serde_json::{Value, json};

/// Gives a page as data: `title`, and `blocks` in order.
#[must_use]
pub fn to_data(page: &Page) -> Value {
    json!({ "title": clean(&page.title), "blocks": page.blocks.iter().map(block).collect::<Vec<Value>>() })
}

fn block(block: &Block) -> Value {
    match block {
        Block::Heading(text) => json!({ "kind": "heading", "text": clean(text) }),
        Block::Line(text) => json!({ "kind": "line", "text": clean(text) }),
        Block::Named(name, text) => json!({ "kind": "named", "name": clean(name), "text": clean(text) }),
        Block::Warning(text) => json!({ "kind": "warning", "text": clean(text) }),
        Block::Table { head, rows, money } => {
            let row = |cells: &Vec<String>| cells.iter().map(|cell| clean(cell)).collect::<Vec<String>>();
            let rows: Vec<Vec<String>> = rows.iter().map(row).collect();
            json!({ "kind": "table", "head": row(head), "rows": rows, "money": money })
        }
        Block::Signature(text) => json!({ "kind": "signature", "text": clean(text) }),
        Block::Signed(what, signed) => {
            let strokes = signed.strokes.as_ref().map(written);
            json!({ "kind": "signed", "text": clean(what), "name": clean(&signed.name), "strokes": strokes })
        }
        Block::Small(text) => json!({ "kind": "small", "text": clean(text) }),
        Block::Drawing(svg) => json!({ "kind": "drawing", "svg": svg }),
    }
}
