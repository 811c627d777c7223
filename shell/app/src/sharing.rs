//! The shop's server as the worker meets it: being let in, exchanging, other devices. What is said and asked is pure
//! (`sync`, `screens`); here are the connection and the database.

use crate::browser;
use crate::keeping::{Held, Keeping};
use crate::trial;
use book::{DeviceId, Event, Key, RecordId};
use call::waiting;
use documents::Page;
use futures_util::future::{Either, select};
use screens::{DeviceLine, ShareAsk, Sharing, Typesetter};
use serde_json::Value;
use std::collections::BTreeSet;
use std::pin::pin;
use sync::{
    Beyond, Exchange, Holds, Member, Newcomer, PairingCode, Progress, Question, devices_question, names_of,
    revoke_question,
};

/// How far device and server are.
const PROGRESS: &str = "progress";
/// Facts that come in before they are put where they belong, and photos that are sent before others are loaded: what a phone
/// holds in mind at once.
const MOST_AT_ONCE: usize = 20_000;
const MOST_PHOTOS: usize = 24;
/// How long one question may take, in milliseconds.
const PATIENCE: i32 = 60_000;

fn random<const N: usize>() -> [u8; N] {
    let mut bytes = [0; N];
    browser::random(&mut bytes);
    bytes
}

async fn ask(server: &str, shown: &str, question: &Question) -> Result<Vec<u8>, String> {
    let address = format!("{server}/{}", question.path);
    let (asked, late) = (pin!(browser::post(&address, shown, &question.body)), pin!(browser::sleep(PATIENCE)));
    match select(asked, late).await {
        Either::Left((answer, _)) => answer,
        Either::Right(_) => Err("the server does not answer; nothing is lost, it is tried again".to_owned()),
    }
}

/// What is known without asking anybody.
///
/// # Errors
/// Only if the database fails.
pub(crate) async fn known(own: &Keeping, before: Sharing) -> Result<Sharing, String> {
    let member = own.member().await?.map(|member| (member.server.clone(), member.role.clone()));
    let unlock_set = own.has_unlock().await?;
    Ok(Sharing { origin: browser::origin(), member, unlock_set, ..before })
}

/// Does what was asked for; what came of it stands in what is said.
///
/// # Errors
/// Only if the database fails.
pub(crate) async fn done(own: &mut Keeping, asked: &ShareAsk, sharing: &mut Sharing) -> Result<(), String> {
    sharing.code = None;
    let said = match asked {
        ShareAsk::Pair { server, code, name } => pair(own, server, code, name).await,
        ShareAsk::Exchange => exchange(own).await.map(|exchanged| exchanged.say),
        ShareAsk::Await(role) => awaited(own, role).await.map(|code| {
            sharing.code = Some(code);
            String::new()
        }),
        ShareAsk::Devices => listed(own, sharing).await,
        ShareAsk::Revoke(device) => match revoked(own, device).await {
            Ok(()) => listed(own, sharing).await,
            Err(why) => Err(why),
        },
        ShareAsk::Trial => trial::held().await.map(|said| {
            sharing.trial = Some(said);
            String::new()
        }),
        ShareAsk::Unlock(words) => own.lock_with(words, &mut browser::random).await.map(|()| {
            if words.is_empty() {
                "no words are asked for any more".to_owned()
            } else {
                "these words are asked for from now on".to_owned()
            }
        }),
    };
    let said = said.unwrap_or_else(|why| why);
    if !said.is_empty() {
        sharing.said = Some(said);
    }
    Ok(())
}

async fn member(own: &Keeping) -> Result<(Member, String), String> {
    let member = own.member().await?.ok_or("this phone has no server yet")?;
    let shown = member.shown(own.device(&mut browser::random).await?);
    Ok((member, shown))
}

async fn pair(own: &Keeping, server: &str, code: &str, name: &str) -> Result<String, String> {
    let newcomer = Newcomer::new(server, code, random())?;
    let device = own.device(&mut browser::random).await?;
    let answer = ask(newcomer.server(), "", &newcomer.question(device, name)).await?;
    let member = newcomer.heard(&answer, Key::from_random(random())).map_err(|trouble| trouble.to_string())?;
    own.join(&member).await?;
    // What it needs to work comes now; the rest by itself while the day is shown.
    Ok(first(own).await.map_or_else(|why| format!("let in; {why}"), |()| "let in; the shop's book is here".to_owned()))
}

/// Fetches what a new device needs to work.
async fn first(own: &Keeping) -> Result<(), String> {
    let (member, shown) = member(own).await?;
    let held = own.load().await?;
    let mut exchange = Exchange::first(holds(own, &member, &held, u64::MAX).await?);
    while let Some(question) = exchange.ask(&mut browser::random) {
        let answer = ask(&member.server, &shown, &question).await?;
        own.take_in(&exchange.heard(&answer).map_err(|trouble| trouble.to_string())?).await?;
        note(own, exchange.progress()).await?;
    }
    Ok(())
}

/// What this phone holds. Large records are loaded as far as own events up to `until` speak of them.
async fn holds<'a>(own: &Keeping, member: &'a Member, held: &'a Held, until: u64) -> Result<Holds<'a>, String> {
    Ok(Holds {
        device: own.device(&mut browser::random).await?,
        shop: &member.shop,
        events: &held.loaded.events,
        keys: &held.keys,
        records: &held.records,
        relays: false,
        beyond: Some(Beyond { filed: &held.away.events, records: &held.large, until }),
    })
}

async fn note(own: &Keeping, progress: Progress) -> Result<(), String> {
    own.note(PROGRESS, &serde_json::to_string(&progress).unwrap_or_default()).await
}

/// Has the shop's server set a page; gives the file's bytes.
///
/// # Errors
/// In words: no connection, or what is wrong with the shop's template.
pub(crate) async fn set_page(own: &Keeping, typesetter: &Typesetter, page: &Page) -> Result<Vec<u8>, String> {
    let (member, shown) = member(own).await?;
    ask(&member.server, &shown, &typesetter.ask(page)).await
}

/// What came of an exchange.
pub(crate) struct Exchanged {
    /// How much came that was not here.
    pub(crate) news: usize,
    /// In words.
    pub(crate) say: String,
}

/// Exchanges the book with the server; what comes is kept step by step, so that it may be broken off anywhere.
///
/// # Errors
/// In words why it broke off.
pub(crate) async fn exchange(own: &Keeping) -> Result<Exchanged, String> {
    let mut all = own.is_spoiled().await?;
    let (mut facts, mut news) = (0, 0);
    loop {
        let slice = slice(own, all).await?;
        facts += slice.facts;
        news += slice.news;
        match slice.then {
            Then::GoOn => {}
            Then::LoadAll => all = true,
            Then::Done => break,
        }
    }
    if all {
        own.is_mended().await?;
    }
    let at = browser::now()?;
    let clock = at.as_str().get(11..16).unwrap_or_default();
    let came = if facts == 1 { "1 fact came".to_owned() } else { format!("{facts} facts came") };
    Ok(Exchanged { news, say: format!("both hold the same since {clock}; {came}") })
}

/// A part of an exchange: so much as is held in mind at once.
struct Slice {
    facts: usize,
    news: usize,
    then: Then,
}

/// What follows on a slice.
enum Then {
    GoOn,
    /// The server asks for what is filed away.
    LoadAll,
    Done,
}

async fn slice(own: &Keeping, all: bool) -> Result<Slice, String> {
    let (member, shown) = member(own).await?;
    let device = own.device(&mut browser::random).await?;
    let progress = progress(own).await?;
    let mut held = if all { own.load_all().await? } else { own.load().await? };
    if !all {
        own.file(&mut held, device, Some(progress.sent)).await?;
    }
    let (owed, until) = owed(&held, device, progress.sent);
    held.records.extend(own.large(owed).await?);
    let mut exchange = Exchange::new(holds(own, &member, &held, until).await?, progress);
    let (mut came_in, mut news): (Vec<Event>, usize) = (Vec::new(), 0);
    loop {
        if exchange.is_at_large() {
            // A photo is fetched where somebody still has to do with it: of a job that waits for a visit.
            let events = [held.loaded.events.as_slice(), &came_in].concat();
            exchange.want(waiting(&events).iter().flat_map(|of| names_of(&of.events)));
        }
        let Some(question) = exchange.ask(&mut browser::random) else { break };
        let answer = ask(&member.server, &shown, &question).await?;
        let came = exchange.heard(&answer).map_err(|trouble| trouble.to_string())?;
        if came != sync::Came::default() {
            own.take_in(&came).await?;
            news += came.events.len() + came.keys.len() + came.records.len();
        }
        came_in.extend(came.events);
        note(own, exchange.progress()).await?;
        let then = match exchange.needs_all() {
            true => Then::LoadAll,
            false if came_in.len() >= MOST_AT_ONCE => Then::GoOn,
            false => continue,
        };
        return Ok(Slice { facts: came_in.len(), news, then });
    }
    let then = if until == u64::MAX { Then::Done } else { Then::GoOn };
    Ok(Slice { facts: came_in.len(), news, then })
}

/// Large records that own events after `sent` speak of, so many as go at once, and up to which counter these are all.
fn owed(held: &Held, device: DeviceId, sent: u64) -> (BTreeSet<RecordId>, u64) {
    let mut own: Vec<&Event> = held.loaded.events.iter().filter(|event| event.id().device() == device).collect();
    own.retain(|event| event.id().counter() > sent);
    own.sort_unstable_by_key(|event| event.id());
    let mut owed = BTreeSet::new();
    for event in own {
        owed.extend(names_of([event]).intersection(&held.large).copied());
        if owed.len() >= MOST_PHOTOS {
            return (owed, event.id().counter());
        }
    }
    (owed, u64::MAX)
}

async fn progress(own: &Keeping) -> Result<Progress, String> {
    Ok(own.fact(PROGRESS).await?.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default())
}

/// Gives the counter up to which the shop's server has everything of this phone; `None` without a server.
///
/// # Errors
/// Only if the database fails.
pub(crate) async fn sent(own: &Keeping) -> Result<Option<u64>, String> {
    let member = own.member().await?;
    Ok(if member.is_some() { Some(progress(own).await?.sent) } else { None })
}

async fn awaited(own: &Keeping, role: &str) -> Result<String, String> {
    let (member, shown) = member(own).await?;
    let code = PairingCode::from_random(random());
    let question = member.await_question(&code, role, random()).ok_or("the shop's key cannot be sealed")?;
    ask(&member.server, &shown, &question).await?;
    Ok(code.to_string())
}

async fn listed(own: &Keeping, sharing: &mut Sharing) -> Result<String, String> {
    let (member, shown) = member(own).await?;
    let answer = ask(&member.server, &shown, &devices_question()).await?;
    let said: Value = serde_json::from_slice(&answer).map_err(|_| "the server's answer cannot be read")?;
    let word = |of: &Value, name: &str| of.get(name).and_then(Value::as_str).unwrap_or_default().to_owned();
    let line = |of: &Value| DeviceLine {
        id: word(of, "device"),
        name: word(of, "name"),
        role: word(of, "role"),
        shut_out: of.get("revoked").is_some_and(|at| !at.is_null()),
    };
    sharing.devices =
        said.get("devices").and_then(Value::as_array).map_or_else(Vec::new, |all| all.iter().map(line).collect());
    Ok(String::new())
}

async fn revoked(own: &Keeping, device: &str) -> Result<(), String> {
    let (member, shown) = member(own).await?;
    ask(&member.server, &shown, &revoke_question(device)).await.map(|_| ())
}
