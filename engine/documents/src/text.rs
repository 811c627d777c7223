//! A page as plain text, 100 columns at most where words allow. Knows no escapes of terminals: controls become spaces.

use crate::html::hidden;
use crate::page::{Block, Page};

const WIDTH: usize = 100;

/// Draws a page as text.
#[must_use]
pub fn to_text(page: &Page) -> String {
    let mut text = format!("{}\n{}\n", clean(&page.title), "=".repeat(clean(&page.title).chars().count()));
    for block in &page.blocks {
        text.push_str(&drawn(block));
    }
    text
}

fn drawn(block: &Block) -> String {
    match block {
        Block::Heading(words) => {
            let words = clean(words);
            format!("\n{words}\n{}\n", "-".repeat(words.chars().count()))
        }
        Block::Line(words) | Block::Small(words) => wrapped(&clean(words), ""),
        Block::Named(name, words) => wrapped(&format!("{}: {}", clean(name), clean(words)), "  "),
        Block::Warning(words) => wrapped(&format!("WARNING: {}", clean(words)), "  "),
        Block::Signed(what, signed) => format!(
            "{}: {}{}\n",
            clean(what),
            clean(&signed.name),
            if signed.strokes.is_some() { " (signed by hand)" } else { "" }
        ),
        Block::Drawing(_) => "[a drawing]\n".to_owned(),
        Block::Signature(words) => format!("\n\n{}\n{}\n", "_".repeat(60), clean(words)),
        Block::Table { head, rows, money } => table(head, rows, *money),
    }
}

pub(crate) fn clean(words: &str) -> String {
    words.chars().map(|c| if hidden(c) { ' ' } else { c }).collect()
}

/// Breaks at spaces; later lines begin with `indent`.
fn wrapped(words: &str, indent: &str) -> String {
    let mut lines: Vec<String> = vec![String::new()];
    for word in words.split(' ') {
        let count = lines.len();
        let Some(last) = lines.last_mut() else { break };
        let length = last.chars().count();
        if length > indent.len() && length + 1 + word.chars().count() > WIDTH {
            lines.push(format!("{indent}{word}"));
        } else if length == 0 || (count > 1 && length == indent.len()) {
            last.push_str(word);
        } else {
            last.push(' ');
            last.push_str(word);
        }
    }
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}

fn table(head: &[String], rows: &[Vec<String>], money: bool) -> String {
    let all: Vec<Vec<String>> = std::iter::once(head)
        .chain(rows.iter().map(Vec::as_slice))
        .map(|row| row.iter().map(|cell| clean(cell)).collect())
        .collect();
    let columns = head.len();
    let widest = |column: usize| {
        all.iter().filter_map(|row| row.get(column)).map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(widest).collect();
    if widths.iter().sum::<usize>() + 2 * columns > WIDTH {
        return stacked(&all);
    }
    let mut text = String::new();
    for (index, row) in all.iter().enumerate() {
        let cells = row.iter().zip(&widths).enumerate().map(|(column, (cell, width))| {
            if money && column + 1 == columns { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
        });
        text.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
        text.push('\n');
        if index == 0 {
            text.push_str(&"-".repeat(widths.iter().sum::<usize>() + 2 * (columns.saturating_sub(1))));
            text.push('\n');
        }
    }
    text
}

/// A table too wide for the paper: each row as lines of name and cell.
fn stacked(all: &[Vec<String>]) -> String {
    let Some((head, rows)) = all.split_first() else { return String::new() };
    let mut text = String::new();
    for row in rows {
        for (index, (name, cell)) in head.iter().zip(row).enumerate() {
            if !cell.is_empty() {
                let mark = if index == 0 { "* " } else { "  " };
                text.push_str(mark);
                text.push_str(&wrapped(&format!("{name}: {cell}"), "    "));
            }
        }
    }
    text
}
