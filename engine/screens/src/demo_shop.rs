//! The demo's shop: an invented year of calls and the visits of an invented Monday, played on appliances with hidden faults
//! through the app's own screens, from a stated seed. Everything in it is invented.

use crate::durable::Durable;
use crate::shelf;
use crate::touch::Touch;
use crate::{Begin, Behind, Counter, Desk};
use book::{Body, CallFact, DeviceId, Event, Loaded, MachineFile, Pen, ShopFact, ZonedTime};
use call::{About, Shop, Van, waiting};
use machine::Machine;
use prediction::{Meter, Predictor};

/// Machines of the shop's customers.
const MACHINES: [&str; 6] = [
    "dryer-timer-240",
    "range-control-240",
    "washer-timer-120",
    "dishwasher-120",
    "refrigerator-timer-120",
    "water-heater-240",
];
/// Its customers, invented: name, street, latitude and longitude of somewhere at sea.
const PEOPLE: [(&str, &str, &str); 8] = [
    ("Ada Example", "1 Invented Street", "0.010, 0.020"),
    ("Ben Sample", "22 Made-up Lane", "0.060, 0.010"),
    ("Cleo Fiction", "3 Nowhere Road", "0.020, 0.090"),
    ("Dan Pretend", "47 Figment Avenue", "0.075, 0.070"),
    ("Eve Fable", "5 Story Court", "0.040, 0.045"),
    ("Flo Imagined", "16 Legend Hill", "0.095, 0.030"),
    ("Gus Madeup", "7 Myth Square", "0.005, 0.060"),
    ("Hal Invention", "88 Fancy Close", "0.050, 0.085"),
];
/// Windows of the Monday's visits.
const MONDAY: [(&str, usize, usize); 5] =
    [("9:00-11:00", 0, 0), ("13:00-15:00", 3, 1), ("9:00-12:00", 4, 2), ("11:00-14:00", 1, 3), ("14:00-17:00", 2, 5)];
/// The shop's settings.
const SETTINGS: [(&str, &str); 9] = [
    ("shop", "Demo shop of Sampleton"),
    ("street", "100 Sample Street"),
    ("town", "Sampleton"),
    ("country", "US"),
    ("tax-number", "INVENTED-1"),
    ("tax-on-parts", "8.25"),
    ("mark-up", "30"),
    ("home", "0.045, 0.050"),
    ("pay-within", "14"),
];
/// A year before the Monday, at half past eight.
const BEGIN: &str = "2025-03-03T08:30:00-06:00";
/// Seconds of a day at half past eight, and most that are worked from there.
const OPENS_AT: u32 = 30_600;
const MOST_OF_A_DAY: u32 = 54_000;
/// Days from there to the Monday.
const DAYS: u32 = 364;
/// One job of so many comes back.
const COMES_BACK: usize = 17;
/// Most further visits of a job.
const MOST_VISITS: u32 = 2;
/// Most touches of one call.
const MOST_TOUCHES: usize = 500;

/// Makes the demo's shop with so many closed jobs before its Monday; `made` hears how many there are so far.
///
/// # Errors
/// A shipped machine that cannot be read, or a call that comes to no end: a fault of the program, in words.
pub fn demo_shop(seed: u64, closed: usize, made: &mut dyn FnMut(usize)) -> Result<Durable, String> {
    let machines: Result<Vec<Machine>, String> =
        MACHINES.iter().map(|id| shelf::read(&Shop::default(), id).map_err(|refused| refused.say)).collect();
    let machines = machines?;
    let predictors: Vec<Predictor<'_>> =
        machines.iter().map(|machine| Predictor::new(machine, Meter::ordinary())).collect();
    let begin: ZonedTime = BEGIN.parse().map_err(|_| "the demo begins at no time".to_owned())?;
    let (held, set) = (Durable::default(), Shop::default());
    let mut shop = Making { held, stream: seed | 1, day: begin.clone(), seconds: 0, set };
    shop.at_counter(&Touch::Settings, &SETTINGS.map(|(id, value)| (id.to_owned(), value.to_owned())))?;
    shop.set = Shop::now(&shop.held.events);
    for number in 0..closed {
        made(number);
        let day = u32::try_from(number * (DAYS as usize - 7) / closed.max(1)).unwrap_or(0);
        shop.stand_at(&begin, day)?;
        let predictor = &predictors[shop.below(predictors.len())];
        let who = shop.below(PEOPLE.len());
        let events = shop.held.events.len();
        shop.call(predictor, who, Begin::Fresh, None)?;
        for visit in 1..=MOST_VISITS {
            if waiting(&shop.held.events[events..]).is_empty() {
                break;
            }
            shop.stand_at(&begin, day + 2 * visit)?;
            shop.call(predictor, who, Begin::Visit(0), None)?;
        }
        shop.bill(events)?;
        if number % COMES_BACK == COMES_BACK - 1 {
            shop.stand_at(&begin, day + 6)?;
            shop.again(events)?;
            shop.call(predictor, who, Begin::GoOn, None)?;
            shop.bill(events)?;
        }
    }
    shop.stand_at(&begin, DAYS - 3)?;
    let monday = begin.days_later(DAYS).ok_or("the demo has no Monday")?;
    let day = monday.as_str().get(..10).unwrap_or_default().to_owned();
    for (window, machine, who) in MONDAY {
        shop.call(&predictors[machine], who, Begin::Fresh, Some(&format!("later {day} {window}")))?;
        let customer = shop.last_customer().ok_or("a call without a customer")?;
        let place = ("at".to_owned(), PEOPLE[who].2.to_owned());
        shop.at_counter(&Touch::Customers, &[("customer".to_owned(), customer), place])?;
    }
    Ok(shop.held)
}

/// A shop being made up.
struct Making {
    held: Durable,
    stream: u64,
    day: ZonedTime,
    /// Seconds of the day that its work has taken so far.
    seconds: u32,
    /// The shop as it was set at the start.
    set: Shop,
}

impl Making {
    /// SOURCE: the 64-bit linear congruential generator of Knuth's MMIX, from memory.
    fn below(&mut self, count: usize) -> usize {
        self.stream = self.stream.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.stream >> 33).unwrap_or_default() % count.max(1)
    }

    fn stand_at(&mut self, begin: &ZonedTime, days: u32) -> Result<(), String> {
        self.day = begin.days_later(days).ok_or("the demo's year is over")?;
        self.seconds = 0;
        Ok(())
    }

    /// The time on the wall, within the day.
    fn at(&self) -> ZonedTime {
        let seconds = OPENS_AT + self.seconds.min(MOST_OF_A_DAY);
        let (hour, minute, second) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        let text = self.day.as_str();
        let (date, offset) = (text.get(..10).unwrap_or_default(), text.get(19..).unwrap_or_default());
        format!("{date}T{hour:02}:{minute:02}:{second:02}{offset}").parse().unwrap_or_else(|_| self.day.clone())
    }

    /// Lets the time pass that such a step takes: the usual minutes, drawn from three quarters to one and a half times.
    fn pass(&mut self, machine: &Machine, about: &About) {
        let usual = match about {
            About::Open(cover) => machine.access.steps[cover.index()].minutes_off,
            About::Close(cover) => machine.access.steps[cover.index()].minutes_on,
            About::Change(repair) => machine[*repair].minutes,
            About::Try(state) => machine[*state].minutes,
            About::Arrive => 10.0,
            _ => 1.0,
        };
        let drawn = 45 + self.below(45);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds of a step, none below 0")]
        let seconds = (usual * f64::from(u32::try_from(drawn).unwrap_or(60))) as u32;
        self.seconds += seconds;
    }

    fn pen(&self) -> (Pen, Loaded) {
        let loaded = Loaded { events: self.held.events.clone(), ..Loaded::default() };
        (Pen::after(DeviceId::from_random([0xde; 16]), &loaded), loaded)
    }

    fn keep(&mut self, owed: &Durable) {
        self.held.keys.extend(owed.keys.iter().cloned());
        self.held.records.extend(owed.records.iter().cloned());
        self.held.events.extend(owed.events.iter().cloned());
    }

    /// Goes to a place of the counter and sets what is to be set.
    fn at_counter(&mut self, place: &Touch, sets: &[(String, String)]) -> Result<(), String> {
        let (pen, loaded) = self.pen();
        let held = (self.held.keys.clone(), self.held.records.clone());
        let mut counter = Counter::open(pen, &loaded, Vec::new(), held);
        let touches = sets.iter().map(|(id, value)| Touch::Set { id: id.clone(), value: value.clone() });
        for touch in std::iter::once(place.clone()).chain(touches) {
            let mut stream = self.stream;
            counter.touch(&touch, &mut |bytes| fill(&mut stream, bytes));
            self.stream = stream;
            while let Some(owed) = counter.owes(&self.at())? {
                self.keep(&owed);
                counter.kept();
            }
            if let Some(notice) = &counter.notice {
                return Err(format!("{touch:?}: {}; {}", notice.say, notice.mend));
            }
        }
        Ok(())
    }

    /// Plays a call to its end; with `later`, only until a visit is promised.
    fn call(&mut self, predictor: &Predictor<'_>, who: usize, begin: Begin, later: Option<&str>) -> Result<(), String> {
        let machine = predictor.machine();
        let file = MachineFile::of(&machine.id, &shelf::whole(&self.set, &machine.id).unwrap_or_default());
        let mut settings = self.set.call(machine, file)?;
        settings.van = Van::Full;
        // A made-up year need not be the last word: few states are weighed, and of two faults at once only those where one
        // brings the other about. A visit that is still to come is weighed in full.
        settings.nodes = 10;
        settings.assumed.pairs = 0.0;
        let (pen, loaded) = self.pen();
        let held = (self.held.keys.clone(), self.held.records.clone());
        let mut desk = Desk::open(predictor, settings, pen, &loaded, held, Some(Behind::Job), begin);
        let (name, street, _) = PEOPLE[who];
        let age = 2 + self.below(12);
        for _ in 0..MOST_TOUCHES {
            while let Some(owed) = desk.owes(&self.at())? {
                self.keep(&owed);
                desk.kept();
            }
            let ask = desk.session().ask();
            let touch = match &ask.about {
                About::Ended => return Ok(()),
                About::Customer => Touch::Answer(format!("{name}, {street}, Sampleton, 555-0100")),
                About::Appliance => Touch::Answer(format!("{age} no warranty")),
                About::Approve | About::HandOver => Touch::Answer(name.to_owned()),
                About::Arrive if later.is_some() => Touch::Answer(later.unwrap_or_default().to_owned()),
                _ => Touch::TakeOffered,
            };
            self.pass(machine, &ask.about);
            let mut stream = self.stream;
            desk.touch(&touch, &mut |bytes| fill(&mut stream, bytes));
            self.stream = stream;
            if let Some(notice) = &desk.notice {
                return Err(format!("{}: {} at `{}`", machine.id, notice.say, ask.say));
            }
        }
        Err(format!("a call on {} comes to no end: {}", machine.id, desk.session().ask().say))
    }

    /// Issues the invoice of the last job from these events on where something was charged, and takes the money.
    fn bill(&mut self, from: usize) -> Result<(), String> {
        let Some(job) = self.last_job(from) else { return Ok(()) };
        let folded = book::fold_job(&self.held.events[from..], book::JobId(job));
        let charges = folded.map_or_else(Vec::new, |job| billing::bill(&job));
        if charges.is_empty() {
            return Ok(());
        }
        let mut sets = vec![(format!("invoice/{job}"), String::new())];
        // What came back is mended without charge.
        if billing::total(&charges).iter().any(|sum| !sum.amount.is_zero()) {
            let way = ["card", "cash", "check", "transfer"][self.below(4)];
            sets.push((format!("paid/{job}"), way.to_owned()));
        }
        self.at_counter(&Touch::Money, &sets)
    }

    /// Opens the last job's trouble again: it came back.
    fn again(&mut self, from: usize) -> Result<(), String> {
        let job = self.last_job(from).ok_or("no job to come back")?;
        let appliance =
            self.held.events.iter().rev().find(|event| matches!(event.body(), Body::Shop(ShopFact::ApplianceAdded(_))));
        let appliance = appliance.map(Event::id).ok_or("no appliance to come back")?;
        let customer = self.last_customer().ok_or("no customer to come back")?;
        let sets = [("customer".to_owned(), customer), (format!("again/{appliance}/{job}"), String::new())];
        self.at_counter(&Touch::Customers, &sets)
    }

    fn last_job(&self, from: usize) -> Option<book::EventId> {
        let events = self.held.events.get(from..)?;
        let ended =
            events.iter().rev().any(|event| matches!(event.body(), Body::Call { fact: CallFact::CallEnded(_), .. }));
        let opened = events.iter().rev().find(|event| matches!(event.body(), Body::Shop(ShopFact::JobOpened(_))))?;
        ended.then(|| opened.id())
    }

    fn last_customer(&self) -> Option<String> {
        let added =
            self.held.events.iter().rev().find(|event| matches!(event.body(), Body::Shop(ShopFact::CustomerAdded(_))));
        added.map(|event| event.id().to_string())
    }
}

/// Bytes for the keys of invented people.
fn fill(stream: &mut u64, bytes: &mut [u8]) {
    for at in bytes {
        *stream = stream.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        *at = u8::try_from(*stream >> 56).unwrap_or_default();
    }
}
