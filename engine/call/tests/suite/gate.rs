//! No step without what must come first, whoever answers and whatever is answered.

use crate::judge::wrong_steps;
use crate::play::{DRYER, Player, RANGE, machine, predictor, settings};
use call::demo::Demo;
use call::{About, Answer, OwnWay};
use machine::model::FaultId;

/// A small generator, so that a failing run can be had again by its seed.
struct Chance(u64);

impl Chance {
    fn below(&mut self, most: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % most
    }
}

#[test]
fn every_step_of_the_demo_is_prepared_as_it_must_be() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    for seed in [1, 2, 3] {
        let mut demo = Demo::draw(&machine, seed).unwrap();
        let mut player = Player::new(&predictor, settings(&machine));
        player.until(&mut demo, |_| false);
        assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new(), "seed {seed}");
    }
}

#[test]
fn the_judge_notices_a_step_that_was_not_prepared() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |_| false);
    for kind in ["made_safe", "approval_recorded", "step_done"] {
        let without: Vec<_> = player.events().into_iter().filter(|event| event.body().kind() != kind).collect();
        assert!(!wrong_steps(&machine, &without).is_empty(), "{kind}");
    }
}

#[test]
fn other_faults_of_both_machines_come_to_an_end_with_every_step_prepared() {
    for (text, every, from) in [(DRYER, 17, 3), (RANGE, 31, 5)] {
        let machine = machine(text);
        let predictor = predictor(&machine);
        for at in (from..machine.faults.len()).step_by(every) {
            let Some(mut demo) = Demo::with(&machine, 5, FaultId(u16::try_from(at).unwrap())) else { continue };
            let mut player = Player::new(&predictor, settings(&machine));
            player.until(&mut demo, |_| false);
            assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new(), "{}", machine[demo.hidden()].id);
        }
    }
}

const LINES: [&str; 30] = [
    "",
    "yes",
    "no",
    "OL",
    "0",
    "999",
    "12.5",
    "-3",
    "1",
    "2",
    "3",
    "skip",
    "stop",
    "ok",
    "cannot reach",
    "nobody",
    "refused",
    "opinion motor",
    "opinion motor 0",
    "not built like this no fuse",
    "danger it smokes",
    "ohms heater.1 heater.2",
    "look belt",
    "moved belt",
    "ran warm",
    "try heat",
    "volts block.L1 block.L2 heat",
    "missing 1",
    "tagged refused",
    "\u{202e}\u{0}<b>",
];

#[test]
fn whatever_is_typed_nothing_breaks_and_no_step_goes_unprepared() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    for seed in 0..6 {
        let mut chance = Chance(seed * 7919 + 1);
        let mut demo = Demo::draw(&machine, seed).unwrap();
        let mut player = Player::new(&predictor, settings(&machine));
        for _ in 0..140 {
            let ask = player.ask();
            if ask.about == About::Ended {
                break;
            }
            let text = match chance.below(4) {
                0 if ask.about != About::Gas => LINES[chance.below(LINES.len())].to_owned(),
                _ => demo.answer(&ask),
            };
            if let Ok(event) = player.say(&text) {
                demo.note(&event);
            }
        }
        assert_eq!(
            wrong_steps(&machine, &player.events()),
            Vec::<String>::new(),
            "seed {seed}:\n{}",
            player.asked.join("\n")
        );
    }
}

#[test]
fn a_dead_test_with_a_live_reading_is_refused_and_recorded_nowhere() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| matches!(ask.about, About::DeadTest(_)));
    let before = player.events().len();
    for live in ["118", "3.1", "0.24 kV"] {
        let refused = player.say(live).unwrap_err();
        assert!(refused.say.contains("not dead"), "{refused}");
        assert!(refused.mend.contains("hands off"), "{refused}");
    }
    player.say("OL").unwrap_err();
    assert_eq!(player.events().len(), before);
    assert!(matches!(player.ask().about, About::DeadTest(_)));
    player.say("0.3").unwrap();
    // The meter must show the live source again before anything counts as dead.
    assert!(matches!(player.ask().about, About::KnownSource { .. }));
    assert!(player.say("0.3").unwrap_err().say.contains("proves nothing"));
}

#[test]
fn a_board_is_changed_only_after_its_supplies_request_and_output_were_measured() {
    let machine = machine(RANGE);
    let predictor = predictor(&machine);
    let fault = machine.fault("control:bake-open").unwrap();
    let mut demo = Demo::with(&machine, 4, fault).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| ask.own_way && matches!(ask.about, About::Read(_) | About::Look(_)));
    let change = machine.repair("control:replace").unwrap();
    let instead = Answer::OwnWay(OwnWay::Instead("repair:control:replace".to_owned()));
    let body = player.session.answer(&instead).unwrap();
    player.take(&body);
    assert!(player.session.permit_repair(change).is_err());
    player.until(&mut demo, |ask| matches!(ask.about, About::Choose));
    assert_eq!(player.session.situation().boards.len(), 1);
    let asked = player.asked.join("\n");
    // The supply is read, or the lit display without a code stands for it; the output is read under load.
    assert!(asked.contains("L of the oven control") || asked.contains("display=normal"), "{asked}");
    assert!(asked.contains("red on L1 of the oven control, black on BK of the oven control"), "{asked}");
    player.until(&mut demo, |_| false);
    assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new());
    assert!(demo.sound());
}
