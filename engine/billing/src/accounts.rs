//! The books as CSV for an accountant: a row for each rate of each paper, and one for each payment.

use crate::series::say_number;
use crate::total::totals;
use book::{Body, Event, JobFact, PaidBy, PaperIssued, PaperSort};
use rust_decimal::Decimal;

/// Names of the columns.
const HEAD: [&str; 9] = ["date", "what", "number", "currency", "net", "tax_percent", "tax", "gross", "by"];

/// Writes every paper and payment of these events, in their order. No names stand in it.
///
/// # Errors
/// A fault of the writer.
pub fn csv(events: &[Event]) -> Result<String, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEAD).map_err(|error| error.to_string())?;
    for event in events {
        let Body::Job { fact, .. } = event.body() else { continue };
        let day = event.at().on_the_wall().map_or_else(String::new, |wall| wall.date().to_string());
        let rows = match fact {
            JobFact::PaperIssued(paper) => of_paper(paper, &say_number(event.id().device(), paper.number)),
            JobFact::PaymentTaken(paid) => {
                let amount = paid.amount.amount;
                let (none, currency) = (String::new(), paid.amount.currency.to_string());
                vec![[
                    "payment".to_owned(),
                    none.clone(),
                    currency,
                    none.clone(),
                    none.clone(),
                    none,
                    money(amount),
                    by(paid.by).to_owned(),
                ]]
            }
            _ => continue,
        };
        for row in rows {
            let row: Vec<String> = std::iter::once(day.clone()).chain(row).collect();
            writer.write_record(&row).map_err(|error| error.to_string())?;
        }
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|error| error.to_string())
}

fn of_paper(paper: &PaperIssued, number: &str) -> Vec<[String; 8]> {
    let (what, sign) = match paper.sort {
        PaperSort::Invoice => ("invoice", Decimal::ONE),
        PaperSort::CreditNote => ("credit note", -Decimal::ONE),
        // A receipt says what a payment's own row says already.
        PaperSort::Receipt => return Vec::new(),
    };
    let currency = paper.payable.currency.to_string();
    let row = |((_, percent), (taxed, tax)): ((_, Decimal), (Decimal, Decimal))| {
        [
            what.to_owned(),
            number.to_owned(),
            currency.clone(),
            money(sign * taxed),
            percent.normalize().to_string(),
            money(sign * tax),
            money(sign * (taxed + tax)),
            String::new(),
        ]
    };
    totals(&paper.lines).taxes.into_iter().map(row).collect()
}

fn money(amount: Decimal) -> String {
    format!("{amount:.2}")
}

fn by(paid: PaidBy) -> &'static str {
    match paid {
        PaidBy::Cash => "cash",
        PaidBy::Card => "card",
        PaidBy::Transfer => "transfer",
        PaidBy::Cheque => "check",
    }
}
