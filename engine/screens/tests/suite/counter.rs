//! The counter: the day, the settings, the van, and what a call is then opened with.

use crate::shell::{Shell, machine, on_until};
use call::Settings;
use machine::faults::RepairKind;
use prediction::{Meter, Predictor};
use quantity::Decimal;
use screens::screen::{Field, Place, Standing};
use screens::{Begin, Counter, Leave, Opening, Screen, Touch};
use shipped::{ALL, DEMO};

fn set(id: &str, value: &str) -> Touch {
    Touch::Set { id: id.to_owned(), value: value.to_owned() }
}

fn field<'s>(screen: &'s Screen, id: &str) -> &'s Field {
    screen.fields.iter().flat_map(|group| &group.fields).find(|field| field.id == id).unwrap()
}

fn opened(shell: &mut Shell, counter: &mut Counter, touch: &Touch) -> Opening {
    let (screen, leave) = shell.at_counter(counter, touch);
    match leave {
        Some(Leave::Call(opening)) => *opening,
        other => panic!("{other:?}, {:?}", screen.notice),
    }
}

fn new_call() -> Touch {
    Touch::NewCall { machine: DEMO.to_owned() }
}

#[test]
fn the_day_names_what_goes_on() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let empty = shell.counter(Vec::new()).screen();
    assert_eq!(empty.place, Place::Day);
    assert_eq!(empty.day.as_ref().unwrap().unfinished, None);
    assert_eq!(empty.day.unwrap().machines.len(), ALL.len());
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let arrived = on_until(&mut shell, &mut desk, |screen| screen.top.stages[1].standing == Standing::Now);
    let day = shell.counter(vec!["one".to_owned()]).screen().day.unwrap();
    assert_eq!(day.unfinished.as_ref(), Some(&arrived.top.who));
    assert_eq!(day.damaged, ["one"]);
}

#[test]
fn with_nothing_set_a_call_is_worked_as_usual_and_setting_that_again_changes_nothing() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    let first = opened(&mut shell, &mut counter, &new_call());
    let usual = Settings::usual(first.settings.file.clone(), "USD".parse().unwrap());
    assert_eq!(format!("{:?}", first.settings), format!("{usual:?}"));
    assert_eq!(first.meter, Meter::ordinary());
    shell.at_counter(&mut counter, &Touch::Settings);
    let (screen, _) = shell.at_counter(&mut counter, &set("per-hour", "120"));
    assert_eq!(field(&screen, "per-hour").value, "120");
    let again = opened(&mut shell, &mut counter, &new_call());
    assert_eq!(format!("{:?}", again.settings), format!("{usual:?}"));
}

#[test]
fn a_call_that_is_open_keeps_what_was_set_before_it() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Settings);
    shell.at_counter(&mut counter, &set("per-hour", "130.50"));
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    on_until(&mut shell, &mut desk, |screen| screen.top.stages[1].standing == Standing::Now);
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Settings);
    shell.at_counter(&mut counter, &set("per-hour", "140"));
    shell.at_counter(&mut counter, &set("clamp", "yes"));
    let open = opened(&mut shell, &mut counter, &Touch::GoOn);
    assert_eq!(open.settings.rates.per_hour, Decimal::new(13050, 2));
    assert!(!open.meter.functions.clamp);
    let fresh = opened(&mut shell, &mut counter, &new_call());
    assert_eq!(fresh.settings.rates.per_hour, Decimal::from(140));
    assert!(fresh.meter.functions.clamp);
}

#[test]
fn what_cannot_be_set_is_refused_with_its_mend_and_nothing_is_written() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Settings);
    let bad = [
        ("per-hour", "-3"),
        ("per-hour", "a lot"),
        ("call-out", "1e9"),
        ("minute", "0"),
        ("danger", "1.5"),
        ("second-visit", "100000"),
        ("currency", "dollars"),
        ("temperatures", "kelvin"),
        ("clamp", "perhaps"),
        ("meters", "callwright-meters = 7"),
        ("no-such", "1"),
    ];
    for (id, value) in bad {
        let (screen, _) = shell.at_counter(&mut counter, &set(id, value));
        let notice = screen.notice.unwrap_or_else(|| panic!("{id} took {value}"));
        assert!(!notice.say.is_empty() && !notice.mend.is_empty());
    }
    // A file's mistake is shown with its line.
    let (screen, _) = shell.at_counter(&mut counter, &set("meters", "callwright-meters = 1\nmeter = 3\n"));
    assert!(screen.notice.unwrap().say.contains(":2:"));
    assert_eq!(shell.loaded().events, []);
}

#[test]
fn parts_are_priced_in_the_shop_s_money_and_not_before_it_is_said_what_that_is_worth() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Settings);
    let (screen, _) = shell.at_counter(&mut counter, &set("currency", "eur"));
    assert_eq!(field(&screen, "exchange-USD").value, "");
    let (screen, leave) = shell.at_counter(&mut counter, &new_call());
    assert!(leave.is_none() && screen.notice.unwrap().say.contains("what 1 USD comes to in EUR"));
    shell.at_counter(&mut counter, &set("exchange-USD", "0.9"));
    let opening = opened(&mut shell, &mut counter, &new_call());
    let (machine, rates) = (&opening.machine, &opening.settings.rates);
    let at = machine.repairs.iter().position(|repair| repair.id == "heater:replace").unwrap();
    let repair = &machine.repairs[at];
    let id = machine::model::RepairId(u16::try_from(at).unwrap());
    let part = rates.repair_lines(machine, id).pop().unwrap();
    assert_eq!(part.amount.amount, repair.price * Decimal::new(9, 1));
    assert_eq!(part.amount.currency.to_string(), "EUR");
    // A minute worth 1.60 EUR is worth 1.60 / 0.9 USD, the money in which parts are weighed.
    let minute = opening.settings.prices.money_per_minute;
    assert!((minute * Decimal::new(9, 1) - Decimal::new(160, 2)).abs() < Decimal::new(1, 6));
}

#[test]
fn a_meters_file_is_taken_whole_and_functions_are_added_to_it() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    shell.at_counter(&mut counter, &Touch::Settings);
    let file = "callwright-meters = 1\n[[meter]]\nid = \"one\"\nsay = \"old one\"\n[meter.ohms]\npercent = 2\ndigits = 1\n\
                resolution = 0.1\nlimit_ohms = 20e6\n";
    let (screen, _) = shell.at_counter(&mut counter, &set("meters", file));
    assert_eq!(screen.notice, None);
    let opening = opened(&mut shell, &mut counter, &new_call());
    assert!(opening.meter.functions.ohms && !opening.meter.functions.volts);
    shell.at_counter(&mut counter, &set("low-volts", "yes"));
    let opening = opened(&mut shell, &mut counter, &new_call());
    assert!(opening.meter.functions.volts && (opening.meter.ohms_limit - 20e6).abs() < 1e-3);
    // None is left: refused, and all is as it was.
    shell.at_counter(
        &mut counter,
        &set(
            "meters",
            &file
                .replace("ohms]", "insulation]")
                .replace("percent = 2\ndigits = 1\n", "")
                .replace("resolution = 0.1", "test_volts = 500"),
        ),
    );
    let (screen, _) = shell.at_counter(&mut counter, &set("insulation", "no"));
    assert!(screen.notice.unwrap().say.contains("no meter left"));
    let (screen, _) = shell.at_counter(&mut counter, &set("meters", ""));
    assert_eq!(screen.notice, None);
    assert_eq!(opened(&mut shell, &mut counter, &new_call()).meter, Meter::ordinary());
}

#[test]
fn what_is_counted_on_the_van_is_what_calls_know_of_it() {
    let mut shell = Shell::new();
    let mut counter = shell.counter(Vec::new());
    let (screen, _) = shell.at_counter(&mut counter, &Touch::Van);
    let machine = machine();
    let stocked = machine.repairs.iter().find(|of| of.kind == RepairKind::Replace && of.stocked).unwrap();
    let rare = machine.repairs.iter().find(|of| of.kind == RepairKind::Replace && !of.stocked).unwrap();
    let id = |repair: &machine::faults::Repair| format!("{}/{}", machine.id, machine[repair.part].id);
    assert_eq!(field(&screen, &id(stocked)).value, "");
    let holds = |opening: &Opening, repair| opening.settings.van.holds(&machine, repair);
    let before = opened(&mut shell, &mut counter, &new_call());
    assert!(holds(&before, stocked) && !holds(&before, rare));
    let (screen, _) = shell.at_counter(&mut counter, &set(&id(stocked), "0"));
    assert_eq!(field(&screen, &id(stocked)).value, "0");
    shell.at_counter(&mut counter, &set(&id(rare), "2"));
    let after = opened(&mut shell, &mut counter, &new_call());
    assert!(!holds(&after, stocked) && holds(&after, rare));
    for (id, value) in
        [(id(rare), "many"), (id(rare), "1000"), ("dryer-timer-240/no-such".to_owned(), "1"), ("x".to_owned(), "1")]
    {
        let (screen, _) = shell.at_counter(&mut counter, &set(&id, value));
        assert!(screen.notice.is_some(), "{id} {value}");
    }
}
