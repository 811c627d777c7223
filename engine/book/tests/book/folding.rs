//! What a job looks like when it is folded.

use book::*;

use crate::story::{self, PHONE, Teller, tell};

fn opened(told: &mut Teller) -> (JobId, CallId) {
    let customer = told.phone(&Body::shop(CustomerAdded { key: story::KEY, record: story::DETAILS, listed: false }));
    let job = told.phone(&Body::shop(JobOpened {
        customer: customer.into(),
        appliance: None,
        complaint: story::complaint(),
        callback_of: None,
        shown: None,
    }));
    let call = told.phone(&Body::job(job.into(), CallOpened { purpose: Purpose::First, promised: None }));
    (job.into(), call.into())
}

fn fold(told: &Teller, job: JobId) -> Job {
    fold_job(&told.events, job).unwrap()
}

#[test]
fn the_story_folds_to_a_job_that_waits_for_a_proof_though_it_was_closed() {
    let (events, job) = tell();
    let summary = fold_job(&events, job).unwrap().summary();
    assert_eq!(summary.standing, Standing::AwaitingProof);
    assert_eq!(summary.deferred, ["dries_a_full_load"]);
    assert_eq!(summary.not_decided, ["earth_bond"]);
    assert_eq!(summary.passed, ["heats"]);
    assert_eq!(summary.ends, [End::Proved]);
    assert!(matches!(summary.approval, Approval::Approved { .. }));
    assert_eq!(summary.hazards_open.len(), 1);
}

#[test]
fn a_reading_that_was_undone_is_gone_and_listed() {
    let (events, job) = tell();
    let job = fold_job(&events, job).unwrap();
    let typed: Vec<_> = job.all::<ReadingTaken>().map(|(_, fact)| fact.reading.typed.as_str()).collect();
    assert_eq!(typed, ["OL"]);
    assert_eq!(job.undone.len(), 1);
}

#[test]
fn an_undo_can_be_undone() {
    let mut told = Teller::new();
    let (job, call) = opened(&mut told);
    let scope = Scope { job: Some(job), call: Some(call) };
    let stage = told.phone(&Body::call(job, call, StageEntered { stage: Stage::Find }));
    let undo = told.phone(&Body::undo(scope, stage, None));
    assert_eq!(fold(&told, job).calls[0].stage, None);
    told.phone(&Body::undo(scope, undo, None));
    assert_eq!(fold(&told, job).calls[0].stage, Some(Stage::Find));
}

#[test]
fn an_undo_does_not_reach_forward_or_itself() {
    let mut told = Teller::new();
    let (job, call) = opened(&mut told);
    let scope = Scope { job: Some(job), call: Some(call) };
    let next = |told: &Teller, ahead| EventId::new(PHONE, told.events.last().unwrap().id().counter() + ahead).unwrap();
    told.phone(&Body::undo(scope, next(&told, 1), None));
    told.phone(&Body::undo(scope, next(&told, 2), None));
    told.phone(&Body::call(job, call, StageEntered { stage: Stage::Find }));
    assert_eq!(fold(&told, job).calls[0].stage, Some(Stage::Find));
}

#[test]
fn a_destroyed_key_stays_destroyed_though_the_event_is_undone() {
    let mut told = Teller::new();
    let (_, _) = opened(&mut told);
    let gone = told.phone(&Body::shop(KeyDestroyed { key: story::KEY, reason: "asked".to_owned() }));
    told.phone(&Body::undo(Scope::default(), gone, None));
    let book = fold_book(&told.events);
    assert!(book.customers.values().all(|customer| customer.erased));
    assert_eq!(book.customers.len(), 1);
}

#[test]
fn an_answer_to_an_earlier_quote_does_not_approve_the_latest() {
    let mut told = Teller::new();
    let (job, call) = opened(&mut told);
    let quote = QuoteGiven {
        offer: Offer::Repair,
        charges: Vec::new(),
        low: story::money("100"),
        high: story::money("120"),
        holds_until: None,
        shown: None,
    };
    assert_eq!(fold(&told, job).approval(), Approval::NoQuote);
    let first = told.phone(&Body::job_on_call(job, call, quote.clone()));
    let answer = |quote| ApprovalRecorded {
        quote,
        decision: Decision::Approved,
        signature: Signature::Signed { record: story::SIGNED },
    };
    let approved = told.phone(&Body::job_on_call(job, call, answer(first)));
    assert_eq!(fold(&told, job).approval(), Approval::Approved { quote: first });
    let second = told.phone(&Body::job_on_call(job, call, quote));
    assert_eq!(fold(&told, job).approval(), Approval::Waiting { quote: second });
    let scope = Scope { job: Some(job), call: Some(call) };
    told.phone(&Body::undo(scope, second, None));
    assert_eq!(fold(&told, job).approval(), Approval::Approved { quote: first });
    told.phone(&Body::undo(scope, approved, None));
    assert_eq!(fold(&told, job).approval(), Approval::Waiting { quote: first });
}

#[test]
fn a_hazard_stays_open_until_it_is_cleared() {
    let mut told = Teller::new();
    let (job, call) = opened(&mut told);
    let hazard = told.phone(&Body::job_on_call(
        job,
        call,
        HazardFound {
            kind: HazardKind::Shock,
            what: "The frame is live.".to_owned(),
            places: vec![Place::at("frame")],
            dangerous: true,
            told: vec![Role::Customer, Role::Landlord],
            action: HazardAction::DisconnectedAndTagged,
            signature: Signature::Signed { record: story::SIGNED },
        },
    ));
    let summary = fold(&told, job).summary();
    assert_eq!((summary.hazards_open, summary.dangerous), (vec![hazard], true));
    told.phone(&Body::job(job, HazardCleared { hazard, how: "cord replaced".to_owned() }));
    let summary = fold(&told, job).summary();
    assert_eq!((summary.hazards_open, summary.dangerous), (Vec::new(), false));
}

#[test]
fn covers_screws_leads_and_sources_are_counted_back() {
    let mut told = Teller::new();
    let (job, call) = opened(&mut told);
    let open = CoverOpened { cover: "top".to_owned(), screws_out: 4, answers: None };
    told.phone(&Body::call(job, call, open.clone()));
    let leads = vec![Place::at("a"), Place::at("b")];
    told.phone(&Body::call(job, call, LeadsLifted { leads, photos: Vec::new(), answers: None }));
    let safe = |source: &str| Isolated {
        source: source.to_owned(),
        how: "off".to_owned(),
        secured: None,
        could_restore: None,
    };
    let made_safe = MadeSafe {
        isolated: vec![safe("mains"), safe("water")],
        meter_proved_before: None,
        dead: Vec::new(),
        meter_proved_after: None,
    };
    told.phone(&Body::call(job, call, made_safe));
    let midway = fold(&told, job);
    assert_eq!(midway.covers_open.get("top"), Some(&4));
    assert_eq!(midway.leads_lifted.len(), 2);
    assert!(midway.made_safe.is_some());
    told.phone(&Body::call(job, call, LeadsRefitted { leads: vec![Place::at("a")] }));
    told.phone(&Body::call(job, call, CoverClosed { cover: "top".to_owned(), screws_in: 3 }));
    told.phone(&Body::call(job, call, Energised { sources: vec!["mains".to_owned()], why: "try".to_owned() }));
    let end = fold(&told, job);
    assert!(end.covers_open.is_empty());
    assert_eq!(end.screws_missing, [ScrewsMissing { cover: "top".to_owned(), out: 4, back: 3 }]);
    assert_eq!(end.leads_lifted.iter().collect::<Vec<_>>(), ["b"]);
    assert_eq!(end.isolated.keys().collect::<Vec<_>>(), ["water"]);
    assert!(end.made_safe.is_none());
    told.phone(&Body::call(job, call, open));
    told.phone(&Body::call(job, call, CoverClosed { cover: "top".to_owned(), screws_in: 4 }));
    assert!(fold(&told, job).screws_missing.is_empty());
}

#[test]
fn a_job_stands_open_under_way_awaiting_and_closed() {
    let mut told = Teller::new();
    let (job, call) = opened(&mut told);
    assert_eq!(fold(&told, job).standing(), Standing::Open);
    told.phone(&Body::call(job, call, StageEntered { stage: Stage::Travel }));
    assert_eq!(fold(&told, job).standing(), Standing::UnderWay);
    let ended = |end| CallEnded { end, minutes: None, present: None, note: None };
    let parts = vec!["heater".to_owned()];
    told.phone(&Body::call(job, call, ended(End::AwaitingPart { parts, expected: None })));
    assert_eq!(fold(&told, job).standing(), Standing::AwaitingPart);
    let second: CallId = told.phone(&Body::job(job, CallOpened { purpose: Purpose::WithPart, promised: None })).into();
    told.phone(&Body::call(job, second, StageEntered { stage: Stage::Repair }));
    assert_eq!(fold(&told, job).standing(), Standing::UnderWay);
    told.phone(&Body::call(job, second, ended(End::Proved)));
    told.phone(&Body::job(job, JobClosed { why: None }));
    assert_eq!(fold(&told, job).standing(), Standing::Closed);
    told.phone(&Body::job(job, CallOpened { purpose: Purpose::Return, promised: None }));
    assert_eq!(fold(&told, job).standing(), Standing::Open);
}

#[test]
fn a_later_result_ends_a_deferred_proof() {
    let (mut events, job) = tell();
    let mut pen = Pen::after(PHONE, &Loaded::in_order(events.clone(), Vec::new()));
    let passed = ProofResult {
        proof: "dries_a_full_load".to_owned(),
        limit: "dry".to_owned(),
        source: "made up".to_owned(),
        method: "the customer tells by telephone".to_owned(),
        instrument: None,
        readings: Vec::new(),
        outcome: Outcome::Passed,
    };
    events.push(pen.write(&story::at(1500), &Body::job(job, passed)).unwrap());
    assert_eq!(fold_job(&events, job).unwrap().standing(), Standing::Closed);
}

#[test]
fn a_job_whose_opening_is_missing_is_shown_with_the_rest() {
    let (mut events, job) = tell();
    events.retain(|event| event.id() != job.0);
    let folded = fold_job(&events, job).unwrap();
    assert!(folded.opened.is_none() && !folded.opening_undone);
    assert_eq!(folded.calls.len(), 1);
    assert_eq!(folded.all::<ReadingTaken>().count(), 1);
}

#[test]
fn a_job_opened_by_mistake_is_listed_as_undone() {
    let (events, job) = tell();
    let book = fold_book(&events);
    let standings: Vec<_> = book.jobs.values().map(Job::standing).collect();
    assert_eq!(standings.len(), 3);
    assert_eq!(standings.iter().filter(|standing| **standing == Standing::Undone).count(), 1);
    assert_ne!(book.jobs[&job].standing(), Standing::Undone);
}

#[test]
fn what_another_version_wrote_is_listed_and_changes_nothing_else() {
    let (events, job) = tell();
    let (known, newer): (Vec<Event>, Vec<Event>) =
        events.iter().cloned().partition(|event| !matches!(event.body(), Body::NotUnderstood { .. }));
    assert_eq!(newer.len(), 2);
    let (mut with, without) = (fold_book(&events), fold_book(&known));
    assert_eq!(with.not_understood, [newer[1].id()]);
    assert_eq!(with.jobs[&job].not_understood, [newer[0].id()]);
    with.not_understood.clear();
    with.jobs.get_mut(&job).unwrap().not_understood.clear();
    assert_eq!(with, without);
}

#[test]
fn what_was_learned_of_an_appliance_stays_with_it() {
    let mut told = Teller::new();
    let customer = told.phone(&Body::shop(CustomerAdded { key: story::KEY, record: story::DETAILS, listed: false }));
    let appliance = told.phone(&Body::shop(ApplianceAdded {
        customer: customer.into(),
        machine: None,
        plate: [("rated_power".to_owned(), "5200 W".to_owned())].into(),
        serial: None,
        age_months: None,
        warranty: Warranty::NotKnown,
    }));
    told.phone(&Body::shop(MachineSet { appliance: appliance.into(), machine: story::machine() }));
    told.phone(&Body::shop(ApplianceLearned {
        appliance: appliance.into(),
        variants: [("cord".to_owned(), "four_wire".to_owned())].into(),
        labels: [("heater.1".to_owned(), "H1".to_owned())].into(),
        plate: [("rated_power".to_owned(), "5400 W".to_owned())].into(),
        papers: [("service_mode".to_owned(), "hold start".to_owned())].into(),
        differs: vec!["the belt switch is bridged".to_owned()],
    }));
    told.phone(&Body::shop(CustomerChanged { customer: customer.into(), record: story::SIGNED }));
    let book = fold_book(&told.events);
    let folded = &book.appliances[&appliance.into()];
    assert_eq!(folded.machine, Some(story::machine()));
    assert_eq!(folded.plate["rated_power"], "5400 W");
    assert_eq!(folded.labels["heater.1"], "H1");
    assert_eq!(folded.papers["service_mode"], "hold start");
    assert_eq!(folded.differs.len(), 1);
    assert_eq!(book.customers[&customer.into()].record, story::SIGNED);
}

#[test]
fn two_texts_of_one_name_are_reported() {
    let mut one = Pen::new(PHONE);
    let mut other = Pen::new(PHONE);
    let body = |reason: &str| Body::shop(KeyDestroyed { key: story::KEY, reason: reason.to_owned() });
    let a = one.write(&story::at(1), &body("a")).unwrap();
    let b = other.write(&story::at(1), &body("b")).unwrap();
    assert_eq!(fold_book(&[a.clone(), b, a.clone()]).clashes, [a.id()]);
    assert!(fold_book(&[a.clone(), a]).clashes.is_empty());
}

#[test]
fn the_settings_set_last_count_and_all_that_were_ever_set_stay_readable() {
    let mut told = Teller::new();
    assert_eq!(fold_book(&told.events).settings, None);
    let first = story::settings();
    told.phone(&Body::shop(first.clone()));
    let second = SettingsSet { call_out: story::money("105"), ..first };
    let changed = told.phone(&Body::shop(second.clone()));
    assert_eq!(fold_book(&told.events).settings, Some(second));
    told.phone(&Body::undo(Scope::default(), changed, None));
    assert_eq!(fold_book(&told.events).settings, Some(story::settings()));
}

#[test]
fn the_last_text_of_a_machine_counts_and_one_that_is_undone_gives_way() {
    let mut told = Teller::new();
    let described = |text: &str| MachineDescribed { machine: "own".to_owned(), text: text.to_owned() };
    told.phone(&Body::shop(described("first")));
    let second = told.phone(&Body::shop(described("second")));
    assert_eq!(fold_book(&told.events).machines["own"], "second");
    told.phone(&Body::undo(Scope::default(), second, None));
    assert_eq!(fold_book(&told.events).machines["own"], "first");
}

#[test]
fn a_part_that_was_fitted_is_off_the_van_and_one_that_was_mended_is_not() {
    let mut told = Teller::new();
    let counted = |part: &str, count| VanCounted { machine: story::machine().machine, part: part.to_owned(), count };
    told.phone(&Body::shop(counted("heater", 2)));
    let (job, call) = opened(&mut told);
    let appliance = told.phone(&Body::shop(ApplianceAdded {
        customer: EventId::new(PHONE, 2).unwrap().into(),
        machine: Some(story::machine()),
        plate: std::collections::BTreeMap::new(),
        serial: None,
        age_months: None,
        warranty: Warranty::NotKnown,
    }));
    told.phone(&Body::job(job, ApplianceFound { appliance: appliance.into() }));
    let on_van = |told: &Teller, part: &str| fold_book(&told.events).van[&story::machine().machine][part];
    let changed = |part: &str, spare: Option<&str>| PartChanged {
        part: part.to_owned(),
        spare: spare.map(str::to_owned),
        cures: Vec::new(),
        leads_touched: Vec::new(),
        old_part: OldPart::TakenAlong,
        price: None,
        answers: None,
    };
    told.phone(&Body::call(job, call, changed("heater", None)));
    assert_eq!(on_van(&told, "heater"), 2);
    let fitted = told.phone(&Body::call(job, call, changed("heater", Some("heater"))));
    assert_eq!(on_van(&told, "heater"), 1);
    told.phone(&Body::undo(Scope { job: Some(job), call: Some(call) }, fitted, None));
    assert_eq!(on_van(&told, "heater"), 2);
    // A part that was never counted is not below nothing.
    told.phone(&Body::call(job, call, changed("fuse", Some("fuse"))));
    assert_eq!(fold_book(&told.events).van[&story::machine().machine].get("fuse"), None);
    told.phone(&Body::shop(counted("heater", 5)));
    assert_eq!(on_van(&told, "heater"), 5);
}

#[test]
fn a_pen_goes_on_after_what_is_filed_away() {
    let (events, _) = tell();
    let last = Pen::after(PHONE, &Loaded::in_order(events.clone(), Vec::new()));
    let whole =
        events.iter().filter(|event| event.id().device() == PHONE).map(|event| event.id().counter()).max().unwrap();
    let mut filed = Seen::default();
    events.iter().for_each(|event| filed.note(event.id()));
    let held = Loaded { filed, ..Loaded::in_order(events.into_iter().take(2).collect(), Vec::new()) };
    let body = Body::shop(KeyDestroyed { key: story::KEY, reason: String::new() });
    for mut pen in [last, Pen::after(PHONE, &held)] {
        assert_eq!(pen.write(&story::at(1), &body).unwrap().id().counter(), whole + 1);
    }
}
