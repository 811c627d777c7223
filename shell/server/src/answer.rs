//! What the server answers a device that it knows: plain functions over the store, without the web around them.

use book::{DeviceId, StoreError};
use serde::{Deserialize, Serialize};
use serde_json::json;
use std::collections::BTreeMap;
use store::{Awaited, Database, Paired, SeenLine, SqlStore};
use sync::{After, Arrived, Batch, BatchWriter, Ending, Large, MOST_BATCH, MOST_WANTED, PIECE, Says, Wanted};

use crate::who::{Role, Who, hash_of};

/// How long a new device is awaited.
const AWAITED_MILLIS: u64 = 10 * 60 * 1000;
/// Most bytes of a sealed record: a picture with its seal, with room.
const MOST_RECORD: u64 = 4 * 1024 * 1024;
/// Most letters of a device's name.
const MOST_NAME: usize = 60;
/// Lines of the audit that are shown.
const SHOWN: u64 = 500;

/// An answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Answer {
    /// Data.
    Json(String),
    /// A batch, or a piece of a record.
    Bytes(Vec<u8>),
}

/// Why there is none.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// There is no such path here: the device may be newer.
    NotHere,
    /// What was sent cannot be read; why.
    Unreadable(String),
    /// Its role does not allow it; why.
    NotAllowed(String),
    /// The store failed, or refused.
    Store(StoreError),
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

fn read<'a, T: Deserialize<'a>>(body: &'a [u8]) -> Result<T, Refusal> {
    serde_json::from_slice(body).map_err(|error| Refusal::Unreadable(error.to_string()))
}

fn data(value: &impl Serialize) -> Result<Answer, Refusal> {
    let text = serde_json::to_string(value).map_err(|error| Refusal::Unreadable(error.to_string()))?;
    Ok(Answer::Json(text))
}

/// Answers a question of a device that showed its secret. `path` is below the server's address; `now` in milliseconds since
/// 1970 in UTC.
///
/// # Errors
/// [`Refusal`].
pub fn answer<D: Database>(
    store: &mut SqlStore<D>,
    who: &Who,
    path: &str,
    body: &[u8],
    now: u64,
) -> Result<Answer, Refusal> {
    let note = |store: &mut SqlStore<D>, what: &str, about: String| {
        store.note_seen(&SeenLine { at: now, device: Some(who.device), what: what.to_owned(), about })
    };
    match path {
        "sync/1/have" => {
            let _: Says = read(body)?;
            data(&Says { have: store.have()?, passed: BTreeMap::new() })
        }
        "sync/1/events" => {
            let new = take_in(store, who, body)?;
            if new > 0 {
                note(store, "sent events", format!("{new} new"))?;
            }
            data(&Says { have: store.have()?, passed: BTreeMap::new() })
        }
        "sync/1/after" => {
            let theirs: Says = read(body)?;
            let mut batch = BatchWriter::default();
            let more = store.write_after(&theirs.have, &theirs.passed, &mut batch)?;
            if !batch.is_empty() {
                note(store, "fetched events", format!("{} bytes", batch.len()))?;
            }
            Ok(Answer::Bytes(batch.end(more, 0).into_bytes()))
        }
        "sync/1/first" => {
            let after: After = read(body)?;
            let mut batch = BatchWriter::default();
            let (place, more) = store.write_first(after.place, &mut batch)?;
            if after.place == 0 {
                note(store, "fetched what is open", String::new())?;
            }
            Ok(Answer::Bytes(batch.end(more, place).into_bytes()))
        }
        "sync/1/keep" => {
            let batch = whole(body)?;
            if let Some(too_long) = batch.records.iter().find(|record| record.bytes.len() as u64 > MOST_RECORD) {
                return Err(Refusal::Unreadable(format!("record `{}` is too long", too_long.id)));
            }
            store.keep_things(&batch.keys, &batch.records)?;
            note(store, "sent records", format!("{} keys, {} records", batch.keys.len(), batch.records.len()))?;
            data(&json!({}))
        }
        "sync/1/things" => {
            let after: After = read(body)?;
            let mut batch = BatchWriter::default();
            let (place, more) = store.write_things(after.place, &mut batch)?;
            if !batch.is_empty() {
                note(store, "fetched records", format!("listed {} to {place}", after.place + 1))?;
            }
            Ok(Answer::Bytes(batch.end(more, place).into_bytes()))
        }
        "sync/1/large" => {
            let wanted: Wanted = read(body)?;
            let mut batch = BatchWriter::default();
            for id in wanted.ids.into_iter().take(MOST_WANTED) {
                if let Some(large) = store.large(id)? {
                    batch.large(&large);
                }
            }
            Ok(Answer::Bytes(batch.end(false, 0).into_bytes()))
        }
        "devices/1/await" => admit(store, who, body, now),
        "devices/1/list" => {
            let device = |device: &Paired| {
                json!({ "device": device.id, "name": device.name, "role": device.role, "paired": device.paired,
                        "by": device.by, "revoked": device.revoked })
            };
            data(&json!({ "devices": store.devices()?.iter().map(device).collect::<Vec<_>>() }))
        }
        "devices/1/revoke" => revoke(store, who, body, now),
        "devices/1/seen" => {
            if who.role < Role::Office {
                return Err(Refusal::NotAllowed("only the office and the owner read who saw and changed what".to_owned()));
            }
            let line = |line: &SeenLine| {
                json!({ "at": line.at, "device": line.device, "what": line.what, "about": line.about })
            };
            data(&json!({ "seen": store.seen(SHOWN)?.iter().map(line).collect::<Vec<_>>() }))
        }
        _ => match path.strip_prefix("sync/1/piece/") {
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

/// A new device that is to be awaited.
#[derive(Deserialize)]
struct Await {
    role: String,
    locator: String,
    sealed: String,
}

fn hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let mut bytes = [0; N];
    let read = base16ct::lower::decode(text, &mut bytes).ok()?.len();
    (read == N).then_some(bytes)
}

fn admit<D: Database>(store: &mut SqlStore<D>, who: &Who, body: &[u8], now: u64) -> Result<Answer, Refusal> {
    let asked: Await = read(body)?;
    let role = Role::read(&asked.role).ok_or_else(|| Refusal::Unreadable(format!("`{}` is no role", asked.role)))?;
    if !who.role.may_admit(role) {
        let (mine, other) = (who.role.word(), role.word());
        return Err(Refusal::NotAllowed(format!("a device of role {mine} lets no {other} in; ask the owner")));
    }
    let unreadable = || Refusal::Unreadable("locator or key cannot be read".to_owned());
    let awaited = Awaited {
        locator: hex(&asked.locator).ok_or_else(unreadable)?,
        role: role.word().to_owned(),
        sealed: base16ct::lower::decode_vec(&asked.sealed).ok().filter(|sealed| sealed.len() < 200).ok_or_else(unreadable)?,
        until: now + AWAITED_MILLIS,
        by: Some(who.device),
    };
    store.await_device(&awaited, now)?;
    let what = format!("awaits a {}", role.word());
    store.note_seen(&SeenLine { at: now, device: Some(who.device), what, about: String::new() })?;
    data(&json!({ "until": awaited.until }))
}

/// Awaits the first owner, or another one where the first is lost: only who sits at the server can ask for it. Gives until when.
///
/// # Errors
/// Only if the store fails.
pub fn await_owner<D: Database>(store: &mut SqlStore<D>, locator: [u8; 16], now: u64) -> Result<u64, StoreError> {
    let until = now + AWAITED_MILLIS;
    let role = Role::Owner.word().to_owned();
    store.await_device(&Awaited { locator, role, sealed: Vec::new(), until, by: None }, now)?;
    Ok(until)
}

/// A device that wants to be let in.
#[derive(Deserialize)]
struct Pair {
    locator: String,
    device: DeviceId,
    name: String,
    secret: String,
}

/// Lets a device in by its code's locator: the only question that needs no secret, because it brings one.
///
/// # Errors
/// [`Refusal::NotAllowed`] for a code that is unknown, used or late, all in the same words.
pub fn pair<D: Database>(store: &mut SqlStore<D>, body: &[u8], now: u64) -> Result<Answer, Refusal> {
    let asked: Pair = read(body)?;
    let unreadable = || Refusal::Unreadable("locator or secret cannot be read".to_owned());
    let locator = hex(&asked.locator).ok_or_else(unreadable)?;
    let secret: [u8; 32] = hex(&asked.secret).ok_or_else(unreadable)?;
    let name: String = asked.name.chars().filter(|letter| !letter.is_control()).take(MOST_NAME).collect();
    if store.paired(asked.device)?.is_some_and(|before| before.secret != hash_of(&secret)) {
        // Otherwise a code would let its holder take over another's name.
        return Err(Refusal::NotAllowed("a device of this name is known already; begin its book anew".to_owned()));
    }
    let new = |awaited: &Awaited| Paired {
        id: asked.device,
        name: name.clone(),
        role: awaited.role.clone(),
        secret: hash_of(&secret),
        paired: now,
        by: awaited.by,
        revoked: None,
    };
    let Some((awaited, paired)) = store.pair(locator, new, now)? else {
        return Err(Refusal::NotAllowed("this code is not awaited; ask for a fresh one".to_owned()));
    };
    let about = format!("as {}", paired.role);
    store.note_seen(&SeenLine { at: now, device: Some(paired.id), what: "was let in".to_owned(), about })?;
    data(&json!({ "role": paired.role, "sealed": base16ct::lower::encode_string(&awaited.sealed) }))
}

#[derive(Deserialize)]
struct Revoke {
    device: DeviceId,
}

fn revoke<D: Database>(store: &mut SqlStore<D>, who: &Who, body: &[u8], now: u64) -> Result<Answer, Refusal> {
    let asked: Revoke = read(body)?;
    let other = store.paired(asked.device)?;
    let role = other.as_ref().and_then(|other| Role::read(&other.role));
    let role = role.ok_or_else(|| Refusal::Unreadable(format!("no device `{}` was ever let in", asked.device)))?;
    if !who.role.may_admit(role) {
        return Err(Refusal::NotAllowed(format!("a device of role {} shuts no {} out", who.role.word(), role.word())));
    }
    let was_in = store.revoke(asked.device, now)?;
    let what = "shut a device out".to_owned();
    store.note_seen(&SeenLine { at: now, device: Some(who.device), what, about: asked.device.to_string() })?;
    data(&json!({ "was_in": was_in }))
}
