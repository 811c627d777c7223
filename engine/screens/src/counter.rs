//! The counter: everything outside of a call. The day, the van, the shop's settings; and what one goes on to from there.

mod customers;
mod day;
mod describe;
mod devices;
mod money;
mod months;
mod plan;
mod settings;
mod taught;
mod van;

use crate::durable::Durable;
use crate::outbox::Outbox;
use crate::screen::{Notice, Place, Screen};
use crate::touch::Touch;
use crate::vault::Vault;
use crate::{Begin, kit, shelf};
use book::{
    Body, DeviceId, Event, JobId, Key, KeyId, Loaded, MachineFile, Pen, SealedRecord, SettingsSet, ShopFact,
    TemperatureScale, ZonedTime, key_destroyed_by,
};
use call::{Refused, Settings, Shop, Van, machine_of, unfinished, waiting};
use machine::Machine;
use prediction::Meter;
use rehearsal::practice::Difficulty;

use customers::Customers;
pub use describe::Draft;
pub use devices::{DeviceLine, ShareAsk, Sharing};
use documents::Page;
use std::collections::BTreeSet;

/// What one goes on to.
#[derive(Debug)]
pub enum Leave {
    /// A call.
    Call(Box<Opening>),
    /// The demo's call, in a book of its own.
    Demo,
    /// The demo's shop, in a book of its own.
    DemoShop,
    /// From the demo's shop back to the own one.
    OwnShop,
    /// Something that needs the network or a cipher; afterwards one stands where one stood.
    Share(ShareAsk),
    /// A machine as it is described.
    Machine(String),
    /// Practice on a machine.
    Practice {
        /// The machine's id.
        machine: String,
        /// How hard.
        difficulty: Difficulty,
    },
}

/// What a call is opened with.
#[derive(Debug)]
pub struct Opening {
    /// The machine.
    pub machine: Machine,
    /// The technician's meter.
    pub meter: Meter,
    /// What the call is worked with.
    pub settings: Settings,
    /// How it begins.
    pub begin: Begin,
}

/// The counter, over everything the book holds.
#[derive(Debug)]
pub struct Counter {
    book: Vec<Event>,
    damaged: Vec<String>,
    vault: Vault,
    outbox: Outbox,
    pub(crate) notice: Option<Notice>,
    place: Place,
    draft: Draft,
    customers: customers::Draft,
    plan: plan::Draft,
    van: van::Draft,
    devices: devices::Draft,
    sharing: Sharing,
    /// It is the demo's shop.
    demo: bool,
    /// Jobs whose steps are filed away, so that the book here is without them.
    filed: BTreeSet<JobId>,
    /// The month that is looked back on.
    month: Option<String>,
    device: DeviceId,
    /// The time on the wall when something was last owed.
    at: Option<ZonedTime>,
}

impl Counter {
    /// Opens the counter on its day. `damaged` says which records could not be read.
    #[must_use]
    pub fn open(
        pen: Pen,
        loaded: &Loaded,
        damaged: Vec<String>,
        (keys, records): (Vec<(KeyId, Key)>, Vec<SealedRecord>),
    ) -> Self {
        let device = pen.device();
        let (vault, outbox) = (Vault::of(keys, records), Outbox::of(pen));
        Self {
            book: loaded.events.clone(),
            damaged,
            vault,
            outbox,
            notice: None,
            place: Place::Day,
            draft: Draft::default(),
            customers: customers::Draft::default(),
            plan: plan::Draft::default(),
            van: van::Draft::default(),
            devices: devices::Draft::default(),
            sharing: Sharing::default(),
            demo: false,
            filed: BTreeSet::new(),
            month: None,
            device,
            at: None,
        }
    }

    /// Says that this is the demo's shop, all of it invented.
    #[must_use]
    pub fn of_demo(mut self) -> Self {
        self.demo = true;
        self
    }

    /// Says of which jobs the steps are filed away.
    #[must_use]
    pub fn with_filed(mut self, filed: BTreeSet<JobId>) -> Self {
        self.filed = filed;
        self
    }

    /// Gives the jobs whose steps are needed where one stands and are filed away: the shell reads them before it shows the
    /// screen, and hands them in by [`Self::bring`].
    #[must_use]
    pub fn lacks(&self) -> Vec<JobId> {
        match self.place {
            _ if self.filed.is_empty() => Vec::new(),
            Place::Months => self.filed.iter().copied().collect(),
            Place::Customers if self.customers.is_looking() => {
                let of = Customers::of(&self.book, &self.vault);
                self.customers.jobs(&of).filter(|job| self.filed.contains(job)).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Takes up the steps of these jobs, which were filed away.
    pub fn bring(&mut self, jobs: &[JobId], events: Vec<Event>) {
        self.filed.retain(|job| !jobs.contains(job));
        let all = std::mem::take(&mut self.book).into_iter().chain(events).collect();
        self.book = Loaded::in_order(all, Vec::new()).events;
    }

    /// Takes a touch; gives what one goes on to, where it leads away from the counter. `random` fills bytes with fresh
    /// randomness, for keys.
    pub fn touch(&mut self, touch: &Touch, random: &mut dyn FnMut(&mut [u8])) -> Option<Leave> {
        self.notice = None;
        let taken = match touch {
            Touch::Day => self.go_to(Place::Day),
            Touch::Van => self.go_to(Place::Van),
            Touch::Settings => self.go_to(Place::Settings),
            Touch::Describe => self.go_to(Place::Describe),
            Touch::Customers => self.go_to(Place::Customers),
            Touch::Money => self.go_to(Place::Money),
            Touch::Months => self.go_to(Place::Months),
            Touch::Devices => self.go_to(Place::Devices),
            Touch::Plan => {
                self.plan.look(&self.book);
                self.go_to(Place::Plan)
            }
            Touch::Set { id, value } => self.set(id, value, random),
            Touch::NewCall { machine } => self.opening(machine, &[], Begin::Fresh).map(Some),
            Touch::GoOn => self.go_on(),
            Touch::Visit { at } => self.visit(*at),
            Touch::Demo => Ok(Some(Leave::Demo)),
            Touch::DemoShop => Ok(Some(Leave::DemoShop)),
            Touch::OwnShop => Ok(Some(Leave::OwnShop)),
            Touch::Machine { machine } => {
                shelf::known(&self.shop(), machine).map(|()| Some(Leave::Machine(machine.clone())))
            }
            Touch::Practice { machine, difficulty } => {
                let known = shelf::known(&self.shop(), machine);
                known.map(|()| Some(Leave::Practice { machine: machine.clone(), difficulty: *difficulty }))
            }
            _ => Ok(None),
        };
        taken.unwrap_or_else(|refused| {
            self.notice = Some(Notice::refused(refused));
            None
        })
    }

    /// Gives what must be made durable now; `None` when the screen may be shown. `at` is the time on the wall.
    ///
    /// # Errors
    /// A fact that cannot be written, in words: a fault of the program.
    pub fn owes(&mut self, at: &ZonedTime) -> Result<Option<Durable>, String> {
        self.at = Some(at.clone());
        let Some(bodies) = self.outbox.next() else { return Ok(None) };
        self.outbox.write(at, &bodies, self.vault.take_fresh()).map(Some)
    }

    /// Hears that what was owed is durable.
    pub fn kept(&mut self) {
        let Some(durable) = self.outbox.kept() else { return };
        self.vault.add(durable.keys, durable.records);
        durable.events.iter().filter_map(key_destroyed_by).for_each(|key| self.vault.forget_key(key));
        self.book.extend(durable.events);
    }

    /// Hears that what was owed could not be made durable, and why: nothing of it counts.
    pub fn not_kept(&mut self, why: &str) {
        self.outbox.not_kept();
        self.notice = Some(Notice::not_kept(why));
    }

    /// Gives everything that is shown.
    #[must_use]
    pub fn screen(&self) -> Screen {
        let mut screen = Screen::of(self.place);
        screen.notice.clone_from(&self.notice);
        match self.place {
            Place::Van => {
                "The van".clone_into(&mut screen.say);
                screen.fields =
                    van::fields(&self.van, &self.book, &Customers::of(&self.book, &self.vault), &self.shop());
            }
            Place::Settings => {
                "Settings".clone_into(&mut screen.say);
                screen.fields = settings::fields(&self.shop());
            }
            Place::Customers => {
                "Customers".clone_into(&mut screen.say);
                screen.fields =
                    customers::fields(&self.customers, &Customers::of(&self.book, &self.vault), &self.shop());
            }
            Place::Devices => {
                "Devices".clone_into(&mut screen.say);
                screen.fields = devices::fields(&self.devices, &self.sharing, self.device);
            }
            Place::Months => {
                "Looking back".clone_into(&mut screen.say);
                (screen.fields, screen.curves) = months::shown(&self.book, &self.shop(), self.month.as_deref());
            }
            Place::Money => {
                "Money".clone_into(&mut screen.say);
                screen.fields = money::fields(&self.book, &Customers::of(&self.book, &self.vault), &self.shop());
            }
            Place::Plan => {
                "The plan".clone_into(&mut screen.say);
                screen.fields = self.plan.fields(&self.book, &Customers::of(&self.book, &self.vault));
            }
            Place::Describe => {
                "Describe a machine".clone_into(&mut screen.say);
                screen.fields = describe::fields(&self.draft, &self.shop());
            }
            _ => {
                "The day".clone_into(&mut screen.say);
                screen.day = Some(day::day(&self.book, self.device, &self.damaged, &self.vault, &self.shop()));
                screen.top.note =
                    self.demo.then(|| "The demo's shop: people, places and appliances are invented.".to_owned());
            }
        }
        screen
    }

    /// Gives a page that is handed out under this id at the money, for a typesetter; `None` if there is no such page.
    #[must_use]
    pub fn page(&self, id: &str) -> Option<Page> {
        money::page(&self.book, &Customers::of(&self.book, &self.vault), &self.shop(), id)
    }

    /// Tells whether one stands at the day.
    #[must_use]
    pub fn is_at_day(&self) -> bool {
        self.place == Place::Day
    }

    /// Hears what the shell knows of the server; says so where one stands with the devices.
    pub fn share(&mut self, sharing: Sharing) {
        self.sharing = sharing;
    }

    /// What was heard of the server last.
    #[must_use]
    pub const fn sharing(&self) -> &Sharing {
        &self.sharing
    }

    /// Gives how the shop works now; how shops usually do where it was never set.
    #[must_use]
    pub fn settings(&self) -> SettingsSet {
        settings::in_force(&self.shop())
    }

    /// Gives the technician's meter; an ordinary one where his meters cannot be read, as the settings then say.
    #[must_use]
    pub fn meter(&self) -> Meter {
        kit::meter(&self.shop()).unwrap_or_else(|_| Meter::ordinary())
    }

    /// Gives the scale that temperatures are shown in.
    #[must_use]
    pub fn temperatures(&self) -> TemperatureScale {
        self.shop().settings.map_or_else(TemperatureScale::default, |set| set.temperatures)
    }

    fn shop(&self) -> Shop {
        Shop::now(&self.book)
    }

    /// Gives the description that is being written, to be taken up again; `None` elsewhere.
    #[must_use]
    pub fn draft(&self) -> Option<&Draft> {
        (self.place == Place::Describe).then_some(&self.draft)
    }

    /// Takes a description up again where it was left.
    pub fn take_up(&mut self, draft: Draft) {
        (self.place, self.draft) = (Place::Describe, draft);
    }

    /// Reads a machine at hand, the shop's own or a shipped one.
    ///
    /// # Errors
    /// There is none, or this version does not read it.
    pub fn machine(&self, id: &str) -> Result<Machine, Refused> {
        shelf::read(&self.shop(), id)
    }

    fn go_to(&mut self, place: Place) -> Result<Option<Leave>, Refused> {
        self.place = place;
        Ok(None)
    }

    fn set(&mut self, id: &str, value: &str, random: &mut dyn FnMut(&mut [u8])) -> Result<Option<Leave>, Refused> {
        let shop = self.shop();
        let bodies = match self.place {
            Place::Describe => match describe::set(&mut self.draft, &shop, id, value)? {
                describe::Done::Changed => return Ok(None),
                describe::Done::Keep(described) => {
                    (self.place, self.draft) = (Place::Day, Draft::default());
                    vec![Body::shop(described)]
                }
            },
            Place::Settings => vec![Body::shop(settings::set(&shop, id, value)?)],
            Place::Van => van::set(&mut self.van, &self.book, &shop, id, value)?,
            Place::Customers => {
                let bodies = customers::set(&mut self.customers, &self.book, &mut self.vault, (id, value), random)?;
                // A job that is opened is gone on with from the day.
                if bodies.iter().any(|body| matches!(body, Body::Shop(ShopFact::JobOpened(_)))) {
                    self.place = Place::Day;
                }
                bodies
            }
            Place::Devices => {
                let asked = devices::set(&mut self.devices, &self.sharing, id, value)?;
                return Ok(asked.map(Leave::Share));
            }
            Place::Months if id == "take-habits" => vec![taught::take_up_habits(&self.book, &shop)?],
            Place::Months => match id.strip_prefix("take/") {
                Some(machine) => vec![taught::take_up_machine(&self.book, &shop, machine)?],
                None => {
                    self.month = Some(value.to_owned());
                    return Ok(None);
                }
            },
            Place::Money => money::set(&self.book, self.device, &shop, (id, value), self.at.as_ref())?,
            Place::Plan => self.plan.set(&self.book, &Customers::of(&self.book, &self.vault), id, value)?,
            _ => return Ok(None),
        };
        self.outbox.push_all(bodies);
        Ok(None)
    }

    fn go_on(&self) -> Result<Option<Leave>, Refused> {
        let Some(of) = unfinished(&self.book, self.device) else { return Ok(None) };
        self.opening(&machine_in(&of.events), &of.events, Begin::GoOn).map(Some)
    }

    fn visit(&self, at: usize) -> Result<Option<Leave>, Refused> {
        let Some(of) = waiting(&self.book).into_iter().nth(at) else { return Ok(None) };
        self.opening(&machine_in(&of.events), &of.events, Begin::Visit(at)).map(Some)
    }

    /// Opens a call with the shop as it stood when its job was begun.
    fn opening(&self, id: &str, of_job: &[Event], begin: Begin) -> Result<Leave, Refused> {
        let shop = Shop::when_begun(&self.book, of_job);
        opening(id, &shop, begin).map(|mut opening| {
            call::adapt(&mut opening.machine, of_job);
            call::take_up(&mut opening.machine, &shop);
            Leave::Call(Box::new(opening))
        })
    }
}

impl Opening {
    /// Opens the demo's call: an ordinary meter, the usual rates, everything on the van.
    ///
    /// # Errors
    /// A shipped machine that cannot be read: a fault of the program.
    pub fn demo(begin: Begin) -> Result<Self, Refused> {
        let mut opening = opening(shipped::DEMO, &Shop::default(), begin)?;
        opening.settings.van = Van::Full;
        Ok(opening)
    }
}

fn opening(id: &str, shop: &Shop, begin: Begin) -> Result<Opening, Refused> {
    let machine = shelf::read(shop, id)?;
    let file = MachineFile::of(id, &shelf::whole(shop, id).unwrap_or_default());
    let in_settings = |say: String| Refused::new(say, "open the settings");
    let settings = shop.call(&machine, file).map_err(in_settings)?;
    let meter = kit::meter(shop).map_err(in_settings)?;
    Ok(Opening { machine, meter, settings, begin })
}

/// The machine of a job; before one was named it is the demo's.
fn machine_in(events: &[Event]) -> String {
    machine_of(events).map_or_else(|| shipped::DEMO.to_owned(), |file| file.machine)
}
