//! Customers and their appliances: who they are, what was done for them, a new job for a known appliance, erasure, and a list
//! taken in from elsewhere. Names come out of the vault and go back into it; none stands in an event.

use crate::counter::plan::point;
use crate::screen::{Choice, Field, Fields, Setting};
use crate::shelf;
use crate::vault::Vault;
use book::{
    Appliance, ApplianceId, Body, Book, Complaint, CustomerAdded, CustomerChanged, CustomerId, Event, Fact, FaultFound,
    Job, JobId, JobOpened, KeyDestroyed, Person, ShopFact, fold_book,
};
use call::{Refused, Shop};

/// Most rows that are taken in at once.
const MOST_ROWS: usize = 5_000;
/// Columns of a list of customers; only the first must be there.
const COLUMNS: [&str; 6] = ["name", "address", "telephone", "email", "access", "at"];

/// What is looked at.
#[derive(Debug, Default)]
pub(super) struct Draft {
    chosen: Option<CustomerId>,
    /// A list read but not yet taken in.
    list: Option<List>,
}

impl Draft {
    /// A customer is looked at.
    pub(super) const fn is_looking(&self) -> bool {
        self.chosen.is_some()
    }

    /// Gives the jobs of the customer that is looked at.
    pub(super) fn jobs(&self, of: &Customers<'_>) -> impl Iterator<Item = JobId> {
        self.chosen.into_iter().flat_map(|chosen| of.jobs(chosen)).map(|job| job.id)
    }
}

/// A list of customers as read: all of it sound, or what is wrong with it row by row.
#[derive(Debug)]
struct List {
    people: Vec<Person>,
    wrong: Vec<String>,
}

/// The customers of a book, as far as their records can be opened here.
pub(super) struct Customers<'a> {
    book: Book,
    vault: &'a Vault,
}

impl<'a> Customers<'a> {
    pub(super) fn of(events: &[Event], vault: &'a Vault) -> Self {
        Self { book: fold_book(events), vault }
    }

    /// Gives the customer of a job out of its events.
    pub(super) fn of_job(&self, events: &[Event]) -> Option<Person> {
        let opened = events.iter().find_map(|event| match event.body() {
            Body::Shop(ShopFact::JobOpened(opened)) => Some(opened.customer),
            _ => None,
        })?;
        self.person(opened)
    }

    /// Gives where a job is, on one line; nothing where that is not known here.
    pub(super) fn address_of(&self, job: JobId) -> String {
        let opened = self.book.jobs.get(&job).and_then(|job| job.opened.as_ref());
        opened
            .and_then(|opened| self.person(opened.fact.customer))
            .map_or_else(String::new, |person| person.address.join(", "))
    }

    /// Gives who a customer is.
    pub(super) fn person(&self, customer: CustomerId) -> Option<Person> {
        let of = self.book.customers.get(&customer)?;
        self.vault.person(of.key, of.record)
    }

    /// Gives a customer's name, or what stands for it.
    pub(super) fn name(&self, customer: CustomerId) -> String {
        let erased = self.book.customers.get(&customer).is_some_and(|of| of.erased);
        let name = self.person(customer).map(|person| person.name).filter(|name| !name.is_empty());
        name.unwrap_or_else(|| if erased { "erased" } else { "without a name here" }.to_owned())
    }

    /// Gives the machine that an appliance is described by.
    pub(super) fn machine_of(&self, appliance: ApplianceId) -> Option<String> {
        self.book.appliances.get(&appliance)?.machine.as_ref().map(|file| file.machine.clone())
    }

    fn appliances(&self, customer: CustomerId) -> impl Iterator<Item = (ApplianceId, &Appliance)> {
        self.book.appliances.iter().filter(move |(_, of)| of.customer == customer).map(|(id, of)| (*id, of))
    }

    fn jobs(&self, customer: CustomerId) -> impl DoubleEndedIterator<Item = &Job> {
        self.book
            .jobs
            .values()
            .filter(move |job| job.opened.as_ref().is_some_and(|opened| opened.fact.customer == customer))
    }
}

/// Gives the customers and the one that is looked at as fields.
pub(super) fn fields(draft: &Draft, of: &Customers<'_>, shop: &Shop) -> Vec<Fields> {
    let mut choices: Vec<Choice> =
        of.book.customers.keys().map(|id| Choice { answer: id.to_string(), say: of.name(*id) }).collect();
    choices.sort_by_key(|choice| choice.say.to_lowercase());
    choices.insert(0, Choice { answer: String::new(), say: "which one?".to_owned() });
    let value = draft.chosen.map_or_else(String::new, |id| id.to_string());
    let pick = Field::new("customer", "customer", value, "", Setting::OneOf(choices));
    let count = format!("{} in this book; their names stay on this device", of.book.customers.len());
    let mut groups = vec![Fields { title: "Who".to_owned(), note: Some(count), fields: vec![pick] }];
    match draft.chosen.filter(|id| of.book.customers.contains_key(id)) {
        Some(chosen) => groups.extend(one(of, chosen, shop)),
        None => groups.push(list(draft)),
    }
    groups
}

fn one(of: &Customers<'_>, chosen: CustomerId, shop: &Shop) -> Vec<Fields> {
    let person = of.person(chosen).unwrap_or_default();
    let words = |id: &str, say: &str, value: String, note: &str| Field::new(id, say, value, note, Setting::Words);
    let details = vec![
        words("name", "name", person.name.clone(), ""),
        words("address", "address", person.address.join(", "), "commas between the lines"),
        words("telephone", "telephone", person.telephone.join(", "), ""),
        words("email", "e-mail", person.email.clone().unwrap_or_default(), ""),
        words("access", "getting in", person.access.clone().unwrap_or_default(), "stairs, gate, dog"),
        words("at", "place", person.at.clone().unwrap_or_default(), "latitude, longitude in degrees, for the drive"),
    ];
    let mut groups = vec![Fields { title: "Details".to_owned(), note: None, fields: details }];
    for (id, appliance) in of.appliances(chosen) {
        groups.push(appliance_group(of, id, appliance, shop));
    }
    let own = vec![
        Field::new(
            "export",
            "hand out all that is kept of this customer",
            export(of, chosen),
            "",
            Setting::Save("customer.json".to_owned()),
        ),
        Field::new(
            "erase",
            "erase this customer for ever",
            String::new(),
            "type the name to do it; the key is destroyed, what was done stays without a name",
            Setting::Words,
        ),
    ];
    groups.push(Fields { title: "What is kept".to_owned(), note: None, fields: own });
    groups
}

fn appliance_group(of: &Customers<'_>, id: ApplianceId, appliance: &Appliance, shop: &Shop) -> Fields {
    let machine = appliance.machine.as_ref().map_or_else(String::new, |file| {
        shelf::text(shop, &file.machine)
            .and_then(|text| machine::title_in(&text))
            .unwrap_or_else(|| file.machine.clone())
    });
    let age = appliance.age_months.map_or_else(String::new, |months| format!(", {} years old then", months / 12));
    let note = format!("{machine}{age}");
    let mut fields =
        vec![Field::new(&format!("new/{id}"), "a new complaint about it", String::new(), "", Setting::Act)];
    for job in of.book.jobs.values().rev().filter(|job| job.appliance == Some(id)) {
        let found = job.all::<FaultFound>().last().map(|(_, found)| found.words.clone());
        let day = job.opened.as_ref().map_or_else(String::new, |opened| day(&opened.at));
        let said = format!("{day}: {}", found.unwrap_or_else(|| "nothing found yet".to_owned()));
        if job.closed.is_some() {
            let say = format!("the same fault came back: {said}");
            fields.push(Field::new(&format!("again/{id}/{}", job.id), &say, String::new(), "", Setting::Act));
        } else {
            fields.push(Field::new(&format!("job/{}", job.id), &said, String::new(), "", Setting::Shown));
        }
    }
    Fields { title: "Appliance".to_owned(), note: Some(note), fields }
}

fn list(draft: &Draft) -> Fields {
    let note = format!("CSV with the columns {}; only `name` must be there", COLUMNS.join(", "));
    let mut fields = vec![Field::new("list", "a list from elsewhere", String::new(), &note, Setting::File(None))];
    let mut said = None;
    if let Some(list) = &draft.list {
        if list.wrong.is_empty() {
            let first: Vec<&str> = list.people.iter().take(5).map(|person| person.name.as_str()).collect();
            said = Some(format!(
                "{} customers: {}{}",
                list.people.len(),
                first.join("; "),
                if list.people.len() > 5 { " ..." } else { "" }
            ));
            fields.push(Field::new("take", "take them all in", String::new(), "", Setting::Act));
        } else {
            said = Some(format!("nothing is taken in:\n{}", list.wrong.join("\n")));
        }
    }
    Fields { title: "Take in a list".to_owned(), note: said, fields }
}

/// Takes what was typed; gives the facts that follow. Names are sealed on the way.
pub(super) fn set(
    draft: &mut Draft,
    events: &[Event],
    vault: &mut Vault,
    (id, value): (&str, &str),
    random: &mut dyn FnMut(&mut [u8]),
) -> Result<Vec<Body>, Refused> {
    let unknown = || Refused::new(format!("there is no `{id}` here"), "take one that is listed");
    match id {
        "customer" => {
            draft.chosen = value.parse::<book::EventId>().ok().map(CustomerId);
            return Ok(Vec::new());
        }
        "list" => {
            draft.list = (!value.is_empty()).then(|| read_list(value));
            return Ok(Vec::new());
        }
        "take" => {
            let people =
                draft.list.take().filter(|list| list.wrong.is_empty()).map(|list| list.people).unwrap_or_default();
            return people
                .iter()
                .map(|person| {
                    let (key, record) = vault.new_person(person, random)?;
                    Ok(Body::shop(CustomerAdded { key, record, listed: true }))
                })
                .collect();
        }
        _ => {}
    }
    let chosen = draft.chosen.ok_or_else(|| Refused::new("no customer is chosen", "choose one first"))?;
    let (customer, person) = {
        let of = Customers::of(events, vault);
        let customer = of.book.customers.get(&chosen).cloned().ok_or_else(unknown)?;
        (customer, of.person(chosen).unwrap_or_default())
    };
    if id == "erase" {
        if value.trim() != person.name.trim() || person.name.trim().is_empty() {
            return Err(Refused::new("that is not the name of this customer", "type it just as it stands above"));
        }
        draft.chosen = None;
        return Ok(vec![Body::shop(KeyDestroyed { key: customer.key, reason: "asked by the customer".to_owned() })]);
    }
    if let Some(opened) = opened(events, chosen, id) {
        return Ok(vec![Body::shop(opened)]);
    }
    let changed = changed(person, id, value)?.ok_or_else(unknown)?;
    let record = vault.seal_person(customer.key, &changed, random)?;
    Ok(vec![Body::shop(CustomerChanged { customer: chosen, record })])
}

/// Opens a job for a known appliance: a new complaint, or the same fault back again.
fn opened(events: &[Event], customer: CustomerId, id: &str) -> Option<JobOpened> {
    let (appliance, callback_of) = match id.split_once('/')? {
        ("new", appliance) => (appliance, None),
        ("again", of) => {
            let (appliance, job) = of.split_once('/')?;
            (appliance, Some(JobId(job.parse().ok()?)))
        }
        _ => return None,
    };
    let appliance = ApplianceId(appliance.parse().ok()?);
    let book = fold_book(events);
    let own = book.appliances.get(&appliance).is_some_and(|of| of.customer == customer);
    let known = callback_of.is_none_or(|job| book.jobs.get(&job).is_some_and(|job| job.appliance == Some(appliance)));
    let complaint = Complaint::default();
    (own && known).then_some(JobOpened { customer, appliance: Some(appliance), complaint, callback_of, shown: None })
}

/// Changes one detail; `None` for one that there is not.
fn changed(mut person: Person, id: &str, value: &str) -> Result<Option<Person>, Refused> {
    let value = value.trim();
    let lines = || value.split(',').map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect();
    let some = (!value.is_empty()).then(|| value.to_owned());
    match id {
        "name" => value.clone_into(&mut person.name),
        "address" => person.address = lines(),
        "telephone" => person.telephone = lines(),
        "email" => person.email = some,
        "access" => person.access = some,
        "at" => {
            if some.as_deref().is_some_and(|text| point(text).is_none()) {
                return Err(Refused::new(
                    format!("`{value}` is no place"),
                    "write latitude and longitude: `48.137, 11.575`",
                ));
            }
            person.at = some;
        }
        _ => return Ok(None),
    }
    Ok(Some(person))
}

/// Reads a list of customers; nothing of it counts while a row is wrong.
fn read_list(text: &str) -> List {
    let mut list = List { people: Vec::new(), wrong: Vec::new() };
    let mut reader = csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text.as_bytes());
    let head: Vec<String> = match reader.headers() {
        Ok(head) => head.iter().map(str::to_lowercase).collect(),
        Err(error) => {
            list.wrong.push(format!("line 1: {error}"));
            return list;
        }
    };
    for name in head.iter().filter(|name| !COLUMNS.contains(&name.as_str())) {
        list.wrong.push(format!("line 1: there is no column `{name}`; there are {}", COLUMNS.join(", ")));
    }
    if !head.iter().any(|name| name == "name") {
        list.wrong.push("line 1: the column `name` is not there".to_owned());
        return list;
    }
    for (line, record) in (2..).zip(reader.records()) {
        match record {
            Ok(record) if record.len() != head.len() => {
                list.wrong.push(format!("line {line}: {} cells for {} columns", record.len(), head.len()));
            }
            Ok(record) => match person(&head, &record) {
                Ok(person) => list.people.push(person),
                Err(refused) => list.wrong.push(format!("line {line}: {}; {}", refused.say, refused.mend)),
            },
            Err(error) => list.wrong.push(format!("line {line}: {error}")),
        }
        if list.people.len() > MOST_ROWS {
            list.wrong.push(format!("more than {MOST_ROWS} rows; take them in parts"));
            break;
        }
    }
    list
}

fn person(head: &[String], record: &csv::StringRecord) -> Result<Person, Refused> {
    let mut person = Person::default();
    for (column, cell) in head.iter().zip(record) {
        if let Some(with) = changed(person.clone(), column, cell)? {
            person = with;
        }
    }
    if person.name.is_empty() {
        return Err(Refused::new("no name", "write one, or take the row out"));
    }
    Ok(person)
}

/// Gives all that is kept of a customer, as JSON: his details, his appliances, what was done.
fn export(of: &Customers<'_>, chosen: CustomerId) -> String {
    let job = |job: &Job| {
        let facts: Vec<&Fact> = job.timeline.iter().map(|entry| &entry.fact).collect();
        let times: Vec<&str> = job.timeline.iter().map(|entry| entry.at.as_str()).collect();
        serde_json::json!({ "job": job.id, "opened": job.opened, "facts": facts, "times": times })
    };
    let all = serde_json::json!({
        "customer": of.person(chosen),
        "appliances": of.appliances(chosen).map(|(_, appliance)| appliance).collect::<Vec<_>>(),
        "jobs": of.jobs(chosen).map(job).collect::<Vec<_>>(),
    });
    format!("{all:#}\n")
}

fn day(at: &book::ZonedTime) -> String {
    at.as_str().get(..10).unwrap_or_default().to_owned()
}
