//! Laws: order of arrival and repetition change nothing; cause comes before effect; stores that exchange agree.

use book::*;
use proptest::prelude::*;
use std::collections::BTreeSet;

use crate::story;

const DEVICES: [DeviceId; 3] =
    [DeviceId::from_random([1; 16]), DeviceId::from_random([2; 16]), DeviceId::from_random([3; 16])];

/// One thing that happens: which device acts, what it does, and two free numbers.
type Act = (usize, u8, usize, u8);

/// Plays acts on three devices that write and receive from each other at random, with gaps.
fn play(acts: &[Act]) -> Vec<Event> {
    let mut pens = DEVICES.map(Pen::new);
    let mut events: Vec<Event> = Vec::new();
    for (device, what, pick, small) in acts {
        let pen = &mut pens[*device];
        let picked = (!events.is_empty()).then(|| events[pick % events.len()].clone());
        match (what, picked) {
            (0..=3, Some(event)) => pen.note(&event),
            (_, picked) => {
                let target = picked.map_or_else(|| EventId::new(DEVICES[0], 1).unwrap(), |event| event.id());
                events.push(pen.write(&story::at(u32::from(*small)), &body(*what, target, *small)).unwrap());
            }
        }
    }
    events
}

/// Says something about the job or visit that `target` names, whether or not it is one.
fn body(what: u8, target: EventId, small: u8) -> Body {
    let (job, call) = (JobId(target), CallId(target));
    let cover = format!("cover {}", small % 3);
    match what {
        4 | 5 => Body::undo(Scope { job: Some(job), call: None }, target, None),
        6 => Body::job(job, CallOpened { purpose: Purpose::First, promised: None }),
        7 => Body::call(job, call, CoverOpened { cover, screws_out: u32::from(small), answers: None }),
        8 => Body::call(job, call, CoverClosed { cover, screws_in: u32::from(small / 2) }),
        9 => Body::job(job, JobClosed { why: Some(small.to_string()) }),
        10 => Body::job_on_call(job, call, HazardCleared { hazard: target, how: small.to_string() }),
        11 => Body::shop(KeyDestroyed { key: KeyId::from_random([small % 4; 16]), reason: String::new() }),
        12 => Body::shop(CustomerAdded {
            key: KeyId::from_random([small % 4; 16]),
            record: story::DETAILS,
            listed: false,
        }),
        13 => Body::call(job, call, StageEntered { stage: if small < 128 { Stage::Find } else { Stage::Prove } }),
        _ => Body::shop(JobOpened {
            customer: CustomerId(target),
            appliance: None,
            complaint: story::complaint(),
            callback_of: None,
            shown: None,
        }),
    }
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    prop::collection::vec((0..3_usize, 0..16_u8, any::<usize>(), any::<u8>()), 1..60)
}

/// The same events in another order, some of them twice.
fn shuffled() -> impl Strategy<Value = (Vec<Event>, Vec<Event>)> {
    acts().prop_map(|acts| play(&acts)).prop_flat_map(|events| {
        let some = prop::sample::subsequence(events.clone(), 0..=events.len());
        let repeated = some.prop_map({
            let events = events.clone();
            move |some| [events.clone(), some].concat()
        });
        (Just(events), repeated.prop_shuffle())
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(400) })]

    #[test]
    fn filing_the_steps_of_closed_jobs_away_changes_nothing_but_those((events, _) in shuffled()) {
        let plan = filing(&events, &BTreeSet::new(), 0, |_| true);
        let away: BTreeSet<JobId> = plan.away.iter().copied().collect();
        let is_filed = |event: &Event| {
            !stays(event.body()) && event.body().scope().job.is_some_and(|job| away.contains(&job))
        };
        let held: Vec<Event> = events.iter().filter(|event| !is_filed(event)).cloned().collect();
        let (whole, less) = (fold_book(&events), fold_book(&held));
        let names = |book: &Book| book.jobs.keys().copied().collect::<Vec<JobId>>();
        prop_assert_eq!(names(&whole), names(&less));
        for (id, job) in &whole.jobs {
            let after = &less.jobs[id];
            prop_assert_eq!(job.standing(), after.standing());
            if away.contains(id) {
                let stay = |event: EventId| held.iter().any(|of| of.id() == event);
                let timeline: Vec<_> = job.timeline.iter().filter(|entry| stay(entry.event)).cloned().collect();
                prop_assert_eq!((&timeline, &job.closed, &job.proofs), (&after.timeline, &after.closed, &after.proofs));
            } else {
                prop_assert_eq!(job, after);
            }
        }
        prop_assert_eq!((whole.customers, whole.van, whole.clashes), (less.customers, less.van, less.clashes));
        // Once filed nothing is to be done, and a job that somebody opens again comes back.
        prop_assert_eq!(filing(&held, &away, 0, |_| true), Filing::default());
        prop_assert!(filing(&events, &BTreeSet::new(), events.len(), |_| true).away.is_empty());
        prop_assert!(filing(&events, &BTreeSet::new(), 0, |event| !is_filed(event)).away.is_empty());
        for job in &away {
            let opened = Body::job(*job, CallOpened { purpose: Purpose::Return, promised: None });
            let mut pen = Pen::after(DEVICES[0], &Loaded::in_order(events.clone(), Vec::new()));
            let again = [held.clone(), vec![pen.write(&story::at(9), &opened).unwrap()]].concat();
            prop_assert_eq!(filing(&again, &away, 0, |_| true).back, vec![*job]);
        }
    }

    #[test]
    fn any_order_and_any_repetition_fold_the_same((events, other) in shuffled()) {
        prop_assert_eq!(fold_book(&events), fold_book(&other));
    }

    #[test]
    fn one_job_folds_as_it_does_in_the_whole_book((events, other) in shuffled()) {
        let book = fold_book(&events);
        for (id, job) in &book.jobs {
            prop_assert_eq!(Some(job.clone()), fold_job(&other, *id));
        }
    }

    #[test]
    fn cause_comes_before_effect(acts in acts()) {
        let events = play(&acts);
        for (cause, effect) in events.iter().flat_map(|a| events.iter().map(move |b| (a, b))) {
            let same_pen = cause.id().device() == effect.id().device() && cause.id().counter() < effect.id().counter();
            if same_pen || effect.seen().knows(cause.id()) {
                prop_assert!(cause.rank() < effect.rank());
            }
        }
    }

    #[test]
    fn state_reads_back_from_json(acts in acts()) {
        let book = fold_book(&play(&acts));
        let text = serde_json::to_string(&book).unwrap();
        prop_assert_eq!(serde_json::from_str::<Book>(&text).unwrap(), book);
    }

    #[test]
    fn stores_that_exchange_agree_whatever_the_order((events, other) in shuffled(), cut in any::<prop::sample::Index>()) {
        let (mut one, mut two) = (MemoryStore::new(), MemoryStore::new());
        let at = cut.index(other.len());
        one.take_in(&other[..at]).unwrap();
        two.take_in(&other[at..]).unwrap();
        let to_two = one.load_after(&two.load().unwrap().held_without_gap()).unwrap().events;
        let to_one = two.load_after(&one.load().unwrap().held_without_gap()).unwrap().events;
        one.take_in(&to_one).unwrap();
        two.take_in(&to_two).unwrap();
        two.take_in(&to_two).unwrap();
        prop_assert_eq!(one.load().unwrap(), two.load().unwrap());
        prop_assert_eq!(one.load().unwrap().events.len(), events.len());
    }
}

#[test]
fn the_story_folds_the_same_backwards_and_doubled() {
    let (events, _) = story::tell();
    let mut backwards = events.clone();
    backwards.reverse();
    let doubled = [backwards.clone(), events.clone()].concat();
    assert_eq!(fold_book(&events), fold_book(&backwards));
    assert_eq!(fold_book(&events), fold_book(&doubled));
}

#[test]
fn a_late_event_never_reorders_the_others() {
    let (events, _) = story::tell();
    let order = |events: &[Event]| {
        let loaded = Loaded::in_order(events.to_vec(), Vec::new());
        loaded.events.iter().map(Event::id).collect::<Vec<_>>()
    };
    let all = order(&events);
    for left_out in &events {
        let rest: Vec<Event> = events.iter().filter(|event| *event != left_out).cloned().collect();
        let wanted: Vec<EventId> = all.iter().copied().filter(|id| *id != left_out.id()).collect();
        assert_eq!(order(&rest), wanted);
    }
}
