//! Agreeing, before a part is changed: what it costs, the choices side by side, a name. Extra work asks again.

use crate::ask::{About, Ask, Choice, Sort, Wants};
use crate::rates::{show_money, total, without_charge};
use crate::session::{Next, Said, Session};
use crate::stages::find;
use crate::weighing::{Supposed, Weighed, weigh};
use book::{Charge, Decision, Money, Offer, QuoteGiven, Stage};
use machine::faults::RepairKind;
use machine::model::RepairId;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Says what must be agreed before this repair; nothing once it is approved.
pub(crate) fn next(s: &Session<'_, '_>, repair: RepairId) -> Option<Next> {
    if free(s, repair) {
        return None;
    }
    let Some(quote) = s.now.quotes.iter().rev().find(|quote| quote.repair == repair && of_this_change(s, quote)) else {
        return Next::due(Said::job(quote_for(s, repair)));
    };
    match quote.decision {
        Some(Decision::Approved) => None,
        Some(Decision::Declined) => Next::due(Said::job(quote_for(s, repair))),
        None if s.now.did("agree/choice") => Next::ask(who(s)),
        None => Next::ask(choose(s, repair, &quote.given)),
    }
}

/// Work that opens no part and costs nothing needs no quote: plugging in, resetting a breaker.
pub(crate) fn free(s: &Session<'_, '_>, repair: RepairId) -> bool {
    let repair = &s.machine()[repair];
    repair.kind == RepairKind::Clean && repair.price == Decimal::ZERO && repair.minutes <= 3.0
}

/// A repair that was done and did not cure is agreed anew.
fn of_this_change(s: &Session<'_, '_>, quote: &crate::now::Quote) -> bool {
    let done = s.now.changes.iter().filter(|change| change.repair == quote.repair).count();
    let before =
        s.now.quotes.iter().filter(|other| other.repair == quote.repair).position(|other| other.event == quote.event);
    before.is_some_and(|before| before >= done)
}

/// Writes the quote for a repair: its lines, and a range that reaches to the dearest second repair still likely.
fn quote_for(s: &Session<'_, '_>, repair: RepairId) -> QuoteGiven {
    let (machine, rates) = (s.machine(), &s.settings.rates);
    let mut charges = Vec::new();
    if s.now.quotes.iter().all(|quote| quote.decision != Some(Decision::Approved)) {
        charges.push(rates.call_out_line());
    }
    charges.extend(rates.repair_lines(machine, repair));
    if let Some(why) = free_of_charge(s) {
        without_charge(&mut charges, why);
    }
    let low = total(&charges, rates.currency);
    let pays = free_of_charge(s).is_none();
    let others =
        s.belief.repair_shares().into_iter().filter(|(other, share)| pays && *other != repair && *share >= LIKELY);
    let dearest = others.map(|(other, _)| total(&rates.repair_lines(machine, other), rates.currency).amount).max();
    let high = Money { amount: low.amount + dearest.unwrap_or_default(), currency: rates.currency };
    let sentence = format!("{}: {}", find::top_suspects(s, 3), super::intake::capital(&machine[repair].say));
    let shown = Some(find::shown(s, sentence, None));
    QuoteGiven { offer: Offer::Repair, charges, low, high, holds_until: None, shown }
}

/// Says why the customer pays nothing: the fault came back, or somebody else owes the repair.
pub(crate) fn free_of_charge(s: &Session<'_, '_>) -> Option<&'static str> {
    if s.now.callback {
        return Some("no charge: the fault came back");
    }
    s.now.warranty.then_some("no charge: under warranty")
}

/// Share from which another repair is counted into the range of a quote; common practice, no source.
const LIKELY: f64 = 0.1;

fn choose(s: &Session<'_, '_>, repair: RepairId, quote: &QuoteGiven) -> Ask {
    let machine = s.machine();
    let call = match free_of_charge(s) {
        Some(why) => why.to_owned(),
        None => show_money(&s.settings.rates.call_out_line().amount),
    };
    let leave = if s.now.dangerous() {
        Choice::new("disconnect", format!("disconnect it and tag it: {call}; a dangerous fault is open"))
    } else {
        Choice::new("leave", format!("leave it, made safe: {call}"))
    };
    let price = if quote.low == quote.high {
        show_money(&quote.low)
    } else {
        format!("{} to {}", show_money(&quote.low), show_money(&quote.high))
    };
    let choices = vec![
        Choice::new("repair", format!("{}: {price}", machine[repair].say)),
        Choice::new("refer", format!("have it seen to elsewhere: {call}")),
        Choice::new("replace", format!("replace the {}: {call} for this call", machine.kind)),
        leave,
    ];
    let say = "What does the customer choose?";
    Ask::new(About::Choose, Stage::Agree, say, Wants::Choice(choices))
        .line(Sort::Plain, format!("likely: {}", find::top_suspects(s, 3)))
        .lines(Sort::Why, worth_it(s, &quote.low))
        .lines(Sort::Plain, quote.charges.iter().map(line))
}

/// Says whether the repair is worth it; nothing where the customer pays none of it.
fn worth_it(s: &Session<'_, '_>, price: &Money) -> Vec<String> {
    if free_of_charge(s).is_some() {
        return Vec::new();
    }
    weighed(s, price, &Supposed::default()).map_or_else(Vec::new, |of| of.say(&price.currency.to_string()))
}

/// Weighs repair at this price against a new one; where it is replaced, the call is paid all the same.
pub(crate) fn weighed(s: &Session<'_, '_>, price: &Money, supposed: &Supposed) -> Option<Weighed> {
    let number = |amount: Decimal| amount.to_f64();
    let said = Supposed { age: supposed.age.or(s.now.known.age_years), ..*supposed };
    weigh(&s.machine().kind, number(price.amount)?, number(s.settings.rates.call_out)?, &said)
}

/// One line of a quote in words.
pub(crate) fn line(charge: &Charge) -> String {
    format!("{}: {}", charge.what, show_money(&charge.amount))
}

fn who(s: &Session<'_, '_>) -> Ask {
    let choice = s.now.said("agree/choice").unwrap_or_default();
    let say = format!("`{choice}`: who says so? Name for the record, `refused`, or `nobody`.");
    Ask::new(About::Approve, Stage::Agree, say, Wants::Signature)
}
