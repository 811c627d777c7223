//! A complaint taken on the telephone: what the customer can see to himself, a visit promised and made, a job settled.

use crate::judge::wrong_steps;
use crate::play::{DRYER, Player, machine, predictor, settings};
use book::{Body, CallEnded, CallOpened, End, FaultFound, JobFact, Purpose, Standing, VisitPromised, fold_job};
use call::demo::Demo;
use call::{About, waiting, window_of};

#[test]
fn a_visit_that_was_promised_is_made_later_without_asking_again() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    let arrive = player.until(&mut demo, |ask| ask.about == About::Arrive);
    assert!(arrive.telephone);
    player.say("later 2026-03-03 12:00-9:00").unwrap_err();
    player.say("later 2026-03-03 9:00-12:30").unwrap();
    player.until(&mut demo, |_| false);
    let job = fold_job(&player.events(), player.session.job().unwrap()).unwrap();
    assert_eq!(job.standing(), Standing::Promised);
    let [of] = waiting(&player.events()).try_into().unwrap();
    assert_eq!(of.purpose, Purpose::First);
    assert!(of.waits_for().ends_with("promised 2026-03-03 09:00 to 12:30"), "{}", of.waits_for());
    let (_, promised) = job.all::<VisitPromised>().last().unwrap();
    assert_eq!(of.promised.as_ref(), Some(&promised.window));

    let asked = player.asked.len();
    let opened = CallOpened { purpose: of.purpose, promised: of.promised };
    player.take(&Body::Job { job: job.id, call: None, fact: JobFact::from(opened) });
    let first = player.until(&mut demo, |ask| matches!(ask.about, About::Arrive | About::Use | About::Since));
    assert_eq!(first.about, About::Arrive, "{:?}", &player.asked[asked..]);
    player.until(&mut demo, |_| false);
    let job = fold_job(&player.events(), job.id).unwrap();
    let ends: Vec<End> = job.all::<CallEnded>().map(|(_, ended)| ended.end.clone()).collect();
    assert_eq!(ends, [End::VisitPromised, End::Proved], "{}", player.asked.join("\n"));
    assert!(waiting(&player.events()).is_empty());
    assert_eq!(wrong_steps(&machine, &player.events()), Vec::<String>::new());
}

#[test]
fn what_anybody_can_see_to_is_asked_first_and_settles_the_job() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let unplugged = machine.fault("cord:unplugged").unwrap();
    let mut demo = Demo::with(&machine, 2, unplugged).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    let arrive = player.until(&mut demo, |ask| ask.about == About::Arrive);
    let first: Vec<&str> =
        arrive.lines.iter().map(|line| line.say.as_str()).filter(|say| say.contains("before you drive")).collect();
    let plug = &machine[machine[unplugged].repair].say;
    assert!(first.iter().any(|say| say.contains(plug.as_str())), "{first:?} without {plug}");
    player.say("settled").unwrap_err();
    player.say("settled cord:unplugged").unwrap();
    player.until(&mut demo, |_| false);
    let job = fold_job(&player.events(), player.session.job().unwrap()).unwrap();
    assert_eq!(job.standing(), Standing::Closed);
    let (_, found) = job.all::<FaultFound>().last().unwrap();
    assert_eq!((found.faults[0].part.as_str(), found.faults[0].fault.as_str()), ("cord", "unplugged"));
    let (_, ended) = job.all::<CallEnded>().last().unwrap();
    assert!(matches!(&ended.end, End::SettledByTelephone { how } if how.contains("not plugged in")), "{ended:?}");
}

#[test]
fn once_somebody_is_there_neither_is_possible() {
    let machine = machine(DRYER);
    let predictor = predictor(&machine);
    let mut demo = Demo::draw(&machine, 3).unwrap();
    let mut player = Player::new(&predictor, settings(&machine));
    let ask = player.until(&mut demo, |ask| ask.own_way);
    assert!(!ask.telephone);
    player.say("later 2026-03-03 9:00-12:30").unwrap_err();
    player.say("settled cord:unplugged").unwrap_err();
}

#[test]
fn a_window_is_read_in_the_time_of_the_place() {
    let like = "2026-03-02T09:15:00+01:00[Europe/Berlin]".parse().unwrap();
    let (from, to) = window_of("2026-12-01 9:00-12:00", &like).unwrap();
    assert_eq!((from.as_str(), to.as_str()), ("2026-12-01T09:00:00+01:00", "2026-12-01T12:00:00+01:00"));
    assert_eq!(window_of("2026-12-01 14-16:30", &like).unwrap().0.as_str(), "2026-12-01T14:00:00+01:00");
    let utc = "2026-03-02T09:15:00Z".parse().unwrap();
    assert_eq!(window_of("2026-12-01 9-10", &utc).unwrap().0.as_str(), "2026-12-01T09:00:00Z");
    for bad in
        ["", "tomorrow", "2026-12-01", "2026-12-01 9", "2026-12-01 9-8", "2026-13-01 9-10", "2026-12-01 25-26", "ä ö-ü"]
    {
        assert!(window_of(bad, &like).is_err(), "{bad}");
    }
}
