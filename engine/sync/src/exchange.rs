//! The device's side of an exchange with the server, one question at a time: events out, events in, then keys and records.
//!
//! The shell sends each [`Question`], hands the answer back, and makes durable what came before it asks on. An exchange that
//! breaks off anywhere is simply begun again: what arrived stays, what is asked anew is passed over. Events go first,
//! because they are what a shop lives by; photos go last.
//!
//! Refuses to know networks, clocks and stores.

use crate::batch::{Batch, BatchWriter, Ending, Large, MOST_RECORD, NotABatch, SMALL_RECORD};
use crate::filed::Filed;
use crate::have::{Have, Holding};
use crate::wrapped::WrappedKey;
use book::{DeviceId, Event, Key, KeyId, RecordId, SealedRecord, key_destroyed_by};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// Most bytes of a large record in one piece: what a bad connection gets through before it breaks.
pub const PIECE: usize = 64 * 1024;
/// Most large records asked for in one exchange; the next one goes on.
pub const MOST_WANTED: usize = 500;
/// How often a question is asked again that brought nothing new.
const PATIENCE: u32 = 3;

/// A question to the server: a path below its address, always posted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// Such as `sync/1/have`.
    pub path: String,
    /// What is sent.
    pub body: Vec<u8>,
}

/// What came with an answer, to be made durable before the next question.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Came {
    /// Events of other devices.
    pub events: Vec<Event>,
    /// Keys of customers.
    pub keys: Vec<(KeyId, Key)>,
    /// Sealed records.
    pub records: Vec<SealedRecord>,
}

/// How far device and server are with each other, to be kept on the device from one exchange to the next. Losing it costs
/// only time.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Progress {
    /// All records and keys that own events up to this counter speak of are on the server.
    pub sent: u64,
    /// Place in the server's list of keys and records up to which everything came.
    pub place: u64,
}

/// Why an exchange cannot go on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// The answer is of another version.
    NotABatch,
    /// The answer cannot be read.
    Unreadable,
    /// The same question brought nothing several times.
    Nothing,
}

impl core::fmt::Display for Trouble {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotABatch => NotABatch.fmt(f),
            Self::Unreadable => f.write_str("the server's answer cannot be read; is this the shop's server?"),
            Self::Nothing => f.write_str("the connection breaks off each time; nothing is lost, try again later"),
        }
    }
}

impl core::error::Error for Trouble {}

/// What one side says it holds.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Says {
    /// Its events.
    pub have: Have,
    /// Up to which counter of a device everything already came in this exchange, known or not: that is not sent again.
    #[serde(default)]
    pub passed: BTreeMap<DeviceId, u64>,
}

/// How much of a large record has arrived.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct Arrived {
    /// Bytes.
    pub held: u64,
}

/// Where to go on in the server's list.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
pub struct After {
    /// The place.
    pub place: u64,
}

/// Large records that are asked for.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Wanted {
    /// Their names.
    pub ids: Vec<RecordId>,
}

/// What the device holds at the beginning.
#[derive(Clone, Copy, Debug)]
pub struct Holds<'a> {
    /// The device's own name.
    pub device: DeviceId,
    /// The shop's key.
    pub shop: &'a Key,
    /// Its events.
    pub events: &'a [Event],
    /// Its customers' keys.
    pub keys: &'a [(KeyId, Key)],
    /// Its sealed records.
    pub records: &'a [SealedRecord],
    /// Whether what other devices wrote is sent too: only after the server was restored from an older backup.
    pub relays: bool,
    /// What is kept beyond that, where not everything was loaded.
    pub beyond: Option<Beyond<'a>>,
}

/// What a small device keeps and has not loaded.
#[derive(Clone, Copy, Debug)]
pub struct Beyond<'a> {
    /// Events that are filed away.
    pub filed: &'a Filed,
    /// Records that are here, loaded or not.
    pub records: &'a BTreeSet<RecordId>,
    /// Up to which own counter the records that events speak of were loaded: further ones are sent with the next exchange.
    pub until: u64,
}

impl Holds<'_> {
    fn until(&self) -> u64 {
        self.beyond.map_or(u64::MAX, |beyond| beyond.until)
    }
}

#[derive(Debug, PartialEq, Eq)]
enum Phase {
    First,
    Greet,
    Push,
    Pull,
    PushThings,
    PushLarge,
    PullThings,
    AskLarge,
    PullLarge,
    Done,
}

/// An exchange that is going on.
#[derive(Debug)]
pub struct Exchange<'a> {
    holds: Holds<'a>,
    phase: Phase,
    holding: Holding,
    /// Events the server lacks, by name, so that a batch that breaks off leaves no gap.
    lacked: VecDeque<&'a Event>,
    /// What came in during this exchange, up to a counter of each device.
    passed: BTreeMap<DeviceId, u64>,
    progress: Progress,
    /// Own events, by counter, with the things they speak of that were not sent yet.
    owing: VecDeque<(u64, Thing<'a>)>,
    /// How many of them the question on its way carries.
    on_the_way: usize,
    /// The exchange ends once this device can work: everything else follows with the next one.
    only_first: bool,
    place_of_first: u64,
    sent_of_large: u64,
    /// Large records that are wanted here, and those of them that the server has.
    lacking: Vec<RecordId>,
    arrived: BTreeSet<RecordId>,
    /// Keys that an event held here destroyed: they are not taken in again.
    destroyed: BTreeSet<KeyId>,
    wanted: VecDeque<Large>,
    pieces: Vec<u8>,
    nothing: u32,
    needs_all: bool,
}

#[derive(Clone, Copy, Debug)]
enum Thing<'a> {
    Key(&'a (KeyId, Key)),
    Record(&'a SealedRecord),
}

impl<'a> Exchange<'a> {
    /// Begins an exchange.
    #[must_use]
    pub fn new(holds: Holds<'a>, progress: Progress) -> Self {
        let filed = holds.beyond.map(|beyond| beyond.filed.clone()).unwrap_or_default();
        Self {
            owing: things_owed(&holds, progress.sent),
            holds,
            phase: Phase::Greet,
            holding: Holding::of(filed, holds.events),
            lacked: VecDeque::new(),
            passed: BTreeMap::new(),
            progress,
            on_the_way: 0,
            only_first: false,
            place_of_first: 0,
            sent_of_large: 0,
            lacking: Vec::new(),
            arrived: BTreeSet::new(),
            destroyed: holds.events.iter().filter_map(key_destroyed_by).collect(),
            wanted: VecDeque::new(),
            pieces: Vec::new(),
            nothing: 0,
            needs_all: false,
        }
    }

    /// Begins the exchange of a new device, which brings what it needs to work and no more: facts of the shop and of jobs that
    /// are not closed, with keys and small records. All the rest comes with the next exchange.
    #[must_use]
    pub fn first(holds: Holds<'a>) -> Self {
        Self { phase: Phase::First, only_first: true, ..Self::new(holds, Progress::default()) }
    }

    /// How far device and server are now, to be kept once what came is.
    #[must_use]
    pub const fn progress(&self) -> Progress {
        self.progress
    }

    /// The server lacks events that are filed away here, or holds another text under one of their names: this exchange is broken
    /// off and begun anew with everything loaded.
    #[must_use]
    pub const fn needs_all(&self) -> bool {
        self.needs_all
    }

    /// Everything else has been exchanged: this is the moment to say with [`Self::want`] which large records are needed here.
    #[must_use]
    pub fn is_at_large(&self) -> bool {
        self.phase == Phase::AskLarge && self.lacking.is_empty()
    }

    /// Asks for records by name, [`MOST_WANTED`] at most at once; those that are here already are passed over.
    pub fn want(&mut self, ids: impl IntoIterator<Item = RecordId>) {
        let loaded: BTreeSet<RecordId> =
            self.holds.records.iter().map(|record| record.id).chain(self.arrived.iter().copied()).collect();
        let kept = |id: &RecordId| self.holds.beyond.is_some_and(|beyond| beyond.records.contains(id));
        self.lacking = ids.into_iter().filter(|id| !loaded.contains(id) && !kept(id)).take(MOST_WANTED).collect();
    }

    /// Gives the next question; `None` when both hold the same. The randomness makes nonces.
    pub fn ask(&mut self, random: &mut dyn FnMut(&mut [u8])) -> Option<Question> {
        loop {
            match self.phase {
                Phase::First => return Some(question("first", &After { place: self.place_of_first })),
                Phase::Greet => return Some(question("have", &self.says())),
                Phase::Push => match self.events_batch() {
                    Some(body) => return Some(Question { path: path("events"), body: body.into_bytes() }),
                    None => self.phase = Phase::Pull,
                },
                Phase::Pull => return Some(question("after", &self.says())),
                Phase::PushThings => match self.things_batch(random) {
                    Some(body) => return Some(Question { path: path("keep"), body: body.into_bytes() }),
                    None => self.phase = Phase::PushLarge,
                },
                Phase::PushLarge => match self.owing.front() {
                    Some((_, Thing::Record(record))) if record.bytes.len() > SMALL_RECORD => {
                        return Some(piece_of(record, self.sent_of_large));
                    }
                    Some(_) => self.phase = Phase::PushThings,
                    None => {
                        self.sent_up_to(None);
                        self.phase = Phase::PullThings;
                    }
                },
                Phase::PullThings => return Some(question("things", &After { place: self.progress.place })),
                Phase::AskLarge if self.lacking.is_empty() => self.phase = Phase::Done,
                Phase::AskLarge => return Some(question("large", &Wanted { ids: self.lacking.clone() })),
                Phase::PullLarge => match self.wanted.front() {
                    Some(large) => {
                        let path = path(&format!("piece/{}/{}", large.id, self.pieces.len()));
                        return Some(Question { path, body: Vec::new() });
                    }
                    None => self.phase = Phase::Done,
                },
                Phase::Done => return None,
            }
        }
    }

    /// Hears an answer, as far as it came; gives what is to be made durable before the next question.
    ///
    /// # Errors
    /// [`Trouble`]; the exchange is over then, and what came is kept all the same.
    pub fn heard(&mut self, answer: &[u8]) -> Result<Came, Trouble> {
        match self.phase {
            Phase::First => self.pulled_first(answer),
            Phase::Greet => {
                let theirs: Says = serde_json::from_slice(answer).map_err(|_| Trouble::Unreadable)?;
                self.needs_all = self.reaches_filed(&theirs.have);
                self.lacked = self.lacked_by(&theirs.have);
                self.phase = Phase::Push;
                Ok(Came::default())
            }
            Phase::Push => Ok(Came::default()),
            Phase::Pull => self.pulled(answer),
            Phase::PushThings => {
                let sent = self.owing.drain(..self.on_the_way).next_back();
                self.sent_up_to(sent.map(|(counter, _)| counter));
                Ok(Came::default())
            }
            Phase::PushLarge => {
                let arrived: Arrived = serde_json::from_slice(answer).map_err(|_| Trouble::Unreadable)?;
                self.moved(arrived.held != self.sent_of_large)?;
                self.sent_of_large = arrived.held;
                let length = self.owing.front().map_or(0, |(_, thing)| thing.length());
                if arrived.held >= length {
                    let sent = self.owing.pop_front();
                    self.sent_of_large = 0;
                    self.sent_up_to(sent.map(|(counter, _)| counter));
                }
                Ok(Came::default())
            }
            Phase::PullThings => self.pulled_things(answer),
            Phase::AskLarge => {
                let batch = Batch::read(answer).map_err(|NotABatch| Trouble::NotABatch)?;
                self.moved(batch.ending != Ending::Broken)?;
                self.wanted = batch.large.into_iter().filter(|large| large.length <= MOST_RECORD).collect();
                self.lacking.clear();
                self.phase = Phase::PullLarge;
                Ok(Came::default())
            }
            Phase::PullLarge => self.pulled_piece(answer),
            Phase::Done => Ok(Came::default()),
        }
    }

    fn says(&self) -> Says {
        Says { have: self.holding.have().clone(), passed: self.passed.clone() }
    }

    fn moved(&mut self, on: bool) -> Result<(), Trouble> {
        self.nothing = if on { 0 } else { self.nothing + 1 };
        if self.nothing < PATIENCE { Ok(()) } else { Err(Trouble::Nothing) }
    }

    /// Everything before the first thing that is still owed has been sent.
    fn sent_up_to(&mut self, last: Option<u64>) {
        // Others' counters say nothing of one's own: what is relayed counts only once all of it is there.
        if self.holds.relays && !self.owing.is_empty() {
            return;
        }
        let next = self.owing.front().map(|(counter, _)| counter.saturating_sub(1));
        let last = last.filter(|_| !self.holds.relays);
        let sent = next.or_else(|| last.max(self.own_counter())).map(|sent| sent.min(self.holds.until()));
        self.progress.sent = self.progress.sent.max(sent.unwrap_or(0));
    }

    fn own_counter(&self) -> Option<u64> {
        Some(self.holding.have().of_device(self.holds.device).counter)
    }

    /// Whether something that is filed away is owed, or two texts of one name are suspected of it.
    fn reaches_filed(&self, theirs: &Have) -> bool {
        let Some(beyond) = self.holds.beyond else { return false };
        let have = self.holding.have();
        have.owes(theirs).into_iter().any(|(device, after)| {
            let ours = device == self.holds.device || self.holds.relays;
            let differs = have.of_device(device).counter == theirs.of_device(device).counter;
            (ours || differs) && beyond.filed.has_after(device, after)
        })
    }

    /// The events that the server lacks: one's own, and others' where they are relayed.
    fn lacked_by(&self, theirs: &Have) -> VecDeque<&'a Event> {
        let owed = self.holding.have().owes(theirs);
        let counts = |event: &&Event| {
            let device = event.id().device();
            let ours = device == self.holds.device || self.holds.relays;
            ours && owed.get(&device).is_some_and(|after| event.id().counter() > *after)
        };
        let mut events: Vec<&'a Event> = self.holds.events.iter().filter(counts).collect();
        events.sort_unstable_by_key(|event| (event.id(), event.sum()));
        events.into()
    }

    /// The next batch of events that the server lacks.
    fn events_batch(&mut self) -> Option<String> {
        let mut batch = BatchWriter::default();
        while let Some(event) = self.lacked.pop_front_if(|_| !batch.is_full()) {
            batch.event(event.sum(), event.text());
        }
        (!batch.is_empty()).then(|| batch.end(!self.lacked.is_empty(), 0))
    }

    /// Those of some events that were not here.
    fn new_of(&mut self, events: Vec<Event>) -> Vec<Event> {
        self.destroyed.extend(events.iter().filter_map(key_destroyed_by));
        events.into_iter().filter(|event| self.holding.take(event.id(), event.sum())).collect()
    }

    fn pulled_first(&mut self, answer: &[u8]) -> Result<Came, Trouble> {
        let batch = Batch::read(answer).map_err(|NotABatch| Trouble::NotABatch)?;
        self.moved(batch.ending != Ending::Broken)?;
        let events = self.new_of(batch.events);
        self.place_of_first = self.place_of_first.max(batch.place);
        if batch.ending == Ending::All {
            self.phase = Phase::PullThings;
        }
        Ok(Came { events, ..Came::default() })
    }

    fn pulled(&mut self, answer: &[u8]) -> Result<Came, Trouble> {
        let batch = Batch::read(answer).map_err(|NotABatch| Trouble::NotABatch)?;
        for event in &batch.events {
            let passed = self.passed.entry(event.id().device()).or_default();
            *passed = event.id().counter().max(*passed);
        }
        let came = !batch.events.is_empty();
        let events = self.new_of(batch.events);
        if batch.ending == Ending::All {
            self.nothing = 0;
            self.phase = Phase::PushThings;
        } else {
            self.moved(came)?;
        }
        Ok(Came { events, ..Came::default() })
    }

    /// The next keys and small records, in the order of the events that speak of them.
    fn things_batch(&mut self, random: &mut dyn FnMut(&mut [u8])) -> Option<String> {
        let mut batch = BatchWriter::default();
        let small = |thing: &Thing<'_>| thing.length() <= SMALL_RECORD as u64;
        self.on_the_way = 0;
        for (_, thing) in self.owing.iter().take_while(|(_, thing)| small(thing)) {
            if batch.is_full() {
                break;
            }
            match thing {
                Thing::Key((id, key)) => {
                    let mut nonce = [0; 24];
                    random(&mut nonce);
                    batch.key(&WrappedKey::wrap(self.holds.shop, *id, key, nonce)?);
                }
                Thing::Record(record) => batch.record(record),
            }
            self.on_the_way += 1;
        }
        (self.on_the_way > 0).then(|| batch.end(false, 0))
    }

    fn pulled_things(&mut self, answer: &[u8]) -> Result<Came, Trouble> {
        let batch = Batch::read(answer).map_err(|NotABatch| Trouble::NotABatch)?;
        let known: BTreeSet<KeyId> = self.holds.keys.iter().map(|(id, _)| *id).collect();
        let keys: Vec<(KeyId, Key)> = batch
            .keys
            .iter()
            .filter(|wrapped| !known.contains(&wrapped.id) && !self.destroyed.contains(&wrapped.id))
            .filter_map(|wrapped| Some((wrapped.id, wrapped.open(self.holds.shop)?)))
            .collect();
        self.arrived.extend(batch.records.iter().map(|record| record.id));
        match batch.ending {
            Ending::Broken => self.moved(false)?,
            ending => {
                self.nothing = 0;
                self.progress.place = self.progress.place.max(batch.place);
                if ending == Ending::All {
                    self.phase = if self.only_first { Phase::Done } else { Phase::AskLarge };
                }
            }
        }
        Ok(Came { keys, records: batch.records, events: Vec::new() })
    }

    fn pulled_piece(&mut self, answer: &[u8]) -> Result<Came, Trouble> {
        let Some(large) = self.wanted.front().copied() else { return Ok(Came::default()) };
        self.moved(!answer.is_empty())?;
        self.pieces.extend_from_slice(answer);
        if (self.pieces.len() as u64) < large.length {
            return Ok(Came::default());
        }
        self.wanted.pop_front();
        let record = SealedRecord { id: large.id, key: large.key, bytes: core::mem::take(&mut self.pieces) };
        // What arrived otherwise than it was announced is not kept; it is offered again at the next exchange.
        let records = if record.sum() == large.sum { vec![record] } else { Vec::new() };
        self.arrived.extend(records.iter().map(|record: &SealedRecord| record.id));
        Ok(Came { records, ..Came::default() })
    }
}

impl Thing<'_> {
    const fn length(&self) -> u64 {
        match self {
            Self::Key(_) => 0,
            Self::Record(record) => record.bytes.len() as u64,
        }
    }
}

fn path(of: &str) -> String {
    format!("sync/1/{of}")
}

fn question(of: &str, body: &impl Serialize) -> Question {
    // Maps of names and numbers always have a text.
    Question { path: path(of), body: serde_json::to_vec(body).unwrap_or_default() }
}

/// The piece of a large record from `offset` on.
fn piece_of(record: &SealedRecord, offset: u64) -> Question {
    let at = usize::try_from(offset).unwrap_or(usize::MAX).min(record.bytes.len());
    let piece = record.bytes.iter().skip(at).take(PIECE).copied().collect();
    let (id, key, sum, total) = (record.id, record.key, record.sum(), record.bytes.len());
    Question { path: path(&format!("piece/{id}/{key}/{sum}/{total}/{at}")), body: piece }
}

/// The keys and records that own events after `sent` speak of, in the order of those events, each once.
///
/// A name is found in an event's text by its form, so that kinds of events this version does not know are served too.
fn things_owed<'a>(holds: &Holds<'a>, sent: u64) -> VecDeque<(u64, Thing<'a>)> {
    let records: BTreeMap<String, &SealedRecord> =
        holds.records.iter().map(|record| (record.id.to_string(), record)).collect();
    let keys: BTreeMap<String, &(KeyId, Key)> = holds.keys.iter().map(|key| (key.0.to_string(), key)).collect();
    let due = sent + 1..=holds.until();
    let ours =
        |event: &&Event| holds.relays || event.id().device() == holds.device && due.contains(&event.id().counter());
    let mut events: Vec<&Event> = holds.events.iter().filter(ours).collect();
    events.sort_unstable_by_key(|event| event.id());
    let (mut seen, mut owing) = (BTreeSet::new(), VecDeque::new());
    for event in events {
        let mut owe = |name: String, thing: Thing<'a>| {
            if seen.insert(name) {
                owing.push_back((event.id().counter(), thing));
            }
        };
        for name in names_in(event.text()) {
            if let Some(record) = records.get(name).copied() {
                // A record's key goes before it.
                let key = record.key.to_string();
                keys.get(&key).into_iter().for_each(|held| owe(key.clone(), Thing::Key(held)));
                owe(name.to_owned(), Thing::Record(record));
            } else if let Some(key) = keys.get(name).copied() {
                owe(name.to_owned(), Thing::Key(key));
            }
        }
    }
    owing
}

/// The names of records and keys that events speak of, whatever their kind, each once.
pub fn names_of<'a>(events: impl IntoIterator<Item = &'a Event>) -> BTreeSet<RecordId> {
    events.into_iter().flat_map(|event| names_in(event.text())).filter_map(|name| name.parse().ok()).collect()
}

/// Everything in a text that stands between quotes and has the form of a name: 32 hexadecimal digits.
fn names_in(text: &str) -> impl Iterator<Item = &str> {
    text.split('"').filter(|word| word.len() == 32 && word.bytes().all(|byte| byte.is_ascii_hexdigit()))
}
