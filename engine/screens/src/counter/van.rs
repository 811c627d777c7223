//! The van: every part that a machine at hand takes, how many of it are here and how many should be; parts that jobs wait
//! for; a list of parts taken in.

use crate::counter::Customers;
use crate::counter::settings::in_force;
use crate::screen::{Field, Fields, Setting};
use crate::shelf;
use book::{
    Body, CallFact, Came, End, Event, Job, JobId, Money, PartArrived, PartOrdered, PriceSet, VanCounted, fold_book,
};
use call::{Refused, Shop};
use machine::Machine;
use machine::faults::{Repair, RepairKind};
use quantity::Decimal;
use std::collections::BTreeMap;
use stock::{Demand, cycle_stock};

/// Most of one part.
const MOST: u32 = 999;

/// Weeks until what is ordered is there. Common practice, no source.
const LEAD_WEEKS: f64 = 1.0;
/// Chance that a part does not run out until then. Common practice, no source.
const SERVICE: f64 = 0.95;
/// Weeks of a book under which no demand is told out of it.
const LEAST_WEEKS: f64 = 4.0;
/// Most rows of a list of parts.
const MOST_ROWS: usize = 20_000;
/// Columns of a list of parts; the first two must be there, and one of the next two.
const COLUMNS: [&str; 5] = ["machine", "part", "price", "count", "number"];

/// What is typed but not yet taken in.
#[derive(Debug, Default)]
pub(super) struct Draft {
    list: Option<List>,
}

/// A list of parts that was read.
#[derive(Debug, Default)]
struct List {
    prices: Vec<PriceSet>,
    counts: Vec<VanCounted>,
    /// What is wrong with it, by line; nothing of it counts then.
    wrong: Vec<String>,
}

/// Gives the parts that are waited for, the price list, and a field for each part by machine.
pub(super) fn fields(draft: &Draft, events: &[Event], customers: &Customers<'_>, shop: &Shop) -> Vec<Fields> {
    let demand = Asked::of(events);
    let machines = shelf::choices(shop).into_iter().filter_map(|of| shelf::read(shop, &of.answer).ok());
    let of_machine = |machine: Machine| {
        let counted = shop.van.get(&machine.id);
        let field = |repair: &&Repair| field(&machine, repair, counted, shop, &demand);
        let fields = machine.repairs.iter().filter(|repair| is_spare(repair)).collect::<Vec<_>>();
        let fields = fields.iter().map(field).collect();
        let note = "one that was never counted is there if it is stocked as a rule".to_owned();
        Fields { title: machine.title.clone(), note: Some(note), fields }
    };
    let waited = waited_for(events, customers);
    let mut groups = Vec::new();
    if !waited.is_empty() {
        groups.push(Fields { title: "Waited for".to_owned(), note: None, fields: waited });
    }
    groups.push(prices(draft));
    groups.extend(machines.map(of_machine));
    groups
}

/// How often each part was fitted, over the weeks of the book.
struct Asked {
    weeks: f64,
    counts: BTreeMap<(String, String), u32>,
}

impl Asked {
    fn of(events: &[Event]) -> Self {
        let book = fold_book(events);
        let seconds: Vec<i64> = events.iter().filter_map(|event| Some(event.at().moment()?.as_second())).collect();
        let span = seconds.iter().max().zip(seconds.iter().min()).map_or(0, |(last, first)| last - first);
        let mut counts = BTreeMap::new();
        for event in events {
            let Body::Call { job, fact: CallFact::PartChanged(changed), .. } = event.body() else { continue };
            let appliance = book.jobs.get(job).and_then(|job| book.appliances.get(&job.appliance?));
            if let (Some(file), true) = (appliance.and_then(|of| of.machine.as_ref()), changed.spare.is_some()) {
                *counts.entry((file.machine.clone(), changed.part.clone())).or_default() += 1;
            }
        }
        Self { weeks: i32::try_from(span).map_or(f64::INFINITY, f64::from) / (7.0 * 86_400.0), counts }
    }

    /// Says how many should be aboard; nothing for a part never fitted or a book too young.
    fn say(&self, machine: &str, part: &str) -> Option<String> {
        let count = *self.counts.get(&(machine.to_owned(), part.to_owned()))?;
        let week = f64::from(count) / self.weeks;
        let demand = Demand::over(week, LEAD_WEEKS).filter(|_| self.weeks >= LEAST_WEEKS)?;
        let keep = cycle_stock(demand, SERVICE);
        Some(format!("fitted {count} times in {:.0} weeks: keep {keep} (95 % sure to last a week)", self.weeks))
    }
}

/// Lists the parts that jobs wait for: whether they are ordered, and what came.
fn waited_for(events: &[Event], customers: &Customers<'_>) -> Vec<Field> {
    let book = fold_book(events);
    let mut fields = Vec::new();
    for job in book.jobs.values() {
        let Some(End::AwaitingPart { parts, .. }) = last_end(job) else { continue };
        if job.closed.is_some() {
            continue;
        }
        let name = job.opened.as_ref().map_or_else(String::new, |opened| customers.name(opened.fact.customer));
        for part in parts {
            let ordered = job.all::<PartOrdered>().filter(|(_, of)| of.part == *part).last();
            let came = job.all::<PartArrived>().filter(|(_, of)| of.part == *part).last();
            let stands = match (came.map(|(_, of)| &of.came), ordered) {
                (Some(Came::AsOrdered), _) => "is there".to_owned(),
                (Some(Came::Substitute { what }), _) => format!("another is there: {what}"),
                (Some(Came::Wrong { what }), _) => format!("the wrong one came: {what}"),
                (None, Some((entry, _))) => format!("ordered {}", entry.at.as_str().get(..10).unwrap_or_default()),
                (None, None) => "not ordered".to_owned(),
            };
            let id = |what: &str| format!("{what}/{}/{part}", job.id);
            let plain = |id: String, say: &str, note: &str, set| Field::new(&id, say, String::new(), note, set);
            fields.push(Field { value: stands, ..plain(id("waits"), &format!("{name}: {part}"), "", Setting::Shown) });
            fields.push(plain(id("ordered"), &format!("{part} is ordered"), "", Setting::Act));
            fields.push(plain(id("came"), &format!("{part} came as ordered"), "", Setting::Act));
            fields.push(plain(
                id("other"),
                &format!("another one came for {part}"),
                "`substitute` or `wrong`, and what it is",
                Setting::Words,
            ));
        }
    }
    fields
}

fn last_end(job: &Job) -> Option<&End> {
    job.calls.last().and_then(|call| call.ended.as_ref()).map(|ended| &ended.fact.end)
}

fn prices(draft: &Draft) -> Fields {
    let note = format!(
        "CSV with the columns {}: `count` is how many are aboard, `number` the supplier's; price or count may be left out, and \
         the number",
        COLUMNS.join(", ")
    );
    let plain = |id: &str, say: &str, note: String, set| Field::new(id, say, String::new(), &note, set);
    let mut fields = vec![
        plain("scan", "one more aboard, by its number", "as the list has it".to_owned(), Setting::Scan),
        plain("prices", "a list of parts", note, Setting::File(None)),
    ];
    let said = draft.list.as_ref().map(|list| {
        if list.wrong.is_empty() {
            fields.push(plain("take", "take all of it in", String::new(), Setting::Act));
            format!("{} prices, {} counts", list.prices.len(), list.counts.len())
        } else {
            format!("nothing is taken in:\n{}", list.wrong.join("\n"))
        }
    });
    Fields { title: "Numbers and prices".to_owned(), note: said, fields }
}

/// Takes what was typed; gives the facts that follow.
pub(super) fn set(
    draft: &mut Draft,
    events: &[Event],
    shop: &Shop,
    id: &str,
    value: &str,
) -> Result<Vec<Body>, Refused> {
    match id {
        "prices" => {
            draft.list = (!value.is_empty()).then(|| read_list(shop, value));
            return Ok(Vec::new());
        }
        "scan" => return scanned(shop, value.trim()).map(|counted| vec![Body::shop(counted)]),
        "take" => {
            let List { prices, counts, .. } =
                draft.list.take().filter(|list| list.wrong.is_empty()).unwrap_or_default();
            return Ok(prices.into_iter().map(Body::shop).chain(counts.into_iter().map(Body::shop)).collect());
        }
        _ => {}
    }
    if let Some((what, of)) = id.split_once('/').filter(|(what, _)| ["ordered", "came", "other"].contains(what)) {
        return arrival(events, what, of, value).map(|body| vec![body]);
    }
    count(shop, id, value).map(|counted| vec![Body::shop(counted)])
}

/// One more of the part whose supplier gives it this number.
fn scanned(shop: &Shop, number: &str) -> Result<VanCounted, Refused> {
    let known = shop.prices.values().flat_map(BTreeMap::values).find(|set| set.number.as_deref() == Some(number));
    let set = known.ok_or_else(|| {
        Refused::new(format!("no part has the number `{number}`"), "take a list in that has it, or count it below")
    })?;
    let aboard = shop.van.get(&set.machine).and_then(|of| of.get(&set.part)).copied().unwrap_or(0);
    let count = (aboard + 1).min(MOST);
    Ok(VanCounted { machine: set.machine.clone(), part: set.part.clone(), count })
}

fn arrival(events: &[Event], what: &str, of: &str, value: &str) -> Result<Body, Refused> {
    let unknown = || Refused::new(format!("nothing is waited for as `{of}`"), "take one that is listed");
    let (job, part) = of.split_once('/').ok_or_else(unknown)?;
    let job = JobId(job.parse().map_err(|_| unknown())?);
    let book = fold_book(events);
    let waits = book.jobs.get(&job).and_then(last_end);
    if !matches!(waits, Some(End::AwaitingPart { parts, .. }) if parts.iter().any(|of| of == part)) {
        return Err(unknown());
    }
    let part = part.to_owned();
    if what == "ordered" {
        return Ok(Body::job(job, PartOrdered { part, expected: None }));
    }
    let came = match value.trim().split_once(' ') {
        _ if what == "came" => Came::AsOrdered,
        Some(("substitute", what)) => Came::Substitute { what: what.trim().to_owned() },
        Some(("wrong", what)) => Came::Wrong { what: what.trim().to_owned() },
        _ => return Err(Refused::new("say what came", "write `substitute` or `wrong`, then what it is")),
    };
    Ok(Body::job(job, PartArrived { part, came }))
}

/// Reads a list of parts; nothing of it counts while a row is wrong.
fn read_list(shop: &Shop, text: &str) -> List {
    let mut list = List::default();
    let currency = in_force(shop).call_out.currency;
    let mut known: BTreeMap<String, Option<Machine>> = BTreeMap::new();
    let mut reader = csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let head: Vec<String> =
        reader.headers().map(|head| head.iter().map(str::to_lowercase).collect()).unwrap_or_default();
    let [machine_at, part_at, price_at, count_at, number_at] =
        COLUMNS.map(|name| head.iter().position(|of| of == name));
    if machine_at.is_none() || part_at.is_none() || price_at.or(count_at).is_none() {
        list.wrong.push("line 1: the columns machine, part, and price or count must be there".to_owned());
        return list;
    }
    for (line, record) in (2..).zip(reader.records()).take(MOST_ROWS) {
        let Ok(record) = record else {
            list.wrong.push(format!("line {line}: it cannot be read"));
            continue;
        };
        let cell = |at: Option<usize>| at.and_then(|at| record.get(at)).unwrap_or_default().to_owned();
        let (machine, part) = (cell(machine_at), cell(part_at));
        let (price, count) = (cell(price_at), cell(count_at));
        let described = known.entry(machine.clone()).or_insert_with(|| shelf::read(shop, &machine).ok());
        let spare =
            described.as_ref().map(|of| of.repairs.iter().any(|repair| is_spare(repair) && of[repair.part].id == part));
        let amount = price.parse::<Decimal>().ok().filter(|price| !price.is_sign_negative() && price.scale() <= 4);
        let aboard = count.parse::<u32>().ok().filter(|count| *count <= MOST);
        let wrong = match spare {
            None => Some(format!("there is no machine `{machine}`")),
            Some(false) => Some(format!("`{machine}` has no spare part `{part}`")),
            Some(true) if price.is_empty() && count.is_empty() => Some(format!("`{part}` has neither price nor count")),
            Some(true) if amount.is_none() && !price.is_empty() => Some(format!("`{price}` is no amount of money")),
            Some(true) if aboard.is_none() && !count.is_empty() => {
                Some(format!("`{count}` is no count from 0 to {MOST}"))
            }
            Some(true) => None,
        };
        list.wrong.extend(wrong.map(|why| format!("line {line}: {why}")));
        list.counts.extend(aboard.map(|count| VanCounted { machine: machine.clone(), part: part.clone(), count }));
        let number = Some(cell(number_at)).filter(|number| !number.is_empty());
        list.prices.extend(amount.map(|amount| PriceSet { machine, part, price: Money { amount, currency }, number }));
    }
    list
}

fn is_spare(repair: &Repair) -> bool {
    repair.kind == RepairKind::Replace
}

fn field(
    machine: &Machine,
    repair: &Repair,
    counted: Option<&BTreeMap<String, u32>>,
    shop: &Shop,
    asked: &Asked,
) -> Field {
    let part = &machine[repair.part];
    let count = counted.and_then(|of| of.get(&part.id)).map(u32::to_string);
    let own = shop.prices.get(&machine.id).and_then(|of| of.get(&part.id));
    let price = own.map_or_else(
        || format!("{} {:.2}", machine.currency, repair.price),
        |own| {
            let number = own.number.as_ref().map_or_else(String::new, |number| format!(", number {number}"));
            format!("{} {:.2}{number}", own.price.currency, own.price.amount)
        },
    );
    let rule = if repair.stocked { "stocked as a rule" } else { "not stocked as a rule" };
    Field {
        id: format!("{}/{}", machine.id, part.id),
        say: part.name.clone(),
        value: count.unwrap_or_default(),
        note: [Some(format!("{price}, {rule}")), asked.say(&machine.id, &part.id)]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join("; "),
        set: Setting::Count,
    }
}

/// Counts a part.
fn count(shop: &Shop, id: &str, value: &str) -> Result<VanCounted, Refused> {
    let unknown = || Refused::new(format!("there is no part `{id}`"), "take one that is listed");
    let (machine, part) = id.split_once('/').ok_or_else(unknown)?;
    let described = shelf::read(shop, machine)?;
    let spares = described.repairs.iter().filter(|repair| is_spare(repair));
    spares.map(|repair| &described[repair.part].id).find(|known| *known == part).ok_or_else(unknown)?;
    let count =
        value.trim().parse::<u32>().ok().filter(|count| *count <= MOST).ok_or_else(|| {
            Refused::new(format!("`{value}` is no count"), format!("write a whole number up to {MOST}"))
        })?;
    Ok(VanCounted { machine: machine.to_owned(), part: part.to_owned(), count })
}
