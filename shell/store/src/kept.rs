//! The contract of the book kept by a database.
//!
//! INVARIANT: every change is one transaction that is synced before the call returns, so what was answered with `Ok`
//! survives a crash, and what was not leaves no half.
//!
//! Refuses to judge events: it looks only at the one kind that destroys a key.

use book::{
    DeviceId, Event, Key, KeyHeld, KeyId, Loaded, RecordId, SealedRecord, Seen, Store, StoreError, clash_within,
    key_destroyed_by,
};

use crate::random::fresh_device;
use crate::sql::{Database, Value, change};

/// The book in a database.
#[derive(Debug)]
pub struct SqlStore<D> {
    pub(crate) database: D,
}

impl<D: Database> SqlStore<D> {
    /// Returns the name under which events are written into this book.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn device(&self) -> Result<DeviceId, StoreError> {
        let rows = self.database.rows("SELECT value FROM about WHERE name = 'device'", &[])?;
        let device = rows.first().and_then(|row| row.first()?.text().parse().ok());
        device.ok_or_else(|| StoreError::Failed("the book has lost the name of this device; give it a new one".into()))
    }

    /// Gives this book a new name to write under: needed when it is a copy of one that is still written to.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn take_new_name(&mut self) -> Result<DeviceId, StoreError> {
        let device = fresh_device()?;
        let sql = "INSERT INTO about (name, value) VALUES ('device', $1)
                   ON CONFLICT (name) DO UPDATE SET value = excluded.value";
        self.database.run(sql, &[device.to_string().as_str().into()]).map(|_| device)
    }

    /// Gives a fact of this device, kept beside the book and never sent anywhere.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn fact(&self, name: &str) -> Result<Option<String>, StoreError> {
        let sql = "SELECT value FROM about WHERE name = $1";
        let rows = self.database.rows(sql, &[format!("fact-{name}").as_str().into()])?;
        Ok(rows.first().and_then(|row| row.first()).map(|value| value.text().to_owned()))
    }

    /// Keeps a fact of this device.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn note(&mut self, name: &str, value: &str) -> Result<(), StoreError> {
        let sql = "INSERT INTO about (name, value) VALUES ($1, $2)
                   ON CONFLICT (name) DO UPDATE SET value = excluded.value";
        self.database.run(sql, &[format!("fact-{name}").as_str().into(), value.into()]).map(|_| ())
    }

    /// Keeps events that were checked, and wipes what is left of a key that went with them.
    fn keep_all(&mut self, events: &[Event], check: bool) -> Result<usize, StoreError> {
        // In one order everywhere, so that two servers on one database never wait for each other in a ring.
        let mut in_order: Vec<&Event> = events.iter().collect();
        in_order.sort_unstable_by_key(|event| (event.id(), event.sum()));
        let new = change(&self.database, check, |database| {
            let mut new = 0;
            for event in in_order {
                if check && has_other_text(database, event)? {
                    return Err(StoreError::NameTaken(event.id()));
                }
                new += usize::from(keep(database, event)? != Kept::Known);
            }
            Ok(new)
        })?;
        if events.iter().any(|event| key_destroyed_by(event).is_some()) {
            self.database.wipe()?;
        }
        Ok(new)
    }
}

/// Name and checksum of an event as parameters.
fn named(event: &Event) -> [Value; 3] {
    let id = event.id();
    [id.device().bytes().into(), id.counter().into(), event.sum().bytes().into()]
}

fn has_other_text<D: Database>(database: &D, event: &Event) -> Result<bool, StoreError> {
    let sql = "SELECT 1 FROM event WHERE device = $1 AND counter = $2 AND sum <> $3 LIMIT 1";
    Ok(!database.rows(sql, &named(event))?.is_empty())
}

/// What became of an event that was to be kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kept {
    /// It was not there before.
    New,
    /// It was there and damaged.
    Mended,
    /// It was there.
    Known,
}

/// Keeps one event.
pub(crate) fn keep<D: Database>(database: &D, event: &Event) -> Result<Kept, StoreError> {
    if let Some(key) = key_destroyed_by(event) {
        let sql = "INSERT INTO key (id, secret) VALUES ($1, NULL) ON CONFLICT (id) DO UPDATE SET secret = NULL";
        database.run(sql, &[key.bytes().into()])?;
    }
    let [device, counter, sum] = named(event);
    let values = [device, counter, sum, event.text().into()];
    let sql = "INSERT INTO event (device, counter, sum, text) VALUES ($1, $2, $3, $4)
               ON CONFLICT (device, counter, sum) DO NOTHING";
    if database.run(sql, &values)? > 0 {
        return Ok(Kept::New);
    }
    let sql = "UPDATE event SET text = $4 WHERE device = $1 AND counter = $2 AND sum = $3 AND text <> $4";
    Ok(if database.run(sql, &values)? > 0 { Kept::Mended } else { Kept::Known })
}

/// Keeps a sealed record; a whole one mends a damaged one.
pub(crate) fn put_record<D: Database>(database: &D, record: &SealedRecord) -> Result<(), StoreError> {
    let sql = "INSERT INTO record (id, key, sum, bytes) VALUES ($1, $2, $3, $4)
               ON CONFLICT (id) DO UPDATE SET key = excluded.key, bytes = excluded.bytes
               WHERE record.sum = excluded.sum";
    let sum = record.sum();
    let values =
        [record.id.bytes().into(), record.key.bytes().into(), sum.bytes().into(), record.bytes.as_slice().into()];
    match database.run(sql, &values)? {
        0 => Err(StoreError::RecordTaken(record.id)),
        _ => Ok(()),
    }
}

impl<D: Database> Store for SqlStore<D> {
    fn append(&mut self, events: &[Event]) -> Result<(), StoreError> {
        match clash_within(events) {
            Some(id) => Err(StoreError::NameTaken(id)),
            None => self.keep_all(events, true).map(|_| ()),
        }
    }

    fn take_in(&mut self, events: &[Event]) -> Result<usize, StoreError> {
        self.keep_all(events, false)
    }

    fn load_after(&self, seen: &Seen) -> Result<Loaded, StoreError> {
        self.database.load_after(seen)
    }

    fn keep_record(&mut self, record: &SealedRecord) -> Result<(), StoreError> {
        change(&self.database, false, |database| put_record(database, record))
    }

    fn record(&self, id: RecordId) -> Result<Option<SealedRecord>, StoreError> {
        let rows = self.database.rows("SELECT key, sum, bytes FROM record WHERE id = $1", &[id.bytes().into()])?;
        let Some([key, sum, bytes]) = rows.into_iter().next().and_then(|row| <[Value; 3]>::try_from(row).ok()) else {
            return Ok(None);
        };
        let key = key.exactly().map(KeyId::from_random).ok_or(StoreError::RecordDamaged(id))?;
        let record = SealedRecord { id, key, bytes: bytes.bytes().to_vec() };
        if record.sum().bytes() == sum.bytes() { Ok(Some(record)) } else { Err(StoreError::RecordDamaged(id)) }
    }

    fn records(&self) -> Result<Vec<RecordId>, StoreError> {
        let rows = self.database.rows("SELECT id FROM record ORDER BY id", &[])?;
        Ok(rows.iter().filter_map(|row| row.first()?.exactly().map(RecordId::from_random)).collect())
    }

    fn keep_key(&mut self, id: KeyId, key: &Key) -> Result<(), StoreError> {
        change(&self.database, false, |database| match secret(database, id)? {
            KeyHeld::NotHere => {
                // Another program may be doing the same just now: the first one's row stays, and is looked at.
                let sql = "INSERT INTO key (id, secret) VALUES ($1, $2) ON CONFLICT (id) DO NOTHING";
                database.run(sql, &[id.bytes().into(), key.bytes().into()])?;
                held_as(secret(database, id)?, id, key)
            }
            held => held_as(held, id, key),
        })
    }

    fn key(&self, id: KeyId) -> Result<KeyHeld, StoreError> {
        secret(&self.database, id)
    }
}

fn held_as(held: KeyHeld, id: KeyId, key: &Key) -> Result<(), StoreError> {
    match held {
        KeyHeld::Held(kept) if kept == *key => Ok(()),
        KeyHeld::Held(_) | KeyHeld::NotHere => Err(StoreError::KeyTaken(id)),
        KeyHeld::Destroyed => Err(StoreError::KeyDestroyed(id)),
    }
}

fn secret<D: Database>(database: &D, id: KeyId) -> Result<KeyHeld, StoreError> {
    let rows = database.rows("SELECT secret FROM key WHERE id = $1", &[id.bytes().into()])?;
    Ok(match rows.first().and_then(|row| row.first()) {
        None => KeyHeld::NotHere,
        Some(secret) => secret.exactly().map_or(KeyHeld::Destroyed, |bytes| KeyHeld::Held(Key::from_random(bytes))),
    })
}
