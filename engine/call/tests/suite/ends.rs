//! How calls end, and what each end leaves behind.

use crate::judge::wrong_steps;
use crate::play::{DRYER, Player, machine, predictor, settings};
use book::{
    ApprovalRecorded, Body, CallEnded, CallOpened, CoverOpened, Decision, End, Job, JobFact, PartChanged, Purpose,
    QuoteGiven, Standing, fold_job,
};
use call::demo::Demo;
use call::{About, Settings, Van, Wants};
use std::collections::BTreeMap;

fn folded(player: &Player<'_, '_>) -> Job {
    fold_job(&player.events(), player.session.job().unwrap()).unwrap()
}

fn ends(job: &Job) -> Vec<End> {
    job.all::<CallEnded>().map(|(_, ended)| ended.end.clone()).collect()
}

#[test]
fn the_demo_by_enter_alone_ends_proved_with_the_right_repair() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    for seed in 1..=6 {
        let mut demo = Demo::draw(&machine, seed).unwrap();
        let mut player = Player::new(&predictor, settings(&machine));
        player.until(&mut demo, |_| false);
        let job = folded(&player);
        assert_eq!(ends(&job), [End::Proved], "seed {seed}:\n{}", player.asked.join("\n"));
        let wanted = &machine[machine[demo.hidden()].repair];
        let done = job.all::<PartChanged>().last().unwrap().1;
        assert_eq!(done.part, machine[wanted.part].id, "seed {seed}");
        assert!(demo.sound());
        assert_eq!(job.standing(), Standing::Closed);
        assert!(job.covers_open.is_empty() && job.leads_lifted.is_empty() && job.screws_missing.is_empty());
    }
}

#[test]
fn gas_ends_the_call_outside_with_nothing_switched_or_touched() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 1).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| ask.about == About::Gas);
    player.say("yes").unwrap();
    let ask = player.ask();
    assert_eq!(ask.about, About::Evacuate);
    assert!(ask.cautions.iter().any(|caution| caution.signal == danger::Signal::Danger));
    player.say("").unwrap();
    assert_eq!(player.ask().about, About::Ended);
    let job = folded(&player);
    assert!(matches!(ends(&job).as_slice(), [End::MadeSafe { why }] if why.contains("gas")));
    assert_eq!(job.hazards.len(), 1);
    let touched = ["reading_taken", "energised", "cover_opened", "try_taken", "step_done"];
    assert!(player.events().iter().all(|event| !touched.contains(&event.body().kind())));
}

#[test]
fn declined_is_put_back_made_safe_and_the_diagnosis_charged() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| ask.about == About::Choose);
    player.say("leave").unwrap();
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    let ended = ends(&job);
    let [End::Declined { put_back, made_safe, charged }] = ended.as_slice() else { panic!("{ended:?}") };
    assert!(*put_back && *made_safe);
    assert_eq!(charged.unwrap().amount, player.session.settings().rates.call_out);
    assert!(job.all::<CoverOpened>().count() > 0 && job.covers_open.is_empty());
    assert_eq!(job.all::<PartChanged>().count(), 0);
    assert_eq!(job.all::<ApprovalRecorded>().last().unwrap().1.decision, Decision::Declined);
    assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new());
}

#[test]
fn no_part_is_changed_without_a_name_under_the_approval() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| ask.about == About::Approve);
    for nobody in ["refused", "nobody", ""] {
        player.say(nobody).unwrap_err();
    }
    let quote = folded(&player);
    let (_, given) = quote.all::<QuoteGiven>().last().unwrap();
    let sum: rust_decimal::Decimal = given.charges.iter().map(|line| line.amount.amount).sum();
    assert_eq!(sum, given.low.amount);
    assert!(given.high.amount >= given.low.amount);
}

#[test]
fn a_part_that_is_not_on_the_van_keeps_the_job_open_and_the_next_visit_fits_it() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let fault = machine.fault("timer:c1-open").unwrap();
    let mut demo = Demo::with(&machine, 2, fault).unwrap();
    let mut player = Player::new(&predictor, Settings { van: Van::Counted(BTreeMap::new()), ..settings(&machine) });
    let is_van = |ask: &call::Ask| ask.about == About::Line("fit/van".to_owned());
    player.until(&mut demo, is_van);
    player.say("no").unwrap();
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert!(matches!(ends(&job).as_slice(), [End::AwaitingPart { parts, .. }] if *parts == ["timer"]));
    assert_eq!(job.standing(), Standing::AwaitingPart);
    let events = player.events();
    assert!(call::unfinished(&events, events[0].id().device()).is_none());
    let waiting = call::waiting(&player.events());
    assert_eq!(waiting.iter().map(|of| (of.job, of.purpose)).collect::<Vec<_>>(), [(job.id, Purpose::WithPart)]);
    let again = CallOpened { purpose: Purpose::WithPart, promised: None };
    player.take(&Body::Job { job: job.id, call: None, fact: JobFact::from(again) });
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert_eq!(ends(&job).last(), Some(&End::Proved), "{}", player.asked.join("\n"));
    assert_eq!(job.calls.len(), 2);
    assert_eq!(job.standing(), Standing::Closed);
    assert!(demo.sound());
    assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new());
}

#[test]
fn with_a_dangerous_hazard_open_leaving_it_is_not_offered_and_nothing_is_switched_on() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| ask.own_way && matches!(ask.about, About::Read(_)));
    player.say("danger the insulation of the cord is melted").unwrap();
    let ask = player.ask();
    assert!(matches!(ask.about, About::Hazard(_)), "{}", ask.say);
    player.say("told Ada Example").unwrap();
    player.until(&mut demo, |ask| ask.about == About::Choose);
    let Wants::Choice(choices) = player.ask().wants else { panic!("a choice") };
    let ids: Vec<&str> = choices.iter().map(|choice| choice.id.as_str()).collect();
    assert!(ids.contains(&"disconnect") && !ids.contains(&"leave"), "{ids:?}");
    player.say("disconnect").unwrap();
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert_eq!(ends(&job).len(), 1);
    let after: Vec<_> = player.events().iter().map(|event| event.body().kind().to_owned()).collect();
    let found = after.iter().position(|kind| kind == "hazard_found").unwrap();
    assert!(after[found..].iter().all(|kind| kind != "energised"));
    assert!(player.asked.iter().any(|asked| asked.contains("Disconnect it and tag it")));
}

#[test]
fn a_hazard_that_is_not_gone_after_the_repair_keeps_the_machine_off() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |ask| ask.own_way && matches!(ask.about, About::Read(_)));
    player.say("danger the cord is melted").unwrap();
    player.until(&mut demo, |ask| matches!(ask.about, About::HazardGone(_)));
    player.say("no").unwrap();
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert!(matches!(ends(&job).as_slice(), [End::MadeSafe { .. }]), "{:?}", ends(&job));
    assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new());
}

#[test]
fn a_lost_leg_is_named_told_and_referred() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let fault = machine.fault("house:leg2-lost").unwrap();
    let mut demo = Demo::with(&machine, 2, fault).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert!(matches!(ends(&job).as_slice(), [End::Referred { .. }]), "{:?}", ends(&job));
    assert!(job.hazards.iter().any(|hazard| hazard.found.fact.what.contains("leg 1 to leg 2 shows")));
    assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new());
}

#[test]
fn nothing_blocks_on_what_nobody_knows() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut player = Player::new(&predictor, settings(&machine));
    for _ in 0..40 {
        let ask = player.ask();
        if matches!(ask.about, About::Isolate) {
            return;
        }
        let text = if ask.enter.is_some() { "" } else { "skip" };
        player.say(text).unwrap_or_else(|refused| panic!("{}: {refused}", ask.say));
    }
    panic!("{}", player.asked.join("\n"));
}

#[test]
fn a_proof_that_has_to_wait_keeps_the_job_open_until_the_visit_for_it() {
    let text = DRYER.replace("id = \"airflow\"\n", "id = \"airflow\"\ndeferred_hours = 24\n");
    let machine = machine(&text);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert_eq!(ends(&job), [End::Proved]);
    assert_eq!(job.standing(), Standing::AwaitingProof);
    assert_eq!(job.summary().deferred, ["airflow"]);
    assert!(job.closed.is_none());
    let waiting = call::waiting(&player.events());
    assert_eq!(waiting.first().map(|of| of.purpose), Some(Purpose::DeferredProof));
    let again = CallOpened { purpose: Purpose::DeferredProof, promised: None };
    player.take(&Body::Job { job: job.id, call: None, fact: JobFact::from(again) });
    player.until(&mut demo, |_| false);
    let job = folded(&player);
    assert_eq!(job.standing(), Standing::Closed, "{}", player.asked.join("\n"));
    assert!(job.summary().passed.contains(&"airflow".to_owned()));
    assert_eq!(job.all::<PartChanged>().count(), 1);
}

/// What the gate lets nobody here touch after the repair (the supply cable of a machine wired in for good) is asked about once.
#[test]
fn a_cause_that_nobody_here_may_look_at_is_left_out_once_and_the_call_ends() {
    let machine = shipped::find("water-heater-240").unwrap().read().unwrap();
    let predictor = predictor(&machine);
    let fault = machine.fault("lower-element:open").unwrap();
    let mut demo = Demo::with(&machine, 384, fault).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    player.until(&mut demo, |_| false);
    let held = player.asked.iter().filter(|asked| asked.starts_with("This cannot be done as it stands")).count();
    assert!((1..=3).contains(&held), "{}", player.asked.join("\n"));
    assert_eq!(ends(&folded(&player)), [End::Proved]);
}
