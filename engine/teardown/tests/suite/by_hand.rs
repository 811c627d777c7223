//! The dryer of `support`, worked out by hand.

use crate::support::{cover_id, dryer, place_id};
use machine::access::Hazard;
use machine::model::CoverId;
use std::collections::BTreeSet;
use teardown::{
    Act, Blocked, Means, Open, WALK_MINUTES, marginal_minutes, must_close_to_run, plan_teardown, plan_teardown_with,
};

fn off(covers: &[usize]) -> Open {
    covers.iter().map(|&index| cover_id(index)).collect()
}

#[test]
fn the_heater_is_reached_from_the_back_and_not_through_the_drum() {
    let plan = plan_teardown(&dryer(), &[place_id(1)], &Open::nothing()).unwrap();
    assert_eq!(plan.opens(), [CoverId(3)]);
    assert!((plan.minutes_in - 2.0).abs() < 1e-9 && (plan.minutes_back - 2.5).abs() < 1e-9);
}

#[test]
fn with_the_drum_out_already_the_heater_costs_nothing() {
    assert_eq!(marginal_minutes(&dryer(), place_id(1), &off(&[0, 1, 2])), Ok(0.0));
}

#[test]
fn the_motor_and_the_heater_together_go_through_the_drum_alone() {
    let plan = plan_teardown(&dryer(), &[place_id(1), place_id(2)], &Open::nothing()).unwrap();
    assert_eq!(plan.opens(), [CoverId(0), CoverId(1), CoverId(2)]);
    assert!((plan.minutes() - 19.0).abs() < 1e-9);
}

#[test]
fn two_sides_cost_one_walk_in_and_one_back() {
    let mut access = dryer();
    access.places[1].exposed_by.remove(0);
    let plan = plan_teardown(&access, &[place_id(1), place_id(3)], &Open::nothing()).unwrap();
    // Back panel 4.5; then top 2 beats console 3.5 for the console's inside. The walk is twice a quarter minute.
    assert_eq!(plan.opens(), [CoverId(0), CoverId(3)]);
    assert!((plan.minutes() - (6.5 + 2.0 * WALK_MINUTES)).abs() < 1e-9);
}

#[test]
fn the_way_back_mirrors_the_way_in_with_what_only_it_has() {
    let plan = plan_teardown(&dryer(), &[place_id(2)], &Open::nothing()).unwrap();
    let acts_in: Vec<Act> = plan.steps_in.iter().map(|step| step.act).collect();
    let acts_back: Vec<Act> = plan.steps_back.iter().map(|step| step.act).collect();
    let (top, front, drum) = (cover_id(0), cover_id(1), cover_id(2));
    assert_eq!(acts_in, [Act::Open(top), Act::Open(front), Act::Open(drum), Act::Photo]);
    assert_eq!(acts_back, [Act::Close(drum), Act::OnlyBack(front), Act::Close(front), Act::Close(top)]);
    assert_eq!(plan.steps_in[1].keep_for_last.as_deref(), Some("the lower left screw carries the panel"));
    assert_eq!(plan.steps_back[2].say, "put the front panel back");
}

#[test]
fn screws_are_counted_out_and_in_by_kind() {
    let plan = plan_teardown(&dryer(), &[place_id(2)], &Open::nothing()).unwrap();
    let kinds: Vec<(&str, u32)> = plan.fasteners_out.iter().map(|kind| (kind.what.as_str(), kind.count)).collect();
    assert_eq!(kinds, [("clip", 2), ("hex-head screw", 2)]);
    assert_eq!(plan.fasteners_out, plan.fasteners_in);
    assert_eq!(plan.tools, ["1/4 in nut driver", "putty knife"]);
    assert_eq!(plan.people, 2);
}

#[test]
fn a_step_warns_of_the_place_that_it_lays_open() {
    let plan = plan_teardown(&dryer(), &[place_id(1)], &Open::nothing()).unwrap();
    assert_eq!(plan.steps_in[0].cautions, [Hazard::HotSurface, Hazard::SharpEdge]);
}

#[test]
fn no_cover_no_step_no_photo_unless_leads_are_lifted() {
    let wall = plan_teardown(&dryer(), &[place_id(0)], &Open::nothing()).unwrap();
    assert!(wall.steps_in.is_empty() && wall.steps_back.is_empty());
    let means = Means { lifts_leads: true, ..Means::default() };
    let wall = plan_teardown_with(&dryer(), &[place_id(0)], &Open::nothing(), &means).unwrap();
    assert_eq!(wall.steps_in.len(), 1);
    assert_eq!(wall.steps_in[0].act, Act::Photo);
}

#[test]
fn alone_the_drum_stays_in_and_the_motor_is_out_of_reach() {
    let alone = Means { people: 1, ..Means::default() };
    let blocked = plan_teardown_with(&dryer(), &[place_id(2)], &Open::nothing(), &alone).unwrap_err();
    assert_eq!(blocked, Blocked::NoWay { place: place_id(2), missing: vec![CoverId(2)] });
    assert_eq!(blocked.say(&dryer()), "`motor` cannot be reached: `drum` cannot come off with what is at hand");
    let heater = plan_teardown_with(&dryer(), &[place_id(1)], &Open::nothing(), &alone).unwrap();
    assert_eq!(heater.opens(), [CoverId(3)]);
}

#[test]
fn without_the_nut_driver_neither_panel_comes_off() {
    let without = BTreeSet::from(["1/4 in nut driver".to_owned()]);
    let means = Means { without, ..Means::default() };
    let blocked = plan_teardown_with(&dryer(), &[place_id(1)], &Open::nothing(), &means).unwrap_err();
    assert_eq!(blocked, Blocked::NoWay { place: place_id(1), missing: vec![CoverId(3)] });
}

#[test]
fn before_it_runs_the_front_goes_on_and_so_the_drum_behind_it() {
    assert_eq!(must_close_to_run(&dryer(), &off(&[0, 1, 2, 4])), [CoverId(2), CoverId(1)]);
    assert_eq!(must_close_to_run(&dryer(), &off(&[0, 4])), []);
}

#[test]
fn a_place_that_is_not_there_is_said_so() {
    assert_eq!(
        plan_teardown(&dryer(), &[place_id(9)], &Open::nothing()).unwrap_err(),
        Blocked::UnknownPlace(place_id(9))
    );
}

#[test]
fn a_cover_that_costs_less_than_the_walk_it_saves_comes_off() {
    // u (front) comes off after a (back) or after c (front); a is wanted too and comes after v (front).
    // With c: v, c, u, then a: one walk. Without c: v, a, u: two walks. c costs 0.2, a walk both ways 0.5.
    let access = machine::access::Access {
        steps: vec![
            crate::support::cover("a", "back", &[&[3]], 1.0, 1.0),
            crate::support::cover("c", "front", &[], 0.1, 0.1),
            crate::support::cover("u", "front", &[&[0], &[1]], 1.0, 1.0),
            crate::support::cover("v", "front", &[], 1.0, 1.0),
        ],
        places: vec![crate::support::place("both", &[&[0, 2]])],
    };
    let plan = plan_teardown(&access, &[place_id(0)], &Open::nothing()).unwrap();
    assert_eq!(plan.opens(), [CoverId(1), CoverId(2), CoverId(3), CoverId(0)]);
    assert!((plan.minutes() - (6.2 + 2.0 * WALK_MINUTES)).abs() < 1e-9);
}

#[test]
fn an_alternative_with_a_cover_that_is_not_there_is_no_way() {
    let mut access = dryer();
    access.places[1].exposed_by = vec![vec![cover_id(77)]];
    let blocked = plan_teardown(&access, &[place_id(1)], &Open::nothing()).unwrap_err();
    assert_eq!(blocked, Blocked::NoWay { place: place_id(1), missing: vec![cover_id(77)] });
}
