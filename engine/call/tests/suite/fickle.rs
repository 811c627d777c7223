//! A record that tells of a trouble that comes and goes, and one with a capacitance.

use crate::play::{Player, machine, predictor, settings};
use book::TemperatureScale;
use call::callfile::read_callfile;
use call::demo::Demo;
use call::{About, Settings};
use diagnosis::{Evidence, Measured, Stirred};
use prediction::{Meter, Predictor, Quantity};

const DRYER: &str = include_str!("../../../../machines/dryer-timer-240.toml");

const RECORD: &str = r#"
callwright-call = 1
machine = "dryer-timer-240"
comes_and_goes = true

[[reported]]
state = "heat"
observe = "heats"
value = "none"

[[found]]
ohms = ["heater.1", "heater.2"]
shows = "10.4"

[[found]]
moved = "R4"

[[found]]
warmed = true

[[found]]
again = true
"#;

#[test]
fn a_record_says_that_it_comes_and_goes_and_what_was_done_to_make_it_show() {
    let machine = machine::read(DRYER).machine.unwrap();
    let recorded = read_callfile(&machine, RECORD).unwrap();
    let lead = machine.part("R4").unwrap();
    assert!(matches!(recorded.evidence[0], Evidence::Reported(_)));
    assert_eq!(recorded.evidence[1], Evidence::ComesAndGoes(true));
    assert!(matches!(recorded.evidence[2], Evidence::Read { .. }));
    let stirred = [Stirred::Moved(lead), Stirred::Warmed, Stirred::Again].map(Evidence::Stirred);
    assert_eq!(recorded.evidence[3..], stirred);
    // What was read before may read otherwise now: it is offered again.
    assert!(recorded.bench(&Predictor::new(&machine, Meter::ordinary())).read.is_empty());
}

#[test]
fn an_item_that_says_two_things_is_pointed_at() {
    let machine = machine::read(DRYER).machine.unwrap();
    let both = RECORD.replace("moved = \"R4\"", "moved = \"R4\"\nagain = true");
    let troubles = read_callfile(&machine, &both).unwrap_err();
    assert_eq!((troubles[0].code, troubles[0].line), ("c004-one-thing", 16));
}

#[test]
fn a_capacitance_is_read_in_microfarads_on_the_isolated_machine() {
    let oven = machine::read(include_str!("../../../machine/tests/good/oven.toml")).machine.unwrap();
    let capacitor = oven.parts.iter().find(|part| part.kind == machine::model::PartKind::Capacitor).unwrap();
    let ends: Vec<&str> = capacitor.terminals.iter().map(|end| oven[*end].name.as_str()).collect();
    let (one, two) = (ends[0], ends[1]);
    let record = |more: &str| {
        format!(
            "callwright-call = 1\nmachine = \"oven\"\n[[found]]\nfarads = [\"{one}\", \"{two}\"]\nlifted = [\"{one}\"]\nshows = \"8.1\"\n{more}"
        )
    };
    let recorded = read_callfile(&oven, &record("")).unwrap();
    let Evidence::Read { reading, measured: Measured::Value(farads) } = &recorded.evidence[0] else { panic!() };
    assert!((farads - 8.1e-6).abs() < 1e-12 && reading.quantity == Quantity::Farads);
    assert!(!reading.condition.plugged && !reading.condition.lifted.is_empty());
    assert_eq!(read_callfile(&oven, &record("isolated = false\n")).unwrap_err()[0].code, "c010-ohms-live");
}

#[test]
fn the_customer_is_asked_whether_it_comes_and_goes_and_the_belief_hears_it() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let hides = |said: &str| {
        let mut demo = Demo::draw(&machine, 1).unwrap();
        let mut player = Player::new(&predictor, settings(&machine));
        player.until(&mut demo, |ask| ask.about == About::ComesAndGoes);
        player.say(said).unwrap();
        player.until(&mut demo, |ask| matches!(ask.about, About::Arrive));
        let belief = player.session.belief();
        let shares = belief.shares();
        shares.iter().map(|(suspect, share)| share * belief.comes_and_goes(suspect)).sum::<f64>()
    };
    let (every_time, comes_and_goes, not_known) = (hides("1"), hides("2"), hides(""));
    assert!(every_time < not_known && not_known < comes_and_goes, "{every_time} {not_known} {comes_and_goes}");
}

#[test]
fn a_part_is_moved_only_where_hands_may_be_and_begins_another_sitting() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 1).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    let stirred = |player: &Player<'_, '_>, by: Stirred| {
        player.session.belief().evidence().iter().any(|weighed| weighed.item == Evidence::Stirred(by))
    };
    let belt = machine.part("belt").unwrap();
    // Isolated and measured dead a hand goes in, and it cannot have run.
    player.until(&mut demo, |ask| matches!(ask.about, About::Read(_)) && ask.own_way);
    assert!(player.say("moved nothing-of-that-name").is_err());
    player.say("moved belt").unwrap();
    assert!(stirred(&player, Stirred::Moved(belt)));
    player.until(&mut demo, |ask| matches!(ask.about, About::Read(_)) && ask.own_way);
    assert!(player.say("ran warm").unwrap_err().say.contains("isolated"));
    // While it runs it is the other way round.
    player.say("try heat").unwrap();
    player.until(&mut demo, |ask| matches!(ask.about, About::Try(_)) && ask.own_way);
    let moved = |player: &Player<'_, '_>| {
        let evidence = player.session.belief().evidence().iter();
        evidence.filter(|weighed| weighed.item == Evidence::Stirred(Stirred::Moved(belt))).count()
    };
    let refused = player.say("moved belt").unwrap_err();
    assert!(refused.say != "nothing is asked" && !refused.mend.is_empty(), "{refused:?}");
    assert_eq!(moved(&player), 1);
    assert!(!stirred(&player, Stirred::Warmed));
    player.say("ran warm").unwrap();
    assert!(stirred(&player, Stirred::Warmed));
}

#[test]
fn a_thermometer_is_read_while_a_state_runs_and_the_belief_hears_it_in_the_scale_that_is_set() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let zone = machine.zones.iter().find(|zone| zone.heat.is_some()).unwrap();
    for (scale, typed, celsius) in [
        // SOURCE: 32 °F is 0 °C and 212 °F is 100 °C, by definition of the scales.
        (TemperatureScale::Fahrenheit, "thermometer 122 10".to_owned(), 50.0),
        (TemperatureScale::Fahrenheit, format!("thermometer 40C 2.5 {}", zone.id), 40.0),
        (TemperatureScale::Celsius, "thermometer 61 12".to_owned(), 61.0),
    ] {
        let mut demo = Demo::draw(&machine, 1).unwrap();
        let mut player = Player::new(&predictor, Settings { temperatures: scale, ..settings(&machine) });
        player.until(&mut demo, |ask| matches!(ask.about, About::Read(_)) && ask.own_way);
        assert!(player.say(&typed).unwrap_err().mend.contains("try STATE"));
        player.say("try heat").unwrap();
        player.until(&mut demo, |ask| matches!(ask.about, About::Try(_)) && ask.own_way);
        for bad in ["thermometer hot 10", "thermometer 50C soon", "thermometer 50C 5000", "thermometer 50C 10 cellar"] {
            assert!(!player.say(bad).unwrap_err().mend.is_empty(), "{bad}");
        }
        player.say(&typed).unwrap();
        let heat = machine.state("heat").unwrap();
        let warmed: Vec<_> = player
            .session
            .belief()
            .evidence()
            .iter()
            .filter_map(|weighed| match &weighed.item {
                Evidence::Warmed { reading, celsius } => Some((reading.state, reading.seconds, *celsius)),
                _ => None,
            })
            .collect();
        let minutes: f64 = typed.split(' ').nth(2).unwrap().parse().unwrap();
        let [(state, seconds, read)] = warmed[..] else { panic!("{warmed:?}") };
        assert_eq!((state, f64::from(seconds)), (heat, minutes * 60.0));
        assert!((read - celsius).abs() < 1e-9, "{read}");
        // What was being watched is still asked for.
        assert!(matches!(player.session.ask().about, About::Try(_)));
    }
}
