//! The ways in for whatever a person or a file hands in. The fuzz targets and the ordinary tests go through the same
//! functions. They refuse nothing and check only what must hold of any text.

use book::{DeviceId, Event, Loaded, Pen, fold_book, read_book_file, write_book_file};
use prediction::{Meter, Predictor, Quantity};
use quantity::{Unit, parse_reading, show};
use screens::{Counter, Touch};
use std::sync::LazyLock;
use sync::{Batch, Have, Member, Newcomer, PairingCode};

static DRYER: LazyLock<Option<machine::Machine>> =
    LazyLock::new(|| machine::read(include_str!("../../machines/dryer-timer-240.toml")).machine);

/// Parts up to which a description that reads is also simulated.
const FEW_PARTS: usize = 40;

/// Reads a machine description, prints every mistake, simulates what is whole.
pub fn machine(text: &str) {
    let read = machine::read(text);
    for mistake in &read.diagnostics {
        assert!(!mistake.render("machine.toml", text).is_empty());
    }
    if let Some(machine) = read.machine.filter(|machine| machine.parts.len() <= FEW_PARTS) {
        let _ = Predictor::new(&machine, Meter::ordinary()).check();
    }
}

/// Reads a call's record against the shipped dryer and prints every mistake; what is whole is put on the bench.
pub fn call(text: &str) {
    let _ = call::callfile::machine_of(text);
    let Some(dryer) = DRYER.as_ref() else { return };
    match call::callfile::read_callfile(dryer, text) {
        Ok(recorded) => {
            let _ = recorded.assumptions(dryer);
        }
        Err(mistakes) => {
            assert!(!mistakes.is_empty(), "refused without a mistake");
            for mistake in &mistakes {
                assert!(!mistake.render("call.toml", text).is_empty());
            }
        }
    }
}

/// Reads a meters file and prints every mistake; what is whole must have widths that can be divided by.
pub fn meters(text: &str) {
    let read = meters::read(text);
    for mistake in &read.diagnostics {
        assert!(!mistake.render("meters.toml", text).is_empty());
    }
    assert!(read.meters.is_some() == read.diagnostics.is_empty(), "refused without a mistake, or the other way round");
    let Some(meters) = read.meters else { return };
    let meter = meters.together();
    for quantity in [Quantity::Volts, Quantity::Ohms, Quantity::Amps, Quantity::Farads] {
        for value in [0.0, 1e-6, 1.0, 240.0, 1e9] {
            let width = meter.half_width(quantity, value);
            assert!(width.is_finite() && width >= 0.0, "{quantity:?} at {value}: {width}");
        }
        assert!(meter.least(quantity) > 0.0, "{quantity:?}");
    }
}

/// Reads what was typed for a reading, in every unit that could be asked for, and shows it again.
pub fn typed(text: &str) {
    let units = [
        None,
        Some(Unit::Ohm),
        Some(Unit::Volt),
        Some(Unit::Amp),
        Some(Unit::Watt),
        Some(Unit::Farad),
        Some(Unit::Hertz),
        Some(Unit::Celsius),
        Some(Unit::Fahrenheit),
        Some(Unit::Minute),
        Some(Unit::Second),
    ];
    for unit in units {
        match parse_reading(text, unit) {
            Ok(typed) => {
                let _ = typed.last_digit();
                if let Some(value) = unit.and_then(|unit| typed.value_in(unit)) {
                    assert!(value.is_finite(), "{value} was read from {text:?}");
                    let _ = show(value, unit.unwrap_or(Unit::Ohm));
                }
            }
            Err(error) => assert!(!error.to_string().is_empty()),
        }
    }
}

/// Reads what came from a server or a device, and folds the events that were whole.
pub fn batch(text: &str) {
    if let Ok(batch) = Batch::read(text.as_bytes()) {
        let have = Have::of(&batch.events);
        assert!(have.owes(&have).is_empty());
        let _ = fold_book(&batch.events);
    }
    let _ = serde_json::from_str::<Have>(text);
    let _ = Member::from_text(text);
    if let Ok(code) = PairingCode::read(text) {
        assert_eq!(PairingCode::read(&code.to_string()), Ok(code));
    }
    let _ = Newcomer::new(text, "01234-56789-ABCDE-FGHJK", [0; 32]);
}

/// Reads a text as an event, and as a book's file. What reads is kept to the byte.
pub fn event(text: &str) {
    if let Ok(event) = Event::read(text) {
        assert_eq!(event.text(), text);
        let _ = fold_book(&[event]);
    }
    if let Ok(loaded) = read_book_file(text) {
        let again = read_book_file(&write_book_file(&loaded.events));
        assert_eq!(again.map(|again| again.events), Ok(loaded.events));
    }
}

/// Stands at a place of the counter and sets something.
fn at_counter(place: &Touch, sets: &[(&str, &str)]) {
    let mut counter = Counter::open(
        Pen::new(DeviceId::from_random([1; 16])),
        &Loaded::default(),
        Vec::new(),
        (Vec::new(), Vec::new()),
    );
    let mut random = |bytes: &mut [u8]| bytes.fill(7);
    counter.touch(place, &mut random);
    for (id, value) in sets {
        counter.touch(&Touch::Set { id: (*id).to_owned(), value: (*value).to_owned() }, &mut random);
        let _ = counter.screen();
    }
}

/// Takes a text as every list that can be taken in.
pub fn list(text: &str) {
    at_counter(&Touch::Customers, &[("list", text)]);
    at_counter(&Touch::Van, &[("prices", text)]);
    at_counter(&Touch::Plan, &[("travel", text)]);
}

/// Takes a text as a setting: its id, `=`, its value.
pub fn setting(text: &str) {
    let (id, value) = text.split_once('=').unwrap_or((text, text));
    at_counter(&Touch::Settings, &[(id, value)]);
}
