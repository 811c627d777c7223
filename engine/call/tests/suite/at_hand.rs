//! What is learned of the unit at hand: believed at once, kept with the appliance, and laid over the machine later.

use crate::play::{Player, predictor, settings};
use book::{Body, ShopFact};
use call::demo::Demo;
use call::{About, adapt};
use machine::Machine;
use machine::model::{PartKind, VariantId};

fn dryer() -> Machine {
    shipped::find("dryer-control-240").unwrap().read().unwrap()
}

#[test]
fn a_variant_that_a_look_tells_is_asked_for_and_believed() {
    let machine = dryer();
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 1).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    let ask = player.until(&mut demo, |ask| matches!(ask.about, About::Unit(_)));
    assert!(ask.say.contains("with the door open") && ask.say.contains("the heater by the plate"), "{}", ask.say);
    player.say("2").unwrap();
    assert!(player.session.belief().ways_of(VariantId(0))[1] > 0.95);
    // It is asked once, and what no look tells is not asked at all.
    let next = player.until(&mut demo, |ask| !matches!(ask.about, About::Line(_)));
    assert!(!matches!(next.about, About::Unit(_)), "{}", next.say);
}

#[test]
fn what_was_learned_holds_on_the_next_visit_in_prompts_and_prediction() {
    let machine = dryer();
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 1).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| matches!(ask.about, About::Unit(_)));
    let mut events = vec![player.say("unit heater w4500").unwrap()];
    player.until(&mut demo, |ask| ask.own_way);
    events.push(player.say("label heater.1 H1").unwrap());
    events.push(player.say("plate watts 4800").unwrap());
    events.push(player.say("papers service-mode hold start and stop for five seconds").unwrap());
    assert!(player.say("unit heater w9000").unwrap_err().mend.contains("described, w4500"));
    assert!(player.say("label heater.9 H1").is_err());
    let facts: Vec<_> = events.iter().map(|event| event.body()).collect();
    let Body::Shop(ShopFact::ApplianceLearned(papers)) = facts[3] else { panic!("{:?}", facts[3]) };
    assert_eq!(papers.papers["service-mode"], "hold start and stop for five seconds");

    let mut at_hand = dryer();
    adapt(&mut at_hand, &events);
    let point = at_hand.terminal("heater.1").unwrap();
    assert_eq!(at_hand.say_terminal(point), "heating element H1");
    assert!(at_hand.builds.iter().all(|build| build.options[0] == Some(0)));
    // 240 V squared over 4500 W in place of 5300 W.
    let ohms = |machine: &Machine| {
        let reading = prediction::Reading {
            quantity: prediction::Quantity::Ohms,
            probe: prediction::Probe::Across(point, machine.terminal("heater.2").unwrap()),
            condition: prediction::Condition::isolated(machine::model::StateId(0)),
        };
        match predictor_of(machine).predict(&reading, &[]).shown {
            prediction::Shown::Value { value, .. } => value - 0.2,
            other => panic!("{other:?}"),
        }
    };
    assert!((ohms(&at_hand) / ohms(&machine) - 5300.0 / 4500.0).abs() < 1e-6);
}

#[test]
fn a_record_tells_how_the_unit_is_built() {
    let machine = dryer();
    let record = |way: &str| {
        format!("callwright-call = 1\nmachine = \"dryer-control-240\"\n[[found]]\nunit = \"heater\"\nway = \"{way}\"\n")
    };
    let recorded = call::callfile::read_callfile(&machine, &record("w4500")).unwrap();
    let built = diagnosis::Evidence::Built { variant: VariantId(0), option: Some(0) };
    assert_eq!(recorded.evidence, [built]);
    let troubles = call::callfile::read_callfile(&machine, &record("w9000")).unwrap_err();
    assert_eq!((troubles[0].code, troubles[0].line), ("c013-unit", 5));
    assert!(troubles[0].hints[0].contains("described, w4500"));
}

fn predictor_of(machine: &Machine) -> prediction::Predictor<'_> {
    crate::play::predictor(machine)
}

#[test]
fn an_old_machine_is_believed_to_wear_and_a_touched_one_to_have_come_apart() {
    let machine = dryer();
    let of = |age_years, touched| call::callfile::Appliance { age_years, touched }.weights(&machine);
    assert!(of(None, None).is_empty() && of(Some(7.0), None).is_empty());
    let ratio = |weights: &std::collections::BTreeMap<machine::model::FaultId, f64>, fault: &str| {
        let id = machine.fault(fault).unwrap();
        weights[&id] / machine[id].weight
    };
    let old = of(Some(14.0), None);
    assert!((ratio(&old, "belt:broken") - 2.0).abs() < 1e-12, "{}", ratio(&old, "belt:broken"));
    let lead = machine.faults.iter().find(|fault| machine[fault.part].kind == PartKind::Lead).unwrap();
    let both = of(Some(14.0), Some(call::callfile::Touched::Owner));
    assert!((ratio(&both, &lead.id) - 5.0).abs() < 1e-12 && (ratio(&both, "belt:broken") - 2.0).abs() < 1e-12);
}
