//! A page as PDF: its data and a template into a typesetting library, the file out.
//!
//! The template is the shop's to change. It sees the page's data and nothing else: no file, no network, no clock, so that
//! one page and one template always give the same bytes. A mistake in it is told with its line.
//!
//! Refuses to know what stands on a page, and to read files. Apart from the app: fonts and typesetter are too large for it.

mod world;

use documents::{Page, to_data};
use serde_json::Value;
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;
use world::Papers;

/// The template that comes with the program.
pub const TEMPLATE: &str = include_str!("../templates/page.typ");
/// Most bytes of a template, and of a page's data: a page with its drawing and signatures is far below.
pub const MOST_BYTES: usize = 4_000_000;

/// Paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheet {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 in.
    Letter,
}

impl Sheet {
    /// Gives the paper that is usual in a country by its two letters of ISO 3166-1.
    ///
    /// SOURCE: common practice, no source: letter paper in the United States, Canada, Mexico and the Philippines.
    #[must_use]
    pub fn usual_in(country: &str) -> Self {
        if matches!(country, "US" | "CA" | "MX" | "PH") { Self::Letter } else { Self::A4 }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }
}

/// Why no file was made, in words that point at the template's line where it is the template's fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotSet(pub String);

impl core::fmt::Display for NotSet {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(&self.0)
    }
}

impl core::error::Error for NotSet {}

/// Sets a page.
///
/// # Errors
/// What the template does wrong, by its lines.
pub fn pdf(page: &Page, sheet: Sheet, template: &str) -> Result<Vec<u8>, NotSet> {
    pdf_of_data(&to_data(page), sheet, template)
}

/// Sets a page that comes as data (see [`to_data`]).
///
/// # Errors
/// Data that is no page, or what the template does wrong, by its lines.
pub fn pdf_of_data(page: &Value, sheet: Sheet, template: &str) -> Result<Vec<u8>, NotSet> {
    let mut page = page.clone();
    let Some(members) = page.as_object_mut().filter(|page| page.contains_key("title") && page.contains_key("blocks"))
    else {
        return Err(NotSet("the data is no page: it has no title or no blocks".to_owned()));
    };
    members.insert("sheet".to_owned(), sheet.word().into());
    let data = page.to_string();
    if data.len() > MOST_BYTES || template.len() > MOST_BYTES {
        return Err(NotSet(format!("more than {MOST_BYTES} bytes of page or template; make it shorter")));
    }
    let papers = Papers::new(template, data);
    let set = typst::compile::<PagedDocument>(&papers).output;
    let made = set.and_then(|document| typst_pdf::pdf(&document, &PdfOptions::default()));
    // What the library remembers of one page is of no use to the next shop's.
    comemo::evict(0);
    made.map_err(|mistakes| {
        NotSet(mistakes.iter().map(|mistake| papers.in_words(mistake)).collect::<Vec<String>>().join("\n"))
    })
}

/// Tries a template on a page that has every kind of block.
///
/// # Errors
/// What it does wrong, by its lines.
pub fn check(template: &str) -> Result<(), NotSet> {
    let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 10 10\"><path d=\"M0 0 L10 10\" stroke=\"#111\"/></svg>";
    let page = serde_json::json!({ "title": "Every kind of block", "blocks": [
        { "kind": "heading", "text": "A heading" },
        { "kind": "line", "text": "A line." },
        { "kind": "named", "name": "Name", "text": "a text" },
        { "kind": "warning", "text": "a warning" },
        { "kind": "table", "head": ["What", "Amount"], "rows": [["one", "1.00"], ["together", "1.00"]], "money": true },
        { "kind": "signature", "text": "to be signed" },
        { "kind": "signed", "text": "signed by", "name": "A. Person", "strokes": svg },
        { "kind": "signed", "text": "signed by", "name": "B. Person", "strokes": null },
        { "kind": "small", "text": "small print" },
        { "kind": "drawing", "svg": svg },
    ] });
    pdf_of_data(&page, Sheet::A4, template).map(|_| ())
}
