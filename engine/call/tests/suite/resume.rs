//! Broken off anywhere, a call goes on where it stopped; the last answer can be taken back.

use crate::play::{DRYER, Player, machine, predictor, settings};
use book::{Body, DeviceId, Event, MemoryStore, Scope, Stage, Store};
use call::demo::Demo;
use call::{About, Session, events_of, unfinished};

#[test]
fn taken_up_after_any_fact_a_call_asks_what_it_would_have_asked() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 2).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.watch = true;
    player.until(&mut demo, |_| false);
    let (events, states) = (player.events(), player.states.clone());
    assert_eq!(events.len(), states.len());
    assert!(events.len() > 80, "{}", events.len());
    for (at, expected) in states.iter().enumerate() {
        let resumed = Session::resume(&predictor, settings(&machine), &events[..=at]);
        let found = crate::play::state(&resumed);
        assert_eq!(&found, expected, "after {}", events[at].body().kind());
    }
}

#[test]
fn the_call_to_go_on_with_is_found_at_every_point_until_it_has_ended() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |_| false);
    let events = player.events();
    let device = events[0].id().device();
    for count in 1..events.len() {
        let found = unfinished(&events[..count], device);
        // It is nobody else's to go on with.
        assert!(unfinished(&events[..count], DeviceId::from_random([200; 16])).is_none());
        let ended = events[..count].iter().any(|event| event.body().kind() == "call_ended");
        assert_eq!(found.is_some(), !ended, "after {count} events");
        assert!(found.is_none_or(|found| found.events == events[..count]));
    }
    assert!(unfinished(&events, device).is_none());
}

/// Two phones go on with one call and meet again: both put the accounts together alike, say so, and have the machine proved
/// dead anew, whatever either had measured.
#[test]
fn a_call_on_two_phones_is_put_together_alike_and_nothing_counts_as_dead() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut one = Player::new(&predictor, settings(&machine));
    let ask = one.until(&mut demo, |ask| matches!(ask.about, About::Read(_)) && ask.own_way);
    assert_eq!(ask.stage, Stage::Find);
    let mut other = one.on_another(2);
    assert_eq!(crate::play::state(&one.session), crate::play::state(&other.session));
    let text = demo.answer(&ask);
    one.say(&text).unwrap();
    other.say("OL").unwrap();
    other.due();
    let (ones, others) = (one.events(), other.events());
    // What the other knew of was no clash, and is none while it only goes on from there.
    assert!(other.session.at_once().is_none());
    let mut stores = [MemoryStore::new(), MemoryStore::new()];
    stores[0].take_in(&ones).unwrap();
    stores[0].take_in(&others).unwrap();
    stores[1].take_in(&others).unwrap();
    stores[1].take_in(&ones).unwrap();
    let all: Vec<Vec<Event>> = stores.iter().map(|store| store.load().unwrap().events).collect();
    assert_eq!(all[0], all[1]);
    let job = one.session.job().unwrap();
    assert!(book::fold_job(&all[0], job).unwrap().at_once);
    assert!(!book::fold_job(&ones, job).unwrap().at_once);
    for device in [1, 2] {
        let found = unfinished(&all[0], DeviceId::from_random([device; 16])).unwrap();
        let merged = Session::resume(&predictor, settings(&machine), &found.events);
        assert!(merged.at_once().is_some());
        let readings = found.events.iter().filter(|event| event.body().kind() == "reading_taken").count();
        assert!(readings >= 2, "a reading was lost");
        let asked = merged.due().map_or_else(|| merged.ask().stage, |_| Stage::MakeSafe);
        assert!(asked < Stage::Find, "{:?}", merged.ask());
    }
}

fn undo(player: &mut Player<'_, '_>) -> usize {
    let ids = player.session.to_undo();
    let scope = Scope { job: player.session.job(), call: None };
    let bodies: Vec<Body> = ids.iter().map(|id| Body::undo(scope, *id, None)).collect();
    for body in &bodies {
        player.only_keep(body);
    }
    let left: Vec<Event> = events_of(&player.store.load().unwrap().events, player.session.job().unwrap());
    player.session = Session::resume(player.session.predictor(), player.session.settings().clone(), &left);
    ids.len()
}

#[test]
fn undo_takes_back_the_last_answer_with_what_followed_from_it() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    let first = player.until(&mut demo, |ask| matches!(ask.about, About::Read(_)) && ask.own_way);
    let text = demo.answer(&first);
    player.say(&text).unwrap();
    let second = player.ask();
    assert_ne!(second.about, first.about);
    // The reading and the proposal that followed it.
    assert!(undo(&mut player) >= 2);
    let again = player.ask();
    assert_eq!((again.about.clone(), again.say.clone()), (first.about, first.say));
    player.say("OL").unwrap();
    assert!(undo(&mut player) > 0);
    player.until(&mut demo, |_| false);
    assert!(demo.sound());
}

#[test]
fn undo_goes_back_to_the_opening_of_the_visit_and_no_further() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| matches!(ask.about, About::Isolate));
    let mut count = 0;
    while undo(&mut player) > 0 {
        count += 1;
        assert!(count < 100);
        player.due();
    }
    assert!(count > 10);
    assert_eq!(player.ask().about, About::Gas);
}
