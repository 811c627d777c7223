//! What is filed away: the steps of old closed jobs, one text a job, read only when somebody asks. So a phone opens a book of
//! years as quickly as one of a month. Which steps those are, [`book::filing`] says.
//!
//! INVARIANT: an event stands in exactly one place, because each move is one transaction.

use super::{DEVICE, EVENTS, FILED, Held, Keeping, LARGE, NotKept, PACK, line_of, packed_event, record_of};
use book::{
    Checksum, Damage, DeviceId, Event, EventId, JobId, Loaded, RecordId, SealedRecord, StoreError, filing, stays,
};
use indexed_db_futures::prelude::{BuildPrimitive, QuerySource};
use indexed_db_futures::transaction::Transaction;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use sync::{Filed, Holding};

/// The fact that says what is filed away.
const AWAY: &str = "away";
/// The fact that something filed was found damaged: the next exchange goes through everything, so that it is mended.
const SPOILED: &str = "spoiled";
/// Steps in hand from which on some are filed away: below, a book opens in a moment as it is.
const MANY_STEPS: usize = 4_000;
/// Closed jobs, the latest, that are held whole.
const HELD_WHOLE: usize = 40;
/// Jobs that are filed away in one stroke.
const AT_ONCE: usize = 50;

/// What is filed away.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(crate) struct Away {
    /// The jobs.
    pub(crate) jobs: BTreeSet<JobId>,
    /// Their events.
    pub(crate) events: Filed,
}

impl Away {
    fn to_text(&self) -> String {
        // Names and numbers always have a text.
        serde_json::to_string(self).unwrap_or_default()
    }
}

impl Keeping {
    /// What is filed away.
    pub(super) async fn away(&self) -> Result<Away, String> {
        let Some(kept) = self.fact(AWAY).await? else { return Ok(Away::default()) };
        if let Ok(away) = serde_json::from_str(&kept) {
            return Ok(away);
        }
        // A list that cannot be read is made anew from what it lists.
        let mut away = Away::default();
        for (name, kept) in self.all(FILED).await? {
            away.jobs.extend(name.parse::<EventId>().ok().map(JobId));
            let lines = self.lines_of(&name, Some(&kept)).unwrap_or_default();
            for event in lines.iter().filter_map(|line| packed_event(line).ok()) {
                away.events.file(&event);
            }
        }
        Ok(away)
    }

    /// Files away what may be, out of what was loaded, and brings back what is no longer closed. Own steps are filed only up to
    /// the counter that the server has, where there is one.
    ///
    /// # Errors
    /// What the browser says; everything is in its place then.
    pub(crate) async fn file(&self, held: &mut Held, device: DeviceId, sent: Option<u64>) -> Result<(), String> {
        let is_step = |event: &&Event| !stays(event.body());
        if held.away.jobs.is_empty() && held.loaded.events.iter().filter(is_step).count() < MANY_STEPS {
            return Ok(());
        }
        // Behind a gap nothing is filed: what is filed counts as held without one.
        let holding = Holding::of(held.away.events.clone(), &held.loaded.events);
        let may = |event: &Event| {
            let (of, counter) = (event.id().device(), event.id().counter());
            counter <= holding.have().of_device(of).counter && (of != device || sent.is_none_or(|sent| counter <= sent))
        };
        let plan = filing(&held.loaded.events, &held.away.jobs, HELD_WHOLE, may);
        for jobs in plan.away.chunks(AT_ONCE) {
            self.file_away(held, jobs).await.map_err(|not| StoreError::from(not).to_string())?;
        }
        for job in plan.back {
            self.bring_back(held, job).await.map_err(|not| StoreError::from(not).to_string())?;
        }
        held.loaded.filed = held.away.events.seen();
        Ok(())
    }

    async fn file_away(&self, held: &mut Held, jobs: &[JobId]) -> Result<(), NotKept> {
        let mut steps: BTreeMap<JobId, Vec<&Event>> = BTreeMap::new();
        for event in held.loaded.events.iter().filter(|event| !stays(event.body())) {
            if let Some(job) = event.body().scope().job.filter(|job| jobs.contains(job)) {
                steps.entry(job).or_default().push(event);
            }
        }
        let mut away = held.away.clone();
        let mut moved: BTreeSet<Checksum> = BTreeSet::new();
        let transaction = self.strict()?;
        for (job, events) in steps {
            let name = job.to_string();
            let filed = transaction.object_store(FILED)?;
            let here: Option<String> = filed.get::<String, String, _>(name.clone()).primitive()?.await?;
            let kept = self.lines_of(&name, here.as_deref());
            let lost = kept.is_none();
            let mut lines = kept.unwrap_or_default();
            for event in events {
                let (sum, line) = (event.sum().to_string(), line_of(event));
                // A whole copy takes the place of a damaged one, and of all that no longer opens. Of two texts of one name the
                // second stays in hand, where both are told.
                if let Some(here) = lines.iter_mut().find(|kept| kept.split(' ').next() == Some(sum.as_str())) {
                    *here = line;
                } else if away.events.file(event) || lost {
                    lines.push(line);
                } else {
                    continue;
                }
                moved.insert(event.sum());
            }
            away.jobs.insert(job);
            filed.put(self.sealed(&name, &lines.join("\n"))).with_key(name).await?;
        }
        self.take_out(&transaction, held, &moved).await?;
        transaction.object_store(DEVICE)?.put(away.to_text()).with_key(AWAY.to_owned()).await?;
        transaction.commit().await?;
        held.loaded.events.retain(|event| !moved.contains(&event.sum()));
        held.away = away;
        Ok(())
    }

    /// The lines of a text that is filed; `None` where it does not open.
    fn lines_of(&self, name: &str, here: Option<&str>) -> Option<Vec<String>> {
        let Some(here) = here else { return Some(Vec::new()) };
        Some(self.opened(name, here)?.split('\n').map(str::to_owned).collect())
    }

    /// Takes events out of the store of those in hand; a pack keeps its other lines as they are.
    async fn take_out(
        &self,
        transaction: &Transaction<'_>,
        held: &Held,
        moved: &BTreeSet<Checksum>,
    ) -> Result<(), NotKept> {
        let store = transaction.object_store(EVENTS)?;
        let gone = held.loaded.events.iter().filter(|event| moved.contains(&event.sum()));
        let mut packs: BTreeSet<&String> = BTreeSet::new();
        for event in gone {
            match held.packs.get(&event.sum()) {
                Some(pack) => drop(packs.insert(pack)),
                None => store.delete(event.id().to_string()).await?,
            }
        }
        let sums: BTreeSet<String> = moved.iter().map(ToString::to_string).collect();
        for pack in packs {
            let here: Option<String> = store.get::<String, String, _>(pack.clone()).primitive()?.await?;
            let lines = self.lines_of(pack, here.as_deref()).unwrap_or_default();
            let left: Vec<&str> = lines
                .iter()
                .map(String::as_str)
                .filter(|line| !line.split(' ').next().is_some_and(|sum| sums.contains(sum)))
                .collect();
            if left.is_empty() {
                store.delete(pack.clone()).await?;
            } else {
                store.put(self.sealed(pack, &left.join("\n"))).with_key(pack.clone()).await?;
            }
        }
        Ok(())
    }

    async fn bring_back(&self, held: &mut Held, job: JobId) -> Result<(), NotKept> {
        let (name, pack) = (job.to_string(), format!("{PACK}filed-{job}"));
        let mut away = held.away.clone();
        away.jobs.remove(&job);
        let transaction = self.strict()?;
        let filed = transaction.object_store(FILED)?;
        let here: Option<String> = filed.get::<String, String, _>(name.clone()).primitive()?.await?;
        // What does not open stays where it is, to be told when it is asked for.
        let Some(lines) = self.lines_of(&name, here.as_deref()) else { return Ok(()) };
        let events: Vec<Event> = lines.iter().filter_map(|line| packed_event(line).ok()).collect();
        events.iter().for_each(|event| away.events.bring(event));
        transaction.object_store(EVENTS)?.put(self.sealed(&pack, &lines.join("\n"))).with_key(pack.clone()).await?;
        filed.delete(name).await?;
        transaction.object_store(DEVICE)?.put(away.to_text()).with_key(AWAY.to_owned()).await?;
        transaction.commit().await?;
        held.packs.extend(events.iter().map(|event| (event.sum(), pack.clone())));
        let damaged = std::mem::take(&mut held.loaded.damaged);
        let all = std::mem::take(&mut held.loaded.events).into_iter().chain(events).collect();
        held.loaded = Loaded::in_order(all, damaged);
        held.away = away;
        Ok(())
    }

    /// Reads what is filed of some jobs, and leaves it there. What is damaged is told, and mended by the next exchange.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn read_filed(&self, jobs: &[JobId]) -> Result<(Vec<Event>, Vec<Damage>), String> {
        let (mut events, mut damaged) = (Vec::new(), Vec::new());
        for job in jobs {
            let name = job.to_string();
            let Some(here) = self.value(FILED, &name).await? else { continue };
            match self.lines_of(&name, Some(&here)) {
                None => damaged.push(Damage { id: None, what: format!("what is filed of job `{job}` does not open") }),
                Some(lines) => lines.iter().for_each(|line| match packed_event(line) {
                    Ok(event) => events.push(event),
                    Err(damage) => damaged.push(damage),
                }),
            }
        }
        if !damaged.is_empty() {
            self.note(SPOILED, "1").await?;
        }
        Ok((events, damaged))
    }

    /// Tells whether something filed was found damaged since the last exchange that went through everything.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn is_spoiled(&self) -> Result<bool, String> {
        Ok(self.fact(SPOILED).await?.is_some_and(|kept| kept == "1"))
    }

    /// Everything has been gone through.
    ///
    /// # Errors
    /// What the browser says.
    pub(crate) async fn is_mended(&self) -> Result<(), String> {
        self.note(SPOILED, "").await
    }

    /// Loads everything, what is filed away too: for an exchange that needs it.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn load_all(&self) -> Result<Held, String> {
        let mut held = self.load().await?;
        let jobs: Vec<JobId> = held.away.jobs.iter().copied().collect();
        let (events, damaged) = self.read_filed(&jobs).await?;
        let all = std::mem::take(&mut held.loaded);
        let loaded = Loaded::in_order([all.events, events].concat(), [all.damaged, damaged].concat());
        held.loaded = Loaded { filed: all.filed, ..loaded };
        held.away = Away::default();
        Ok(held)
    }

    /// Fetches large records; one that is not here, or damaged, is left out.
    ///
    /// # Errors
    /// Only if the database fails.
    pub(crate) async fn large(&self, ids: impl IntoIterator<Item = RecordId>) -> Result<Vec<SealedRecord>, String> {
        let mut records = Vec::new();
        for id in ids {
            let name = id.to_string();
            records.extend(self.value(LARGE, &name).await?.and_then(|kept| record_of(&name, &kept)));
        }
        Ok(records)
    }
}
