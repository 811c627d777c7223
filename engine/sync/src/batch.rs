//! A batch on its way: lines that each carry their own proof, so that it may break off at any byte.
//!
//! The first line says what it is. Then come lines of one letter, a space, and what it announces: `e` checksum and text of an
//! event, `k` a wrapped key, `r` a small sealed record, `p` a large one that can be fetched.
//! The last is `end all` or `end more` with the place in the server's list up to which it went. What came whole before a break
//! is good; a line this version does not know is passed over and counted. Refuses to know where a batch goes.

use crate::wrapped::WrappedKey;
use book::{Checksum, Event, KeyId, RecordId, SealedRecord};

const HEAD: &str = "callwright batch 1";
/// About how many bytes one batch holds.
pub const BATCH_BYTES: usize = 256 * 1024;
/// Most bytes that a batch may have: the longest event or small record fits beside what was in it.
pub const MOST_BATCH: usize = 2 * 1024 * 1024;
/// Most bytes of a sealed record at all: a picture with its seal, with room.
pub const MOST_RECORD: u64 = 4 * 1024 * 1024;
/// Most bytes of a sealed record that travels in a batch; a larger one goes piece by piece.
pub const SMALL_RECORD: usize = 8 * 1024;

/// A batch as it is written.
#[derive(Clone, Debug)]
pub struct BatchWriter {
    text: String,
}

impl Default for BatchWriter {
    fn default() -> Self {
        Self { text: format!("{HEAD}\n") }
    }
}

impl BatchWriter {
    /// Adds an event by its checksum and text.
    pub fn event(&mut self, sum: Checksum, text: &str) {
        self.text.push_str(&format!("e {sum} {text}\n"));
    }

    /// Adds a wrapped key.
    pub fn key(&mut self, key: &WrappedKey) {
        self.text.push_str(&format!("k {} {}\n", key.id, base16ct::lower::encode_string(&key.bytes)));
    }

    /// Adds a small sealed record.
    pub fn record(&mut self, record: &SealedRecord) {
        let bytes = base16ct::lower::encode_string(&record.bytes);
        self.text.push_str(&format!("r {} {} {} {bytes}\n", record.id, record.key, record.sum()));
    }

    /// Adds the word that a large sealed record can be fetched.
    pub fn large(&mut self, large: &Large) {
        self.text.push_str(&format!("p {} {} {} {}\n", large.id, large.key, large.sum, large.length));
    }

    /// How many bytes are in it.
    #[must_use]
    pub const fn len(&self) -> usize {
        self.text.len()
    }

    /// Tells whether nothing was added yet.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.text.len() == HEAD.len() + 1
    }

    /// Tells whether it holds as much as a batch should.
    #[must_use]
    pub const fn is_full(&self) -> bool {
        self.text.len() >= BATCH_BYTES
    }

    /// Ends it; `more` where another follows. `place` is where the next one goes on in the server's list; 0 where there is none.
    #[must_use]
    pub fn end(mut self, more: bool, place: u64) -> String {
        self.text.push_str(&format!("end {} {place}\n", if more { "more" } else { "all" }));
        self.text
    }
}

/// A large sealed record, by all but its bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Large {
    /// Its name.
    pub id: RecordId,
    /// The name of its key.
    pub key: KeyId,
    /// Its checksum.
    pub sum: Checksum,
    /// How many bytes.
    pub length: u64,
}

/// How a batch ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Whole, and nothing is left to be sent.
    All,
    /// Whole, and another follows.
    More,
    /// Broken off.
    Broken,
}

/// What came in a batch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Batch {
    /// Whole events.
    pub events: Vec<Event>,
    /// Whole wrapped keys.
    pub keys: Vec<WrappedKey>,
    /// Whole sealed records.
    pub records: Vec<SealedRecord>,
    /// Large records that can be fetched.
    pub large: Vec<Large>,
    /// Where the next one goes on in the server's list.
    pub place: u64,
    /// How it ended.
    pub ending: Ending,
    /// Lines that are damaged, by number from 1.
    pub damaged: Vec<usize>,
    /// Lines that a newer version wrote.
    pub unknown: usize,
}

/// Why something is no batch.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NotABatch;

impl core::fmt::Display for NotABatch {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("this is no batch of version 1; the other side may be newer, so update this one")
    }
}

impl core::error::Error for NotABatch {}

impl Batch {
    /// Reads what came, as far as it came.
    ///
    /// # Errors
    /// Only if its first line came and is another.
    pub fn read(bytes: &[u8]) -> Result<Self, NotABatch> {
        let mut batch = Self {
            events: Vec::new(),
            keys: Vec::new(),
            records: Vec::new(),
            large: Vec::new(),
            place: 0,
            ending: Ending::Broken,
            damaged: Vec::new(),
            unknown: 0,
        };
        // The last piece has no line feed after it: it is empty or broken.
        let mut lines: Vec<&[u8]> = bytes.split(|byte| *byte == b'\n').collect();
        lines.pop();
        for (at, line) in lines.iter().enumerate() {
            let line = core::str::from_utf8(line).unwrap_or_default();
            if at == 0 {
                if line != HEAD {
                    return Err(NotABatch);
                }
            } else if batch.line(line).is_none() {
                batch.damaged.push(at + 1);
            }
            if batch.ending != Ending::Broken {
                break;
            }
        }
        Ok(batch)
    }

    fn line(&mut self, line: &str) -> Option<()> {
        let (letter, rest) = line.split_once(' ')?;
        match letter {
            "e" => self.events.push(event(rest)?),
            "k" => self.keys.push(key(rest)?),
            "r" => self.records.push(record(rest)?),
            "p" => self.large.push(large(rest)?),
            "end" => {
                let (word, place) = rest.split_once(' ')?;
                self.place = place.parse().ok()?;
                self.ending = if word == "all" { Ending::All } else { Ending::More };
            }
            _ => self.unknown += 1,
        }
        Some(())
    }
}

fn event(rest: &str) -> Option<Event> {
    let (sum, text) = rest.split_once(' ')?;
    let sum: Checksum = sum.parse().ok()?;
    (Checksum::of(text.as_bytes()) == sum).then(|| Event::read(text).ok())?
}

fn key(rest: &str) -> Option<WrappedKey> {
    let (id, bytes) = rest.split_once(' ')?;
    Some(WrappedKey { id: id.parse::<KeyId>().ok()?, bytes: base16ct::lower::decode_vec(bytes).ok()? })
}

fn large(rest: &str) -> Option<Large> {
    let mut words = rest.split(' ');
    Some(Large {
        id: words.next()?.parse().ok()?,
        key: words.next()?.parse().ok()?,
        sum: words.next()?.parse().ok()?,
        length: words.next()?.parse().ok()?,
    })
}

fn record(rest: &str) -> Option<SealedRecord> {
    let mut words = rest.splitn(4, ' ');
    let (id, key, sum, bytes) = (words.next()?, words.next()?, words.next()?, words.next()?);
    let record = SealedRecord {
        id: id.parse::<RecordId>().ok()?,
        key: key.parse().ok()?,
        bytes: base16ct::lower::decode_vec(bytes).ok()?,
    };
    (record.sum().to_string() == sum).then_some(record)
}
