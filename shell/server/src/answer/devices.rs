//! The devices: awaited, let in, listed, shut out; and the audit.

use super::{Answer, Asked, Refusal, data, read};
use crate::who::{Role, hash_of};
use book::{DeviceId, StoreError, bytes_from_hex};
use serde::Deserialize;
use serde_json::json;
use store::{Awaited, Database, Paired, SeenLine, SqlStore};

/// How long a new device is awaited.
const AWAITED_MILLIS: u64 = 10 * 60 * 1000;
/// More bytes than the shop's key has when it is sealed.
const MOST_SEALED: usize = 200;
/// Most letters of a device's name.
const MOST_NAME: usize = 60;
/// Lines of the audit that are shown.
const SHOWN: u64 = 500;

pub(super) fn told<D: Database>(asked: &mut Asked<'_, D>, what: &str) -> Result<Answer, Refusal> {
    match what {
        "await" => admit(asked),
        "list" => {
            let device = |device: &Paired| {
                json!({ "device": device.id, "name": device.name, "role": device.role, "paired": device.paired,
                        "by": device.by, "revoked": device.revoked })
            };
            data(&json!({ "devices": asked.store.devices()?.iter().map(device).collect::<Vec<_>>() }))
        }
        "revoke" => revoke(asked),
        "seen" => {
            if asked.who.role < Role::Office {
                return Err(Refusal::NotAllowed(
                    "only the office and the owner read who saw and changed what".to_owned(),
                ));
            }
            let line = |line: &SeenLine| json!({ "at": line.at, "device": line.device, "what": line.what, "about": line.about });
            data(&json!({ "seen": asked.store.seen(SHOWN)?.iter().map(line).collect::<Vec<_>>() }))
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

fn admit<D: Database>(by: &mut Asked<'_, D>) -> Result<Answer, Refusal> {
    let asked: Await = read(by.body)?;
    let role = Role::read(&asked.role).ok_or_else(|| Refusal::Unreadable(format!("`{}` is no role", asked.role)))?;
    if !by.who.role.may_admit(role) {
        let (mine, other) = (by.who.role.word(), role.word());
        return Err(Refusal::NotAllowed(format!("a device of role {mine} lets no {other} in; ask the owner")));
    }
    let unreadable = || Refusal::Unreadable("locator or key cannot be read".to_owned());
    let awaited = Awaited {
        locator: bytes_from_hex(&asked.locator).ok_or_else(unreadable)?,
        role: role.word().to_owned(),
        sealed: base16ct::lower::decode_vec(&asked.sealed)
            .ok()
            .filter(|sealed| (1..MOST_SEALED).contains(&sealed.len()))
            .ok_or_else(unreadable)?,
        until: by.now + AWAITED_MILLIS,
        by: Some(by.who.device),
    };
    by.store.await_device(&awaited, by.now)?;
    by.note(&format!("awaits a {}", role.word()), String::new())?;
    data(&json!({ "until": awaited.until }))
}

/// Awaits the first device, an owner's, which makes the shop's key: only who sits at the server can ask for it. Gives until
/// when.
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
    let locator = bytes_from_hex(&asked.locator).ok_or_else(unreadable)?;
    let secret: [u8; 32] = bytes_from_hex(&asked.secret).ok_or_else(unreadable)?;
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

fn revoke<D: Database>(by: &mut Asked<'_, D>) -> Result<Answer, Refusal> {
    let asked: Revoke = read(by.body)?;
    let other = by.store.paired(asked.device)?;
    let role = other.as_ref().and_then(|other| Role::read(&other.role));
    let role = role.ok_or_else(|| Refusal::Unreadable(format!("no device `{}` was ever let in", asked.device)))?;
    if !by.who.role.may_admit(role) {
        let (mine, other) = (by.who.role.word(), role.word());
        return Err(Refusal::NotAllowed(format!("a device of role {mine} shuts no {other} out")));
    }
    let was_in = by.store.revoke(asked.device, by.now)?;
    by.note("shut a device out", asked.device.to_string())?;
    data(&json!({ "was_in": was_in }))
}
