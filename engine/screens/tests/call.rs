//! A whole call through the screens, without a browser: touched, kept, shown, and taken up again after every touch.
#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a test may fail loudly")]

use book::{DeviceId, Event, Key, KeyId, Loaded, MachineFile, MemoryStore, Pen, SealedRecord, Store, ZonedTime};
use call::Settings;
use machine::Machine;
use prediction::{Meter, Predictor};
use screens::Sheet;
use screens::screen::{Pad, Place, Sort, Standing};
use screens::shipped::{DEMO, DEMO_SEED, text_of};
use screens::{Begin, Desk, Screen, Touch};

fn machine() -> Machine {
    machine::read(text_of(DEMO).unwrap()).machine.unwrap()
}

fn settings(machine: &Machine) -> Settings {
    let file = MachineFile { machine: machine.id.clone(), hash: "invented".to_owned() };
    let mut settings = Settings::usual(file, machine.currency.parse().unwrap());
    settings.full_van = true;
    settings.nodes = 200;
    settings
}

fn noon() -> ZonedTime {
    "2026-03-02T12:00:00-06:00[America/Chicago]".parse().unwrap()
}

/// A shell without a browser: a store, and bytes that only count up.
struct Shell {
    store: MemoryStore,
    keys: Vec<(KeyId, Key)>,
    records: Vec<SealedRecord>,
    byte: u8,
    device: DeviceId,
}

impl Shell {
    fn new() -> Self {
        let device = DeviceId::from_random([7; 16]);
        Self { store: MemoryStore::default(), keys: Vec::new(), records: Vec::new(), byte: 0, device }
    }

    fn loaded(&self) -> Loaded {
        self.store.load().unwrap()
    }

    fn desk<'p, 'm>(&self, predictor: &'p Predictor<'m>, begin: Begin) -> Desk<'p, 'm> {
        let loaded = self.loaded();
        let pen = Pen::after(self.device, &loaded);
        let held = (self.keys.clone(), self.records.clone());
        Desk::open(predictor, settings(predictor.machine()), pen, &loaded, held, Some(DEMO_SEED), begin)
    }

    fn touch(&mut self, desk: &mut Desk<'_, '_>, touch: &Touch) -> Screen {
        let byte = &mut self.byte;
        desk.touch(touch, &mut |bytes| {
            bytes.iter_mut().for_each(|at| {
                *byte = byte.wrapping_add(1);
                *at = *byte;
            });
        });
        self.settle(desk)
    }

    /// Keeps all that is owed, then gives the screen.
    fn settle(&mut self, desk: &mut Desk<'_, '_>) -> Screen {
        while let Some(owed) = desk.owes(&noon()).unwrap() {
            self.keys.extend(owed.keys.clone());
            self.records.extend(owed.records.clone());
            self.store.append(&owed.events).unwrap();
            desk.kept();
        }
        desk.screen()
    }
}

/// What a screen shows that rests on the book alone.
fn of_the_book(mut screen: Screen) -> Screen {
    screen.offered = None;
    screen.notice = None;
    screen
}

#[test]
fn the_demo_call_goes_to_its_end_and_is_the_same_when_taken_up_again_after_each_touch() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let mut screen = shell.settle(&mut desk);
    assert_eq!(screen.place, Place::Call);
    assert_eq!(screen.top.stages[0].standing, Standing::Now);
    assert!(screen.suspects.is_empty(), "nothing is judged before the job is open");
    let (mut rulers, mut plumbs, mut held, mut cautions) = (0, 0, 0, 0);
    for _ in 0..300 {
        if screen.place == Place::Ended {
            break;
        }
        rulers += usize::from(screen.ruler.is_some());
        plumbs += usize::from(screen.last.as_ref().is_some_and(|ruler| ruler.plumb.is_some()));
        held += usize::from(matches!(screen.pad, Pad::Button { hold: true, .. }));
        cautions += screen.cautions.len();
        screen = shell.touch(&mut desk, &Touch::TakeOffered);
        assert_eq!(screen.notice, None, "{screen:#?}");
        if desk.session().job().is_some() && screen.place == Place::Call {
            let mut again = shell.desk(&predictor, Begin::GoOn);
            let shown = shell.settle(&mut again);
            assert_eq!(of_the_book(shown), of_the_book(screen.clone()));
        }
    }
    assert_eq!(screen.place, Place::Ended, "{}", screen.say);
    println!("{rulers} rulers, {plumbs} plumb lines, {held} held, {cautions} cautions");
    assert!(rulers > 5 && plumbs > 5 && held > 0 && cautions > 5);
    assert_eq!(screen.top.who, "Ada Example");
    assert!(screen.lines.iter().any(|line| line.say.contains("hidden fault")));
    let papers = shell.touch(&mut desk, &Touch::Sheet(Sheet::Papers)).papers;
    let titles: Vec<&str> = papers.iter().map(|paper| paper.title.as_str()).collect();
    assert_eq!(titles, ["Quote", "Record"]);
    assert!(papers[1].text.contains("Ada Example") && papers[1].html.contains("Sampleton"));
    // Only sealed does a name stand in the book.
    let book: Vec<Event> = shell.loaded().events;
    assert!(book.iter().all(|event| !event.text().contains("Ada")));
}

/// Goes on by the demo's answers until the screen is as wanted.
fn on_until(shell: &mut Shell, desk: &mut Desk<'_, '_>, wanted: impl Fn(&Screen) -> bool) -> Screen {
    let mut screen = shell.settle(desk);
    for _ in 0..300 {
        if wanted(&screen) {
            return screen;
        }
        screen = shell.touch(desk, &Touch::TakeOffered);
    }
    panic!("never so: {screen:#?}");
}

#[test]
fn a_reading_asked_for_has_a_ruler_and_one_that_nothing_explains_is_said_to_be_unexplained() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let finding = |screen: &Screen| {
        let ohms = matches!(&screen.pad, Pad::Reading { unit } if unit == "ohm");
        ohms && screen.ruler.is_some() && screen.top.stages[4].standing == Standing::Now
    };
    let screen = on_until(&mut shell, &mut desk, finding);
    let ruler = screen.ruler.clone().unwrap();
    assert!(ruler.healthy.0 < ruler.healthy.1 && !ruler.hills.is_empty());
    assert!(ruler.hills.windows(2).all(|two| two[0].share >= two[1].share));
    for hill in &ruler.hills {
        assert!(0.0 <= hill.from && hill.from < hill.to && hill.to <= 1.0, "{hill:?}");
    }
    assert!(screen.lines.iter().any(|line| line.sort == Sort::Why));
    // A figure between all hills: 3.3 kohm is neither a sound nor an open part of a dryer.
    let odd = shell.touch(&mut desk, &Touch::Answer("3.3 kohm".to_owned()));
    let last = odd.last.clone().unwrap();
    assert!(last.say.unwrap().contains("none of the suspects explains this"));
    assert!(last.hills.iter().all(|hill| hill.missed));
    // Taken again with the same result it is unexplained; no single difference makes a contact read so, and what clashes
    // is told.
    assert!(odd.unexplained.is_empty());
    let again = shell.touch(&mut desk, &Touch::Answer("3.3 kohm".to_owned()));
    assert!(again.unexplained[0].contains("Neither one nor two faults explain"), "{:?}", again.unexplained);
    assert!(again.unexplained[1].contains("No single difference"), "{:?}", again.unexplained);
    assert!(again.unexplained[3].starts_with("read 3.3 kohm: "), "{:?}", again.unexplained);
    let once = shell.touch(&mut desk, &Touch::Undo);
    assert_eq!(of_the_book(once), of_the_book(odd));
    // Undo takes one thing back: the same move stands there again.
    let back = shell.touch(&mut desk, &Touch::Undo);
    assert_eq!(back.say, screen.say);
    assert_eq!(of_the_book(back), of_the_book(screen));
}

#[test]
fn what_is_typed_wrong_changes_nothing_and_says_what_to_type() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let before = on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Reading { .. }));
    let facts = shell.loaded().events.len();
    let refused = shell.touch(&mut desk, &Touch::Answer("fifteen".to_owned()));
    assert!(refused.notice.is_some());
    assert_eq!(refused.say, before.say);
    assert_eq!(shell.loaded().events.len(), facts);
}

#[test]
fn what_could_not_be_kept_does_not_count() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let before = on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Reading { .. }));
    desk.touch(&Touch::TakeOffered, &mut |bytes| bytes.fill(1));
    assert!(desk.owes(&noon()).unwrap().is_some());
    desk.not_kept("the storage is full");
    let after = shell.settle(&mut desk);
    assert!(after.notice.as_ref().unwrap().say.contains("the storage is full"));
    assert_eq!(of_the_book(after), of_the_book(before));
    let on = shell.touch(&mut desk, &Touch::TakeOffered);
    assert_eq!(on.notice, None);
}

#[test]
fn two_probes_in_the_drawing_show_what_each_suspect_predicts_and_can_be_taken() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let finding = |screen: &Screen| {
        matches!(screen.pad, Pad::Reading { .. }) && screen.ways.iter().any(|way| way.answer == "cannot reach")
    };
    on_until(&mut shell, &mut desk, finding);
    let open = shell.touch(&mut desk, &Touch::Sheet(Sheet::Drawing));
    let drawing = open.drawing.unwrap();
    assert!(drawing.svg.contains("data-terminal") && !drawing.words.is_empty());
    shell.touch(&mut desk, &Touch::Probe("heater.1".to_owned()));
    let both = shell.touch(&mut desk, &Touch::Probe("heater.2".to_owned())).drawing.unwrap();
    assert_eq!(both.probes, ["1 of the heating element", "2 of the heating element"]);
    let ruler = both.ruler.unwrap();
    assert!(ruler.title.contains("heating element") && !ruler.hills.is_empty());
    let take = both.take.unwrap();
    let taken = shell.touch(&mut desk, &Touch::Answer(take.answer));
    assert_eq!(taken.notice, None);
}

#[test]
fn the_day_names_what_goes_on() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let empty = screens::day::screen(&[], &[], &|_| None);
    assert_eq!(empty.day.as_ref().unwrap().unfinished, None);
    assert_eq!(empty.day.unwrap().machines.len(), screens::shipped::SHIPPED.len());
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    on_until(&mut shell, &mut desk, |screen| screen.top.stages[1].standing == Standing::Now);
    let events = shell.loaded().events;
    let day = screens::day::screen(&events, &["one".to_owned()], &|_| Some("Ada".to_owned())).day.unwrap();
    assert_eq!(day.unfinished.as_deref(), Some("Ada"));
    assert_eq!(day.damaged, ["one"]);
}

#[test]
fn a_hand_signs_and_its_strokes_stand_sealed_and_on_the_record() {
    let machine = machine();
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let mut shell = Shell::new();
    let mut desk = shell.desk(&predictor, Begin::Fresh);
    let before = on_until(&mut shell, &mut desk, |screen| matches!(screen.pad, Pad::Signature { .. }));
    let sign = |strokes: &str| Touch::Sign { name: "Grace Sample".to_owned(), strokes: strokes.to_owned() };
    let refused = shell.touch(&mut desk, &sign("10,20 5000,5"));
    assert!(refused.notice.as_ref().unwrap().say.contains("stroke 1"), "{:?}", refused.notice);
    assert_eq!(of_the_book(refused), of_the_book(before.clone()));
    let nameless = Touch::Sign { name: " ".to_owned(), strokes: "10,20".to_owned() };
    let refused = shell.touch(&mut desk, &nameless);
    assert!(refused.notice.as_ref().unwrap().say.contains("a name is needed"), "{:?}", refused.notice);
    assert_eq!(of_the_book(refused), of_the_book(before));
    let signed = shell.touch(&mut desk, &sign("10,20 300,25;40,40"));
    assert_eq!(signed.notice, None);
    assert!(!matches!(signed.pad, Pad::Signature { .. }));
    let papers = shell.touch(&mut desk, &Touch::Sheet(Sheet::Papers)).papers;
    let record = papers.iter().find(|paper| paper.title == "Record").unwrap();
    assert!(record.html.contains("Repair approved: Grace Sample"));
    assert!(record.html.contains("<polyline points=\"10,20 300,25\"/><polyline points=\"40,40\"/>"));
    assert!(record.text.contains("Repair approved: Grace Sample (signed by hand)"));
    // Nothing of the name stands in an event.
    assert!(shell.loaded().events.iter().all(|event| !event.text().contains("Grace")));
}
