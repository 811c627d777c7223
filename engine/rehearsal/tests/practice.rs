//! Practice: the same acts give the same call again, and the review sets each beside what it was worth.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a test may fail loudly")]

use machine::Machine;
use prediction::{Meter, Predictor};
use rehearsal::practice::{Difficulty, Lesson, read_act, settings};
use rehearsal::{End, Rehearsal};
use repair::Act;

fn dryer() -> Machine {
    machine::read(include_str!("../../../machines/dryer-timer-240.toml")).machine.unwrap()
}

fn typed(machine: &Machine, lines: &[&str]) -> Vec<Act> {
    lines.iter().map(|line| read_act(machine, line).unwrap()).collect()
}

#[test]
fn a_lesson_is_of_the_difficulty_asked_for_and_the_same_again() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 1, settings()).unwrap();
    for (difficulty, faults) in [(Difficulty::Plain, 1), (Difficulty::Usual, 1)] {
        let lesson = Lesson::draw(&rehearsal, difficulty, 5).unwrap();
        assert_eq!(lesson.review(&[]).unwrap().truth.len(), faults);
        assert!(!lesson.complaint().is_empty());
        let again = Lesson::draw(&rehearsal, difficulty, 5).unwrap();
        assert_eq!(again.complaint(), lesson.complaint());
    }
    assert!(Lesson::draw(&rehearsal, Difficulty::Hard, 5).is_some());
}

#[test]
fn steps_go_on_from_where_they_stood_and_the_right_repair_ends_it_right() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 1, settings()).unwrap();
    let lesson = Lesson::draw(&rehearsal, Difficulty::Plain, 2).unwrap();
    let first = typed(&machine, &["ohms heater.1 heater.2"]);
    let played = lesson.play(&first).unwrap();
    assert!(played.ended.is_none() && played.minutes > 0.0);
    let (shown, lines) = (played.lines[0].shown.clone(), played.lines.len());
    let truth = lesson.review(&[]).unwrap().truth[0].clone();
    let fault = machine.fault(&truth).unwrap();
    let repair = &machine.repairs[machine.faults[fault.index()].repair.index()].id;
    let both = typed(&machine, &["ohms heater.1 heater.2", &format!("change {repair}")]);
    let on = lesson.play(&both).unwrap();
    assert_eq!(on.lines[0].shown, shown);
    assert!(on.lines.len() > lines && on.minutes > played.minutes);
    let visit = on.ended.unwrap();
    assert!(visit.right && visit.needless_parts == 0, "{truth}: {visit:?}");

    let review = lesson.review(&both).unwrap();
    println!("{review:#?}");
    assert!(review.right && review.acts.len() == 2);
    assert!((review.acts.iter().map(|act| act.minutes).sum::<f64>() - review.minutes).abs() < 1e-9);
    // The repair that cures leaves nothing to do: it is worth all that was expected before it.
    assert!(review.acts[1].worth > 0.0 && review.acts[1].bits >= 0.0);
    assert!(review.all_knowing_minutes <= review.tool_minutes + 1e-9);
}

#[test]
fn a_part_for_nothing_is_counted_and_giving_up_is_an_end() {
    let machine = dryer();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let rehearsal = Rehearsal::new(&predictor, 1, settings()).unwrap();
    let lesson = Lesson::draw(&rehearsal, Difficulty::Usual, 3).unwrap();
    let truth = lesson.review(&[]).unwrap().truth[0].clone();
    assert!(!truth.starts_with("belt") && !truth.starts_with("house"));
    let review = lesson.review(&typed(&machine, &["change belt", "refer"])).unwrap();
    assert!(!review.right && review.needless_parts == 1, "{review:#?}");
    assert_eq!(lesson.play(&typed(&machine, &["change belt", "refer"])).unwrap().ended.unwrap().end, End::Referred);
}

#[test]
fn what_is_typed_wrong_is_said_with_the_nearest_name() {
    let machine = dryer();
    let wrong = |text: &str| read_act(&machine, text).unwrap_err();
    assert!(wrong("ohms heater.1 heatr.2").contains("heater.2"));
    assert!(wrong("ohms heater.1 heater.1").contains("both probes"));
    assert!(wrong("volts heater.1 heater.2").contains("in STATE"));
    assert!(wrong("hit it").contains("is not understood"));
    assert!(wrong("look heatre").contains("heater"));
}
