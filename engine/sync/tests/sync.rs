//! Batches that break, what copies owe each other, codes and wrapped keys.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails")]

use book::*;
use std::collections::BTreeMap;
use sync::*;

const PHONE: DeviceId = DeviceId::from_random([1; 16]);
const TABLET: DeviceId = DeviceId::from_random([2; 16]);

fn write(pen: &mut Pen, words: &str) -> Event {
    let at: ZonedTime = "2026-03-02T12:00:00+01:00[Europe/Berlin]".parse().unwrap();
    let job = JobId(EventId::new(PHONE, 1).unwrap());
    pen.write(&at, &Body::job(job, JobClosed { why: Some(words.to_owned()) })).unwrap()
}

fn events(device: DeviceId, count: usize) -> Vec<Event> {
    let mut pen = Pen::new(device);
    (0..count).map(|at| write(&mut pen, &format!("ohm \u{3a9} {at}"))).collect()
}

#[test]
fn a_batch_cut_anywhere_brings_what_came_whole_and_nothing_else() {
    let sent = events(PHONE, 5);
    let key = WrappedKey { id: KeyId::from_random([3; 16]), bytes: vec![1, 2, 3] };
    let sealed =
        SealedRecord::seal(RecordId::from_random([4; 16]), key.id, &Key::from_random([5; 32]), [6; 24], b"A").unwrap();
    let mut batch = BatchWriter::default();
    sent.iter().for_each(|event| batch.event(event.sum(), event.text()));
    batch.key(&key);
    batch.record(&sealed);
    let text = batch.end(true, 7);
    let whole = Batch::read(text.as_bytes()).unwrap();
    assert_eq!((&whole.events, &whole.keys, &whole.records), (&sent, &vec![key.clone()], &vec![sealed]));
    assert_eq!((whole.ending, whole.place, whole.unknown, whole.damaged.len()), (Ending::More, 7, 0, 0));
    for cut in 0..text.len() {
        let part = Batch::read(&text.as_bytes()[..cut]).unwrap();
        assert_eq!(part.ending, Ending::Broken, "cut at {cut}");
        assert!(sent.starts_with(&part.events), "cut at {cut}");
        assert_eq!(part.damaged, Vec::<usize>::new(), "cut at {cut}");
    }
}

#[test]
fn a_changed_byte_costs_its_line_and_a_newer_line_is_passed_over() {
    let sent = events(PHONE, 3);
    let mut batch = BatchWriter::default();
    sent.iter().for_each(|event| batch.event(event.sum(), event.text()));
    let text = batch.end(false, 0);
    let spoiled = text.replacen("ohm \u{3a9} 1", "ohm \u{3a9} 8", 1);
    let read = Batch::read(spoiled.as_bytes()).unwrap();
    assert_eq!((read.events.len(), read.damaged), (2, vec![3]));
    let newer = text.replacen("\ne ", "\nz something new\ne ", 1);
    let read = Batch::read(newer.as_bytes()).unwrap();
    assert_eq!((read.events.len(), read.unknown, read.ending), (3, 1, Ending::All));
    assert_eq!(Batch::read(b"callwright batch 2\n"), Err(NotABatch));
    assert_eq!(Batch::read(b"<html>\n"), Err(NotABatch));
}

#[test]
fn what_is_held_is_reckoned_alike_in_any_order_and_across_gaps() {
    let all = events(PHONE, 6);
    let right = Have::of(&all);
    assert_eq!(right.of_device(PHONE).counter, 6);
    for order in [[5, 4, 3, 2, 1, 0], [2, 0, 1, 5, 3, 4], [0, 2, 4, 1, 3, 5]] {
        assert_eq!(Have::of(order.iter().map(|at| &all[*at])), right);
        let mut holding = Holding::default();
        order.iter().for_each(|at| assert!(holding.take(all[*at].id(), all[*at].sum())));
        assert_eq!(*holding.have(), right);
    }
    // Behind a gap nothing counts.
    assert_eq!(Have::of(all.iter().filter(|event| event.id().counter() != 3)).of_device(PHONE).counter, 2);
    let text = serde_json::to_string(&right).unwrap();
    assert_eq!(serde_json::from_str::<Have>(&text).unwrap(), right);
}

#[test]
fn each_owes_what_the_other_lacks_and_everything_where_two_texts_have_one_name() {
    let (phone, tablet) = (events(PHONE, 4), events(TABLET, 2));
    let mine = Have::of(phone.iter().chain(&tablet));
    let theirs = Have::of(phone.iter().take(1));
    assert_eq!(mine.owes(&theirs), BTreeMap::from([(PHONE, 1), (TABLET, 0)]));
    assert_eq!(theirs.owes(&mine), BTreeMap::new());
    let twin = write(&mut Pen::new(TABLET), "another text");
    let twins = Have::of(phone.iter().chain([&twin, &tablet[1]]));
    assert_eq!(mine.owes(&twins), BTreeMap::from([(TABLET, 0)]));
    assert_eq!(twins.owes(&mine), BTreeMap::from([(TABLET, 0)]));
}

#[test]
fn what_is_filed_away_counts_as_held_and_is_asked_for_where_it_is_owed() {
    let (phone, tablet) = (events(PHONE, 9), events(TABLET, 3));
    let all: Vec<&Event> = phone.iter().chain(&tablet).collect();
    let right = Have::of(all.iter().copied());
    // Whatever is filed, first or in between, the two hold the same, and a filed event that comes again is not new.
    for away in [&[0, 1, 2][..], &[1, 3, 4, 10], &[8, 9, 10, 11], &[0, 1, 2, 3, 4, 5, 6, 7, 8]] {
        let mut filed = Filed::default();
        away.iter().for_each(|at| assert!(filed.file(all[*at])));
        let in_hand = || all.iter().enumerate().filter(|(at, _)| !away.contains(at)).map(|(_, event)| *event);
        let mut holding = Holding::of(filed.clone(), in_hand());
        assert_eq!(*holding.have(), right, "{away:?}");
        let again = all[away[0]];
        assert!(!holding.take(again.id(), again.sum()));
        // Events that come one by one around what is filed.
        let mut holding = Holding::of(filed.clone(), []);
        in_hand().for_each(|event| assert!(holding.take(event.id(), event.sum())));
        assert_eq!(*holding.have(), right, "{away:?}");
        away.iter().for_each(|at| filed.bring(all[*at]));
        assert_eq!(filed.seen(), Seen::default());
    }
}

#[test]
fn an_exchange_says_that_it_needs_all_only_where_something_filed_is_owed_or_doubtful() {
    let (phone, tablet) = (events(PHONE, 4), events(TABLET, 2));
    let mut filed = Filed::default();
    for event in [&phone[1], &tablet[0]] {
        filed.file(event);
    }
    let in_hand: Vec<Event> = [&phone[0], &phone[2], &phone[3], &tablet[1]].map(Clone::clone).to_vec();
    let (shop, records) = (Key::from_random([9; 32]), std::collections::BTreeSet::new());
    let holds = Holds {
        device: PHONE,
        shop: &shop,
        events: &in_hand,
        keys: &[],
        records: &[],
        relays: false,
        beyond: Some(Beyond { filed: &filed, records: &records, until: u64::MAX }),
    };
    let needs = |holds: Holds<'_>, server: Vec<&Event>| {
        let mut exchange = sync::Exchange::new(holds, Progress::default());
        exchange.ask(&mut |_| {}).unwrap();
        let says = Says { have: Have::of(server), passed: BTreeMap::new() };
        exchange.heard(&serde_json::to_vec(&says).unwrap()).unwrap();
        exchange.needs_all()
    };
    let everything = || phone.iter().chain(&tablet).collect::<Vec<&Event>>();
    assert!(!needs(holds, everything()));
    // It lacks what came after what is filed: that is in hand. It lacks others' events: theirs to send.
    assert!(!needs(holds, phone.iter().take(2).collect()));
    assert!(!needs(holds, phone.iter().collect()));
    // Restored from an old backup it lacks what is filed; with another text of a name nobody knows which.
    assert!(needs(holds, phone.iter().take(1).chain(&tablet).collect()));
    let twin = write(&mut Pen::new(TABLET), "another text");
    assert!(needs(holds, phone.iter().chain([&twin, &tablet[1]]).collect()));
    assert!(needs(Holds { relays: true, ..holds }, phone.iter().collect()));
}

#[test]
fn a_code_is_read_as_it_is_typed_and_a_wrong_letter_is_named() {
    let code = PairingCode::from_random(core::array::from_fn(|at| u8::try_from(at).unwrap()));
    assert_eq!(code.to_string(), "01234-56789-ABCDE-FGHJK");
    for typed in
        ["0123456789abcdefghjk", " o1234-56789-ABCDE-FGHJK ", "0I234 56789 abcde fghjk", "0L234-56789-ABCDE-FGHJK"]
    {
        assert_eq!(PairingCode::read(typed), Ok(code.clone()), "{typed}");
    }
    assert_eq!(PairingCode::read("01234-5678U"), Err(BadCode::Letter('U', 10)));
    assert_eq!(PairingCode::read("01234"), Err(BadCode::Length(5)));
}

/// SOURCE: HKDF of RFC 5869, reckoned with the `hmac` and `hashlib` modules of CPython 3.11 over the same twenty bytes.
#[test]
fn a_locator_is_what_another_implementation_of_the_standard_derives() {
    let code = PairingCode::from_random(core::array::from_fn(|at| u8::try_from(at).unwrap()));
    assert_eq!(base16ct::lower::encode_string(&code.locator()), "184d90c8b24de1ccf670ea2e54b2ccba");
}

#[test]
fn the_shops_key_opens_with_the_right_code_alone_and_customers_keys_with_the_shops() {
    let shop = Key::from_random([9; 32]);
    let code = PairingCode::from_random([3; 20]);
    let sealed = code.seal(&shop, [1; 24]).unwrap();
    assert_eq!(code.open(&sealed), Some(shop.clone()));
    assert_eq!(PairingCode::from_random([4; 20]).open(&sealed), None);
    let mut changed = sealed;
    *changed.last_mut().unwrap() ^= 1;
    assert_eq!(code.open(&changed), None);
    let (id, key) = (KeyId::from_random([5; 16]), Key::from_random([6; 32]));
    let wrapped = WrappedKey::wrap(&shop, id, &key, [2; 24]).unwrap();
    assert_eq!(wrapped.open(&shop), Some(key));
    assert_eq!(wrapped.open(&Key::from_random([8; 32])), None);
    // One customer's key does not pass for another's.
    assert_eq!(WrappedKey { id: KeyId::from_random([7; 16]), ..wrapped }.open(&shop), None);
}

#[test]
fn only_the_right_words_open_what_a_device_keeps() {
    let local = Key::from_random([9; 32]);
    let kept = lock_with_words(&local, "blue kettle", [1; 16], [2; 24]).unwrap();
    assert_eq!(unlock_with_words(&kept, "blue kettle"), Some(local.clone()));
    assert_eq!(unlock_with_words(&kept, "blue kettl"), None);
    assert_eq!(unlock_with_words("argon2id-19456-2-1 zz zz", "blue kettle"), None);
    let sealed = seal_secret(&local, "member", b"secret", [3; 24]).unwrap();
    assert_eq!(open_secret(&local, "member", &sealed), Some(b"secret".to_vec()));
    assert_eq!(open_secret(&local, "key/1", &sealed), None);
    assert_eq!(open_secret(&Key::from_random([8; 32]), "member", &sealed), None);
}
