//! A shell without a browser, for the tests: keeps what is owed in memory.

use book::{DeviceId, Key, KeyId, Loaded, MachineFile, MemoryStore, Pen, SealedRecord, Store, ZonedTime};
use call::{Settings, Van};
use machine::Machine;
use prediction::Predictor;
use screens::{Begin, Behind, Counter, Desk, Durable, Leave, Screen, Touch};
use shipped::{DEMO, DEMO_SEED};

pub(crate) fn machine() -> Machine {
    shipped::find(DEMO).unwrap().read().unwrap()
}

pub(crate) fn settings(machine: &Machine) -> Settings {
    let file = MachineFile { machine: machine.id.clone(), hash: "invented".to_owned() };
    let mut settings = Settings::usual(file, machine.currency.parse().unwrap());
    settings.van = Van::Full;
    settings.nodes = 200;
    settings
}

pub(crate) fn noon() -> ZonedTime {
    "2026-03-02T12:00:00-06:00[America/Chicago]".parse().unwrap()
}

/// A shell without a browser: a store, and bytes that only count up.
pub(crate) struct Shell {
    pub(crate) store: MemoryStore,
    keys: Vec<(KeyId, Key)>,
    records: Vec<SealedRecord>,
    byte: u8,
    device: DeviceId,
}

impl Shell {
    pub(crate) fn new() -> Self {
        let device = DeviceId::from_random([7; 16]);
        Self { store: MemoryStore::default(), keys: Vec::new(), records: Vec::new(), byte: 0, device }
    }

    pub(crate) fn loaded(&self) -> Loaded {
        self.store.load().unwrap()
    }

    pub(crate) fn desk<'p, 'm>(&self, predictor: &'p Predictor<'m>, begin: Begin) -> Desk<'p, 'm> {
        self.desk_with(predictor, settings(predictor.machine()), begin)
    }

    pub(crate) fn desk_with<'p, 'm>(
        &self,
        predictor: &'p Predictor<'m>,
        settings: Settings,
        begin: Begin,
    ) -> Desk<'p, 'm> {
        let loaded = self.loaded();
        let pen = Pen::after(self.device, &loaded);
        let held = (self.keys.clone(), self.records.clone());
        Desk::open(predictor, settings, pen, &loaded, held, Some(Behind::Seed(DEMO_SEED)), begin)
    }

    /// Holds what another device wrote.
    pub(crate) fn hold(&mut self, held: &Durable) {
        self.keys.extend(held.keys.iter().cloned());
        self.records.extend(held.records.iter().cloned());
        self.store.take_in(&held.events).unwrap();
    }

    /// Stands at the counter over what is kept.
    pub(crate) fn counter(&self, damaged: Vec<String>) -> Counter {
        let loaded = self.loaded();
        let pen = Pen::after(self.device, &loaded);
        Counter::open(pen, &loaded, damaged, (self.keys.clone(), self.records.clone()))
    }

    /// Touches the counter and keeps what it owes.
    pub(crate) fn at_counter(&mut self, counter: &mut Counter, touch: &Touch) -> (Screen, Option<Leave>) {
        let byte = &mut self.byte;
        let leave = counter.touch(touch, &mut |bytes| fill(byte, bytes));
        while let Some(owed) = counter.owes(&noon()).unwrap() {
            self.keys.extend(owed.keys.clone());
            self.records.extend(owed.records.clone());
            self.store.append(&owed.events).unwrap();
            counter.kept();
        }
        (counter.screen(), leave)
    }

    pub(crate) fn touch(&mut self, desk: &mut Desk<'_, '_>, touch: &Touch) -> Screen {
        let byte = &mut self.byte;
        desk.touch(touch, &mut |bytes| fill(byte, bytes));
        self.settle(desk)
    }

    /// Keeps all that is owed, then gives the screen.
    pub(crate) fn settle(&mut self, desk: &mut Desk<'_, '_>) -> Screen {
        while let Some(owed) = desk.owes(&noon()).unwrap() {
            self.keys.extend(owed.keys.clone());
            self.records.extend(owed.records.clone());
            self.store.append(&owed.events).unwrap();
            desk.kept();
        }
        desk.screen()
    }
}

/// Bytes that only count up.
fn fill(byte: &mut u8, bytes: &mut [u8]) {
    for at in bytes {
        *byte = byte.wrapping_add(1);
        *at = *byte;
    }
}

/// What a screen shows that rests on the book alone.
pub(crate) fn of_the_book(mut screen: Screen) -> Screen {
    screen.offered = None;
    screen.notice = None;
    screen
}

/// Goes on by the demo's answers until the screen is as wanted.
pub(crate) fn on_until(shell: &mut Shell, desk: &mut Desk<'_, '_>, wanted: impl Fn(&Screen) -> bool) -> Screen {
    let mut screen = shell.settle(desk);
    for _ in 0..300 {
        if wanted(&screen) {
            return screen;
        }
        screen = shell.touch(desk, &Touch::TakeOffered);
    }
    panic!("never so: {screen:#?}");
}
