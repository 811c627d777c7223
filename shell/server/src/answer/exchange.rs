//! The exchange of the book: what is held, what is owed, keys and records.

use super::{Answer, Asked, Refusal, data, read};
use crate::who::Role;
use serde_json::json;
use std::collections::BTreeMap;
use store::Database;
use sync::{
    After, Arrived, Batch, BatchWriter, Ending, Large, MOST_BATCH, MOST_RECORD, MOST_WANTED, PIECE, Says, Wanted,
};

pub(super) fn told<D: Database>(asked: &mut Asked<'_, D>, what: &str) -> Result<Answer, Refusal> {
    match what {
        "have" => {
            let _: Says = read(asked.body)?;
            data(&Says { have: asked.store.have()?, passed: BTreeMap::new() })
        }
        "events" => {
            let new = take_in(asked)?;
            if new > 0 {
                asked.note("sent events", format!("{new} new"))?;
            }
            data(&Says { have: asked.store.have()?, passed: BTreeMap::new() })
        }
        "after" => {
            let theirs: Says = read(asked.body)?;
            let mut batch = BatchWriter::default();
            let more = asked.store.write_after(&theirs.have, &theirs.passed, &mut batch)?;
            if !batch.is_empty() {
                asked.note("fetched events", format!("{} bytes", batch.len()))?;
            }
            Ok(Answer::Bytes(batch.end(more, 0).into_bytes()))
        }
        "first" => {
            let after: After = read(asked.body)?;
            let mut batch = BatchWriter::default();
            let (place, more) = asked.store.write_first(after.place, &mut batch)?;
            if after.place == 0 {
                asked.note("fetched what is open", String::new())?;
            }
            Ok(Answer::Bytes(batch.end(more, place).into_bytes()))
        }
        "keep" => {
            let batch = whole(asked.body)?;
            if let Some(too_long) = batch.records.iter().find(|record| record.bytes.len() as u64 > MOST_RECORD) {
                return Err(Refusal::Unreadable(format!("record `{}` is too long", too_long.id)));
            }
            asked.store.keep_things(&batch.keys, &batch.records)?;
            asked.note("sent records", format!("{} keys, {} records", batch.keys.len(), batch.records.len()))?;
            data(&json!({}))
        }
        "things" => {
            let after: After = read(asked.body)?;
            let mut batch = BatchWriter::default();
            let (place, more) = asked.store.write_things(after.place, &mut batch)?;
            if !batch.is_empty() {
                asked.note("fetched records", format!("listed {} to {place}", after.place + 1))?;
            }
            Ok(Answer::Bytes(batch.end(more, place).into_bytes()))
        }
        "large" => {
            let wanted: Wanted = read(asked.body)?;
            let mut batch = BatchWriter::default();
            for id in wanted.ids.into_iter().take(MOST_WANTED) {
                if let Some(large) = asked.store.large(id)? {
                    batch.large(&large);
                }
            }
            Ok(Answer::Bytes(batch.end(false, 0).into_bytes()))
        }
        _ => match what.strip_prefix("piece/") {
            Some(piece) => piece_of(asked, piece),
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

fn take_in<D: Database>(asked: &mut Asked<'_, D>) -> Result<usize, Refusal> {
    let who = asked.who;
    let batch = whole(asked.body)?;
    let other = batch.events.iter().find(|event| event.id().device() != who.device);
    if let Some(event) = other.filter(|_| who.role < Role::Owner) {
        return Err(Refusal::NotAllowed(format!("event `{}` is of another device; each sends its own", event.id())));
    }
    Ok(asked.store.receive(&batch.events)?)
}

fn piece_of<D: Database>(asked: &mut Asked<'_, D>, path: &str) -> Result<Answer, Refusal> {
    let unreadable = || Refusal::Unreadable("this is no piece of a record".to_owned());
    let words: Vec<&str> = path.split('/').collect();
    match words[..] {
        [id, start] => {
            let (id, start) = (id.parse().map_err(|_| unreadable())?, start.parse().map_err(|_| unreadable())?);
            if start > MOST_RECORD {
                return Err(unreadable());
            }
            if start == 0 {
                asked.note("fetched a photo", format!("{id}"))?;
            }
            Ok(Answer::Bytes(asked.store.piece_of(id, start, PIECE as u64)?))
        }
        [id, key, sum, length, start] => {
            let large = Large {
                id: id.parse().map_err(|_| unreadable())?,
                key: key.parse().map_err(|_| unreadable())?,
                sum: sum.parse().map_err(|_| unreadable())?,
                length: length.parse().map_err(|_| unreadable())?,
            };
            let start: u64 = start.parse().map_err(|_| unreadable())?;
            let end = start.saturating_add(asked.body.len() as u64);
            if large.length > MOST_RECORD || asked.body.len() > PIECE || end > large.length {
                return Err(unreadable());
            }
            let held = asked.store.keep_piece(asked.who.device, &large, start, asked.body)?;
            data(&Arrived { held })
        }
        _ => Err(Refusal::NotHere),
    }
}
