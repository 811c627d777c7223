//! The counter: everything outside of a call. The day, the van, the shop's settings; and what one goes on to from there.

mod day;
mod describe;
mod settings;
mod van;

use crate::durable::Durable;
use crate::outbox::Outbox;
use crate::screen::{Notice, Place, Screen};
use crate::touch::Touch;
use crate::vault::Vault;
use crate::{Begin, kit, shelf};
use book::{Body, Event, Key, KeyId, Loaded, MachineFile, Pen, SealedRecord, TemperatureScale, ZonedTime};
use call::{Refused, Settings, Shop, Van, machine_of, unfinished, waiting};
use machine::Machine;
use prediction::Meter;
use rehearsal::practice::Difficulty;

pub use describe::Draft;

/// What one goes on to.
#[derive(Debug)]
pub enum Leave {
    /// A call.
    Call(Box<Opening>),
    /// The demo's call, in a book of its own.
    Demo,
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
    notice: Option<Notice>,
    place: Place,
    draft: Draft,
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
        let (vault, outbox) = (Vault::of(keys, records), Outbox::of(pen));
        Self {
            book: loaded.events.clone(),
            damaged,
            vault,
            outbox,
            notice: None,
            place: Place::Day,
            draft: Draft::default(),
        }
    }

    /// Takes a touch; gives what one goes on to, where it leads away from the counter.
    pub fn touch(&mut self, touch: &Touch) -> Option<Leave> {
        self.notice = None;
        let taken = match touch {
            Touch::Day => {
                self.place = Place::Day;
                Ok(None)
            }
            Touch::Van => {
                self.place = Place::Van;
                Ok(None)
            }
            Touch::Settings => {
                self.place = Place::Settings;
                Ok(None)
            }
            Touch::Describe => {
                self.place = Place::Describe;
                Ok(None)
            }
            Touch::Set { id, value } => self.set(id, value).map(|()| None),
            Touch::NewCall { machine } => self.opening(machine, &[], Begin::Fresh).map(Some),
            Touch::GoOn => self.go_on(),
            Touch::Visit { at } => self.visit(*at),
            Touch::Demo => Ok(Some(Leave::Demo)),
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
        let Some(body) = self.outbox.next() else { return Ok(None) };
        self.outbox.write(at, body, (Vec::new(), Vec::new())).map(Some)
    }

    /// Hears that what was owed is durable.
    pub fn kept(&mut self) {
        if let Some(durable) = self.outbox.kept() {
            self.book.extend(durable.events);
        }
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
                screen.fields = van::fields(&self.shop());
            }
            Place::Settings => {
                "Settings".clone_into(&mut screen.say);
                screen.fields = settings::fields(&self.shop());
            }
            Place::Describe => {
                "Describe a machine".clone_into(&mut screen.say);
                screen.fields = describe::fields(&self.draft, &self.shop());
            }
            _ => {
                "The day".clone_into(&mut screen.say);
                screen.day = Some(day::day(&self.book, &self.damaged, &self.vault, &self.shop()));
            }
        }
        screen
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

    fn set(&mut self, id: &str, value: &str) -> Result<(), Refused> {
        let shop = self.shop();
        let body = match self.place {
            Place::Describe => match describe::set(&mut self.draft, &shop, id, value)? {
                describe::Done::Changed => return Ok(()),
                describe::Done::Keep(described) => {
                    (self.place, self.draft) = (Place::Day, Draft::default());
                    Body::shop(described)
                }
            },
            Place::Settings => Body::shop(settings::set(&shop, id, value)?),
            Place::Van => Body::shop(van::count(&shop, id, value)?),
            _ => return Ok(()),
        };
        self.outbox.push(body);
        Ok(())
    }

    fn go_on(&self) -> Result<Option<Leave>, Refused> {
        let Some(of) = unfinished(&self.book) else { return Ok(None) };
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
