//! Histories drawn from a seed: six devices that write, go missing, come back with clocks that are days off, and exchange
//! over connections that break anywhere. In the end all hold the same.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails")]

use book::*;
use server::{Answer, Role, Who, answer};
use std::collections::BTreeMap;
use store::{Database, SqlStore, SqliteStore};
use sync::{Beyond, Exchange, Filed, Have, Holds, PIECE, Progress, Trouble, names_of};

/// A small fixed sequence of numbers that look random.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: u64) -> u64 {
        // SOURCE: Knuth's multiplier and increment of MMIX, from memory; any odd ones would do.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }

    fn fill(&mut self, bytes: &mut [u8]) {
        bytes.iter_mut().for_each(|byte| *byte = u8::try_from(self.roll(256)).unwrap());
    }

    fn bytes<const N: usize>(&mut self) -> [u8; N] {
        let mut bytes = [0; N];
        self.fill(&mut bytes);
        bytes
    }
}

/// A phone: its store, its pen, what it knows of the server.
struct Phone {
    store: MemoryStore,
    pen: Pen,
    keys: BTreeMap<KeyId, Key>,
    progress: Progress,
    /// What it does not load for an exchange.
    filed: Filed,
    who: Who,
    /// Days its clock is off.
    skew: u64,
}

fn shop() -> Key {
    Key::from_random([9; 32])
}

impl Phone {
    fn new(at: u8, dice: &mut Dice) -> Self {
        let device = DeviceId::from_random([at; 16]);
        Self {
            store: MemoryStore::new(),
            pen: Pen::new(device),
            keys: BTreeMap::new(),
            progress: Progress::default(),
            filed: Filed::default(),
            who: Who { device, role: Role::Technician },
            skew: dice.roll(20),
        }
    }

    fn events(&self) -> Vec<Event> {
        self.store.load().unwrap().events
    }

    fn records(&self) -> Vec<SealedRecord> {
        let ids = self.store.records().unwrap();
        ids.into_iter().map(|id| self.store.record(id).unwrap().unwrap()).collect()
    }

    /// Writes something: a note, a customer with a sealed record (now and then a large one), a destroyed key.
    fn write(&mut self, dice: &mut Dice) {
        let time: ZonedTime = format!("2026-03-{:02}T12:00:00Z", self.skew + 1).parse().unwrap();
        let body = match dice.roll(6) {
            0 => {
                let key = Key::from_random(dice.bytes());
                let id = KeyId::from_random(dice.bytes());
                let length = if dice.roll(3) == 0 { 2 * PIECE + 77 } else { 40 };
                let sealed =
                    SealedRecord::seal(RecordId::from_random(dice.bytes()), id, &key, dice.bytes(), &vec![7; length]);
                let sealed = sealed.unwrap();
                self.store.keep_key(id, &key).unwrap();
                self.store.keep_record(&sealed).unwrap();
                self.keys.insert(id, key);
                Body::shop(CustomerAdded { key: id, record: sealed.id, listed: false })
            }
            1 if !self.keys.is_empty() && dice.roll(4) == 0 => {
                let key = *self.keys.keys().next().unwrap();
                self.keys.remove(&key);
                Body::shop(KeyDestroyed { key, reason: "asked".to_owned() })
            }
            _ => {
                let events = self.events();
                let job = events.last().map_or_else(|| EventId::new(self.who.device, 1).unwrap(), Event::id);
                Body::job(JobId(job), JobClosed { why: Some(format!("words {}", dice.roll(1000))) })
            }
        };
        record(&mut self.store, &mut self.pen, &time, &[body]).unwrap();
    }

    /// Files some events away that the server has, as a small device does, and now and then brings one back.
    fn file(&mut self, dice: &mut Dice) {
        let events = self.events();
        let have = Have::of(&events);
        for event in &events {
            let (of, counter) = (event.id().device(), event.id().counter());
            let there = of != self.who.device || counter <= self.progress.sent;
            let may = there && counter <= have.of_device(of).counter;
            match dice.roll(8) {
                0 if may => {
                    self.filed.file(event);
                }
                1 => self.filed.bring(event),
                _ => {}
            }
        }
    }

    /// One exchange over a connection that fails as the dice say; `faults` of 100 questions go wrong.
    fn exchange<D: Database>(&mut self, server: &mut SqlStore<D>, dice: &mut Dice, faults: u64) -> Result<(), Trouble> {
        if self.exchange_with(&self.filed.clone(), server, dice, faults)? {
            assert!(!self.exchange_with(&Filed::default(), server, dice, faults)?);
        }
        Ok(())
    }

    /// Tells whether what is filed is needed.
    fn exchange_with<D: Database>(
        &mut self,
        filed: &Filed,
        server: &mut SqlStore<D>,
        dice: &mut Dice,
        faults: u64,
    ) -> Result<bool, Trouble> {
        let (mut events, records) = (self.events(), self.records());
        events.retain(|event| !filed.has(event.id()));
        let names = records.iter().map(|record| record.id).collect();
        let keys: Vec<(KeyId, Key)> = self.keys.iter().map(|(id, key)| (*id, key.clone())).collect();
        let shop = shop();
        let holds = Holds {
            device: self.who.device,
            shop: &shop,
            events: &events,
            keys: &keys,
            records: &records,
            relays: false,
            beyond: Some(Beyond { filed, records: &names, until: u64::MAX }),
        };
        let mut exchange = Exchange::new(holds, self.progress);
        loop {
            if exchange.is_at_large() {
                exchange.want(names_of(&self.events()));
            }
            let Some(question) = exchange.ask(&mut |bytes| dice.fill(bytes)) else { return Ok(false) };
            let goes_wrong = dice.roll(100) < faults;
            let how = dice.roll(4);
            if goes_wrong && how == 0 {
                return Ok(false); // It never arrived.
            }
            let told = answer(server, &self.who, &question.path, &question.body, 1).unwrap();
            let bytes = match told {
                Answer::Json(text) => text.into_bytes(),
                Answer::Bytes(bytes) => bytes,
            };
            if goes_wrong && how == 1 {
                return Ok(false); // It was answered, and the answer got lost.
            }
            if goes_wrong && how == 2 {
                // It arrived twice.
                answer(server, &self.who, &question.path, &question.body, 1).unwrap();
            }
            let cut = if goes_wrong && how == 3 {
                usize::try_from(dice.roll(bytes.len() as u64 + 1)).unwrap()
            } else {
                bytes.len()
            };
            let Ok(came) = exchange.heard(&bytes[..cut]) else { return Ok(false) };
            if exchange.needs_all() {
                return Ok(true);
            }
            self.store.take_in(&came.events).unwrap();
            came.events.iter().for_each(|event| self.pen.note(event));
            for (id, key) in came.keys {
                match self.store.keep_key(id, &key) {
                    Ok(()) => drop(self.keys.insert(id, key)),
                    Err(StoreError::KeyDestroyed(_)) => {}
                    Err(error) => panic!("{error}"),
                }
            }
            came.events.iter().filter_map(key_destroyed_by).for_each(|key| drop(self.keys.remove(&key)));
            came.records.iter().for_each(|record| self.store.keep_record(record).unwrap());
            self.progress = exchange.progress();
        }
    }
}

/// Lets six devices live and exchange, then heals every connection; gives them and what the server holds.
fn history<D: Database>(seed: u64, server: &mut SqlStore<D>) -> Vec<Phone> {
    let mut dice = Dice(seed);
    let mut phones: Vec<Phone> = (1..=6).map(|at| Phone::new(at, &mut dice)).collect();
    for _round in 0..30 {
        for phone in &mut phones {
            for _ in 0..dice.roll(4) {
                phone.write(&mut dice);
            }
            // Half the time there is no signal at all.
            if dice.roll(2) == 0 {
                phone.exchange(server, &mut dice, 30).unwrap();
            }
            phone.file(&mut dice);
        }
    }
    assert!(phones.iter().any(|phone| phone.filed != Filed::default()));
    for _ in 0..2 {
        for phone in &mut phones {
            phone.exchange(server, &mut dice, 0).unwrap();
        }
    }
    phones
}

fn all_hold_the_same<D: Database>(phones: &[Phone], server: &SqlStore<D>) {
    let kept = server.load().unwrap();
    assert_eq!(kept.damaged, []);
    assert!(kept.events.len() > 100);
    assert_eq!(server.have().unwrap(), Have::of(&kept.events));
    let first = phones.first().unwrap();
    let state = fold_book(&kept.events);
    for phone in phones {
        assert_eq!(phone.events(), kept.events);
        assert_eq!(fold_book(&phone.events()), state);
        assert_eq!(phone.keys, first.keys);
        assert_eq!(phone.records(), first.records());
        assert_eq!(phone.store.records().unwrap(), server.records().unwrap());
        // What is left to be opened opens, and what was destroyed does not.
        for record in phone.records() {
            match phone.keys.get(&record.key) {
                Some(key) => assert!(record.open(key).is_ok()),
                None => assert!(state.destroyed_keys.contains(&record.key)),
            }
        }
    }
    assert!(first.records().iter().any(|record| record.bytes.len() > 2 * PIECE));
}

#[test]
fn six_devices_with_broken_connections_end_with_the_same_book() {
    for seed in 1..=8 {
        let folder = tempfile::tempdir().unwrap();
        let mut server = SqliteStore::open(&folder.path().join("book.db")).unwrap();
        server.make_depot().unwrap();
        let phones = history(seed, &mut server);
        all_hold_the_same(&phones, &server);
    }
}

/// Needs the address of an empty PostgreSQL schema for tests in `CALLWRIGHT_POSTGRES` (see the Makefile).
#[test]
#[ignore = "needs PostgreSQL; make test brings it"]
fn six_devices_end_with_the_same_book_on_postgresql() {
    for seed in 1..=3 {
        let mut server = on_postgres(&format!("generator_{seed}"));
        let phones = history(seed, &mut server);
        all_hold_the_same(&phones, &server);
    }
}

fn on_postgres(schema: &str) -> store::PostgresStore {
    let address = std::env::var("CALLWRIGHT_POSTGRES").unwrap();
    let mut server = store::PostgresStore::open_schema(&address, schema).unwrap();
    server.make_depot().unwrap();
    server
}

/// Two servers on one database, each asked by threads of its own: nothing is lost and nothing counted twice.
#[test]
#[ignore = "needs PostgreSQL; make test brings it"]
fn several_servers_stand_before_one_database() {
    drop(on_postgres("several"));
    let threads: Vec<_> = (1..=4_u8)
        .map(|at| {
            std::thread::spawn(move || {
                let address = std::env::var("CALLWRIGHT_POSTGRES").unwrap();
                let mut server = store::PostgresStore::open_schema(&address, "several").unwrap();
                let mut dice = Dice(at.into());
                let mut phone = Phone::new(at, &mut dice);
                for _ in 0..15 {
                    (0..3).for_each(|_| phone.write(&mut dice));
                    phone.exchange(&mut server, &mut dice, 0).unwrap();
                }
                phone
            })
        })
        .collect();
    let mut phones: Vec<Phone> = threads.into_iter().map(|thread| thread.join().unwrap()).collect();
    let mut server = on_postgres("several");
    let mut dice = Dice(99);
    phones.iter_mut().for_each(|phone| phone.exchange(&mut server, &mut dice, 0).unwrap());
    let all: usize =
        phones.iter().map(|phone| phone.events().iter().filter(|e| e.id().device() == phone.who.device).count()).sum();
    assert_eq!(server.load().unwrap().events.len(), all);
    assert_eq!(server.have().unwrap(), Have::of(&server.load().unwrap().events));
    phones.iter().for_each(|phone| assert_eq!(phone.events().len(), all));
}

/// A batch from the server cut off at every single byte: what came whole stays, and the next exchange brings the rest.
#[test]
fn an_exchange_may_break_off_at_every_byte() {
    let folder = tempfile::tempdir().unwrap();
    let mut server = SqliteStore::open(&folder.path().join("book.db")).unwrap();
    server.make_depot().unwrap();
    let mut dice = Dice(5);
    let mut writer = Phone::new(1, &mut dice);
    (0..6).for_each(|_| writer.write(&mut dice));
    writer.exchange(&mut server, &mut dice, 0).unwrap();
    let says = serde_json::to_vec(&sync::Says::default()).unwrap();
    let reader = Who { device: DeviceId::from_random([2; 16]), role: Role::Technician };
    let Answer::Bytes(whole) = answer(&mut server, &reader, "sync/1/after", &says, 1).unwrap() else { panic!() };
    let mut events_seen = 0;
    for cut in 0..=whole.len() {
        let batch = sync::Batch::read(&whole[..cut]);
        let came = batch.map(|batch| batch.events).unwrap_or_default();
        assert!(came.len() >= events_seen, "a longer piece brings no less");
        events_seen = came.len();
        let mut reading = Phone::new(2, &mut dice);
        reading.store.take_in(&came).unwrap();
        if cut % 16 == 0 || cut + 40 > whole.len() {
            reading.exchange(&mut server, &mut dice, 0).unwrap();
            assert_eq!(reading.events(), writer.events());
        }
    }
    assert_eq!(events_seen, 6);
}

/// Two programs once held the same pen: both texts of one name reach everybody, who report them.
#[test]
fn two_texts_of_one_name_reach_everybody() {
    let folder = tempfile::tempdir().unwrap();
    let mut server = SqliteStore::open(&folder.path().join("book.db")).unwrap();
    server.make_depot().unwrap();
    let mut dice = Dice(6);
    let (mut one, mut other) = (Phone::new(1, &mut dice), Phone::new(1, &mut dice));
    (0..700).for_each(|_| one.write(&mut dice));
    (0..700).for_each(|_| other.write(&mut dice));
    for _ in 0..2 {
        one.exchange(&mut server, &mut dice, 0).unwrap();
        other.exchange(&mut server, &mut dice, 0).unwrap();
    }
    assert_eq!(one.events(), other.events());
    assert_eq!(one.events(), server.load().unwrap().events);
    assert!(!fold_book(&one.events()).clashes.is_empty());
}

/// A newer device writes kinds of facts, and lines of a batch, that this server does not know: both pass, and the facts reach
/// an older phone byte for byte.
#[test]
fn what_a_newer_device_writes_passes_through() {
    let folder = tempfile::tempdir().unwrap();
    let mut server = SqliteStore::open(&folder.path().join("book.db")).unwrap();
    server.make_depot().unwrap();
    let mut dice = Dice(9);
    let newer = Who { device: DeviceId::from_random([2; 16]), role: Role::Technician };
    let text = r#"{"v":7,"id":"02020202020202020202020202020202-1","seen":{},"at":"2026-03-02T12:00:00Z","kind":"tea_drunk","shape":"new"}"#;
    let body =
        format!("callwright batch 1\nz something newer\ne {} {text}\nend all 0\n", Checksum::of(text.as_bytes()));
    answer(&mut server, &newer, "sync/1/events", body.as_bytes(), 1).unwrap();
    let refused = answer(&mut server, &newer, "sync/2/events", body.as_bytes(), 1).unwrap_err();
    assert_eq!(refused, server::Refusal::NotHere);
    let mut older = Phone::new(1, &mut dice);
    older.write(&mut dice);
    older.exchange(&mut server, &mut dice, 0).unwrap();
    let here = older.events();
    assert!(here.iter().any(|event| event.text() == text), "{here:?}");
    assert_eq!(fold_book(&here).not_understood.len(), 1);
}

/// A dump of PostgreSQL's own, restored beside it, is the same book, and goes on being one.
#[test]
#[ignore = "needs PostgreSQL; make test brings it"]
fn a_dump_of_the_database_is_the_same_book() {
    let mut server = on_postgres("dumped");
    let phones = history(4, &mut server);
    let address = std::env::var("CALLWRIGHT_POSTGRES").unwrap();
    let dump = std::process::Command::new("pg_dump").args(["--schema=dumped", &address]).output().unwrap();
    assert!(dump.status.success(), "{}", String::from_utf8_lossy(&dump.stderr));
    let text = String::from_utf8(dump.stdout).unwrap().replace("dumped", "restored");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("dump.sql");
    std::fs::write(&file, text).unwrap();
    let mut restore = std::process::Command::new("psql");
    let said = restore.args(["--quiet", "--set=ON_ERROR_STOP=1", "--file"]).arg(&file).arg(&address).output().unwrap();
    assert!(said.status.success(), "{}", String::from_utf8_lossy(&said.stderr));
    let mut again = on_postgres("restored");
    all_hold_the_same(&phones, &again);
    assert_eq!(again.have().unwrap(), server.have().unwrap());
    let mut dice = Dice(10);
    let mut phones = phones;
    phones[0].write(&mut dice);
    phones[0].exchange(&mut again, &mut dice, 0).unwrap();
    phones[1].exchange(&mut again, &mut dice, 0).unwrap();
    assert_eq!(phones[0].events(), phones[1].events());
}

/// A new phone has what is open at once, and everything later.
#[test]
fn a_new_phone_gets_what_is_open_first() {
    let folder = tempfile::tempdir().unwrap();
    let mut server = SqliteStore::open(&folder.path().join("book.db")).unwrap();
    server.make_depot().unwrap();
    let mut dice = Dice(8);
    let mut writer = Phone::new(1, &mut dice);
    let at: ZonedTime = "2026-03-02T12:00:00Z".parse().unwrap();
    let customer = CustomerId(EventId::new(writer.who.device, 1).unwrap());
    for closes in [true, false, true] {
        let open =
            JobOpened { customer, appliance: None, complaint: Complaint::default(), callback_of: None, shown: None };
        let opened = record(&mut writer.store, &mut writer.pen, &at, &[Body::shop(open)]).unwrap();
        let job = JobId(opened[0].id());
        let mut facts = vec![Body::job(job, NoteTaken { record: RecordId::from_random([4; 16]) }); 600];
        facts.extend(closes.then(|| Body::job(job, JobClosed { why: None })));
        record(&mut writer.store, &mut writer.pen, &at, &facts).unwrap();
    }
    (0..20).for_each(|_| writer.write(&mut dice));
    writer.exchange(&mut server, &mut dice, 0).unwrap();
    let mut fresh = Phone::new(2, &mut dice);
    let shop = shop();
    let holds = Holds {
        device: fresh.who.device,
        shop: &shop,
        events: &[],
        keys: &[],
        records: &[],
        relays: false,
        beyond: None,
    };
    let mut first = Exchange::first(holds);
    while let Some(question) = first.ask(&mut |bytes| dice.fill(bytes)) {
        let told = answer(&mut server, &fresh.who, &question.path, &question.body, 1).unwrap();
        let Answer::Bytes(bytes) = told else { panic!("{told:?}") };
        let came = first.heard(&bytes).unwrap();
        fresh.store.take_in(&came.events).unwrap();
        came.records.iter().for_each(|record| fresh.store.keep_record(record).unwrap());
    }
    let (some, all) = (fold_book(&fresh.events()), fold_book(&writer.events()));
    let open = |book: &Book| {
        book.jobs.values().filter(|job| job.opened.is_some() && job.closed.is_none()).cloned().collect::<Vec<Job>>()
    };
    assert_eq!(open(&some), open(&all));
    assert_eq!(some.customers, all.customers);
    assert!(fresh.events().len() < 700, "{}", fresh.events().len());
    fresh.exchange(&mut server, &mut dice, 0).unwrap();
    assert_eq!(fresh.events(), writer.events());
}

/// What an owner's phone holds comes back to a server that was restored from an older backup.
#[test]
fn an_owner_brings_back_what_a_restored_server_lost() {
    let folder = tempfile::tempdir().unwrap();
    let open = |name: &str| {
        let mut server = SqliteStore::open(&folder.path().join(name)).unwrap();
        server.make_depot().unwrap();
        server
    };
    let mut server = open("first.db");
    let mut dice = Dice(7);
    let mut phones: Vec<Phone> = (1..=2).map(|at| Phone::new(at, &mut dice)).collect();
    for phone in &mut phones {
        (0..5).for_each(|_| phone.write(&mut dice));
        phone.exchange(&mut server, &mut dice, 0).unwrap();
    }
    phones[0].exchange(&mut server, &mut dice, 0).unwrap();
    let mut restored = open("second.db");
    // A technician's phone gives back what it wrote, and may not speak for others.
    phones[0].progress = Progress::default();
    phones[0].exchange(&mut restored, &mut dice, 0).unwrap();
    assert_eq!(restored.load().unwrap().events.len(), 5);
    let other = phones[1].events();
    let other = other.iter().find(|event| event.id().device() == phones[1].who.device).unwrap();
    let mut batch = sync::BatchWriter::default();
    batch.event(other.sum(), other.text());
    let body = batch.end(false, 0).into_bytes();
    let refused = answer(&mut restored, &phones[0].who, "sync/1/events", &body, 1).unwrap_err();
    assert!(matches!(refused, server::Refusal::NotAllowed(_)), "{refused:?}");
    let owner = Who { role: Role::Owner, ..phones[0].who };
    answer(&mut restored, &owner, "sync/1/events", &body, 1).unwrap();
    assert_eq!(restored.load().unwrap().events.len(), 6);
}
