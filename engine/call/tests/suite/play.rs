//! Drives a session as a shell does: facts into a store first, then applied.

use book::{
    Body, Currency, DeviceId, Event, Key, KeyId, MachineFile, MemoryStore, Pen, RecordId, Signature, Store, ZonedTime,
    record,
};
use call::demo::Demo;
use call::{About, Answer, Ask, Session, Settings, Van, typed};
use machine::Machine;
use prediction::{Meter, Predictor};

pub(crate) const DRYER: &str = include_str!("../../../../machines/dryer-timer-240.toml");
pub(crate) const RANGE: &str = include_str!("../../../../machines/range-control-240.toml");

pub(crate) fn machine(text: &str) -> Machine {
    machine::read(text).machine.unwrap()
}

pub(crate) fn predictor(machine: &Machine) -> Predictor<'_> {
    Predictor::new(machine, Meter::ordinary())
}

pub(crate) fn settings(machine: &Machine) -> Settings {
    let file = MachineFile { machine: machine.id.clone(), hash: "00".repeat(32) };
    let currency: Currency = machine.currency.parse().unwrap();
    Settings { nodes: 600, van: Van::Full, ..Settings::usual(file, currency) }
}

fn noon() -> ZonedTime {
    "2026-03-02T12:00:00+01:00[Europe/Berlin]".parse().unwrap()
}

/// A session with its store and pen.
pub(crate) struct Player<'p, 'm> {
    pub(crate) session: Session<'p, 'm>,
    pub(crate) store: MemoryStore,
    pen: Pen,
    /// What was asked, in order.
    pub(crate) asked: Vec<String>,
    /// Keeps [`Self::states`].
    pub(crate) watch: bool,
    /// What is due or asked after each fact.
    pub(crate) states: Vec<String>,
}

/// What is due, else what is asked, whole.
pub(crate) fn state(session: &Session<'_, '_>) -> String {
    session.due().map_or_else(|| format!("{:?}", session.ask()), |body| format!("{body:?}"))
}

const KEY: KeyId = KeyId::from_random([7; 16]);
const NAMES: RecordId = RecordId::from_random([8; 16]);

impl<'p, 'm> Player<'p, 'm> {
    pub(crate) fn new(predictor: &'p Predictor<'m>, settings: Settings) -> Self {
        let mut store = MemoryStore::new();
        store.keep_key(KEY, &Key::from_random([9; 32])).unwrap();
        let pen = Pen::new(DeviceId::from_random([1; 16]));
        let (asked, states) = (Vec::new(), Vec::new());
        Self { session: Session::new(predictor, settings), store, pen, asked, watch: false, states }
    }

    /// Takes the call up on another device that holds everything this one does.
    pub(crate) fn on_another(&self, device: u8) -> Self {
        let mut store = MemoryStore::new();
        store.take_in(&self.events()).unwrap();
        let pen = Pen::after(DeviceId::from_random([device; 16]), &store.load().unwrap());
        let mut other = Self { store, pen, ..Self::new(self.session.predictor(), self.session.settings().clone()) };
        self.events().iter().for_each(|event| other.session.apply(event));
        other
    }

    pub(crate) fn only_keep(&mut self, body: &Body) -> Event {
        let mut events = record(&mut self.store, &mut self.pen, &noon(), std::slice::from_ref(body)).unwrap();
        events.remove(0)
    }

    pub(crate) fn take(&mut self, body: &Body) -> Event {
        let event = self.only_keep(body);
        self.session.apply(&event);
        if self.watch {
            self.states.push(state(&self.session));
        }
        event
    }

    /// Records what is due.
    pub(crate) fn due(&mut self) -> Vec<Event> {
        let mut events = Vec::new();
        while let Some(body) = self.session.due() {
            events.push(self.take(&body));
            assert!(events.len() < 200, "facts without end: {:?}", events.last().unwrap().body());
        }
        events
    }

    pub(crate) fn ask(&mut self) -> Ask {
        self.due();
        self.session.ask()
    }

    /// Answers with a typed line, sealing what a shell would seal.
    pub(crate) fn say(&mut self, text: &str) -> Result<Event, call::Refused> {
        let ask = self.ask();
        self.asked.push(format!("{}  [{text}]", ask.say));
        let answer = sealed(&ask, typed::read_line(self.session.machine(), &ask, text)?);
        let body = self.session.answer(&answer)?;
        Ok(self.take(&body))
    }

    /// Lets the demo answer until something is asked that `stop` names; gives that ask.
    pub(crate) fn until(&mut self, demo: &mut Demo<'_>, stop: impl Fn(&Ask) -> bool) -> Ask {
        for _ in 0..400 {
            let ask = self.ask();
            if ask.about == About::Ended || stop(&ask) {
                return ask;
            }
            let text = demo.answer(&ask);
            let event = self.say(&text).unwrap_or_else(|refused| {
                panic!(
                    "`{text}` refused: {refused}\nasked: {}\n{:?}\nso far:\n{}",
                    ask.say,
                    ask.lines,
                    self.asked.join("\n")
                )
            });
            demo.note(&event);
        }
        panic!("the call does not end:\n{}", self.asked.join("\n"));
    }

    pub(crate) fn events(&self) -> Vec<Event> {
        self.store.load().unwrap().events
    }
}

fn sealed(ask: &Ask, answer: Answer) -> Answer {
    match (&ask.about, answer) {
        (About::Customer, Answer::Words(_)) => Answer::Person { key: KEY, record: NAMES },
        (About::Approve | About::HandOver, Answer::Words(_)) => Answer::Signature(Signature::Signed { record: NAMES }),
        (About::Hazard(_), Answer::Words(words)) => Answer::Hazard {
            told: vec![book::Role::Customer],
            action: typed::action_of(words.split(' ').next().unwrap()).unwrap(),
            signature: Signature::Signed { record: NAMES },
        },
        (_, answer) => answer,
    }
}
