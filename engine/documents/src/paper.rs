//! An issued paper: invoice, credit note or receipt.

use crate::page::{Block, Page};
use crate::{Heading, words};
use billing::{say_number, totals};
use book::{DeviceId, Letterhead, PaperIssued, PaperSort, TaxCategory, TaxedCharge, ZonedTime};

/// Makes an issued paper. `takes_back` is the number, as said, of the paper that it takes back or that was paid.
#[must_use]
pub fn paper_page(
    paper: &PaperIssued,
    (device, at): (DeviceId, &ZonedTime),
    shop: &Letterhead,
    heading: &Heading,
    takes_back: Option<&str>,
) -> Page {
    let title = match paper.sort {
        PaperSort::Invoice => "Invoice",
        PaperSort::CreditNote => "Credit note",
        PaperSort::Receipt => "Receipt",
    };
    let mut page = Page::new(format!("{title} {}", say_number(device, paper.number)));
    letterhead(&mut page, shop, heading);
    if let Some(customer) = &heading.customer {
        page.named("For", [std::slice::from_ref(&customer.name), &customer.address].concat().join(", "));
    }
    page.named("Appliance", heading.appliance.clone());
    page.named("Issued", words::time(at));
    if let Some(number) = takes_back {
        page.named(if paper.sort == PaperSort::Receipt { "Paid on" } else { "Takes back" }, number);
    }
    if let Some(why) = &paper.why {
        page.named("Note", why.clone());
    }
    let money = |amount| words::money(&book::Money { amount, currency: paper.payable.currency });
    if !paper.lines.is_empty() {
        page.heading("Lines");
        let sums = totals(&paper.lines);
        let row = |line: &TaxedCharge| vec![line.charge.what.clone(), tax_of(line), words::money(&line.charge.amount)];
        let mut rows: Vec<Vec<String>> = paper.lines.iter().map(row).collect();
        rows.push(vec!["together".to_owned(), String::new(), money(sums.net)]);
        for ((_, percent), (taxed, tax)) in sums.taxes.iter().filter(|(_, (_, tax))| !tax.is_zero()) {
            rows.push(vec![format!("tax on {}", money(*taxed)), format!("{percent} %"), money(*tax)]);
        }
        rows.push(vec!["with tax".to_owned(), String::new(), money(sums.gross)]);
        page.table(&["What", "Tax", "Amount"], rows, true);
    }
    if !paper.paid_before.amount.is_zero() {
        page.named("Paid before", words::money(&paper.paid_before));
    }
    let last = match paper.sort {
        PaperSort::Invoice => "To be paid",
        PaperSort::CreditNote => "Taken back",
        PaperSort::Receipt => "Paid",
    };
    page.named(last, words::money(&paper.payable));
    if let Some(due) = &paper.due {
        page.named("Until", words::time(due));
    }
    if !shop.account.is_empty() && paper.sort == PaperSort::Invoice {
        page.named("Account", shop.account.clone());
    }
    page
}

fn letterhead(page: &mut Page, shop: &Letterhead, heading: &Heading) {
    page.line(if shop.name.is_empty() { heading.shop.clone() } else { shop.name.clone() });
    let town = [shop.postcode.as_str(), shop.town.as_str()].join(" ");
    let lines = [shop.street.as_str(), town.trim(), shop.country.as_str()];
    let address: Vec<&str> = lines.into_iter().filter(|line| !line.is_empty()).collect();
    if !address.is_empty() {
        page.line(address.join(", "));
    }
    if !shop.tax_number.is_empty() {
        page.named("Tax number", shop.tax_number.clone());
    }
    page.blocks.extend(heading.note.clone().map(Block::Small));
}

fn tax_of(line: &TaxedCharge) -> String {
    match line.category {
        TaxCategory::Rated => format!("{} %", line.percent.normalize()),
        TaxCategory::Zero => "0 %".to_owned(),
        TaxCategory::Exempt => "exempt".to_owned(),
        TaxCategory::OutOfScope => "none".to_owned(),
    }
}
