//! The morning of 200 vans at one server on this machine's own address, and a new phone with the book of a year. The server is
//! the program itself in a process of its own, so that its memory can be read. With the address of a PostgreSQL database in
//! `CALLWRIGHT_POSTGRES` the morning is had there too (scripts/with-postgres.sh).
#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    clippy::panic,
    reason = "a benchmark prints its figures and may fail loudly"
)]

#[path = "../tests/browser/site.rs"]
#[allow(dead_code, reason = "the browser's tests need more of it")]
mod site;

use book::{
    Body, Complaint, CustomerAdded, CustomerId, DeviceId, Event, EventId, JobClosed, JobId, JobOpened, Key, KeyId,
    NoteTaken, Pen, RecordId, SealedRecord, Store as _, ZonedTime,
};
use site::Site;
use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};
use store::{Awaited, SqliteStore};
use sync::{
    BATCH_BYTES, Batch, BatchWriter, Ending, Exchange, Have, Holds, Member, Newcomer, PairingCode, Progress, Says,
    WrappedKey,
};

/// Vans, how many ask at the same moment, and what each has.
const VANS: u16 = 200;
const AT_ONCE: usize = 16;
/// Facts of thirty calls, forty a call, and facts to send.
const HISTORY: usize = 30 * 40;
const TO_SEND: usize = 500;
/// Facts of a year of ten vans: five calls a day on 230 days.
const YEAR: usize = 10 * 5 * 230 * 40;

fn device(at: u16) -> DeviceId {
    let [high, low] = at.to_be_bytes();
    DeviceId::from_random([high, low, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7, 7])
}

/// Facts as long as most are.
fn events(device: DeviceId, count: usize) -> Vec<Event> {
    let at: ZonedTime = "2026-03-02T12:00:00+01:00[Europe/Berlin]".parse().unwrap();
    let job = JobId(EventId::new(device, 1).unwrap());
    let mut pen = Pen::new(device);
    let words = |at: usize| format!("{at} {}", "ohms read ".repeat(22));
    (0..count).map(|n| pen.write(&at, &Body::job(job, JobClosed { why: Some(words(n)) })).unwrap()).collect()
}

fn serve(folder: &Path, book: &str) -> Site {
    std::fs::write(folder.join("index.html"), "<!doctype html><title>app</title>").unwrap();
    Site::serve_book(folder, "127.0.0.1:0", Some(Path::new(book)))
}

/// Most memory the server ever held, in MB.
fn memory(site: &Site) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", site.server.id())).unwrap();
    let line = status.lines().find(|line| line.starts_with("VmHWM:")).unwrap();
    line.split_whitespace().nth(1).unwrap().parse::<u64>().unwrap() / 1024
}

fn post(agent: &ureq::Agent, server: &str, path: &str, shown: &str, body: &[u8]) -> Vec<u8> {
    let mut post = agent.post(format!("{server}/{path}"));
    if !shown.is_empty() {
        post = post.header("authorization", shown);
    }
    let mut answer = post.send(body).unwrap();
    answer.body_mut().with_config().limit(8 << 20).read_to_vec().unwrap()
}

/// Lets the owner's device in.
fn let_in(server: &Site, agent: &ureq::Agent) -> (DeviceId, Member) {
    let newcomer = Newcomer::new(&server.url, &server.code, [1; 32]).unwrap();
    let question = newcomer.question(device(0), "the owner's");
    let answer = post(agent, root_of(server), &question.path, "", &question.body);
    (device(0), newcomer.heard(&answer, Key::from_random([1; 32])).unwrap())
}

fn root_of(server: &Site) -> &str {
    server.url.trim_end_matches('/')
}

/// The other vans are let in at the store: twenty strangers a minute is what the server allows one address.
fn let_vans_in(mut store: impl FnMut([u8; 16], DeviceId)) -> Vec<(DeviceId, Member)> {
    (1..=VANS)
        .map(|at| {
            let code =
                PairingCode::from_random(core::array::from_fn(|n| u8::try_from((at >> (5 * n.min(3))) & 31).unwrap()));
            store(code.locator(), device(at));
            let secret = [u8::try_from(at % 256).unwrap(); 32];
            let member = Member {
                server: String::new(),
                role: "technician".to_owned(),
                secret,
                shop: Key::from_random([1; 32]),
            };
            (device(at), member)
        })
        .collect()
}

/// Runs `work` for every van, so many at once; gives how long all took and every question's time.
fn all_vans(
    vans: &[(DeviceId, Member)],
    work: impl Fn(&ureq::Agent, &(DeviceId, Member), &mut Vec<Duration>) + Send + Sync + 'static,
) -> (Duration, Vec<Duration>) {
    let (left, times) = (Arc::new(Mutex::new(vans.to_vec())), Arc::new(Mutex::new(Vec::new())));
    let work = Arc::new(work);
    let start = Instant::now();
    let threads: Vec<_> = (0..AT_ONCE)
        .map(|_| {
            let (left, times, work) = (left.clone(), times.clone(), work.clone());
            std::thread::spawn(move || {
                let agent: ureq::Agent = ureq::Agent::config_builder().build().into();
                loop {
                    let Some(van) = left.lock().unwrap().pop() else { return };
                    let mut own = Vec::new();
                    work(&agent, &van, &mut own);
                    times.lock().unwrap().extend(own);
                }
            })
        })
        .collect();
    threads.into_iter().for_each(|thread| thread.join().unwrap());
    let mut times = Arc::try_unwrap(times).unwrap().into_inner().unwrap();
    times.sort_unstable();
    (start.elapsed(), times)
}

fn row(what: &str, (all, times): &(Duration, Vec<Duration>)) {
    let at = |part: usize| times[times.len() * part / 100].as_secs_f64() * 1e3;
    let (all, count) = (all.as_secs_f64(), times.len());
    println!(
        "{what}: {all:.1} s for all; {count} questions, half within {:.0} ms, 99 of 100 within {:.0} ms",
        at(50),
        at(99)
    );
}

fn morning(what: &str, server: &Site, vans: &[(DeviceId, Member)]) {
    let history = Have::of(&events(device(0), HISTORY));
    assert_eq!(history.of_device(device(0)).counter, HISTORY as u64);
    let address = root_of(server).to_owned();
    let fetched = all_vans(vans, move |agent, (id, member), times| {
        let mut says = Says::default();
        loop {
            let body = serde_json::to_vec(&says).unwrap();
            let start = Instant::now();
            let answer = post(agent, &address, "sync/1/after", &member.shown(*id), &body);
            times.push(start.elapsed());
            let batch = Batch::read(&answer).unwrap();
            let last = batch
                .events
                .iter()
                .filter(|event| event.id().device() == device(0))
                .map(|event| event.id().counter())
                .max();
            says.passed.insert(device(0), last.unwrap_or(0));
            if batch.ending == Ending::All {
                return;
            }
        }
    });
    row(&format!("{what}: {VANS} vans fetch {HISTORY} facts each"), &fetched);
    let address = root_of(server).to_owned();
    let sent = all_vans(vans, move |agent, (id, member), times| {
        let mut batch = BatchWriter::default();
        let send = |batch: BatchWriter, times: &mut Vec<Duration>| {
            let start = Instant::now();
            post(agent, &address, "sync/1/events", &member.shown(*id), batch.end(false, 0).as_bytes());
            times.push(start.elapsed());
        };
        for event in events(*id, TO_SEND) {
            batch.event(event.sum(), event.text());
            if batch.len() > BATCH_BYTES / 4 {
                send(std::mem::take(&mut batch), times);
            }
        }
        send(batch, times);
    });
    row(&format!("{what}: {VANS} vans send {TO_SEND} facts each"), &sent);
    println!("{what}: the server never held more than {} MB", memory(server));
}

/// Lets a van in at a store.
macro_rules! vans_of {
    ($store:expr) => {{
        let mut store = $store;
        let vans = let_vans_in(|locator, id| {
            let (role, sealed) = ("technician".to_owned(), vec![0; 73]);
            let awaited = Awaited { locator, role, sealed, until: server::now() + 60_000, by: None };
            store.await_device(&awaited, server::now()).unwrap();
            let at = u16::from_be_bytes([id.bytes()[0], id.bytes()[1]]);
            let secret = base16ct::lower::encode_string(&[u8::try_from(at % 256).unwrap(); 32]);
            let body = serde_json::json!({ "locator": base16ct::lower::encode_string(&locator), "device": id, "name": "a van", "secret": secret });
            server::pair(&mut store, body.to_string().as_bytes(), server::now()).unwrap();
        });
        store.receive(&events(device(0), HISTORY)).unwrap();
        vans
    }};
}

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("book.db");
    let server = serve(folder.path(), &book.display().to_string());
    let vans = vans_of!(SqliteStore::open(&book).unwrap());
    morning("SQLite", &server, &vans);
    drop(server);
    if let Ok(address) = std::env::var("CALLWRIGHT_POSTGRES") {
        let server = serve(folder.path(), &address);
        let vans = vans_of!(store::PostgresStore::open(&address).unwrap());
        morning("PostgreSQL", &server, &vans);
    }
    new_phone(folder.path());
    grows(folder.path());
}

/// What the store and one exchange come to as vans grow: each van with some facts, one van back after a day.
fn grows(folder: &Path) {
    println!("| vans | facts | file | what is held, as sent | asked and read | a morning's {TO_SEND} facts taken in |");
    println!("|---|---|---|---|---|---|");
    let book = folder.join("grows.db");
    let mut store = SqliteStore::open(&book).unwrap();
    store.make_depot().unwrap();
    let mut filled = 0_u16;
    for vans in [200_u16, 1_000, 10_000] {
        while filled < vans {
            filled += 1;
            store.receive(&events(device(filled), 100)).unwrap();
        }
        let have = store.have().unwrap();
        let mut mine = have.clone();
        // Of thirty vans it has not heard since yesterday.
        (1..=30).for_each(|at| mine.set(device(at * 6), sync::Held::default()));
        let says = serde_json::to_vec(&Says { have: mine.clone(), passed: Default::default() }).unwrap();
        let start = Instant::now();
        let read: Says = serde_json::from_slice(&says).unwrap();
        let mut batch = BatchWriter::default();
        store.write_after(&read.have, &read.passed, &mut batch).unwrap();
        let asked = start.elapsed().as_secs_f64() * 1e3;
        assert!(batch.len() > BATCH_BYTES / 2);
        let new = events(device(20_000 + vans / 100), TO_SEND);
        let start = Instant::now();
        store.receive(&new).unwrap();
        let taken = start.elapsed().as_secs_f64() * 1e3;
        let file = std::fs::metadata(&book).unwrap().len() / 1_000_000;
        let facts = u64::from(vans) * 100;
        println!("| {vans} | {facts} | {file} MB | {} KB | {asked:.0} ms | {taken:.0} ms |", says.len() / 1000);
    }
}

/// Customers of the ten vans, and jobs that are open, with the facts of each.
const CUSTOMERS: u32 = 5_000;
const OPEN: u32 = 50;
const OF_A_JOB: u32 = 110;

/// A name out of a number.
fn named(at: u32) -> [u8; 16] {
    let mut bytes = [9; 16];
    bytes[..4].copy_from_slice(&at.to_be_bytes());
    bytes
}

/// Facts of the shop and of open jobs, and the customers' keys and details.
fn what_is_open(store: &mut SqliteStore, shop: &Key) {
    let at: ZonedTime = "2026-03-02T12:00:00+01:00[Europe/Berlin]".parse().unwrap();
    let mut pen = Pen::new(device(11));
    let (mut keys, mut records, mut facts) = (Vec::new(), Vec::new(), Vec::new());
    for number in 0..CUSTOMERS {
        let (id, key) = (KeyId::from_random(named(number)), Key::from_random([7; 32]));
        let details = "A. Person, 1 Invented Street, Sampleton, 555 0100, by the back stairs";
        let record =
            SealedRecord::seal(RecordId::from_random(named(number)), id, &key, [1; 24], details.as_bytes()).unwrap();
        facts.push(pen.write(&at, &Body::shop(CustomerAdded { key: id, record: record.id, listed: false })).unwrap());
        keys.push(WrappedKey::wrap(shop, id, &key, [2; 24]).unwrap());
        records.push(record);
    }
    let customer = CustomerId(facts[0].id());
    for _ in 0..OPEN {
        let opened =
            JobOpened { customer, appliance: None, complaint: Complaint::default(), callback_of: None, shown: None };
        let opened = pen.write(&at, &Body::shop(opened)).unwrap();
        let job = JobId(opened.id());
        facts.push(opened);
        let note = |_| pen.write(&at, &Body::job(job, NoteTaken { record: RecordId::from_random(named(0)) })).unwrap();
        facts.extend((0..OF_A_JOB).map(note));
    }
    store.receive(&facts).unwrap();
    store.keep_things(&keys, &records).unwrap();
}

/// A new phone of a shop of ten vans after a year: what it needs to work, and then everything.
fn new_phone(folder: &Path) {
    let book = folder.join("year.db");
    let server = serve(folder, &book.display().to_string());
    let mut store = SqliteStore::open(&book).unwrap();
    let mut bytes = 0;
    for at in 1..=10 {
        for part in events(device(at), YEAR / 10).chunks(5000) {
            store.receive(part).unwrap();
            bytes += part.iter().map(|event| event.text().len()).sum::<usize>();
        }
    }
    let agent: ureq::Agent = ureq::Agent::config_builder().build().into();
    let (id, member) = let_in(&server, &agent);
    what_is_open(&mut store, &member.shop);
    let holds =
        Holds { device: id, shop: &member.shop, events: &[], keys: &[], records: &[], relays: false, beyond: None };
    let mut kept = SqliteStore::open(&folder.join("phone.db")).unwrap();
    let (came, took) = exchanged(Exchange::first(holds), &agent, &server, (id, &member), &mut kept);
    assert_eq!(came, (CUSTOMERS + OPEN * (OF_A_JOB + 1)) as usize);
    println!("a new phone: ready with {came} facts and {CUSTOMERS} customers' details after {took:.1} s");
    let (came, took) = exchanged(Exchange::new(holds, Progress::default()), &agent, &server, (id, &member), &mut kept);
    println!("a new phone: all {came} facts, {} MB, fetched and kept (SQLite) in {took:.1} s", bytes / 1_000_000);
    println!("a new phone: the server never held more than {} MB", memory(&server));
}

fn exchanged(
    mut exchange: Exchange<'_>,
    agent: &ureq::Agent,
    server: &Site,
    (id, member): (DeviceId, &Member),
    kept: &mut SqliteStore,
) -> (usize, f64) {
    let start = Instant::now();
    let mut came = 0;
    while let Some(question) = exchange.ask(&mut |bytes| bytes.fill(1)) {
        let answer = post(agent, root_of(server), &question.path, &member.shown(id), &question.body);
        let heard = exchange.heard(&answer).unwrap();
        came += heard.events.len();
        kept.take_in(&heard.events).unwrap();
        heard.keys.iter().for_each(|(id, key)| kept.keep_key(*id, key).unwrap());
        heard.records.iter().for_each(|record| kept.keep_record(record).unwrap());
    }
    (came, start.elapsed().as_secs_f64())
}
