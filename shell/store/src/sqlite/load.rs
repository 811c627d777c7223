//! Loading events: the whole ones, and a word about each damaged one.
//!
//! A changed text is caught by its checksum. A torn page makes SQLite give up a scan; then events are fetched one by
//! one by the names in the index, which lies on pages of its own, and only those on the torn page are lost.
//!
//! Refuses to mend anything.

use book::{Checksum, Damage, DeviceId, Event, EventId, Loaded, Seen, check_kept};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, ErrorCode, Row};

pub(super) fn load_after(connection: &Connection, seen: &Seen) -> rusqlite::Result<Loaded> {
    match scan(connection, seen) {
        Err(error) if is_torn(&error) => fetch_one_by_one(connection, seen),
        loaded => loaded,
    }
}

fn is_torn(error: &rusqlite::Error) -> bool {
    matches!(error.sqlite_error_code(), Some(ErrorCode::DatabaseCorrupt | ErrorCode::SystemIoFailure))
}

/// What was found so far.
#[derive(Default)]
struct Sorting {
    events: Vec<Event>,
    damaged: Vec<Damage>,
}

impl Sorting {
    fn take(&mut self, checked: Result<Event, Damage>) {
        match checked {
            Ok(event) => self.events.push(event),
            Err(damage) => self.damaged.push(damage),
        }
    }

    fn done(self) -> Loaded {
        Loaded::in_order(self.events, self.damaged)
    }
}

/// Reads the table from end to end.
fn scan(connection: &Connection, seen: &Seen) -> rusqlite::Result<Loaded> {
    let mut statement =
        connection.prepare_cached("SELECT device, counter, sum, text FROM event NOT INDEXED ORDER BY arrival")?;
    let mut rows = statement.query([])?;
    let mut sorting = Sorting::default();
    while let Some(row) = rows.next()? {
        match name(row) {
            Ok((id, _)) if seen.knows(id) => {}
            Ok((id, sum)) => sorting.take(check_kept(id, sum, text(row.get_ref(3)?))),
            Err(damage) => sorting.take(Err(damage)),
        }
    }
    Ok(sorting.done())
}

/// Reads names from the index, and each text by its place in the table.
fn fetch_one_by_one(connection: &Connection, seen: &Seen) -> rusqlite::Result<Loaded> {
    let mut names =
        connection.prepare_cached("SELECT device, counter, sum, arrival FROM event INDEXED BY event_name")?;
    let mut texts = connection.prepare_cached("SELECT text FROM event NOT INDEXED WHERE arrival = ?1")?;
    let mut rows = names.query([])?;
    let mut sorting = Sorting::default();
    loop {
        let row = match rows.next() {
            Ok(Some(row)) => row,
            Ok(None) => break,
            Err(error) => {
                let what = format!("the list of events breaks off: {error}; fetch the rest from another device");
                sorting.take(Err(Damage { id: None, what }));
                break;
            }
        };
        match name(row) {
            Ok((id, _)) if seen.knows(id) => {}
            Ok((id, sum)) => {
                let arrival: i64 = row.get(3)?;
                let fetched = texts.query_row([arrival], |row| Ok(check_kept(id, sum, text(row.get_ref(0)?))));
                let torn =
                    |error: rusqlite::Error| Err(Damage { id: Some(id), what: format!("its page is torn: {error}") });
                sorting.take(fetched.unwrap_or_else(torn));
            }
            Err(damage) => sorting.take(Err(damage)),
        }
    }
    Ok(sorting.done())
}

/// Reads the name and checksum of a row; a row without a readable name is damaged.
fn name(row: &Row<'_>) -> Result<(EventId, Checksum), Damage> {
    let read = || -> rusqlite::Result<(DeviceId, i64, Checksum)> {
        Ok((DeviceId::from_random(row.get(0)?), row.get(1)?, Checksum::from_bytes(row.get(2)?)))
    };
    let damage = |what: String| Damage { id: None, what };
    let (device, counter, sum) = read().map_err(|error| damage(error.to_string()))?;
    let id = u64::try_from(counter).ok().and_then(|counter| EventId::new(device, counter));
    id.map(|id| (id, sum)).ok_or_else(|| damage(format!("`{counter}` is not a counter")))
}

/// The bytes of a text, whatever damage made of it.
fn text(value: ValueRef<'_>) -> &[u8] {
    value.as_bytes().unwrap_or_default()
}
