//! The devices: awaited, let in, listed, shut out; and the audit.

use super::{Answer, Refusal, data, read};
use crate::who::{Role, Who, hash_of};
use book::{DeviceId, StoreError};
use serde::Deserialize;
use serde_json::json;
use store::{Awaited, Database, Paired, SeenLine, SqlStore};

/// How long a new device is awaited.
const AWAITED_MILLIS: u64 = 10 * 60 * 1000;
/// Most letters of a device's name.
const MOST_NAME: usize = 60;
/// Lines of the audit that are shown.
const SHOWN: u64 = 500;

pub(super) fn told<D: Database>(
    store: &mut SqlStore<D>,
    who: &Who,
    what: &str,
    body: &[u8],
    now: u64,
) -> Result<Answer, Refusal> {
    match what {
        "await" => admit(store, who, body, now),
        "list" => {
            let device = |device: &Paired| {
                json!({ "device": device.id, "name": device.name, "role": device.role, "paired": device.paired,
                        "by": device.by, "revoked": device.revoked })
            };
            data(&json!({ "devices": store.devices()?.iter().map(device).collect::<Vec<_>>() }))
        }
        "revoke" => revoke(store, who, body, now),
        "seen" => {
            if who.role < Role::Office {
                return Err(Refusal::NotAllowed(
                    "only the office and the owner read who saw and changed what".to_owned(),
                ));
            }
            let line = |line: &SeenLine| json!({ "at": line.at, "device": line.device, "what": line.what, "about": line.about });
            data(&json!({ "seen": store.seen(SHOWN)?.iter().map(line).collect::<Vec<_>>() }))
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
        sealed: base16ct::lower::decode_vec(&asked.sealed)
            .ok()
            .filter(|sealed| sealed.len() < 200)
            .ok_or_else(unreadable)?,
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
