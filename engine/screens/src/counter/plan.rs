//! The plan of a day: in which order to make the visits that wait, how sure their windows are, and what to load.

use super::Customers;
use crate::screen::{Choice, Field, Fields, Setting};
use crate::{kit, shelf};
use book::{Body, Event, JobId, MachineFile, Money, VanCounted, VisitPromised, ZonedTime};
use call::{Outlook, Refused, Session, Shop, Waiting, machine_of, waiting, window_of};
use machine::Machine;
use machine::faults::RepairKind;
use machine::model::PartKind;
use prediction::Predictor;
use route::{Day, Plan, Point, Spread, Stop, Visit, Weights, minutes_between};
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use stock::{CallToCome, Kit, Limits, Loadable, Need};

/// Minutes of a drive where a place is not known. Common practice, no source.
const UNKNOWN_DRIVE: f64 = 20.0;
/// How far minutes of handwork are drawn out to either side. Common practice, no source.
const DRAWN_OUT: f64 = 0.4;
/// How the field begins that promises a visit.
const PROMISE: &str = "promise/";
/// Day of a visit for which none was promised.
const ANY_DAY: &str = "no day";

/// A day being planned: what was worked out of the calls that wait, and what was typed beside.
#[derive(Debug, Default)]
pub(super) struct Draft {
    day: Option<String>,
    /// The clock, minutes after midnight, where the day is planned anew from now on.
    now: Option<u32>,
    /// Minutes of travel by the names of the table's places.
    travel: Option<Table>,
    /// Outlooks by job, with how many events of it they rest on.
    outlooks: BTreeMap<JobId, (usize, Prospect)>,
}

/// A call to come with its machine.
#[derive(Clone, Debug)]
struct Prospect {
    outlook: Outlook,
    machine: String,
    title: String,
    /// Spare parts by id: name, what one costs the shop, litres.
    parts: BTreeMap<String, (String, Money, f64)>,
}

/// A travel table as typed: names, and minutes between them.
#[derive(Clone, Debug)]
struct Table {
    names: Vec<String>,
    minutes: Vec<Vec<f64>>,
}

/// A call of the day.
struct Call<'a> {
    waiting: &'a Waiting,
    prospect: Prospect,
    name: String,
    place: Option<Point>,
}

impl Draft {
    /// Works out what the calls that wait may turn out to be; what was worked out before is kept.
    pub(super) fn look(&mut self, book: &[Event]) {
        for of in waiting(book) {
            let events = of.events.len();
            if self.outlooks.get(&of.job).is_none_or(|(known, _)| *known != events)
                && let Some(prospect) = prospect(book, &of)
            {
                self.outlooks.insert(of.job, (events, prospect));
            }
        }
    }

    /// Takes what was typed; gives the facts that follow.
    pub(super) fn set(
        &mut self,
        book: &[Event],
        customers: &Customers<'_>,
        id: &str,
        value: &str,
    ) -> Result<Vec<Body>, Refused> {
        match id {
            "day" => self.day = Some(value.to_owned()),
            "now" if value.trim().is_empty() => self.now = None,
            "now" => self.now = Some(clock(value)?),
            "travel" if value.is_empty() => self.travel = None,
            "travel" => self.travel = Some(table(value)?),
            "loaded" => {
                let shop = Shop::now(book);
                let planned = self.planned(book, customers);
                let Some(kit) = planned.kit else { return Ok(Vec::new()) };
                return Ok(loaded(&shop, &planned.parts, &kit));
            }
            _ => {
                let unknown = || Refused::new(format!("there is no `{id}` here"), "take one that is listed");
                let job = id.strip_prefix(PROMISE).and_then(|job| job.parse().ok()).map(JobId).ok_or_else(unknown)?;
                let of = waiting(book).into_iter().find(|of| of.job == job).ok_or_else(unknown)?;
                let like = of.events.last().map(Event::at).ok_or_else(unknown)?;
                let window = window_of(value, like)?;
                self.day = None;
                return Ok(vec![Body::job(job, VisitPromised { window })]);
            }
        }
        Ok(Vec::new())
    }

    /// Gives the plan as fields.
    pub(super) fn fields(&self, book: &[Event], customers: &Customers<'_>) -> Vec<Fields> {
        let planned = self.planned(book, customers);
        let days = planned.days.iter().map(|day| Choice { answer: day.clone(), say: day.clone() }).collect();
        let now = self.now.map_or_else(String::new, |now| wall(f64::from(now)));
        let head = vec![Field::new("day", "day", planned.day.clone(), "", Setting::OneOf(days))];
        let mut otherwise =
            vec![Field::new("now", "plan anew from", now, "o'clock; empty for the whole day", Setting::Words)];
        let of_table = match &self.travel {
            Some(table) => format!("a table of {} places is used", table.names.len()),
            None => "minutes between places, as CSV; without it, straight lines".to_owned(),
        };
        otherwise.push(Field::new(
            "travel",
            "travel",
            String::new(),
            &of_table,
            Setting::File(Some("straight lines".to_owned())),
        ));
        let mut groups = vec![Fields { title: "Which day".to_owned(), note: None, fields: head }];
        if planned.calls.is_empty() {
            let note = "no visit waits; take a complaint under `a new call` and promise one".to_owned();
            groups.push(Fields { title: "Visits".to_owned(), note: Some(note), fields: Vec::new() });
            return groups;
        }
        groups.push(planned.order(customers));
        groups.extend(planned.to_load());
        groups.extend(to_promise(book, customers));
        groups.push(Fields { title: "Plan it otherwise".to_owned(), note: None, fields: otherwise });
        groups
    }

    fn planned<'a>(&self, book: &[Event], customers: &'a Customers<'a>) -> Planned {
        let all = waiting(book);
        let shop = Shop::now(book);
        let mut days: Vec<String> = all.iter().map(day_of).collect();
        days.sort_unstable();
        days.dedup();
        let day =
            self.day.clone().filter(|day| days.contains(day)).or_else(|| days.first().cloned()).unwrap_or_default();
        let calls: Vec<Call<'_>> = all
            .iter()
            .filter(|of| day_of(of) == day)
            .filter_map(|of| {
                let (_, prospect) = self.outlooks.get(&of.job)?;
                let person = customers.of_job(&of.events);
                let name = person.as_ref().map(|person| person.name.clone()).filter(|name| !name.is_empty());
                let place = person.and_then(|person| point(&person.at?));
                let name = name.unwrap_or_else(|| "a customer without a name here".to_owned());
                Some(Call { waiting: of, prospect: prospect.clone(), name, place })
            })
            .collect();
        let (parts, to_come) = needs(&shop, &calls);
        let set = shop.settings.clone();
        let limits = set.map(|set| set.loading).unwrap_or_default();
        let limits = Limits { money: limits.money, litres: f64::from(limits.litres) };
        let loadable: Vec<Loadable> = parts.iter().map(|part| part.loadable.clone()).collect();
        let kit = stock::best_kit(&loadable, &to_come, &limits).map_err(|error| error.to_string());
        let plan = self.day(&shop, &calls).and_then(|day| {
            route::plan(&day, &Weights::default()).map(|plan| (day, plan)).map_err(|error| error.to_string())
        });
        let calls = calls.into_iter().map(|call| Shown::of(&call)).collect();
        let (kit, no_kit) = match kit {
            Ok(kit) => (Some(kit), None),
            Err(why) => (None, Some(why)),
        };
        Planned { days, day, calls, parts, kit, no_kit, plan }
    }

    /// The day as the router takes it: place 0 is where the van stands at night.
    fn day(&self, shop: &Shop, calls: &[Call<'_>]) -> Result<Day, String> {
        let working = shop.settings.as_ref().map(|set| set.day.clone()).unwrap_or_default();
        let home = working.home.and_then(|(north, east)| Point::new(north.get(), east.get()));
        let speed = f64::from(working.speed.max(1)) / 3.6;
        let places: Vec<(&str, Option<Point>)> =
            std::iter::once(("home", home)).chain(calls.iter().map(|call| (call.name.as_str(), call.place))).collect();
        let travel = places.iter().map(|from| places.iter().map(|to| self.drive(from, to, speed)).collect()).collect();
        let stop = |(place, call): (usize, &Call<'_>)| {
            let window = call.waiting.promised.as_ref().and_then(|(from, to)| Some((minute(from)?, minute(to)?)));
            let minutes =
                Spread::mixed(&call.prospect.outlook.minutes(), DRAWN_OUT).unwrap_or_else(|| Spread::sure(60.0));
            Stop { place, window, minutes }
        };
        Ok(Day {
            travel,
            from: 0,
            home: 0,
            leaves: f64::from(self.now.unwrap_or(working.leaves)),
            back_by: f64::from(working.back_by),
            stops: (1..).zip(calls).map(stop).collect(),
        })
    }

    fn drive(&self, from: &(&str, Option<Point>), to: &(&str, Option<Point>), speed: f64) -> f64 {
        if from.0 == to.0 {
            return 0.0;
        }
        let in_table = self.travel.as_ref().and_then(|table| {
            let at = |name: &str| table.names.iter().position(|known| known == name);
            Some(table.minutes[at(from.0)?][at(to.0)?])
        });
        let straight = || from.1.zip(to.1).map(|(from, to)| minutes_between(from, to, speed));
        in_table.or_else(straight).unwrap_or(UNKNOWN_DRIVE)
    }
}

/// The visits for which no window is promised: those with a part, for a proof that was put off.
fn to_promise(book: &[Event], customers: &Customers<'_>) -> Option<Fields> {
    let field = |of: &Waiting| {
        let name = customers.of_job(&of.events).map(|person| person.name).unwrap_or_default();
        Field {
            id: format!("{PROMISE}{}", of.job),
            say: format!("{name}, waits for {}", of.waits_for()),
            value: String::new(),
            note: "promise a window, such as 2026-12-01 9:00-12:00".to_owned(),
            set: Setting::Words,
        }
    };
    let all: Vec<Field> = waiting(book).iter().filter(|of| of.promised.is_none()).map(field).collect();
    (!all.is_empty()).then(|| Fields { title: "Not promised yet".to_owned(), note: None, fields: all })
}

/// A part that some call may take.
#[derive(Clone, Debug)]
struct Part {
    machine: String,
    id: String,
    name: String,
    loadable: Loadable,
    price: Money,
}

/// A call as it is shown.
struct Shown {
    name: String,
    title: String,
    window: Option<(ZonedTime, ZonedTime)>,
    likely: String,
    known_place: bool,
    job: JobId,
}

impl Shown {
    fn of(call: &Call<'_>) -> Self {
        let turn = call.prospect.outlook.turns.first();
        let likely =
            turn.map_or_else(String::new, |turn| format!("{}: {}", crate::face::suspects::odds(turn.chance), turn.say));
        Self {
            name: call.name.clone(),
            title: call.prospect.title.clone(),
            window: call.waiting.promised.clone(),
            likely,
            known_place: call.place.is_some(),
            job: call.waiting.job,
        }
    }
}

/// Everything worked out for one day.
struct Planned {
    days: Vec<String>,
    day: String,
    calls: Vec<Shown>,
    parts: Vec<Part>,
    kit: Option<Kit>,
    no_kit: Option<String>,
    plan: Result<(Day, Plan), String>,
}

impl Planned {
    fn order(&self, customers: &Customers<'_>) -> Fields {
        let title = "Order of the visits".to_owned();
        let (day, plan) = match &self.plan {
            Ok(planned) => planned,
            Err(why) => return Fields { title, note: Some(why.clone()), fields: Vec::new() },
        };
        let mut note = format!(
            "{:.0} minutes of driving; home at {}, in one of ten days not before {}",
            plan.driven,
            wall(plan.home.0),
            wall(plan.home.1)
        );
        if plan.after_hours > 0.005 {
            note.push_str(&format!("\n{} that the day runs beyond {}", chance(plan.after_hours), wall(day.back_by)));
        }
        let unknown = self.calls.iter().filter(|call| !call.known_place).count();
        if unknown > 0 {
            note.push_str(&format!(
                "\n{unknown} places are not known; {UNKNOWN_DRIVE:.0} minutes to each are assumed; set them under customers"
            ));
        }
        let field = |(number, visit): (usize, &Visit)| {
            let call = &self.calls[visit.stop];
            let minutes = &day.stops[visit.stop].minutes;
            let waits =
                if visit.waits < 1.0 { String::new() } else { format!(", {:.0} minutes of waiting", visit.waits) };
            let mut said =
                vec![format!("{}, there {} to {}{waits}", call.title, wall(visit.there.1), wall(visit.there.2))];
            said.extend(call.window.as_ref().map(|(from, to)| format!("promised {}", call::say_window(from, to))));
            said.push(match visit.late {
                late if late < 0.005 => "in time".to_owned(),
                late => format!("{} to be late, {:.0} minutes on average", chance(late), visit.minutes_late),
            });
            said.push(format!("{:.0} to {:.0} minutes there", minutes.quantile(0.1), minutes.quantile(0.9)));
            said.push(call.likely.clone());
            Field {
                id: format!("visit/{}", call.job),
                say: format!("{number}. {}", call.name),
                value: wall(visit.there.0 + visit.waits),
                note: said.join("\n"),
                set: Setting::Shown,
            }
        };
        let mut fields: Vec<Field> = (1..).zip(&plan.visits).map(field).collect();
        fields.push(Field {
            id: "calendar".to_owned(),
            say: "keep this day as a calendar file".to_owned(),
            value: self.calendar(plan, customers),
            note: "text/calendar".to_owned(),
            set: Setting::Save(format!("visits-{}.ics", self.day)),
        });
        Fields { title, note: Some(note), fields }
    }

    /// The day as iCalendar; the days without a date have none.
    fn calendar(&self, plan: &Plan, customers: &Customers<'_>) -> String {
        let entry = |visit: &Visit| {
            let call = &self.calls[visit.stop];
            documents::Appointment {
                id: call.job.to_string(),
                day: self.day.clone(),
                from: visit.there.0,
                to: visit.done,
                title: format!("{}: {}", call.name, call.title),
                place: customers.address_of(call.job),
            }
        };
        documents::calendar(&plan.visits.iter().map(entry).collect::<Vec<_>>())
    }

    fn to_load(&self) -> Option<Fields> {
        let title = "What to load".to_owned();
        let kit = match (&self.kit, &self.no_kit) {
            (Some(kit), _) => kit,
            (None, why) => return why.clone().map(|why| Fields { title, note: Some(why), fields: Vec::new() }),
        };
        let note = format!(
            "{:.2} of {} calls mended on the first visit on average; {:.2} with what is aboard already{}",
            kit.fixes,
            self.calls.len(),
            kit.fixes_without,
            if kit.gap > 0.0 { format!("; a better kit might win {:.2} more", kit.gap) } else { String::new() }
        );
        let loaded = self.parts.iter().enumerate().filter(|(at, _)| kit.load[*at] > 0);
        let mut fields: Vec<Field> = loaded.map(|(at, part)| part.field(kit.load[at], kit.adds[at])).collect();
        if !fields.is_empty() {
            fields.push(Field {
                id: "loaded".to_owned(),
                say: "all of it is loaded".to_owned(),
                value: String::new(),
                note: String::new(),
                set: Setting::Act,
            });
        }
        Some(Fields { title, note: Some(note), fields })
    }
}

impl Part {
    fn field(&self, count: u32, adds: f64) -> Field {
        Field {
            id: format!("load/{}/{}", self.machine, self.id),
            say: format!("{} ({})", self.name, self.machine),
            value: count.to_string(),
            note: format!("adds {adds:.2} calls mended; {} each", call::rates::show_money(&self.price)),
            set: Setting::Shown,
        }
    }
}

fn chance(of: f64) -> String {
    crate::face::suspects::odds(of)
}

/// Works out what one call may turn out to be, with the shop as it stood when its job was begun.
fn prospect(book: &[Event], of: &Waiting) -> Option<Prospect> {
    let shop = Shop::when_begun(book, &of.events);
    let file = machine_of(&of.events)?;
    let mut machine = shelf::read(&shop, &file.machine).ok()?;
    call::adapt(&mut machine, &of.events);
    call::take_up(&mut machine, &shop);
    let file = MachineFile::of(&machine.id, &shelf::whole(&shop, &machine.id).unwrap_or_default());
    let settings = shop.call(&machine, file).ok()?;
    let predictor = Predictor::new(&machine, kit::meter(&shop).unwrap_or_else(|_| prediction::Meter::ordinary()));
    let session = Session::resume(&predictor, settings.clone(), &of.events);
    let finding = shop.learned.get(&machine.id).and_then(|learned| learned.minutes).map_or(1.0, book::Number::get);
    let outlook = Outlook::of(&session, finding);
    let spare = |repair: &machine::faults::Repair| {
        let parts = std::iter::once(repair.part).chain(repair.together.iter().copied());
        let price = settings.rates.cost(&machine[repair.part].id, repair.price);
        parts
            .map(|part| {
                let own = if part == repair.part { price } else { Money { amount: Decimal::ZERO, ..price } };
                let part = &machine[part];
                (part.id.clone(), (part.name.clone(), own, litres(part.kind)))
            })
            .collect::<Vec<_>>()
    };
    let spares = machine.repairs.iter().filter(|repair| repair.kind == RepairKind::Replace).flat_map(spare);
    let mut parts: BTreeMap<String, (String, Money, f64)> = BTreeMap::new();
    for (id, of) in spares {
        let known = parts.entry(id).or_insert_with(|| of.clone());
        if of.1.amount > known.1.amount {
            *known = of;
        }
    }
    Some(Prospect { outlook, machine: machine.id.clone(), title: machine.title.clone(), parts })
}

/// Room that a part takes in its box, litres. Common practice, no source.
fn litres(kind: PartKind) -> f64 {
    match kind {
        PartKind::Motor | PartKind::Assembly => 12.0,
        PartKind::Pump | PartKind::Control | PartKind::Timer => 4.0,
        PartKind::Heater | PartKind::Valve | PartKind::Burner => 2.0,
        _ => 0.5,
    }
}

/// Gives the parts that the calls may take, and what each call may need of them.
fn needs(shop: &Shop, calls: &[Call<'_>]) -> (Vec<Part>, Vec<CallToCome>) {
    let mut parts: Vec<Part> = Vec::new();
    let mut to_come = Vec::new();
    for call in calls {
        let mut needs = Vec::new();
        for turn in &call.prospect.outlook.turns {
            let Some(wanted) = &turn.parts else { continue };
            let places = wanted.iter().filter_map(|id| place_of(shop, &mut parts, &call.prospect, id)).collect();
            needs.push(Need { chance: turn.chance.clamp(0.0, 1.0), parts: places });
        }
        to_come.push(CallToCome { needs });
    }
    (parts, to_come)
}

fn place_of(shop: &Shop, parts: &mut Vec<Part>, prospect: &Prospect, id: &str) -> Option<usize> {
    if let Some(at) = parts.iter().position(|part| part.machine == prospect.machine && part.id == id) {
        return Some(at);
    }
    let (name, price, litres) = prospect.parts.get(id)?;
    let aboard = aboard(shop, &prospect.machine, id);
    let loadable = Loadable { price: price.amount, litres: *litres, aboard, at_most: 4 };
    parts.push(Part {
        machine: prospect.machine.clone(),
        id: id.to_owned(),
        name: name.clone(),
        loadable,
        price: *price,
    });
    Some(parts.len() - 1)
}

/// Pieces aboard: as counted; one that was never counted is there if its machine's file calls it stocked.
fn aboard(shop: &Shop, machine: &str, part: &str) -> u32 {
    if let Some(count) = shop.van.get(machine).and_then(|of| of.get(part)) {
        return *count;
    }
    let stocked = |read: &Machine| {
        read.repairs
            .iter()
            .any(|repair| repair.stocked && repair.kind == RepairKind::Replace && read[repair.part].id == part)
    };
    u32::from(shelf::read(shop, machine).is_ok_and(|read| stocked(&read)))
}

/// Counts what is loaded onto what is aboard.
fn loaded(shop: &Shop, parts: &[Part], kit: &Kit) -> Vec<Body> {
    let counted = parts.iter().zip(&kit.load).filter(|(_, count)| **count > 0).map(|(part, count)| {
        let count = aboard(shop, &part.machine, &part.id) + count;
        Body::shop(VanCounted { machine: part.machine.clone(), part: part.id.clone(), count })
    });
    counted.collect()
}

fn day_of(of: &Waiting) -> String {
    let promised = of.promised.as_ref().and_then(|(from, _)| from.as_str().get(..10));
    promised.unwrap_or(ANY_DAY).to_owned()
}

/// Minutes after midnight on the wall.
fn minute(time: &ZonedTime) -> Option<f64> {
    let wall = time.on_the_wall()?;
    Some(f64::from(wall.hour()) * 60.0 + f64::from(wall.minute()))
}

/// Shows minutes after midnight as a clock does.
fn wall(minutes: f64) -> String {
    let whole = minutes.round().clamp(0.0, 5999.0);
    format!("{:.0}:{:02.0}", (whole / 60.0).floor(), whole - 60.0 * (whole / 60.0).floor())
}

/// Reads a time of the day, minutes after midnight.
pub(super) fn clock(text: &str) -> Result<u32, Refused> {
    let wrong = || Refused::new(format!("`{text}` is no time of the day"), "write it as `10:40`");
    let (hour, minute) = text.trim().split_once(':').ok_or_else(wrong)?;
    let (hour, minute): (u32, u32) = hour.parse().ok().zip(minute.parse().ok()).ok_or_else(wrong)?;
    if hour < 24 && minute < 60 { Ok(hour * 60 + minute) } else { Err(wrong()) }
}

/// Reads a place: latitude and longitude in degrees, as `48.137, 11.575`.
pub(super) fn point(text: &str) -> Option<Point> {
    let (north, east) = text.split_once(',')?;
    Point::new(north.trim().parse().ok()?, east.trim().parse().ok()?)
}

/// Reads a travel table: a row and a column of names, `home` among them, minutes between them.
fn table(text: &str) -> Result<Table, Refused> {
    let wrong =
        |line: usize, what: String| Refused::new(format!("line {line}: {what}"), "mend the file and take it again");
    let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text.as_bytes());
    let names: Vec<String> =
        reader.headers().map_err(|error| wrong(1, error.to_string()))?.iter().skip(1).map(str::to_owned).collect();
    let mut minutes = Vec::new();
    for (line, record) in (2..).zip(reader.records()) {
        let record = record.map_err(|error| wrong(line, error.to_string()))?;
        let name = record.get(0).unwrap_or_default();
        if names.get(minutes.len()).map(String::as_str) != Some(name) {
            return Err(wrong(line, format!("`{name}` should be the same name as in the first line")));
        }
        let row: Result<Vec<f64>, Refused> = record
            .iter()
            .skip(1)
            .map(|cell| {
                let read = cell.parse::<f64>().ok().filter(|minutes| (0.0..=1440.0).contains(minutes));
                read.ok_or_else(|| wrong(line, format!("`{cell}` is no count of minutes")))
            })
            .collect();
        minutes.push(row?);
    }
    if minutes.len() != names.len() {
        return Err(wrong(minutes.len() + 1, format!("{} rows for {} names", minutes.len(), names.len())));
    }
    Ok(Table { names, minutes })
}
