//! The judge must see what is wrong: sound plans are spoiled one way at a time.

use crate::support::{dryer, place_id};
use machine::access::Hazard;
use machine::model::CoverId;
use teardown::{Act, Illegal, Open, Teardown, check_teardown, plan_teardown};

fn spoiled(spoil: impl Fn(&mut Teardown)) -> Vec<Illegal> {
    let access = dryer();
    let targets = [place_id(2)];
    let mut plan = plan_teardown(&access, &targets, &Open::nothing()).unwrap();
    assert_eq!(check_teardown(&access, &targets, &Open::nothing(), &plan), Ok(()));
    spoil(&mut plan);
    check_teardown(&access, &targets, &Open::nothing(), &plan).unwrap_err()
}

#[test]
fn covers_in_the_wrong_order_come_off_too_early() {
    assert!(spoiled(|plan| plan.steps_in.swap(0, 1)).contains(&Illegal::TooEarly(CoverId(1))));
}

#[test]
fn a_step_left_out_hides_the_place_or_comes_too_early() {
    assert!(spoiled(|plan| drop(plan.steps_in.remove(2))).contains(&Illegal::Hidden(place_id(2))));
    assert!(spoiled(|plan| drop(plan.steps_in.remove(0))).contains(&Illegal::TooEarly(CoverId(1))));
}

#[test]
fn a_cover_taken_off_twice_is_not_there() {
    assert!(spoiled(|plan| plan.steps_in.insert(1, plan.steps_in[0].clone())).contains(&Illegal::NotThere(CoverId(0))));
}

#[test]
fn a_cover_left_off_is_seen() {
    assert!(spoiled(|plan| drop(plan.steps_back.pop())).contains(&Illegal::NotClosed(CoverId(0))));
}

#[test]
fn a_panel_closed_over_an_open_drum_shuts_it_in() {
    let wrong = spoiled(|plan| plan.steps_back.reverse());
    assert!(wrong.contains(&Illegal::ShutIn(CoverId(0))), "{wrong:?}");
}

#[test]
fn a_clearance_check_after_the_panel_is_on_is_missing() {
    let wrong = spoiled(|plan| {
        let check = plan.steps_back.iter().position(|step| matches!(step.act, Act::OnlyBack(_))).unwrap();
        let step = plan.steps_back.remove(check);
        plan.steps_back.push(step);
    });
    assert!(wrong.contains(&Illegal::OnlyBackMissing(CoverId(1))));
}

#[test]
fn a_screw_too_few_is_seen() {
    assert!(spoiled(|plan| plan.fasteners_in[0].count -= 1).contains(&Illegal::Fasteners));
    assert!(spoiled(|plan| plan.steps_in[1].fasteners[0].count += 1).contains(&Illegal::Fasteners));
}

#[test]
fn no_photo_is_seen() {
    assert_eq!(spoiled(|plan| plan.steps_in.retain(|step| step.act != Act::Photo)), vec![Illegal::NoPhoto]);
}

#[test]
fn a_caution_kept_back_is_seen() {
    assert!(
        spoiled(|plan| plan.steps_in[2].cautions.retain(|hazard| *hazard != Hazard::HeavyLift))
            .contains(&Illegal::StepDiffers(CoverId(2)))
    );
}

#[test]
fn minutes_and_people_must_follow_from_the_steps() {
    assert!(spoiled(|plan| plan.minutes_in = 1.0).contains(&Illegal::Sums));
    assert!(spoiled(|plan| plan.people = 1).contains(&Illegal::Sums));
}
