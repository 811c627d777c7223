//! From a folded job to pages: record and quote, as text and as HTML that stands by itself.
//!
//! A page is a list of [`Block`]s made from the facts of a [`book::Job`]; [`to_html`] and [`to_text`] draw any page, [`to_data`]
//! gives it to a typesetter.
//! Nothing is computed here beyond sums of money: what a computation showed was recorded when it was shown.
//!
//! Refuses to know machines (names come in with [`Heading::words`]), clocks, files, and how to open sealed records.

mod calendar;
mod data;
mod html;
mod page;
mod paper;
mod quote;
mod record;
mod text;
mod words;

pub use calendar::{Appointment, calendar};
pub use data::to_data;
pub use html::to_html;
pub use page::{Block, Page};
pub use paper::paper_page;
pub use quote::quote_page;
pub use record::record_page;
pub use text::to_text;

use book::{Entry, Job, Person, QuoteGiven, RecordId, Signed};
use std::collections::BTreeMap;

/// What stands on a page and is not in the job: who the shop is, whose record it is, what ids are called.
#[derive(Clone, Debug, Default)]
pub struct Heading {
    /// The shop.
    pub shop: String,
    /// A line under it, such as that everything is invented.
    pub note: Option<String>,
    /// The customer, if the sealed record could be opened.
    pub customer: Option<Person>,
    /// Who signed, for the signatures whose sealed records could be opened.
    pub signed: BTreeMap<RecordId, Signed>,
    /// The appliance in words.
    pub appliance: String,
    /// Id to words: parts, terminals, states, observations with their values (`drum=no`), proofs, covers.
    pub words: BTreeMap<String, String>,
}

impl Heading {
    /// Gives the words for an id, or the id itself.
    #[must_use]
    pub fn say<'a>(&'a self, id: &'a str) -> &'a str {
        self.words.get(id).map_or(id, String::as_str)
    }
}

/// Gives the record as HTML.
#[must_use]
pub fn record_html(job: &Job, heading: &Heading) -> String {
    to_html(&record_page(job, heading))
}

/// Gives the record as text.
#[must_use]
pub fn record_text(job: &Job, heading: &Heading) -> String {
    to_text(&record_page(job, heading))
}

/// Gives a quote as HTML.
#[must_use]
pub fn quote_html(quote: &Entry<QuoteGiven>, heading: &Heading) -> String {
    to_html(&quote_page(quote, heading))
}

/// Gives a quote as text.
#[must_use]
pub fn quote_text(quote: &Entry<QuoteGiven>, heading: &Heading) -> String {
    to_text(&quote_page(quote, heading))
}
