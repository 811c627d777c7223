//! The money: what is to be invoiced, what is to be paid, the papers that were issued, the books.

use crate::counter::Customers;
use crate::counter::settings::in_force;
use crate::screen::{Choice, Field, Fields, Setting};
use crate::shelf;
use billing::invoice::open_invoice;
use billing::{accounts, bill, credit_note, held, invoice, next_number, owed, receipt, say_number, total, totals, ubl};
use book::{
    Body, Book, DeviceId, Entry, Event, EventId, Fact, Job, JobId, Money, PaidBy, PaperIssued, PaperSort, PaymentTaken,
    Person, QuoteGiven, SettingsSet, ZonedTime, fold_book,
};
use call::rates::show_money;
use call::{Refused, Shop};
use documents::{Heading, Page, paper_page, quote_page, to_html};
use quantity::Decimal;

/// Ways to pay, as typed and in words.
const WAYS: [(&str, PaidBy); 4] =
    [("cash", PaidBy::Cash), ("card", PaidBy::Card), ("transfer", PaidBy::Transfer), ("check", PaidBy::Cheque)];
/// Papers shown, the latest first.
const SHOWN: usize = 40;

/// Gives the money as fields.
pub(super) fn fields(events: &[Event], customers: &Customers<'_>, shop: &Shop) -> Vec<Fields> {
    let book = fold_book(events);
    let set = in_force(shop);
    let mut to_invoice = Vec::new();
    let mut to_pay = Vec::new();
    for job in book.jobs.values().filter(|job| !job.opening_undone) {
        let name = who(job, customers);
        if let (Some((entry, paper)), Some(owed)) = (open_invoice(job), owed(job)) {
            if !owed.amount.is_zero() {
                to_pay.extend(pay(job, &format!("{}, {name}", number(entry, paper)), &owed));
            }
        } else if job.all::<PaperIssued>().next().is_none() && has_ended(job) && !bill(job).is_empty() {
            to_invoice.extend(due(job, &name));
        }
    }
    let mut papers: Vec<(&Job, &Entry<Fact>, &PaperIssued)> = book
        .jobs
        .values()
        .flat_map(|job| job.all::<PaperIssued>().map(move |(entry, paper)| (job, entry, paper)))
        .collect();
    papers.sort_by_key(|(_, entry, _)| std::cmp::Reverse(events.iter().position(|event| event.id() == entry.event)));
    let shown =
        papers.iter().take(SHOWN).flat_map(|(job, entry, paper)| issued(job, entry, paper, customers, shop, &set));
    let faults = billing::series::faults(events);
    let note = if faults.is_empty() { "every number is there, none twice".to_owned() } else { faults.join("\n") };
    let group = |title: &str, note: Option<String>, fields| Fields { title: title.to_owned(), note, fields };
    let none = |fields: &Vec<Field>, say: &str| fields.is_empty().then(|| say.to_owned());
    vec![
        group("To be invoiced", none(&to_invoice, "nothing"), to_invoice),
        group("To be paid", none(&to_pay, "nothing"), to_pay),
        group("Papers", None, shown.collect()),
        group("Quotes given", None, quotes(&book, customers, shop)),
        group(
            "The books",
            Some(note),
            vec![Field::new(
                "books",
                "papers and payments for the accountant",
                accounts::csv(events).unwrap_or_default(),
                "",
                Setting::Save("books.csv".to_owned()),
            )],
        ),
    ]
}

/// Gives the page of a paper or quote by the id under which it is handed out.
pub(super) fn page(events: &[Event], customers: &Customers<'_>, shop: &Shop, id: &str) -> Option<Page> {
    let (what, of) = id.split_once('/')?;
    let of: EventId = of.parse().ok()?;
    let book = fold_book(events);
    book.jobs.values().find_map(|job| match what {
        "paper" => {
            let (entry, paper) = job.all::<PaperIssued>().find(|(entry, _)| entry.event == of)?;
            Some(paper_of(job, entry, paper, customers, shop))
        }
        "quote" => {
            let (entry, quote) = job.all::<QuoteGiven>().find(|(entry, _)| entry.event == of)?;
            Some(quote_of(job, entry, quote, customers, shop))
        }
        _ => None,
    })
}

/// Takes what was typed; gives the facts that follow. `at` is the time on the wall.
pub(super) fn set(
    events: &[Event],
    device: DeviceId,
    shop: &Shop,
    (id, value): (&str, &str),
    at: Option<&ZonedTime>,
) -> Result<Vec<Body>, Refused> {
    let unknown = || Refused::new(format!("there is no `{id}` here"), "take one that is listed");
    let (what, of) = id.split_once('/').ok_or_else(unknown)?;
    let of: EventId = of.parse().map_err(|_| unknown())?;
    let book = fold_book(events);
    let number = next_number(events, device);
    let set = in_force(shop);
    if what == "credit" {
        let has = |job: &&Job| job.all::<PaperIssued>().any(|(entry, _)| entry.event == of);
        let job = book.jobs.values().find(has).ok_or_else(unknown)?;
        let paper = credit_note(job, of, value, number).map_err(refused)?;
        return Ok(vec![Body::job(job.id, paper)]);
    }
    if what == "receipt" {
        let has = |job: &&Job| job.all::<PaymentTaken>().any(|(entry, _)| entry.event == of);
        let job = book.jobs.values().find(has).ok_or_else(unknown)?;
        return Ok(vec![Body::job(job.id, receipt(job, of, number).map_err(refused)?)]);
    }
    let job = book.jobs.get(&JobId(of)).ok_or_else(unknown)?;
    let fact: Body = match what {
        "invoice" | "free" => {
            if what == "free" && value.trim().is_empty() {
                return Err(Refused::new("a paper without charge says why", "write in a few words why"));
            }
            let free = (what == "free").then_some(value);
            let until = at.and_then(|at| at.days_later(set.pay_within_days));
            Body::job(job.id, invoice(job, &set, free, number, until).map_err(refused)?)
        }
        "paid" => {
            let amount = owed(job).ok_or_else(unknown)?;
            let (entry, _) = open_invoice(job).ok_or_else(unknown)?;
            Body::job(job.id, PaymentTaken { amount, by: way(value)?, of: Some(entry.event) })
        }
        "back" => {
            let held = held(job).ok_or_else(unknown)?;
            let amount = Money { amount: -held.amount, ..held };
            Body::job(job.id, PaymentTaken { amount, by: way(value)?, of: None })
        }
        "part" | "deposit" => {
            let (amount, by) = value.trim().split_once(' ').unwrap_or((value.trim(), "cash"));
            let amount = amount.parse::<Decimal>().ok().filter(|amount| !amount.is_zero() && amount.scale() <= 2);
            let amount = amount.ok_or_else(|| {
                Refused::new(format!("`{value}` is no amount"), "write an amount and how, such as `50 cash`")
            })?;
            let open = open_invoice(job).map(|(entry, _)| entry.event);
            let currency = bill(job).first().map_or(set.call_out.currency, |line| line.amount.currency);
            Body::job(job.id, PaymentTaken { amount: Money { amount, currency }, by: way(by)?, of: open })
        }
        _ => return Err(unknown()),
    };
    Ok(vec![fact])
}

fn way(text: &str) -> Result<PaidBy, Refused> {
    let known = WAYS.iter().find(|(word, _)| *word == text.trim()).map(|(_, by)| *by);
    known.ok_or_else(|| {
        Refused::new(format!("`{text}` is no way to pay"), "write `cash`, `card`, `transfer` or `check`")
    })
}

fn refused(no: billing::NoPaper) -> Refused {
    Refused::new(no.say, no.mend)
}

/// The last visit has ended, and not on the telephone.
fn has_ended(job: &Job) -> bool {
    let telephone = |end: &book::End| matches!(end, book::End::VisitPromised | book::End::SettledByTelephone { .. });
    job.calls.last().and_then(|call| call.ended.as_ref()).is_some_and(|ended| !telephone(&ended.fact.end))
}

fn who(job: &Job, customers: &Customers<'_>) -> String {
    job.opened.as_ref().map_or_else(String::new, |opened| customers.name(opened.fact.customer))
}

fn number(entry: &Entry<Fact>, paper: &PaperIssued) -> String {
    say_number(entry.event.device(), paper.number)
}

fn due(job: &Job, name: &str) -> Vec<Field> {
    let sums: Vec<String> = total(&bill(job)).iter().map(show_money).collect();
    let say = format!("{name}: {} without tax", sums.join(", "));
    vec![
        Field::new(
            &format!("invoice/{}", job.id),
            &format!("issue the invoice: {say}"),
            String::new(),
            "",
            Setting::Act,
        ),
        Field::new(
            &format!("free/{}", job.id),
            &format!("issue it without charge: {name}"),
            String::new(),
            "type why",
            Setting::Words,
        ),
        Field::new(
            &format!("deposit/{}", job.id),
            &format!("{name} pays ahead"),
            String::new(),
            "such as 50 cash",
            Setting::Words,
        ),
    ]
}

fn ways() -> Vec<Choice> {
    WAYS.iter().map(|(word, _)| Choice { answer: (*word).to_owned(), say: (*word).to_owned() }).collect()
}

fn pay(job: &Job, say: &str, owed: &Money) -> Vec<Field> {
    let choices = ways();
    let all = format!("{say}: {} is paid by", show_money(owed));
    vec![
        Field::new(&format!("paid/{}", job.id), &all, String::new(), "", Setting::Choices(choices)),
        Field::new(
            &format!("part/{}", job.id),
            "a part of it is paid",
            String::new(),
            "such as 50 cash",
            Setting::Words,
        ),
    ]
}

fn issued(
    job: &Job,
    entry: &Entry<Fact>,
    paper: &PaperIssued,
    customers: &Customers<'_>,
    shop: &Shop,
    set: &SettingsSet,
) -> Vec<Field> {
    let said = number(entry, paper);
    let name = who(job, customers);
    let what = match paper.sort {
        PaperSort::Invoice => "invoice",
        PaperSort::CreditNote => "credit note",
        PaperSort::Receipt => "receipt",
    };
    let of = number_of(job, paper);
    let person = person(job, customers);
    let sum = if paper.lines.is_empty() {
        paper.payable
    } else {
        Money { amount: totals(&paper.lines).gross, ..paper.payable }
    };
    let say = format!("{what} {said}, {name}, {}", show_money(&sum));
    let device = entry.event.device();
    let page = to_html(&paper_of(job, entry, paper, customers, shop));
    let mut fields = vec![Field::new(
        &format!("paper/{}", entry.event),
        &say,
        page,
        "",
        Setting::Save(format!("{what}-{said}.html").replace(' ', "-")),
    )];
    let open =
        ubl::Around { shop: &set.letterhead, customer: person.as_ref(), issued: &entry.at, device, takes_back: of };
    if let Ok(Some(xml)) = ubl::write(paper, &open) {
        let file = format!("{what}-{said}.xml").replace(' ', "-");
        let lacking = ubl::lacks(&set.letterhead)
            .map_or_else(String::new, |what| format!("set {what} under settings, or others' programs refuse it"));
        fields.push(Field::new(
            &format!("open/{}", entry.event),
            "the same in the open format (UBL)",
            xml,
            &lacking,
            Setting::Save(file),
        ));
    }
    let last = job.all::<PaperIssued>().last().is_some_and(|(of, _)| of.event == entry.event);
    if paper.sort == PaperSort::CreditNote && last {
        let say = format!("issue an invoice in place of {}", number_of(job, paper).unwrap_or_default());
        fields.push(Field::new(&format!("invoice/{}", job.id), &say, String::new(), "", Setting::Act));
        if let Some(held) = held(job) {
            let say = format!("{} are held; they are paid back by", show_money(&held));
            let field = Field::new(&format!("back/{}", job.id), &say, String::new(), "", Setting::OneOf(ways()));
            fields.push(field);
        }
    }
    if paper.sort == PaperSort::Invoice && open_invoice(job).is_some_and(|(open, _)| open.event == entry.event) {
        let say = format!("take {said} back");
        fields.push(Field::new(&format!("credit/{}", entry.event), &say, String::new(), "type why", Setting::Words));
        let without = |payment: &EventId| !job.all::<PaperIssued>().any(|(_, paper)| paper.of == Some(*payment));
        let payments =
            job.all::<PaymentTaken>().map(|(entry, paid)| (entry.event, paid)).filter(|(event, _)| without(event));
        for (event, paid) in payments {
            let say = format!("a receipt for {}", show_money(&paid.amount));
            fields.push(Field::new(&format!("receipt/{event}"), &say, String::new(), "", Setting::Act));
        }
    }
    fields
}

fn person(job: &Job, customers: &Customers<'_>) -> Option<Person> {
    job.opened.as_ref().and_then(|opened| customers.person(opened.fact.customer))
}

/// The number of the paper that a paper takes back or pays.
fn number_of(job: &Job, paper: &PaperIssued) -> Option<String> {
    let of = paper.of?;
    let (entry, paper) = job.all::<PaperIssued>().find(|(entry, _)| entry.event == of)?;
    Some(number(entry, paper))
}

fn heading(job: &Job, customers: &Customers<'_>, shop: &Shop) -> Heading {
    Heading {
        shop: "Service record".to_owned(),
        customer: person(job, customers),
        appliance: appliance(job, customers, shop),
        ..Heading::default()
    }
}

fn paper_of(job: &Job, entry: &Entry<Fact>, paper: &PaperIssued, customers: &Customers<'_>, shop: &Shop) -> Page {
    let (head, around) = (in_force(shop).letterhead, heading(job, customers, shop));
    paper_page(paper, (entry.event.device(), &entry.at), &head, &around, number_of(job, paper).as_deref())
}

fn quote_of(job: &Job, entry: &Entry<Fact>, quote: &QuoteGiven, customers: &Customers<'_>, shop: &Shop) -> Page {
    let mut around = heading(job, customers, shop);
    let name = in_force(shop).letterhead.name;
    if !name.is_empty() {
        around.shop = name;
    }
    let given = Entry { event: entry.event, call: entry.call, at: entry.at.clone(), fact: quote.clone() };
    quote_page(&given, &around)
}

/// The quotes of jobs that are not invoiced yet.
fn quotes(book: &Book, customers: &Customers<'_>, shop: &Shop) -> Vec<Field> {
    let open = book.jobs.values().filter(|job| !job.opening_undone && job.all::<PaperIssued>().next().is_none());
    let given = open.flat_map(|job| job.all::<QuoteGiven>().map(move |(entry, quote)| (job, entry, quote)));
    let field = |(job, entry, quote): (&Job, &Entry<Fact>, &QuoteGiven)| {
        let sum = if quote.low == quote.high {
            show_money(&quote.low)
        } else {
            format!("{} to {}", show_money(&quote.low), show_money(&quote.high))
        };
        let page = to_html(&quote_of(job, entry, quote, customers, shop));
        let say = format!("quote, {}, {sum}", who(job, customers));
        let file = format!("quote-{}.html", entry.event.counter());
        Field::new(&format!("quote/{}", entry.event), &say, page, "", Setting::Save(file))
    };
    given.take(SHOWN).map(field).collect()
}

fn appliance(job: &Job, customers: &Customers<'_>, shop: &Shop) -> String {
    let machine = job.appliance.and_then(|id| customers.machine_of(id));
    let title =
        |id: &String| shelf::text(shop, id).and_then(|text| machine::title_in(&text)).unwrap_or_else(|| id.clone());
    machine.as_ref().map_or_else(String::new, title)
}
