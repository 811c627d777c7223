//! The suite of the book, held with this browser's own database: whether it keeps what it is told to keep. Asked for under
//! *devices*; runs in a database of its own, which is thrown away.

use crate::keeping::{EVENTS, Keeping, RECORDS, record_of};
use book::suite::{Answer, Ask, Case, cases};
use book::{Event, Loaded, RecordId, SealedRecord, StoreError};
use screens::Durable;
use sync::Came;

const NAME: &str = "callwright-trial";

/// Holds every talk; says how many promises held, and which did not.
///
/// # Errors
/// Only if the browser gives no database.
pub(crate) async fn held() -> Result<String, String> {
    let cases = cases().map_err(|error| error.to_string())?;
    let mut wrong = Vec::new();
    for case in &cases {
        Keeping::throw_away(NAME).await?;
        wrong.extend(hold(case).await?);
    }
    Keeping::throw_away(NAME).await?;
    let (held, count) = (cases.len() - wrong.len(), cases.len());
    let said = format!("{held} of {count} promises held");
    if wrong.is_empty() {
        return Ok(said);
    }
    Ok(format!("{said}; not these: {}. Use another browser, and tell who made this.", wrong.join("; ")))
}

async fn hold(case: &Case) -> Result<Option<String>, String> {
    let mut store = Keeping::open(NAME).await?;
    for (turn, (ask, right)) in case.turns.iter().enumerate() {
        if matches!(ask, Ask::Reopen) {
            drop(store);
            store = Keeping::open(NAME).await?;
        }
        let answer = answer(&store, ask).await.unwrap_or_else(Answer::Refused);
        if answer != *right {
            return Ok(Some(format!("{}: turn {turn}", case.name)));
        }
    }
    Ok(None)
}

async fn answer(store: &Keeping, ask: &Ask) -> Result<Answer, StoreError> {
    let nothing = || Durable { keys: Vec::new(), records: Vec::new(), events: Vec::new() };
    let shown = |loaded: Loaded| {
        let damaged = loaded.damaged.iter().map(|damage| damage.id).collect();
        Answer::Loaded(loaded.events, damaged)
    };
    Ok(match ask {
        Ask::Append(events) => {
            store.append(&Durable { events: events.clone(), ..nothing() }).await?;
            Answer::Done
        }
        Ask::TakeIn(events) => {
            let before = loaded(store).await?.events;
            let new: Vec<Event> = events.iter().filter(|event| !before.contains(event)).cloned().collect();
            store.take_in(&Came { events: events.clone(), ..Came::default() }).await.map_err(StoreError::Failed)?;
            Answer::New(new.len())
        }
        Ask::Load => shown(loaded(store).await?),
        Ask::LoadAfter(seen) => {
            let all = loaded(store).await?;
            let events = all.events.into_iter().filter(|event| !seen.knows(event.id())).collect();
            shown(Loaded { events, ..all })
        }
        Ask::KeepRecord(record) => {
            store.append(&Durable { records: vec![record.clone()], ..nothing() }).await?;
            Answer::Done
        }
        Ask::Record(id) => Answer::Record(record(store, *id).await?),
        Ask::Records => {
            let held = store.load().await.map_err(StoreError::Failed)?;
            let mut ids: Vec<RecordId> = held.records.iter().map(|record| record.id).chain(held.large).collect();
            ids.sort_unstable();
            Answer::Records(ids)
        }
        Ask::KeepKey(id, key) => {
            store.append(&Durable { keys: vec![(*id, key.clone())], ..nothing() }).await?;
            Answer::Done
        }
        Ask::Key(id) => Answer::Key(store.key(*id).await.map_err(StoreError::Failed)?),
        Ask::SpoilEvent(id) => spoil(store, EVENTS, &id.to_string()).await?,
        Ask::SpoilRecord(id) => spoil(store, RECORDS, &id.to_string()).await?,
        Ask::Reopen => Answer::Done,
    })
}

async fn loaded(store: &Keeping) -> Result<Loaded, StoreError> {
    store.load().await.map(|held| held.loaded).map_err(StoreError::Failed)
}

async fn record(store: &Keeping, id: RecordId) -> Result<Option<SealedRecord>, StoreError> {
    let name = id.to_string();
    match store.value(RECORDS, &name).await.map_err(StoreError::Failed)? {
        None => Ok(None),
        Some(kept) => record_of(&name, &kept).map(Some).ok_or(StoreError::RecordDamaged(id)),
    }
}

/// Changes the last letter of what is kept.
async fn spoil(store: &Keeping, of: &str, name: &str) -> Result<Answer, StoreError> {
    if let Some(kept) = store.value(of, name).await.map_err(StoreError::Failed)? {
        let mut letters: Vec<char> = kept.chars().collect();
        if let Some(last) = letters.last_mut() {
            *last = if *last == '0' { '1' } else { '0' };
        }
        let spoiled: String = letters.into_iter().collect();
        store.overwrite(of, name, &spoiled).await.map_err(StoreError::Failed)?;
    }
    Ok(Answer::Done)
}
