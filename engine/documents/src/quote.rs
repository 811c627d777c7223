//! A quote: its lines, the range that was said, what it rests on.

use crate::page::{Block, Page};
use crate::{Heading, words};
use billing::total;
use book::{Entry, QuoteGiven};

/// Makes a quote.
#[must_use]
pub fn quote_page(quote: &Entry<QuoteGiven>, heading: &Heading) -> Page {
    let given = &quote.fact;
    let mut page = Page::new("Quote");
    page.line(heading.shop.clone());
    page.blocks.extend(heading.note.clone().map(Block::Small));
    if let Some(customer) = &heading.customer {
        page.named("Customer", customer.name.clone());
    }
    page.named("Appliance", heading.appliance.clone());
    page.named("Given", words::time(&quote.at));
    if let Some(shown) = &given.shown {
        page.named("Rests on", shown.sentence.clone());
    }
    page.heading("Lines");
    let mut rows: Vec<Vec<String>> = given.charges.iter().map(words::charge_row).collect();
    rows.extend(total(&given.charges).iter().map(|sum| vec!["total".to_owned(), words::money(sum)]));
    page.table(&["What", "Amount"], rows, true);
    if given.low == given.high {
        page.named("All in all", words::money(&given.low));
    } else {
        let range = format!("{} to {}", words::money(&given.low), words::money(&given.high));
        page.named(
            "All in all",
            format!("{range}; the upper end if a second repair turns out to be needed, which is asked again"),
        );
    }
    if let Some(until) = &given.holds_until {
        page.named("Holds until", words::time(until));
    }
    page.blocks.push(Block::Signature("Approved: signature, name, date".to_owned()));
    page
}
