//! Practice through the screens: readings of one's own in the drawing, taken up again, and the review.

use crate::shell::machine;
use prediction::{Meter, Predictor};
use rehearsal::Rehearsal;
use rehearsal::practice::{Difficulty, Lesson, settings};
use screens::screen::Place;
use screens::{Practice, Script, Touch};

fn answer(text: &str) -> Touch {
    Touch::Answer(text.to_owned())
}

#[test]
fn a_lesson_is_read_in_the_drawing_comes_back_where_it_was_and_is_looked_back_upon() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let script = Script::fresh(&machine.id, Difficulty::Plain, 3);
    let rehearsal = Rehearsal::new(&predictor, script.seed, settings()).unwrap();
    let lesson = Lesson::draw(&rehearsal, script.difficulty, script.seed).unwrap();
    let mut practice = Practice::of(&lesson, &machine, script).unwrap();
    let first = practice.screen();
    assert_eq!(first.place, Place::Practice);
    assert!(!first.lines.is_empty() && first.review.is_none() && !first.undo);
    for touch in
        [Touch::State("heat".to_owned()), Touch::Probe("heater.1".to_owned()), Touch::Probe("heater.2".to_owned())]
    {
        practice.touch(&touch).unwrap();
    }
    let take = practice.screen().drawing.unwrap().take;
    assert_eq!(take.len(), 2);
    for choice in &take {
        practice.touch(&answer(&choice.answer)).unwrap();
    }
    let read = practice.screen();
    // While it runs for the volts it is also watched.
    assert_eq!(read.history.len(), 3, "{:?}", read.history);
    assert!(read.undo && read.drawing.as_ref().unwrap().probes.is_empty());
    practice.touch(&answer("look heater.9")).unwrap();
    assert!(practice.screen().notice.is_some());
    // Every way that is offered is understood.
    for way in practice.screen().ways {
        assert!(way.group.is_some());
        assert!(
            rehearsal::practice::read_act(&machine, &way.answer).is_ok() || way.answer == "give up",
            "{}",
            way.answer
        );
    }
    // Killed and taken up again it is the same lesson at the same place.
    let kept = serde_json::to_string(practice.script()).unwrap();
    let again = Practice::of(&lesson, &machine, serde_json::from_str(&kept).unwrap()).unwrap();
    assert_eq!(again.screen().history, read.history);
    practice.touch(&Touch::Undo).unwrap();
    assert_eq!(practice.screen().history.len(), 1);
    practice.touch(&answer("give up")).unwrap();
    let review = practice.screen().review.unwrap();
    assert_eq!(review.steps.len(), 1);
    assert!(review.verdict.contains("before it was found") && !review.tool.is_empty());
    let kept = serde_json::to_string(practice.script()).unwrap();
    let again = Practice::of(&lesson, &machine, serde_json::from_str(&kept).unwrap()).unwrap();
    assert_eq!(again.screen().review, Some(review));
}

#[test]
fn a_lesson_that_is_solved_ends_by_itself() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let script = Script::fresh(&machine.id, Difficulty::Plain, 5);
    let rehearsal = Rehearsal::new(&predictor, script.seed, settings()).unwrap();
    let lesson = Lesson::draw(&rehearsal, script.difficulty, script.seed).unwrap();
    let hidden = lesson.review(&[]).unwrap().truth;
    let fault = machine.faults.iter().find(|fault| fault.id == hidden[0]).unwrap();
    let mut practice = Practice::of(&lesson, &machine, script).unwrap();
    practice.touch(&answer(&format!("change {}", machine[fault.repair].id))).unwrap();
    let review = practice.screen().review.unwrap();
    assert!(review.verdict.contains(&fault.say), "{}", review.verdict);
    assert!(practice.script().over);
}
