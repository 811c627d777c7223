//! What a server keeps beside the book: which devices may talk to it, what they saw and changed, how far photos have come.
//!
//! The customers' keys are here only as the devices wrapped them, in the book's own table of keys, so that an event that
//! destroys one destroys it here in the same stroke. Everything is a row of the database: servers hold no state, and several
//! may stand before one. Times are milliseconds since 1970 in UTC and handed in.
//!
//! Refuses to judge who may do what.

use book::{
    Body, Checksum, DeviceId, Event, JobFact, KeyId, RecordId, SealedRecord, ShopFact, StoreError, key_destroyed_by,
};
use std::collections::{BTreeMap, BTreeSet};
use sync::{BatchWriter, Digest, Have, Held, Large, SMALL_RECORD, WrappedKey};

use crate::kept::{Kept, SqlStore, keep, put_record};
use crate::sql::{Database, Value, change};

/// `listed` is the order in which keys and records came, so that a device asks only for what came since. It rises with every
/// commit because only one server writes to it at a time.
///
/// `first` lists what a new device needs before all else: facts of the shop, and those of jobs that are not closed.
const TABLES: [&str; 9] = [
    "CREATE TABLE IF NOT EXISTS first (place COUNTED PRIMARY KEY, job TEXT NOT NULL, device BYTES NOT NULL,
        counter BIGINT NOT NULL, sum BYTES NOT NULL)",
    "CREATE INDEX IF NOT EXISTS first_job ON first (job)",
    "CREATE TABLE IF NOT EXISTS held (device BYTES PRIMARY KEY, counter BIGINT NOT NULL, digest BYTES NOT NULL)",
    "CREATE TABLE IF NOT EXISTS listed (place BIGINT PRIMARY KEY, what TEXT NOT NULL, id BYTES NOT NULL UNIQUE)",
    "CREATE TABLE IF NOT EXISTS device (id BYTES PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL, secret BYTES NOT NULL,
        paired BIGINT NOT NULL, by BYTES, revoked BIGINT)",
    "CREATE TABLE IF NOT EXISTS pairing (locator BYTES PRIMARY KEY, role TEXT NOT NULL, sealed BYTES NOT NULL,
        until BIGINT NOT NULL, by BYTES)",
    "CREATE TABLE IF NOT EXISTS seen (place COUNTED PRIMARY KEY, at BIGINT NOT NULL, device BYTES, what TEXT NOT NULL,
        about TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS piece (record BYTES NOT NULL, device BYTES NOT NULL, start BIGINT NOT NULL, bytes BYTES NOT NULL,
        PRIMARY KEY (record, device, start))",
    "CREATE INDEX IF NOT EXISTS seen_at ON seen (at)",
];

/// Rows that are read at a time.
const PAGE: usize = 256;
/// A device's columns, in the order of [`paired_of`].
const COLUMNS: &str = "id, name, role, secret, paired, by, revoked";
/// The fact by which a server's book is known.
const DEPOT: &str = "depot";

/// A device that may talk to the server, or might once.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paired {
    /// Its name in the book.
    pub id: DeviceId,
    /// What people call it.
    pub name: String,
    /// Its role, as a word.
    pub role: String,
    /// The hash of its secret.
    pub secret: [u8; 32],
    /// When it was let in.
    pub paired: u64,
    /// By whom; `None` for the first.
    pub by: Option<DeviceId>,
    /// When it was shut out.
    pub revoked: Option<u64>,
}

/// A new device that is awaited.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Awaited {
    /// What it is found by.
    pub locator: [u8; 16],
    /// The role it will have.
    pub role: String,
    /// The shop's key, sealed by the code.
    pub sealed: Vec<u8>,
    /// Until when.
    pub until: u64,
    /// Who awaits it.
    pub by: Option<DeviceId>,
}

/// A line of the audit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SeenLine {
    /// When.
    pub at: u64,
    /// Which device, if it was known.
    pub device: Option<DeviceId>,
    /// What it did.
    pub what: String,
    /// To what.
    pub about: String,
}

impl<D: Database> SqlStore<D> {
    /// Tells whether this is a server's book.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn is_depot(&self) -> Result<bool, StoreError> {
        Ok(self.fact(DEPOT)?.is_some())
    }

    /// Makes the server's own tables where they are missing.
    ///
    /// # Errors
    /// A book that a device wrote is refused: its customers' keys lie in it as they are, and a server must not have them.
    pub fn make_depot(&mut self) -> Result<(), StoreError> {
        if !self.is_depot()? {
            let written = "SELECT 1 FROM event UNION ALL SELECT 1 FROM key LIMIT 1";
            if !self.database.rows(written, &[])?.is_empty() {
                let why = "this is a device's own book, with its customers' keys in it; name a new one for the server, and \
                           pair this one with it";
                return Err(StoreError::Failed(why.to_owned()));
            }
            self.note(DEPOT, "1")?;
        }
        change(&self.database, true, |database| {
            for table in TABLES {
                let [bytes, counted] = database.words();
                database.run(&table.replace("BYTES", bytes).replace("COUNTED", counted), &[])?;
            }
            Ok(())
        })
    }

    /// Returns what is held of every device's events.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn have(&self) -> Result<Have, StoreError> {
        let mut have = Have::default();
        for row in self.database.rows("SELECT device, counter, digest FROM held", &[])? {
            let [device, counter, digest] = &row[..] else { continue };
            if let (Some(device), Some(held)) = (device.exactly(), held_of(counter, digest)) {
                have.set(DeviceId::from_random(device), held);
            }
        }
        Ok(have)
    }

    /// Takes in events and keeps what is held up to date, all in one change. Returns how many were new.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn receive(&mut self, events: &[Event]) -> Result<usize, StoreError> {
        let mut in_order: Vec<&Event> = events.iter().collect();
        in_order.sort_unstable_by_key(|event| (event.id(), event.sum()));
        let devices: BTreeSet<DeviceId> = in_order.iter().map(|event| event.id().device()).collect();
        let new = change(&self.database, false, |database| {
            // The row of each device is held from here on, so that two servers never reckon one device's events at once.
            for device in &devices {
                let sql = "INSERT INTO held (device, counter, digest) VALUES ($1, 0, $2)
                           ON CONFLICT (device) DO UPDATE SET counter = held.counter";
                database.run(sql, &[device.bytes().into(), (&[0_u8; 32]).into()])?;
            }
            let mut new: BTreeMap<DeviceId, Vec<(u64, Checksum)>> = BTreeMap::new();
            for event in in_order {
                if keep(database, event)? == Kept::New {
                    let id = event.id();
                    new.entry(id.device()).or_default().push((id.counter(), event.sum()));
                    list_first(database, event)?;
                }
            }
            for (device, names) in &new {
                count(database, *device, names)?;
            }
            Ok(new.values().map(Vec::len).sum())
        })?;
        if events.iter().any(|event| key_destroyed_by(event).is_some()) {
            self.database.wipe()?;
        }
        Ok(new)
    }

    /// Adds to a batch what a copy lacks that has `theirs`, until the batch is full; tells whether more is left. What was
    /// `passed` in this exchange, up to a counter of a device, is not sent again.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn write_after(
        &self,
        theirs: &Have,
        passed: &BTreeMap<DeviceId, u64>,
        batch: &mut BatchWriter,
    ) -> Result<bool, StoreError> {
        for (device, after) in self.have()?.owes(theirs) {
            let after = after.max(passed.get(&device).copied().unwrap_or(0));
            let mut last: (Value, Value) = (after.into(), (&[255; 32]).into());
            loop {
                let sql = format!(
                    "SELECT counter, sum, text FROM event
                           WHERE device = $1 AND (counter > $2 OR (counter = $2 AND sum > $3))
                           ORDER BY counter, sum LIMIT {PAGE}"
                );
                let rows = self.database.rows(&sql, &[device.bytes().into(), last.0.clone(), last.1.clone()])?;
                let full = rows.len() == PAGE;
                for row in rows {
                    let Ok([counter, sum, text]) = <[Value; 3]>::try_from(row) else { continue };
                    // Two texts of one name go together, or the second would be passed over when the first is known.
                    if batch.is_full() && counter != last.0 {
                        return Ok(true);
                    }
                    let checked = sum.exactly().map(Checksum::from_bytes);
                    // A damaged text is not handed on: the device whose it is still has it.
                    if let Some(sum) = checked.filter(|sum| Checksum::of(text.bytes()) == *sum) {
                        batch.event(sum, text.text());
                    }
                    last = (counter, sum);
                }
                if !full {
                    break;
                }
            }
        }
        Ok(false)
    }

    /// Adds to a batch what a new device needs before all else, after a place of that list, until the batch is full; gives the
    /// place it went to and whether more is left.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn write_first(&self, after: u64, batch: &mut BatchWriter) -> Result<(u64, bool), StoreError> {
        let mut place = after;
        loop {
            let sql = format!(
                "SELECT first.place, event.sum, event.text FROM first JOIN event ON event.device = first.device
                       AND event.counter = first.counter AND event.sum = first.sum
                       WHERE first.place > $1 ORDER BY first.place LIMIT {PAGE}"
            );
            let rows = self.database.rows(&sql, &[place.into()])?;
            for row in &rows {
                let [at, sum, text] = &row[..] else { continue };
                if batch.is_full() {
                    return Ok((place, true));
                }
                place = at.count().unwrap_or(place);
                let checked = sum.exactly().map(Checksum::from_bytes);
                if let Some(sum) = checked.filter(|sum| Checksum::of(text.bytes()) == *sum) {
                    batch.event(sum, text.text());
                }
            }
            if rows.len() < PAGE {
                return Ok((place, false));
            }
        }
    }

    /// Keeps wrapped keys and sealed records and lists them, all in one change. A destroyed key stays destroyed.
    ///
    /// # Errors
    /// [`StoreError::RecordTaken`] if a record's name is in use for other bytes; nothing is kept then.
    pub fn keep_things(&mut self, keys: &[WrappedKey], records: &[SealedRecord]) -> Result<(), StoreError> {
        change(&self.database, true, |database| {
            for key in keys {
                let sql = "INSERT INTO key (id, secret) VALUES ($1, $2) ON CONFLICT (id) DO NOTHING";
                if database.run(sql, &[key.id.bytes().into(), key.bytes.as_slice().into()])? > 0 {
                    list(database, "key", key.id.bytes())?;
                }
            }
            for record in records {
                put_record(database, record)?;
                list(database, "record", record.id.bytes())?;
            }
            Ok(())
        })
    }

    /// Adds to a batch the keys and records listed after a place, until it is full; gives the place it went to and whether
    /// more is left.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn write_things(&self, after: u64, batch: &mut BatchWriter) -> Result<(u64, bool), StoreError> {
        let mut place = after;
        loop {
            let sql = format!(
                "SELECT listed.place, listed.what, listed.id, key.secret, record.key, record.sum,
                              CASE WHEN length(record.bytes) <= $2 THEN record.bytes END
                       FROM listed LEFT JOIN key ON key.id = listed.id LEFT JOIN record ON record.id = listed.id
                       WHERE listed.place > $1 ORDER BY listed.place LIMIT {PAGE}"
            );
            let rows = self.database.rows(&sql, &[place.into(), (SMALL_RECORD as u64).into()])?;
            let full = rows.len() == PAGE;
            for row in &rows {
                if batch.is_full() {
                    return Ok((place, true));
                }
                let [at, what, id, secret, key, sum, bytes] = &row[..] else { continue };
                place = at.count().unwrap_or(place);
                let Some(id) = id.exactly() else { continue };
                match (what.text(), secret) {
                    ("key", Value::Bytes(bytes)) => {
                        batch.key(&WrappedKey { id: KeyId::from_random(id), bytes: bytes.clone() });
                    }
                    // The event that destroyed it tells of it.
                    ("key", _) => {}
                    // A large one is fetched by who needs it.
                    _ => write_record(RecordId::from_random(id), (key, sum, bytes), batch),
                }
            }
            if !full {
                return Ok((place, false));
            }
        }
    }

    /// Keeps a piece of a large record if it goes on where the last one ended; gives how many bytes there are then. The
    /// last piece makes the record, if the whole is what was announced; otherwise it begins anew.
    ///
    /// # Errors
    /// [`StoreError::RecordTaken`] if the record's name is in use for other bytes.
    pub fn keep_piece(&mut self, device: DeviceId, large: &Large, start: u64, bytes: &[u8]) -> Result<u64, StoreError> {
        let names: [Value; 2] = [large.id.bytes().into(), device.bytes().into()];
        let whole = "SELECT sum FROM record WHERE id = $1";
        if let Some(row) = self.database.rows(whole, &names[..1])?.first() {
            let same = row.first().is_some_and(|sum| sum.bytes() == large.sum.bytes());
            return if same { Ok(large.length) } else { Err(StoreError::RecordTaken(large.id)) };
        }
        let held = change(&self.database, false, |database| {
            let sql = "SELECT COALESCE(max(start + length(bytes)), 0) FROM piece WHERE record = $1 AND device = $2";
            let rows = database.rows(sql, &names)?;
            let held = rows.first().and_then(|row| row.first()?.count()).unwrap_or(0);
            if held != start || bytes.is_empty() {
                return Ok(held);
            }
            let sql = "INSERT INTO piece (record, device, start, bytes) VALUES ($1, $2, $3, $4)";
            let [record, of] = names.clone();
            database.run(sql, &[record, of, start.into(), bytes.into()])?;
            Ok(held + bytes.len() as u64)
        })?;
        if held < large.length {
            return Ok(held);
        }
        let sql = "SELECT bytes FROM piece WHERE record = $1 AND device = $2 ORDER BY start";
        let pieces = self.database.rows(sql, &names)?;
        let bytes = pieces.iter().filter_map(|row| row.first()).flat_map(Value::bytes).copied().collect();
        let record = SealedRecord { id: large.id, key: large.key, bytes };
        let right = record.sum() == large.sum;
        if right {
            self.keep_things(&[], &[record])?;
        }
        self.database.run("DELETE FROM piece WHERE record = $1 AND device = $2", &names)?;
        Ok(if right { large.length } else { 0 })
    }

    /// Tells of a record by all but its bytes; `None` if it is not here.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn large(&self, id: RecordId) -> Result<Option<Large>, StoreError> {
        let sql = "SELECT key, sum, length(bytes) FROM record WHERE id = $1";
        let told = |row: &Vec<Value>| {
            let [key, sum, length] = &row[..] else { return None };
            let (key, sum) = (KeyId::from_random(key.exactly()?), Checksum::from_bytes(sum.exactly()?));
            Some(Large { id, key, sum, length: length.count()? })
        };
        Ok(self.database.rows(sql, &[id.bytes().into()])?.first().and_then(told))
    }

    /// Gives some bytes of a record from a place on; none where it ends or is not here.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn piece_of(&self, id: RecordId, start: u64, most: u64) -> Result<Vec<u8>, StoreError> {
        let sql = "SELECT substr(bytes, $2, $3) FROM record WHERE id = $1";
        // Databases count from 1.
        let rows = self.database.rows(sql, &[id.bytes().into(), (start + 1).into(), most.into()])?;
        Ok(rows.first().and_then(|row| row.first()).map_or_else(Vec::new, |bytes| bytes.bytes().to_vec()))
    }

    /// Awaits a new device; who is no longer awaited is forgotten.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn await_device(&mut self, awaited: &Awaited, now: u64) -> Result<(), StoreError> {
        change(&self.database, false, |database| {
            database.run("DELETE FROM pairing WHERE until < $1", &[now.into()])?;
            let sql = "INSERT INTO pairing (locator, role, sealed, until, by) VALUES ($1, $2, $3, $4, $5)";
            let values = [
                (&awaited.locator).into(),
                awaited.role.as_str().into(),
                awaited.sealed.as_slice().into(),
                awaited.until.into(),
                awaited.by.into(),
            ];
            database.run(sql, &values).map(|_| ())
        })
    }

    /// Lets the awaited device in, once: gives who was awaited, or `None` for a locator that is unknown, used or late, and for
    /// the first device's once there is one.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn pair(
        &mut self,
        locator: [u8; 16],
        new: impl FnOnce(&Awaited) -> Paired,
        now: u64,
    ) -> Result<Option<(Awaited, Paired)>, StoreError> {
        change(&self.database, true, |database| {
            let sql = "SELECT role, sealed, until, by FROM pairing WHERE locator = $1 AND until >= $2";
            let rows = database.rows(sql, &[(&locator).into(), now.into()])?;
            let Some([role, sealed, until, by]) =
                rows.into_iter().next().and_then(|row| <[Value; 4]>::try_from(row).ok())
            else {
                return Ok(None);
            };
            // A code without the shop's key lets the first device in, which makes that key. A second such key must never be.
            let is_first = database.rows("SELECT 1 FROM device LIMIT 1", &[])?.is_empty();
            if sealed.bytes().is_empty() && !is_first {
                return Ok(None);
            }
            let awaited = Awaited {
                locator,
                role: role.text().to_owned(),
                sealed: sealed.bytes().to_vec(),
                until: until.count().unwrap_or(0),
                by: by.exactly().map(DeviceId::from_random),
            };
            database.run("DELETE FROM pairing WHERE locator = $1", &[(&locator).into()])?;
            let paired = new(&awaited);
            let sql = "INSERT INTO device (id, name, role, secret, paired, by) VALUES ($1, $2, $3, $4, $5, $6)
                       ON CONFLICT (id) DO UPDATE SET name = excluded.name, role = excluded.role,
                       secret = excluded.secret, paired = excluded.paired, by = excluded.by, revoked = NULL";
            let values = [
                paired.id.bytes().into(),
                paired.name.as_str().into(),
                paired.role.as_str().into(),
                (&paired.secret).into(),
                paired.paired.into(),
                paired.by.into(),
            ];
            database.run(sql, &values)?;
            Ok(Some((awaited, paired)))
        })
    }

    /// Lists every device that was ever let in, in that order.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn devices(&self) -> Result<Vec<Paired>, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM device ORDER BY paired, id");
        Ok(self.database.rows(&sql, &[])?.into_iter().filter_map(paired_of).collect())
    }

    /// Finds a device.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn paired(&self, id: DeviceId) -> Result<Option<Paired>, StoreError> {
        let sql = format!("SELECT {COLUMNS} FROM device WHERE id = $1");
        Ok(self.database.rows(&sql, &[id.bytes().into()])?.into_iter().find_map(paired_of))
    }

    /// Shuts a device out; tells whether it was in.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn revoke(&mut self, id: DeviceId, now: u64) -> Result<bool, StoreError> {
        let sql = "UPDATE device SET revoked = $2 WHERE id = $1 AND revoked IS NULL";
        Ok(self.database.run(sql, &[id.bytes().into(), now.into()])? > 0)
    }

    /// Writes a line of the audit.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn note_seen(&mut self, line: &SeenLine) -> Result<(), StoreError> {
        let sql = "INSERT INTO seen (at, device, what, about) VALUES ($1, $2, $3, $4)";
        let values = [line.at.into(), line.device.into(), line.what.as_str().into(), line.about.as_str().into()];
        self.database.run(sql, &values).map(|_| ())
    }

    /// Reads the audit, the latest first.
    ///
    /// # Errors
    /// Only if the place fails.
    pub fn seen(&self, most: u64) -> Result<Vec<SeenLine>, StoreError> {
        let sql = "SELECT at, device, what, about FROM seen ORDER BY place DESC LIMIT $1";
        let line = |row: Vec<Value>| {
            let [at, device, what, about] = <[Value; 4]>::try_from(row).ok()?;
            Some(SeenLine {
                at: at.count()?,
                device: device.exactly().map(DeviceId::from_random),
                what: what.text().to_owned(),
                about: about.text().to_owned(),
            })
        };
        Ok(self.database.rows(sql, &[most.into()])?.into_iter().filter_map(line).collect())
    }
}

fn held_of(counter: &Value, digest: &Value) -> Option<Held> {
    Some(Held { counter: counter.count()?, digest: Digest::from_bytes(digest.exactly()?) })
}

/// Counts new events among what is held of their device: second texts of known names, and all that now follow without a gap.
fn count<D: Database>(database: &D, device: DeviceId, new: &[(u64, Checksum)]) -> Result<(), StoreError> {
    let device: Value = device.bytes().into();
    let rows = database.rows("SELECT counter, digest FROM held WHERE device = $1", std::slice::from_ref(&device))?;
    let mut held = rows.first().and_then(|row| held_of(row.first()?, row.get(1)?)).unwrap_or_default();
    new.iter().filter(|(counter, _)| *counter <= held.counter).for_each(|(_, sum)| held.digest.add(*sum));
    'gap: loop {
        let sql = format!(
            "SELECT counter, sum FROM event WHERE device = $1 AND counter > $2 ORDER BY counter, sum LIMIT {PAGE}"
        );
        let rows = database.rows(&sql, &[device.clone(), held.counter.into()])?;
        let full = rows.len() == PAGE;
        for (at, row) in rows.iter().enumerate() {
            let next = row.first().and_then(Value::count);
            let sum = row.get(1).and_then(Value::exactly).map(Checksum::from_bytes);
            match (next, sum) {
                // The last name of a full page may have its second text on the next: it is read again there.
                (Some(next), Some(_)) if full && at > 0 && next == last_of(&rows) => break,
                (Some(next), Some(sum)) if next <= held.counter + 1 => {
                    held.counter = next;
                    held.digest.add(sum);
                }
                _ => break 'gap,
            }
        }
        if !full {
            break;
        }
    }
    let sql = "UPDATE held SET counter = $2, digest = $3 WHERE device = $1";
    database.run(sql, &[device, held.counter.into(), held.digest.bytes().into()]).map(|_| ())
}

/// Lists a new event among what a new device needs first; a job that is closed is no longer needed first.
fn list_first<D: Database>(database: &D, event: &Event) -> Result<(), StoreError> {
    let id = event.id();
    let job = match event.body() {
        Body::Shop(ShopFact::JobOpened(_)) => id.to_string(),
        body => body.scope().job.map_or_else(String::new, |job| job.to_string()),
    };
    if let Body::Job { fact: JobFact::JobClosed(_), .. } = event.body() {
        return database.run("DELETE FROM first WHERE job = $1", &[job.as_str().into()]).map(|_| ());
    }
    let sql = "INSERT INTO first (job, device, counter, sum) VALUES ($1, $2, $3, $4)";
    let values = [job.as_str().into(), id.device().bytes().into(), id.counter().into(), event.sum().bytes().into()];
    database.run(sql, &values).map(|_| ())
}

/// The counter in the last row.
fn last_of(rows: &[Vec<Value>]) -> u64 {
    rows.last().and_then(|row| row.first()?.count()).unwrap_or(0)
}

/// Lists a key or record at the end. Only within a change that is alone.
fn list<D: Database>(database: &D, what: &str, id: &[u8; 16]) -> Result<(), StoreError> {
    let rows = database.rows("SELECT COALESCE(max(place), 0) FROM listed", &[])?;
    let last = rows.first().and_then(|row| row.first()?.count()).unwrap_or(0);
    let sql = "INSERT INTO listed (place, what, id) VALUES ($1, $2, $3) ON CONFLICT (id) DO NOTHING";
    database.run(sql, &[(last + 1).into(), what.into(), id.into()]).map(|_| ())
}

/// Adds a small record that is whole.
fn write_record(id: RecordId, (key, sum, bytes): (&Value, &Value, &Value), batch: &mut BatchWriter) {
    let (Some(key), Some(sum)) = (key.exactly().map(KeyId::from_random), sum.exactly().map(Checksum::from_bytes))
    else {
        return;
    };
    let Value::Bytes(bytes) = bytes else { return };
    let record = SealedRecord { id, key, bytes: bytes.clone() };
    if record.sum() == sum {
        batch.record(&record);
    }
}

fn paired_of(row: Vec<Value>) -> Option<Paired> {
    let [id, name, role, secret, paired, by, revoked] = <[Value; 7]>::try_from(row).ok()?;
    Some(Paired {
        id: DeviceId::from_random(id.exactly()?),
        name: name.text().to_owned(),
        role: role.text().to_owned(),
        secret: secret.exactly()?,
        paired: paired.count()?,
        by: by.exactly().map(DeviceId::from_random),
        revoked: revoked.count(),
    })
}
