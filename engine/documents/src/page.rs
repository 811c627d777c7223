//! A page as a list of blocks, before it is drawn. Knows no markup.

use book::Signed;

/// A page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Page {
    /// Its title.
    pub title: String,
    /// What stands on it, in order.
    pub blocks: Vec<Block>,
}

/// One block of a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Block {
    /// A heading of a part of the page.
    Heading(String),
    /// A line.
    Line(String),
    /// A line with its name before it.
    Named(String, String),
    /// A warning that must not be missed.
    Warning(String),
    /// A table: names of the columns, rows; the last column is ranged right where `money`.
    Table {
        /// Names of the columns.
        head: Vec<String>,
        /// Rows, each as long as the head.
        rows: Vec<Vec<String>>,
        /// The last column is money.
        money: bool,
    },
    /// A wide line to sign on, with what is signed under it.
    Signature(String),
    /// What was signed, by whom, with the strokes where a hand wrote them.
    Signed(String, Signed),
    /// Small print.
    Small(String),
    /// A drawing of a machine as SVG: out of this program's own hand, every text in it made safe there.
    Drawing(String),
}

impl Page {
    /// Begins a page.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self { title: title.into(), blocks: Vec::new() }
    }

    pub(crate) fn heading(&mut self, text: &str) {
        self.blocks.push(Block::Heading(text.to_owned()));
    }

    pub(crate) fn line(&mut self, text: impl Into<String>) {
        self.blocks.push(Block::Line(text.into()));
    }

    pub(crate) fn named(&mut self, name: &str, text: impl Into<String>) {
        self.blocks.push(Block::Named(name.to_owned(), text.into()));
    }

    pub(crate) fn table(&mut self, head: &[&str], rows: Vec<Vec<String>>, money: bool) {
        if !rows.is_empty() {
            let head = head.iter().map(|&name| name.to_owned()).collect();
            self.blocks.push(Block::Table { head, rows, money });
        }
    }
}
