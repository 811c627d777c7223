//! The next paper of a job: its invoice, a credit note that takes one back, a receipt for what was paid.

use crate::bill::bill;
use crate::total::{cents, totals};
use book::{
    Charge, ChargeSort, Currency, Entry, EventId, Fact, Job, Money, PaperIssued, PaperSort, PaymentTaken, SettingsSet,
    TaxCategory, TaxRule, TaxedCharge, ZonedTime,
};
use rust_decimal::Decimal;

/// Says why there is no such paper, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoPaper {
    /// Why.
    pub say: String,
    /// The mend.
    pub mend: String,
}

impl NoPaper {
    fn new(say: impl Into<String>, mend: &str) -> Self {
        Self { say: say.into(), mend: mend.to_owned() }
    }
}

/// Makes the invoice of a job; `number` is the next of the series, `due` the day until which it is to be paid. With `free`
/// nothing is charged, and the paper says why.
///
/// # Errors
/// Nothing is charged yet, it has an invoice that was not taken back, or its charges are in several currencies.
pub fn invoice(
    job: &Job,
    settings: &SettingsSet,
    free: Option<&str>,
    number: u64,
    due: Option<ZonedTime>,
) -> Result<PaperIssued, NoPaper> {
    if let Some((_, open)) = open_invoice(job) {
        let said = NoPaper::new(
            format!("this job has an invoice already, number {}", open.number),
            "take it back with a credit note first",
        );
        return Err(said);
    }
    let mut charges = bill(job);
    let Some(first) = charges.first() else {
        return Err(NoPaper::new("nothing was charged on this job", "give a quote and have it approved first"));
    };
    let currency = first.amount.currency;
    if charges.iter().any(|charge| charge.amount.currency != currency) {
        return Err(NoPaper::new("its charges are in several currencies", "set one currency and quote anew"));
    }
    let mut lines: Vec<TaxedCharge> = charges.drain(..).map(|charge| taxed(charge, &settings.taxes)).collect();
    let free = free.map(|why| format!("no charge: {}", why.trim()));
    if let Some(why) = &free {
        lines.extend(taken_off(&lines, why, currency));
    }
    let gross = totals(&lines).gross;
    let paid = paid_ahead(job, currency);
    Ok(PaperIssued {
        sort: PaperSort::Invoice,
        number,
        lines,
        paid_before: Money { amount: paid, currency },
        payable: Money { amount: gross - paid, currency },
        due,
        of: None,
        why: free,
    })
}

/// Makes a credit note that takes an invoice back, whole.
///
/// # Errors
/// There is no such invoice, or it was taken back.
pub fn credit_note(job: &Job, of: EventId, why: &str, number: u64) -> Result<PaperIssued, NoPaper> {
    let open = open_invoice(job).filter(|(entry, _)| entry.event == of);
    let (_, taken) =
        open.ok_or_else(|| NoPaper::new("there is no open invoice of that number", "take one that is listed"))?;
    if why.trim().is_empty() {
        return Err(NoPaper::new("a credit note says why", "write in a few words what was wrong"));
    }
    let gross = totals(&taken.lines).gross;
    let currency = taken.payable.currency;
    Ok(PaperIssued {
        sort: PaperSort::CreditNote,
        number,
        lines: taken.lines.clone(),
        paid_before: Money { amount: Decimal::ZERO, currency },
        payable: Money { amount: gross, currency },
        due: None,
        of: Some(of),
        why: Some(why.trim().to_owned()),
    })
}

/// Makes a receipt for a payment.
///
/// # Errors
/// There is no such payment.
pub fn receipt(job: &Job, payment: EventId, number: u64) -> Result<PaperIssued, NoPaper> {
    let paid = job.all::<PaymentTaken>().find(|(entry, _)| entry.event == payment).map(|(_, paid)| paid);
    let paid = paid.ok_or_else(|| NoPaper::new("there is no such payment", "take one that is listed"))?;
    Ok(PaperIssued {
        sort: PaperSort::Receipt,
        number,
        lines: Vec::new(),
        paid_before: Money { amount: Decimal::ZERO, currency: paid.amount.currency },
        payable: paid.amount,
        due: None,
        of: Some(payment),
        why: None,
    })
}

/// Gives the invoice of a job that was not taken back.
#[must_use]
pub fn open_invoice(job: &Job) -> Option<(&Entry<Fact>, &PaperIssued)> {
    job.all::<PaperIssued>()
        .filter(|(entry, paper)| paper.sort == PaperSort::Invoice && !taken_back(job, entry.event))
        .last()
}

fn taken_back(job: &Job, invoice: EventId) -> bool {
    job.all::<PaperIssued>().any(|(_, paper)| paper.sort == PaperSort::CreditNote && paper.of == Some(invoice))
}

/// Gives what is still owed on the open invoice of a job; nothing where there is none.
#[must_use]
pub fn owed(job: &Job) -> Option<Money> {
    let (entry, invoice) = open_invoice(job)?;
    let currency = invoice.payable.currency;
    let since = paid(job, currency, |of| of == Some(entry.event));
    Some(Money { amount: invoice.payable.amount - since, currency })
}

/// Gives what the customer has paid ahead on a job without an open invoice: deposits, and what was paid on invoices taken back,
/// less what was paid back. `None` where nothing is held, or an invoice is open that takes it in.
#[must_use]
pub fn held(job: &Job) -> Option<Money> {
    if open_invoice(job).is_some() {
        return None;
    }
    let (_, first) = job.all::<PaymentTaken>().next()?;
    let currency = first.amount.currency;
    let amount = paid_ahead(job, currency);
    (!amount.is_zero()).then_some(Money { amount, currency })
}

/// Deposits, and payments on invoices taken back.
fn paid_ahead(job: &Job, currency: Currency) -> Decimal {
    paid(job, currency, |of| of.is_none_or(|of| taken_back(job, of)))
}

/// Adds up the payments that are for what is wanted: an invoice, or none.
fn paid(job: &Job, currency: Currency, wanted: impl Fn(Option<EventId>) -> bool) -> Decimal {
    let all = job.all::<PaymentTaken>().filter(|(_, paid)| wanted(paid.of) && paid.amount.currency == currency);
    all.map(|(_, paid)| paid.amount.amount).sum()
}

/// A charge with the tax of its sort.
fn taxed(charge: Charge, taxes: &[TaxRule]) -> TaxedCharge {
    let rule = taxes.iter().find(|rule| rule.sort == charge.sort);
    let amount = Money { amount: cents(charge.amount.amount), ..charge.amount };
    TaxedCharge {
        charge: Charge { amount, ..charge },
        category: rule.map_or(TaxCategory::OutOfScope, |rule| rule.category),
        percent: rule.map_or(Decimal::ZERO, |rule| rule.percent),
    }
}

/// Takes everything off again, rate by rate, so that what was done stays on the paper.
fn taken_off(lines: &[TaxedCharge], why: &str, currency: Currency) -> Vec<TaxedCharge> {
    let of = totals(lines).taxes;
    of.into_iter()
        .map(|((category, percent), (taxed, _))| TaxedCharge {
            charge: Charge {
                what: why.to_owned(),
                sort: ChargeSort::Other,
                amount: Money { amount: -taxed, currency },
            },
            category,
            percent,
        })
        .collect()
}
