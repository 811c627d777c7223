//! The talks of the suite.
//!
//! Refuses to know any store.

use super::{Answer, Ask, Case};
use crate::event::{Body, Event, WriteError};
use crate::facts::job::JobClosed;
use crate::facts::shop::KeyDestroyed;
use crate::ids::{DeviceId, JobId, KeyId, RecordId};
use crate::pen::Pen;
use crate::sealed::{Key, SealedRecord};
use crate::seen::Seen;
use crate::store::{KeyHeld, StoreError};
use crate::time::ZonedTime;

const PHONE: DeviceId = DeviceId::from_random([1; 16]);
const TABLET: DeviceId = DeviceId::from_random([2; 16]);
const KEY: KeyId = KeyId::from_random([3; 16]);
const RECORD: RecordId = RecordId::from_random([4; 16]);

fn bad(what: &dyn core::fmt::Display) -> WriteError {
    WriteError::DoesNotReadBack(what.to_string())
}

fn noon() -> Result<ZonedTime, WriteError> {
    "2026-03-02T12:00:00+01:00[Europe/Berlin]".parse().map_err(|error| bad(&error))
}

/// Writes one event that closes a job with some words.
fn write(pen: &mut Pen, words: &str) -> Result<Event, WriteError> {
    let job = crate::ids::EventId::new(PHONE, 1).map(JobId).ok_or(WriteError::CountersUsedUp)?;
    pen.write(&noon()?, &Body::job(job, JobClosed { why: Some(words.to_owned()) }))
}

fn write_many(pen: &mut Pen, count: usize) -> Result<Vec<Event>, WriteError> {
    (0..count).map(|at| write(pen, &format!("words {at}"))).collect()
}

fn destroy_key(pen: &mut Pen) -> Result<Event, WriteError> {
    pen.write(&noon()?, &Body::shop(KeyDestroyed { key: KEY, reason: "asked".to_owned() }))
}

fn key() -> Key {
    Key::from_random([5; 32])
}

fn sealed(plain: &[u8]) -> Result<SealedRecord, WriteError> {
    SealedRecord::seal(RECORD, KEY, &key(), [6; 24], plain).map_err(|error| bad(&error))
}

const fn whole(events: Vec<Event>) -> Answer {
    Answer::Loaded(events, Vec::new())
}

/// Returns every talk.
///
/// # Errors
/// Only if this crate cannot write its own events.
pub fn cases() -> Result<Vec<Case>, WriteError> {
    Ok(vec![
        empty(),
        survives_reopening()?,
        repeats()?,
        loads_after()?,
        name_taken()?,
        name_taken_within_batch()?,
        clash_is_kept()?,
        arrives_in_any_order()?,
        damage_is_reported()?,
        damage_is_mended()?,
        newer_passes_through()?,
        hard_text()?,
        records()?,
        record_damage()?,
        keys(),
        key_destroyed()?,
        key_destroyed_by_another()?,
    ])
}

fn empty() -> Case {
    Case {
        name: "an_empty_store_holds_nothing",
        turns: vec![
            (Ask::Load, whole(Vec::new())),
            (Ask::Records, Answer::Records(Vec::new())),
            (Ask::Record(RECORD), Answer::Record(None)),
            (Ask::Key(KEY), Answer::Key(KeyHeld::NotHere)),
        ],
    }
}

fn survives_reopening() -> Result<Case, WriteError> {
    let events = write_many(&mut Pen::new(PHONE), 5)?;
    let (first, rest) = events.split_at(2);
    Ok(Case {
        name: "what_was_appended_is_there_after_reopening",
        turns: vec![
            (Ask::Append(first.to_vec()), Answer::Done),
            (Ask::Reopen, Answer::Done),
            (Ask::Append(rest.to_vec()), Answer::Done),
            (Ask::Reopen, Answer::Done),
            (Ask::Load, whole(events)),
        ],
    })
}

fn repeats() -> Result<Case, WriteError> {
    let events = write_many(&mut Pen::new(PHONE), 3)?;
    Ok(Case {
        name: "the_same_event_again_changes_nothing",
        turns: vec![
            (Ask::Append(events.clone()), Answer::Done),
            (Ask::Append(events.clone()), Answer::Done),
            (Ask::TakeIn(events.clone()), Answer::New(0)),
            (Ask::Load, whole(events)),
        ],
    })
}

fn loads_after() -> Result<Case, WriteError> {
    let (phone, tablet) = (write_many(&mut Pen::new(PHONE), 4)?, write_many(&mut Pen::new(TABLET), 3)?);
    let mut seen = Seen::default();
    phone.iter().take(2).chain(tablet.iter().take(3)).for_each(|event| seen.note(event.id()));
    let mut only_phone = Seen::default();
    phone.iter().for_each(|event| only_phone.note(event.id()));
    Ok(Case {
        name: "loading_after_a_vector_leaves_out_what_it_knows",
        turns: vec![
            (Ask::Append(phone.clone()), Answer::Done),
            (Ask::TakeIn(tablet.clone()), Answer::New(3)),
            (Ask::LoadAfter(seen), whole(phone.into_iter().skip(2).collect())),
            (Ask::LoadAfter(only_phone), whole(tablet)),
        ],
    })
}

fn name_taken() -> Result<Case, WriteError> {
    let (mut one, mut other) = (Pen::new(PHONE), Pen::new(PHONE));
    let first = write(&mut one, "first")?;
    other.note(&first);
    let kept = write(&mut one, "second")?;
    let clash = write(&mut other, "second, from another program")?;
    let after = write(&mut other, "third, from another program")?;
    let id = clash.id();
    Ok(Case {
        name: "another_text_under_a_taken_name_is_refused_with_its_whole_batch",
        turns: vec![
            (Ask::Append(vec![first.clone(), kept.clone()]), Answer::Done),
            (Ask::Append(vec![after, clash]), Answer::Refused(StoreError::NameTaken(id))),
            (Ask::Load, whole(vec![first, kept])),
        ],
    })
}

fn name_taken_within_batch() -> Result<Case, WriteError> {
    let one = write(&mut Pen::new(PHONE), "one")?;
    let other = write(&mut Pen::new(PHONE), "other")?;
    let id = one.id();
    Ok(Case {
        name: "two_texts_of_one_name_in_one_batch_are_refused",
        turns: vec![
            (Ask::Append(vec![one, other]), Answer::Refused(StoreError::NameTaken(id))),
            (Ask::Load, whole(Vec::new())),
        ],
    })
}

fn clash_is_kept() -> Result<Case, WriteError> {
    let one = write(&mut Pen::new(TABLET), "one")?;
    let other = write(&mut Pen::new(TABLET), "other")?;
    let mut both = vec![one.clone(), other.clone()];
    both.sort_by_key(Event::rank);
    Ok(Case {
        name: "two_texts_of_one_name_from_another_device_are_both_kept",
        turns: vec![
            (Ask::TakeIn(vec![one.clone()]), Answer::New(1)),
            (Ask::TakeIn(vec![other, one]), Answer::New(1)),
            (Ask::Load, whole(both)),
        ],
    })
}

fn arrives_in_any_order() -> Result<Case, WriteError> {
    let (mut phone, mut tablet) = (Pen::new(PHONE), Pen::new(TABLET));
    let a = write(&mut phone, "a")?;
    tablet.note(&a);
    let b = write(&mut tablet, "b")?;
    phone.note(&b);
    let c = write(&mut phone, "c")?;
    Ok(Case {
        name: "events_load_in_one_order_however_they_arrive",
        turns: vec![
            (Ask::TakeIn(vec![c.clone()]), Answer::New(1)),
            (Ask::TakeIn(vec![b.clone(), c.clone()]), Answer::New(1)),
            (Ask::TakeIn(vec![a.clone(), b.clone()]), Answer::New(1)),
            (Ask::Load, whole(vec![a, b, c])),
        ],
    })
}

fn damage_is_reported() -> Result<Case, WriteError> {
    let events = write_many(&mut Pen::new(PHONE), 3)?;
    let [first, spoiled, last] = <[Event; 3]>::try_from(events.clone()).map_err(|_| bad(&"three"))?;
    let left = Answer::Loaded(vec![first, last], vec![Some(spoiled.id())]);
    Ok(Case {
        name: "a_damaged_event_is_reported_and_the_rest_kept",
        turns: vec![
            (Ask::Append(events), Answer::Done),
            (Ask::SpoilEvent(spoiled.id()), Answer::Done),
            (Ask::Load, left.clone()),
            (Ask::Reopen, Answer::Done),
            (Ask::Load, left),
        ],
    })
}

fn damage_is_mended() -> Result<Case, WriteError> {
    let events = write_many(&mut Pen::new(PHONE), 3)?;
    let spoiled = events.iter().map(Event::id).max().ok_or(WriteError::CountersUsedUp)?;
    Ok(Case {
        name: "a_whole_copy_mends_a_damaged_event",
        turns: vec![
            (Ask::Append(events.clone()), Answer::Done),
            (Ask::SpoilEvent(spoiled), Answer::Done),
            (Ask::TakeIn(events.clone()), Answer::New(1)),
            (Ask::Load, whole(events.clone())),
            (Ask::SpoilEvent(spoiled), Answer::Done),
            (Ask::Append(events.clone()), Answer::Done),
            (Ask::Load, whole(events)),
        ],
    })
}

fn newer_passes_through() -> Result<Case, WriteError> {
    let kind = r#"{"at":"2026-03-02T12:00:00Z", "body":{"new":[1.50,null]},"id":"02020202020202020202020202020202-1","kind":"tea_drunk","seen":{},"v":1}"#;
    let version = r#"{"v":7,"id":"02020202020202020202020202020202-2","seen":{},"at":"2026-03-02T12:00:00Z","kind":"tea_drunk","shape":"new"}"#;
    let events = [kind, version].into_iter().map(|text| Event::read(text).map_err(|error| bad(&error)));
    let events = events.collect::<Result<Vec<Event>, WriteError>>()?;
    Ok(Case {
        name: "what_a_newer_version_wrote_passes_through_byte_for_byte",
        turns: vec![
            (Ask::TakeIn(events.clone()), Answer::New(2)),
            (Ask::Reopen, Answer::Done),
            // Events are equal only if their texts are, to the byte.
            (Ask::Load, whole(events)),
        ],
    })
}

fn hard_text() -> Result<Case, WriteError> {
    let words =
        format!("quote \" backslash \\ line\nfeed nul \u{0} ohm \u{3a9} smile \u{1f600} {}", "x".repeat(100_000));
    let event = write(&mut Pen::new(PHONE), &words)?;
    Ok(Case {
        name: "hard_and_long_text_comes_back_as_it_was",
        turns: vec![(Ask::Append(vec![event.clone()]), Answer::Done), (Ask::Load, whole(vec![event]))],
    })
}

fn records() -> Result<Case, WriteError> {
    let (record, other) = (sealed(b"A. Person, 1 Street")?, sealed(b"B. Person, 2 Street")?);
    Ok(Case {
        name: "a_sealed_record_is_kept_and_never_replaced",
        turns: vec![
            (Ask::KeepRecord(record.clone()), Answer::Done),
            (Ask::KeepRecord(record.clone()), Answer::Done),
            (Ask::KeepRecord(other), Answer::Refused(StoreError::RecordTaken(RECORD))),
            (Ask::Reopen, Answer::Done),
            (Ask::Record(RECORD), Answer::Record(Some(record))),
            (Ask::Records, Answer::Records(vec![RECORD])),
        ],
    })
}

fn record_damage() -> Result<Case, WriteError> {
    let record = sealed(b"A. Person, 1 Street")?;
    Ok(Case {
        name: "a_damaged_record_is_reported_and_a_whole_copy_mends_it",
        turns: vec![
            (Ask::KeepRecord(record.clone()), Answer::Done),
            (Ask::SpoilRecord(RECORD), Answer::Done),
            (Ask::Record(RECORD), Answer::Refused(StoreError::RecordDamaged(RECORD))),
            (Ask::KeepRecord(record.clone()), Answer::Done),
            (Ask::Record(RECORD), Answer::Record(Some(record))),
        ],
    })
}

fn keys() -> Case {
    let other = Key::from_random([9; 32]);
    Case {
        name: "a_key_is_kept_and_never_replaced",
        turns: vec![
            (Ask::KeepKey(KEY, key()), Answer::Done),
            (Ask::KeepKey(KEY, key()), Answer::Done),
            (Ask::KeepKey(KEY, other), Answer::Refused(StoreError::KeyTaken(KEY))),
            (Ask::Reopen, Answer::Done),
            (Ask::Key(KEY), Answer::Key(KeyHeld::Held(key()))),
        ],
    }
}

fn key_destroyed() -> Result<Case, WriteError> {
    let (event, record) = (destroy_key(&mut Pen::new(PHONE))?, sealed(b"A. Person, 1 Street")?);
    Ok(Case {
        name: "an_event_that_destroys_a_key_destroys_it_for_good_and_keeps_the_record",
        turns: vec![
            (Ask::KeepKey(KEY, key()), Answer::Done),
            (Ask::KeepRecord(record.clone()), Answer::Done),
            (Ask::Append(vec![event]), Answer::Done),
            (Ask::Key(KEY), Answer::Key(KeyHeld::Destroyed)),
            (Ask::KeepKey(KEY, key()), Answer::Refused(StoreError::KeyDestroyed(KEY))),
            (Ask::Reopen, Answer::Done),
            (Ask::Key(KEY), Answer::Key(KeyHeld::Destroyed)),
            (Ask::Record(RECORD), Answer::Record(Some(record))),
        ],
    })
}

fn key_destroyed_by_another() -> Result<Case, WriteError> {
    let event = destroy_key(&mut Pen::new(TABLET))?;
    Ok(Case {
        name: "a_key_destroyed_on_another_device_is_refused_when_it_comes_late",
        turns: vec![
            (Ask::TakeIn(vec![event]), Answer::New(1)),
            (Ask::KeepKey(KEY, key()), Answer::Refused(StoreError::KeyDestroyed(KEY))),
            (Ask::Key(KEY), Answer::Key(KeyHeld::Destroyed)),
        ],
    })
}
