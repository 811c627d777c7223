//! The exchange of the book: what is held, what is owed, keys and records.

use super::{Answer, Refusal, data, read};
use crate::who::{Role, Who};
use serde_json::json;
use std::collections::BTreeMap;
use store::{Database, SeenLine, SqlStore};
use sync::{After, Arrived, Batch, BatchWriter, Ending, Large, MOST_BATCH, MOST_WANTED, PIECE, Says, Wanted};

/// Most bytes of a sealed record: a picture with its seal, with room.
const MOST_RECORD: u64 = 4 * 1024 * 1024;

pub(super) fn told<D: Database>(
    store: &mut SqlStore<D>,
    who: &Who,
    what: &str,
    body: &[u8],
    now: u64,
) -> Result<Answer, Refusal> {
    let note = |store: &mut SqlStore<D>, what: &str, about: String| {
        store.note_seen(&SeenLine { at: now, device: Some(who.device), what: what.to_owned(), about })
    };
    match what {
        "have" => {
            let _: Says = read(body)?;
            data(&Says { have: store.have()?, passed: BTreeMap::new() })
        }
        "events" => {
            let new = take_in(store, who, body)?;
            if new > 0 {
                note(store, "sent events", format!("{new} new"))?;
            }
            data(&Says { have: store.have()?, passed: BTreeMap::new() })
        }
        "after" => {
            let theirs: Says = read(body)?;
            let mut batch = BatchWriter::default();
            let more = store.write_after(&theirs.have, &theirs.passed, &mut batch)?;
            if !batch.is_empty() {
                note(store, "fetched events", format!("{} bytes", batch.len()))?;
            }
            Ok(Answer::Bytes(batch.end(more, 0).into_bytes()))
        }
        "first" => {
            let after: After = read(body)?;
            let mut batch = BatchWriter::default();
            let (place, more) = store.write_first(after.place, &mut batch)?;
            if after.place == 0 {
                note(store, "fetched what is open", String::new())?;
            }
            Ok(Answer::Bytes(batch.end(more, place).into_bytes()))
        }
        "keep" => {
            let batch = whole(body)?;
            if let Some(too_long) = batch.records.iter().find(|record| record.bytes.len() as u64 > MOST_RECORD) {
                return Err(Refusal::Unreadable(format!("record `{}` is too long", too_long.id)));
            }
            store.keep_things(&batch.keys, &batch.records)?;
            note(store, "sent records", format!("{} keys, {} records", batch.keys.len(), batch.records.len()))?;
            data(&json!({}))
        }
        "things" => {
            let after: After = read(body)?;
            let mut batch = BatchWriter::default();
            let (place, more) = store.write_things(after.place, &mut batch)?;
            if !batch.is_empty() {
                note(store, "fetched records", format!("listed {} to {place}", after.place + 1))?;
            }
            Ok(Answer::Bytes(batch.end(more, place).into_bytes()))
        }
        "large" => {
            let wanted: Wanted = read(body)?;
            let mut batch = BatchWriter::default();
            for id in wanted.ids.into_iter().take(MOST_WANTED) {
                if let Some(large) = store.large(id)? {
                    batch.large(&large);
                }
            }
            Ok(Answer::Bytes(batch.end(false, 0).into_bytes()))
        }
        _ => match what.strip_prefix("piece/") {
            Some(piece) => piece_of(store, who, piece, body, now),
            None => Err(Refusal::NotHere),
        },
    }
}

/// A batch that came whole: anything less means that the way here cuts things off.
fn whole(body: &[u8]) -> Result<Batch, Refusal> {
    let unreadable = |why: &str| Refusal::Unreadable(why.to_owned());
    if body.len() > MOST_BATCH {
        return Err(unreadable("the batch is too long"));
    }
    let batch = Batch::read(body).map_err(|not| Refusal::Unreadable(not.to_string()))?;
    match (batch.ending, batch.damaged.first()) {
        (Ending::Broken, _) => Err(unreadable("the batch broke off; send it again")),
        (_, Some(line)) => Err(Refusal::Unreadable(format!("line {line} of the batch is damaged; send it again"))),
        _ => Ok(batch),
    }
}

fn take_in<D: Database>(store: &mut SqlStore<D>, who: &Who, body: &[u8]) -> Result<usize, Refusal> {
    let batch = whole(body)?;
    let other = batch.events.iter().find(|event| event.id().device() != who.device);
    if let Some(event) = other.filter(|_| who.role < Role::Owner) {
        return Err(Refusal::NotAllowed(format!("event `{}` is of another device; each sends its own", event.id())));
    }
    Ok(store.receive(&batch.events)?)
}

fn piece_of<D: Database>(
    store: &mut SqlStore<D>,
    who: &Who,
    path: &str,
    body: &[u8],
    now: u64,
) -> Result<Answer, Refusal> {
    let unreadable = || Refusal::Unreadable("this is no piece of a record".to_owned());
    let words: Vec<&str> = path.split('/').collect();
    match words[..] {
        [id, start] => {
            let (id, start) = (id.parse().map_err(|_| unreadable())?, start.parse().map_err(|_| unreadable())?);
            if start > MOST_RECORD {
                return Err(unreadable());
            }
            if start == 0 {
                let what = "fetched a photo".to_owned();
                store.note_seen(&SeenLine { at: now, device: Some(who.device), what, about: format!("{id}") })?;
            }
            Ok(Answer::Bytes(store.piece_of(id, start, PIECE as u64)?))
        }
        [id, key, sum, length, start] => {
            let large = Large {
                id: id.parse().map_err(|_| unreadable())?,
                key: key.parse().map_err(|_| unreadable())?,
                sum: sum.parse().map_err(|_| unreadable())?,
                length: length.parse().map_err(|_| unreadable())?,
            };
            let start: u64 = start.parse().map_err(|_| unreadable())?;
            if large.length > MOST_RECORD || body.len() > PIECE || start + body.len() as u64 > large.length {
                return Err(unreadable());
            }
            let held = store.keep_piece(who.device, &large, start, body)?;
            data(&Arrived { held })
        }
        _ => Err(Refusal::NotHere),
    }
}
