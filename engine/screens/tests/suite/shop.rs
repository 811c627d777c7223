//! The shop without a browser: customers, the plan of a day.

use crate::shell::{Shell, machine, on_until, settings};
use book::{Body, Event, MachineFile, ShopFact, Work, fold_book};
use call::Shop;
use prediction::{Meter, Predictor};
use screens::screen::{Field, Pad, Screen, Setting};
use screens::{Begin, Counter, Touch};

fn set(id: &str, value: &str) -> Touch {
    Touch::Set { id: id.to_owned(), value: value.to_owned() }
}

/// Takes a complaint on the telephone and promises a visit.
fn promise(shell: &mut Shell, predictor: &Predictor<'_>, window: &str) {
    let mut desk = shell.desk(predictor, Begin::Fresh);
    on_until(shell, &mut desk, |screen| screen.ways.iter().any(|way| way.answer == "later "));
    let screen = shell.touch(&mut desk, &Touch::Answer(format!("later {window}")));
    assert_eq!(screen.notice, None);
    assert!(shell.settle(&mut desk).say.contains("ended"));
}

fn field<'s>(screen: &'s Screen, id: &str) -> &'s Field {
    screen.fields.iter().flat_map(|group| &group.fields).find(|field| field.id.starts_with(id)).unwrap_or_else(|| {
        panic!("no field `{id}` in {:#?}", screen.fields);
    })
}

fn group<'s>(screen: &'s Screen, title: &str) -> &'s screens::screen::Fields {
    screen
        .fields
        .iter()
        .find(|group| group.title == title)
        .unwrap_or_else(|| panic!("no `{title}`: {:#?}", screen.fields))
}

#[test]
fn a_day_of_promised_visits_is_ordered_and_loaded() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    for window in ["2026-03-03 13:00-16:00", "2026-03-03 9:00-11:00", "2026-03-04 9:00-11:00"] {
        promise(&mut shell, &predictor, window);
    }
    let mut counter = shell.counter(Vec::new());
    let (plan, _) = shell.at_counter(&mut counter, &Touch::Plan);
    let Setting::OneOf(days) = &field(&plan, "day").set else { panic!("{plan:?}") };
    assert_eq!(days.iter().map(|day| day.answer.as_str()).collect::<Vec<_>>(), ["2026-03-03", "2026-03-04"]);
    let order = group(&plan, "Order of the visits");
    let visits: Vec<&Field> = order.fields.iter().filter(|field| field.id.starts_with("visit/")).collect();
    assert_eq!(visits.len(), 2);
    // The one promised for the morning comes first, and nobody drives before it is open.
    assert!(visits[0].note.contains("09:00 to 11:00") && visits[1].note.contains("13:00 to 16:00"), "{visits:#?}");
    assert!(visits[0].note.contains("in time"), "{:?}", visits[0]);
    let calendar = &field(&plan, "calendar").value;
    assert!(calendar.contains("BEGIN:VEVENT\r\n") && calendar.contains("DTSTART:20260303T"), "{calendar}");
    // A part is loaded, and once it is aboard nothing more is to be won by it.
    let load = group(&plan, "What to load");
    let parts: Vec<&Field> = load.fields.iter().filter(|field| field.id.starts_with("load/")).collect();
    assert!(!parts.is_empty(), "{load:#?}");
    let wins = |screen: &Screen| group(screen, "What to load").note.clone().unwrap();
    let (before, _) = wins(&plan).split_once(" of").map(|(fixes, rest)| (fixes.to_owned(), rest.to_owned())).unwrap();
    let (after, _) = shell.at_counter(&mut counter, &set("loaded", ""));
    assert!(
        wins(&after).contains(&format!("; {before} with what is aboard already")),
        "{} then {}",
        before,
        wins(&after)
    );
    // Planned anew from the afternoon on, the morning's visit is late.
    let (late, _) = shell.at_counter(&mut counter, &set("now", "12:30"));
    assert!(
        field(&late, "visit/").note.contains("late")
            || late.fields.iter().any(|group| { group.fields.iter().any(|field| field.note.contains("to be late")) })
    );
    let (refused, _) = shell.at_counter(&mut counter, &set("now", "25:00"));
    assert!(refused.notice.unwrap().say.contains("no time"));
}

#[test]
fn a_travel_table_is_read_whole_or_not_at_all() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    promise(&mut shell, &predictor, "2026-03-03 9:00-11:00");
    let mut counter = shell.counter(Vec::new());
    let (plan, _) = shell.at_counter(&mut counter, &Touch::Plan);
    let name = field(&plan, "visit/").say.split_once(". ").unwrap().1.to_owned();
    let driven = |screen: &Screen| group(screen, "Order of the visits").note.clone().unwrap();
    assert!(driven(&plan).starts_with("40 minutes"), "{}", driven(&plan));
    let table = format!("from,home,{name}\nhome,0,11\n{name},13,0\n");
    let (read, _) = shell.at_counter(&mut counter, &set("travel", &table));
    assert!(driven(&read).starts_with("24 minutes"), "{}", driven(&read));
    for (bad, line) in [
        (format!("from,home,{name}\nhome,0,x\n{name},13,0\n"), "line 2"),
        (format!("from,home,{name}\nhome,0,11\nsomebody,13,0\n"), "line 3"),
        (format!("from,home,{name}\nhome,0,11\n"), "line 2"),
    ] {
        let (refused, _) = shell.at_counter(&mut counter, &set("travel", &bad));
        assert!(refused.notice.as_ref().unwrap().say.contains(line), "{:?}", refused.notice);
        assert!(driven(&refused).starts_with("24 minutes"));
    }
}

fn first_customer(events: &[Event]) -> String {
    fold_book(events).customers.keys().next().unwrap().to_string()
}

#[test]
fn a_customer_is_changed_handed_out_and_erased() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    promise(&mut shell, &predictor, "2026-03-03 9:00-11:00");
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Customers);
    let chosen = first_customer(&shell.loaded().events);
    let (shown, _) = shell.at_counter(&mut counter, &set("customer", &chosen));
    assert!(!field(&shown, "name").value.is_empty());
    let (refused, _) = shell.at_counter(&mut counter, &set("at", "somewhere"));
    assert!(refused.notice.unwrap().mend.contains("latitude"));
    for (id, value) in [("name", "Ann Other"), ("at", "48.137, 11.575"), ("access", "a dog")] {
        let (changed, _) = shell.at_counter(&mut counter, &set(id, value));
        assert_eq!((changed.notice, field(&shown, id).id.as_str()), (None, id));
    }
    let (shown, _) = shell.at_counter(&mut counter, &Touch::Customers);
    assert_eq!(field(&shown, "name").value, "Ann Other");
    let Setting::Save(_) = &field(&shown, "export").set else { panic!("{shown:?}") };
    assert!(field(&shown, "export").value.contains("Ann Other") && field(&shown, "export").value.contains("a dog"));
    // No name stands in any event.
    assert!(shell.loaded().events.iter().all(|event| !event.text().contains("Ann Other")));
    let (refused, _) = shell.at_counter(&mut counter, &set("erase", "Somebody"));
    assert!(refused.notice.is_some());
    let (gone, _) = shell.at_counter(&mut counter, &set("erase", "Ann Other"));
    assert_eq!(gone.notice, None);
    let book = fold_book(&shell.loaded().events);
    assert!(book.customers.values().all(|customer| customer.erased));
    let Setting::OneOf(choices) = &field(&gone, "customer").set else { panic!("{gone:?}") };
    assert!(choices.iter().any(|choice| choice.say == "erased"));
}

#[test]
fn a_list_is_taken_in_whole_or_not_at_all() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Customers);
    let bad = "name,telephone,at\nAnn,555 0100 11,\n,555 0100 12,\nBo,,north\nCy,1,2,3\n";
    let (shown, _) = shell.at_counter(&mut counter, &set("list", bad));
    let said = group(&shown, "Take in a list").note.clone().unwrap();
    for line in ["line 3: no name", "line 4: `north` is no place", "line 5: 4 cells"] {
        assert!(said.contains(line), "{said}");
    }
    shell.at_counter(&mut counter, &set("take", ""));
    assert_eq!(shell.loaded().events.len(), 0);
    let good = "name,address,at\nAnn Other,\"1 Mill Lane, Sampleton\",\"48.1, 11.5\"\nBo Else,,\n";
    let (shown, _) = shell.at_counter(&mut counter, &set("list", good));
    assert!(group(&shown, "Take in a list").note.as_ref().unwrap().contains("2 customers: Ann Other; Bo Else"));
    shell.at_counter(&mut counter, &set("take", ""));
    let events = shell.loaded().events;
    let added = events.iter().filter(|event| matches!(event.body(), Body::Shop(ShopFact::CustomerAdded(_)))).count();
    assert_eq!((added, events.len()), (2, 2));
    // Who stands in a list has not called.
    assert!(call::unfinished(&events, events[0].id().device()).is_none());
    let (shown, _) = shell.at_counter(&mut counter, &Touch::Customers);
    let Setting::OneOf(choices) = &field(&shown, "customer").set else { panic!("{shown:?}") };
    assert_eq!(
        choices.iter().map(|choice| choice.say.as_str()).collect::<Vec<_>>(),
        ["which one?", "Ann Other", "Bo Else"]
    );
    let (wrong, _) = shell.at_counter(&mut counter, &set("list", "address\nx\n"));
    assert!(group(&wrong, "Take in a list").note.as_ref().unwrap().contains("`name` is not there"));
}

/// The least that begins as a JPEG does; in base64.
const JPEG: &str = "/9j/4AAQSkZJRg==";

#[test]
fn a_new_complaint_about_a_known_appliance_asks_no_names_and_shows_its_photos() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Photo { .. }));
    shell.touch(&mut desk, &Touch::Photo(JPEG.to_owned()));
    on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Nothing));
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Customers);
    let chosen = first_customer(&shell.loaded().events);
    let (shown, _) = shell.at_counter(&mut counter, &set("customer", &chosen));
    let again = field(&shown, "again/");
    assert!(again.say.contains("came back"), "{again:?}");
    let id = again.id.clone();
    let (day, _) = shell.at_counter(&mut counter, &set(&id, ""));
    assert!(day.day.unwrap().unfinished.is_some());
    let book = fold_book(&shell.loaded().events);
    assert_eq!(
        book.jobs
            .values()
            .filter(|job| job.opened.as_ref().is_some_and(|opened| opened.fact.callback_of.is_some()))
            .count(),
        1
    );
    let mut desk = shell.desk(&predictor, Begin::GoOn);
    let screen = shell.settle(&mut desk);
    assert!(screen.say.contains("gas"), "{}", screen.say);
    assert_eq!(screen.photo_count, 1);
    // Nothing is charged for a fault that came back, and the papers say why.
    on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Nothing));
    let job = fold_book(&shell.loaded().events).jobs.into_values().last().unwrap();
    let lines = billing::bill(&job);
    assert!(
        lines.len() > 1 && lines.iter().all(|line| line.amount.amount.is_zero() && line.what.contains("came back")),
        "{lines:?}"
    );
}

#[test]
fn a_job_is_invoiced_paid_and_taken_back() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Settings);
    for (id, value) in [("shop", "Demo Shop"), ("country", "us"), ("tax-on-parts", "8.25"), ("pay-within", "10")] {
        let (screen, _) = shell.at_counter(&mut counter, &set(id, value));
        assert_eq!(screen.notice, None, "{id}");
    }
    for (id, value) in [("country", "Utopia"), ("tax-on-parts", "101"), ("home", "here"), ("leaves", "8")] {
        let (screen, _) = shell.at_counter(&mut counter, &set(id, value));
        assert!(screen.notice.is_some(), "{id}");
    }
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Nothing));
    let mut counter = shell.counter(Vec::new());
    let (money, _) = shell.at_counter(&mut counter, &Touch::Money);
    let due = field(&money, "invoice/").id.clone();
    shell.at_counter(&mut counter, &set(&field(&money, "deposit/").id.clone(), "20 cash"));
    let (money, _) = shell.at_counter(&mut counter, &set(&due, ""));
    assert_eq!(money.notice, None);
    let paper = field(&money, "paper/");
    assert!(
        paper.value.contains("Demo Shop") && paper.value.contains("Paid before") && paper.value.contains("8.25 %"),
        "{}",
        paper.value
    );
    // Issued on the second of March, to be paid within ten days.
    assert!(paper.value.contains("2026-03-12"), "{}", paper.value);
    assert!(field(&money, "open/").value.contains("<cbc:InvoiceTypeCode>380</cbc:InvoiceTypeCode>"));
    let (part, _) = shell.at_counter(&mut counter, &set(&field(&money, "part/").id.clone(), "10.50 check"));
    assert_eq!(part.notice, None);
    let (bad, _) = shell.at_counter(&mut counter, &set(&field(&money, "part/").id.clone(), "lots"));
    assert!(bad.notice.unwrap().mend.contains("50 cash"));
    let (paid, _) = shell.at_counter(&mut counter, &set(&field(&part, "paid/").id.clone(), "card"));
    assert_eq!(group(&paid, "To be paid").note.as_deref(), Some("nothing"));
    let (receipt, _) = shell.at_counter(&mut counter, &set(&field(&paid, "receipt/").id.clone(), ""));
    assert!(field(&receipt, "paper/").say.starts_with("receipt"), "{:?}", field(&receipt, "paper/").say);
    let (wordless, _) = shell.at_counter(&mut counter, &set(&field(&receipt, "credit/").id.clone(), ""));
    assert!(wordless.notice.unwrap().say.contains("says why"));
    let (back, _) = shell.at_counter(&mut counter, &set(&field(&receipt, "credit/").id.clone(), "wrong rate"));
    assert!(field(&back, "paper/").value.contains("wrong rate"));
    assert_eq!(group(&back, "The books").note.as_deref(), Some("every number is there, none twice"));
    assert_eq!(field(&back, "books").value.lines().count(), 1 + 3 + 2 * 2);
}

#[test]
fn a_price_list_is_taken_in_whole_and_counts() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Van);
    let bad = "machine,part,price\ndryer-timer-240,heater,38.20\ndryer-timer-240,wings,1\nno-such,heater,1\ndryer-timer-240,heater,x\n";
    let (shown, _) = shell.at_counter(&mut counter, &set("prices", bad));
    let said = group(&shown, "Numbers and prices").note.clone().unwrap();
    for line in [
        "line 3: `dryer-timer-240` has no spare part `wings`",
        "line 4: there is no machine",
        "line 5: `x` is no amount",
    ] {
        assert!(said.contains(line), "{said}");
    }
    shell.at_counter(&mut counter, &set("take", ""));
    assert_eq!(shell.loaded().events.len(), 0);
    shell.at_counter(&mut counter, &set("prices", "machine,part,price,number\ndryer-timer-240,heater,38.20,INV-7\n"));
    let (shown, _) = shell.at_counter(&mut counter, &set("take", ""));
    assert!(field(&shown, "dryer-timer-240/heater").note.contains("USD 38.20, number INV-7"));
    // Counts come in as prices do, with them or alone.
    let counted = "machine,part,price,count\ndryer-timer-240,heater,,many\ndryer-timer-240,belt,,\n";
    let (shown, _) = shell.at_counter(&mut counter, &set("prices", counted));
    let said = group(&shown, "Numbers and prices").note.clone().unwrap();
    assert!(said.contains("line 2: `many` is no count") && said.contains("line 3: `belt` has neither"), "{said}");
    shell.at_counter(
        &mut counter,
        &set("prices", "machine,part,count\ndryer-timer-240,belt,4\ndryer-timer-240,heater,0\n"),
    );
    let (shown, _) = shell.at_counter(&mut counter, &set("take", ""));
    assert_eq!(field(&shown, "dryer-timer-240/belt").value, "4");
    assert!(field(&shown, "dryer-timer-240/heater").note.contains("USD 38.20, number INV-7"), "the price stays");
    // The number on the box counts one more aboard.
    shell.at_counter(&mut counter, &set("scan", " INV-7 "));
    let (scanned, _) = shell.at_counter(&mut counter, &set("scan", "INV-7"));
    assert_eq!(field(&scanned, "dryer-timer-240/heater").value, "2");
    let (unknown, _) = shell.at_counter(&mut counter, &set("scan", "INV-8"));
    assert!(unknown.notice.unwrap().say.contains("INV-8"));
    let machine = machine();
    let repair = machine.repairs.iter().find(|of| machine[of.part].id == "heater").unwrap();
    let rates = call::Shop::now(&shell.loaded().events).call(&machine, settings(&machine).file).unwrap().rates;
    assert_eq!(rates.price("heater", repair.price).amount.to_string(), "38.20");
}

#[test]
fn a_part_that_a_job_waits_for_is_ordered_and_comes() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    // Nothing at all is aboard.
    let none = machine.repairs.iter().map(|repair| (machine[repair.part].id.clone(), 0)).collect();
    let bare = call::Settings { van: call::Van::Counted(none), ..settings(&machine) };
    let mut desk = shell.desk_with(&predictor, bare, Begin::Fresh);
    on_until(&mut shell, &mut desk, |screen| screen.say.contains("Is it on the van?"));
    shell.touch(&mut desk, &Touch::Answer("no".to_owned()));
    on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Nothing));
    let mut counter = shell.counter(Vec::new());
    let (van, _) = shell.at_counter(&mut counter, &Touch::Van);
    assert_eq!(field(&van, "waits/").value, "not ordered");
    let id = |what: &str| field(&van, what).id.clone();
    let (ordered, _) = shell.at_counter(&mut counter, &set(&id("ordered/"), ""));
    assert_eq!(field(&ordered, "waits/").value, "ordered 2026-03-02");
    let (bad, _) = shell.at_counter(&mut counter, &set(&id("other/"), "something"));
    assert!(bad.notice.unwrap().mend.contains("substitute"));
    let (wrong, _) = shell.at_counter(&mut counter, &set(&id("other/"), "wrong a belt"));
    assert_eq!(field(&wrong, "waits/").value, "the wrong one came: a belt");
    let (came, _) = shell.at_counter(&mut counter, &set(&id("came/"), ""));
    assert_eq!(field(&came, "waits/").value, "is there");
    // Its visit is promised, and then stands in the plan of that day.
    let (plan, _) = shell.at_counter(&mut counter, &Touch::Plan);
    let promise = field(&plan, "promise/").id.clone();
    let (bad, _) = shell.at_counter(&mut counter, &set(&promise, "soon"));
    assert!(bad.notice.unwrap().say.contains("no window"));
    let (plan, _) = shell.at_counter(&mut counter, &set(&promise, "2026-03-05 9:00-11:00"));
    assert_eq!(field(&plan, "day").value, "2026-03-05");
    assert!(field(&plan, "visit/").note.contains("promised 2026-03-05 09:00 to 11:00"));
    assert!(!plan.fields.iter().any(|group| group.title == "Not promised yet"));
}

#[test]
fn the_demos_shop_is_the_same_every_time_and_its_monday_waits() {
    let mut told = Vec::new();
    let made = screens::demo_shop(3, 6, &mut |done| told.push(done)).unwrap();
    assert_eq!(told, [0, 1, 2, 3, 4, 5]);
    let again = screens::demo_shop(3, 6, &mut |_| {}).unwrap();
    let texts = |of: &screens::Durable| of.events.iter().map(|event| event.text().to_owned()).collect::<Vec<_>>();
    assert_eq!(texts(&made), texts(&again));
    let waiting = call::waiting(&made.events);
    assert_eq!(waiting.len(), 5);
    assert!(waiting.iter().all(|of| of.waits_for().contains("promised 2026-03-02")));
    let closed = learning::closed_jobs(&made.events);
    assert!(closed.len() >= 5 && closed.iter().all(|job| job.end.is_some()), "{closed:#?}");
    assert_eq!(billing::series::faults(&made.events), Vec::<String>::new());
    let mut shell = Shell::new();
    shell.hold(&made);
    let mut counter = shell.counter(Vec::new());
    let (plan, _) = shell.at_counter(&mut counter, &Touch::Plan);
    let note = group(&plan, "Order of the visits").note.clone().unwrap();
    assert!(!note.contains("not known"), "{note}");
    let (months, _) = shell.at_counter(&mut counter, &Touch::Months);
    assert!(group(&months, "The month").note.as_ref().unwrap().contains(" closed."));
    assert!(field(&months, "records").value.starts_with("id,partner_product_category"));
    assert_eq!(months.curves.len(), 2);
    // The first lines are the key of the curves, the rest is told beside them.
    let words = &months.curves[0].words;
    assert!(words[0].starts_with("done on the first visit: ") && words[1].starts_with("came back: "), "{words:?}");
    assert!(words.len() > 3 && words[2].starts_with("2025-03: "), "{words:?}");
    hands_and_words_are_taken_up(&mut shell, &mut counter, &months);
    // Too few jobs of one machine teach nothing.
    let (few, _) = shell.at_counter(&mut counter, &set("take/hood-120", ""));
    assert!(few.notice.unwrap().say.contains("nothing to learn"));
}

fn hands_and_words_are_taken_up(shell: &mut Shell, counter: &mut Counter, months: &Screen) {
    let note = &field(months, "pace/reading").note;
    assert!(note.contains("times the usual minutes"), "{note}");
    let before = Shop::now(&shell.loaded().events);
    shell.at_counter(counter, &set("take-habits", ""));
    let events = shell.loaded().events;
    let habits = fold_book(&events).habits.unwrap();
    // Nobody slipped and nobody told otherwise: both grow rarer than is usual.
    assert!(habits.from.len() >= 5 && habits.slip.get() < 0.02 && habits.wrong_report.get() < 0.06, "{habits:?}");
    let machine = machine();
    let file = MachineFile::of(&machine.id, "");
    let now = Shop::now(&events);
    let (usual, taught) = (before.call(&machine, file.clone()).unwrap(), now.call(&machine, file).unwrap());
    let times = |work| habits.paces.iter().find(|pace| pace.work == work).unwrap().times.get();
    assert!((taught.prices.reading - usual.prices.reading * times(Work::Reading)).abs() < 1e-12);
    assert_eq!(taught.assumed.slip.to_bits(), habits.slip.get().to_bits());
    let mut paced = machine.clone();
    call::take_up(&mut paced, &now);
    let minutes = |machine: &machine::Machine| machine.access.steps[0].minutes_off;
    assert!((minutes(&paced) - minutes(&machine) * times(Work::CoverOff)).abs() < 1e-12);
}

#[test]
fn what_was_learned_is_taken_up_by_hand_and_holds_for_jobs_begun_afterwards() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    for _ in 0..5 {
        let mut desk = shell.desk(&predictor, Begin::Fresh);
        on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Nothing));
    }
    let hidden = learning::closed_jobs(&shell.loaded().events)[0].faults[0].clone();
    let weight = |machine: &machine::Machine| machine.faults.iter().find(|fault| fault.id == hidden).unwrap().weight;
    let mut counter = shell.counter(Vec::new());
    let (months, _) = shell.at_counter(&mut counter, &Touch::Months);
    assert!(field(&months, &format!("fault/dryer-timer-240/{hidden}")).value == "5");
    let before = shell.loaded().events;
    shell.at_counter(&mut counter, &set("take/dryer-timer-240", ""));
    let after = shell.loaded().events;
    let taught = |events: &[Event]| {
        let mut taught = machine.clone();
        call::take_up(&mut taught, &call::Shop::now(events));
        weight(&taught)
    };
    assert!((taught(&before) - weight(&machine)).abs() < 1e-12 && taught(&after) > 1.5 * weight(&machine));
    let learned = &fold_book(&after).learned["dryer-timer-240"];
    assert!(learned.from.len() == 5 && learned.minutes.is_some());
    // Five of one age, all with the same fault: at that age it is oftener still, and a call on such a machine believes so.
    let of_fault = learned.weights.iter().find(|of| hidden == format!("{}:{}", of.fault.part, of.fault.fault)).unwrap();
    assert!(of_fault.ages.iter().any(|at| at.times.get() > 1.0), "{of_fault:?}");
}

/// Of every shipped machine: each repair has a procedure that makes safe first and proves last, or is for those licensed.
#[test]
fn every_repair_has_a_procedure_or_is_referred() {
    let letterhead = book::Letterhead { name: "Demo <Shop>".to_owned(), ..book::Letterhead::default() };
    for one in shipped::ALL {
        let machine = one.read().unwrap();
        let predictor = Predictor::new(&machine, Meter::ordinary());
        for (id, repair) in (0..).map(machine::model::RepairId).zip(&machine.repairs) {
            let page = screens::procedure(&predictor, id, &letterhead);
            if repair.kind == machine::faults::RepairKind::Refer {
                assert!(page.unwrap_err().contains("licensed"), "{} {}", machine.id, repair.id);
                continue;
            }
            let html = documents::to_html(&page.unwrap_or_else(|why| panic!("{} {}: {why}", machine.id, repair.id)));
            let at = |text: &str| html.find(text).unwrap_or_else(|| panic!("{} {}: no {text}", machine.id, repair.id));
            assert!(at("Make it safe") < at("The way in") && at("The way in") < at("The repair"));
            assert!(at("The repair") < at("The way back") && at("The way back") < at("Before it is handed back"));
            assert!(html.contains("Measure it dead") && html.contains("<svg") && html.contains("Demo &lt;Shop&gt;"));
        }
    }
}

#[test]
fn a_customer_sees_repair_beside_replacement_and_may_say_what_he_knows_better() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let choose = on_until(&mut shell, &mut desk, |screen| screen.say.contains("What does the customer choose?"));
    assert!(choose.lines.iter().any(|line| line.say.contains("worth it up to")), "{:?}", choose.lines);
    let papers = shell.touch(&mut desk, &Touch::Sheet(screens::Sheet::Papers));
    let [plot] = papers.curves.as_slice() else { panic!("{:?}", papers.curves) };
    assert_eq!(plot.curves.len(), 2);
    // Nine years old as was said at intake; a new one at once makes the other curve begin higher.
    assert!(field(&papers, "age").note.starts_with("9 years"), "{:?}", field(&papers, "age"));
    let up_to = |screen: &Screen| screen.curves[0].words[1].clone();
    let dear = shell.touch(&mut desk, &set("new", "3000"));
    assert_eq!((dear.notice.clone(), field(&dear, "new").value.as_str()), (None, "3000"));
    assert_ne!(up_to(&dear), up_to(&papers));
    let bad = shell.touch(&mut desk, &set("life", "long"));
    assert!(bad.notice.unwrap().say.contains("no amount"));
    let again = shell.touch(&mut desk, &set("new", ""));
    assert_eq!(up_to(&again), up_to(&papers));
}

#[test]
fn a_machine_that_is_looked_at_hands_out_procedures() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut study = screens::Study::of(&predictor, book::TemperatureScale::Celsius);
    let Setting::OneOf(repairs) = &field(&study.screen(), "procedure").set.clone() else { panic!("no list") };
    assert!(repairs.iter().any(|choice| choice.answer == "heater:replace"));
    study.touch(&set("procedure", "heater:replace"));
    let page = field(&study.screen(), "page").value.clone();
    assert!(page.contains("Make it safe") && page.contains("Procedure: replace the heating element"));
    study.touch(&set("procedure", "house:refer"));
    assert!(!study.screen().fields[0].fields.iter().any(|field| field.id == "page"));
}
