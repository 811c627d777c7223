//! From the desk to the screen: the move, what lies under the thumb, the suspects. Words only; plans nothing.

mod pad;
pub(crate) mod suspects;

use crate::desk::Desk;
use crate::ruler;
use crate::screen::{Line, Panel, Place, ProbePlace, Screen, Sort, Stage, Standing, Top, Way};
use crate::sheet;
use book::{Body, CallFact};
use call::{About, Ask};
use diagnosis::words;
use machine::model::Machine;
use prediction::Probe;

/// Gives everything that is shown.
pub(crate) fn screen(desk: &Desk<'_, '_>) -> Screen {
    let ask = desk.session.ask();
    let ended = ask.about == About::Ended;
    let mut screen = Screen::of(if ended { Place::Ended } else { Place::Call });
    screen.top = top(desk, &ask);
    screen.notice.clone_from(&desk.notice);
    screen.cautions = ask
        .cautions
        .iter()
        .map(|of| Panel { word: of.signal.word().to_owned(), sentence: of.sentence.to_owned() })
        .collect();
    screen.say = if ended { "The call has ended.".to_owned() } else { ask.say.clone() };
    screen.lines = ask.lines.iter().map(line).collect();
    screen.lines.extend(revealed(desk, ended));
    if let About::Read(reading) = &ask.about {
        screen.ruler = Some(ruler::asked(desk, reading));
        screen.condition = Some(words::condition(desk.session.machine(), reading));
        screen.places = places(desk.session.machine(), reading.probe);
    }
    screen.last = ruler::last(desk);
    screen.pad = pad::pad(desk, &ask);
    screen.offered.clone_from(&desk.offered);
    screen.ways = ways(&ask);
    screen.undo = !desk.session.to_undo().is_empty();
    let judged = desk.session.job().is_some();
    screen.suspects = if judged { suspects::suspects(desk) } else { Vec::new() };
    screen.unexplained = if judged { desk.unexplained().to_vec() } else { Vec::new() };
    screen.history = history(desk);
    screen.photo_count = desk.photos_taken().count();
    sheet::open(desk, &ask, &mut screen);
    screen
}

/// The stages as the line on top names them.
const STAGES: [&str; 9] = ["intake", "arrive", "supply", "make safe", "find", "agree", "fit", "prove", "hand over"];

fn stage_at(stage: book::Stage) -> usize {
    match stage {
        book::Stage::Intake | book::Stage::Load | book::Stage::Travel => 0,
        book::Stage::Arrive => 1,
        book::Stage::CheckSupply => 2,
        book::Stage::MakeSafe => 3,
        book::Stage::Find => 4,
        book::Stage::Agree => 5,
        book::Stage::Repair => 6,
        book::Stage::Prove => 7,
        book::Stage::HandOver => 8,
    }
}

fn top(desk: &Desk<'_, '_>, ask: &Ask) -> Top {
    let at = stage_at(ask.stage);
    let standing = |of: usize| match of.cmp(&at) {
        std::cmp::Ordering::Less => Standing::Done,
        std::cmp::Ordering::Equal => Standing::Now,
        std::cmp::Ordering::Greater => Standing::ToCome,
    };
    let stages = STAGES.iter().enumerate();
    let arrived = desk.session.events().iter().rev().find_map(|event| match event.body() {
        Body::Call { fact: CallFact::Arrived(_), .. } => Some(event.at().as_str().to_owned()),
        _ => None,
    });
    Top {
        who: desk.customer().map(|person| person.name).unwrap_or_default(),
        machine: desk.session.machine().title.clone(),
        since: arrived,
        stages: stages.map(|(of, say)| Stage { say: (*say).to_owned(), standing: standing(of) }).collect(),
        note: match (desk.session.at_once(), desk.is_demo()) {
            (Some(at_once), _) => Some(at_once.to_owned()),
            (None, demo) => demo.then(|| call::demo::SHOP.to_owned()),
        },
    }
}

fn line(line: &call::Line) -> Line {
    let sort = match line.sort {
        call::Sort::Do => Sort::Do,
        call::Sort::Expect => Sort::Expect,
        call::Sort::Means => Sort::Means,
        call::Sort::Why => Sort::Why,
        call::Sort::Otherwise => Sort::Otherwise,
        call::Sort::Notice => Sort::Notice,
        call::Sort::Plain => Sort::Plain,
    };
    Line { sort, say: line.say.clone() }
}

fn places(machine: &Machine, probe: Probe) -> Vec<ProbePlace> {
    let Probe::Across(red, black) = probe else { return Vec::new() };
    let place = |terminal| {
        let (label, part) = words::label_and_part(machine, terminal);
        ProbePlace { label, part: part.map(str::to_owned) }
    };
    vec![place(red), place(black)]
}

/// Tells the demo's hidden fault once its call has ended.
fn revealed(desk: &Desk<'_, '_>, ended: bool) -> Option<Line> {
    let hidden = desk.hidden().filter(|_| ended)?;
    let machine = desk.session.machine();
    let fault = &machine[hidden];
    let say = format!("The demo's hidden fault was: {}: {}.", machine[fault.part].name, fault.say);
    Some(Line { sort: Sort::Plain, say })
}

fn ways(ask: &Ask) -> Vec<Way> {
    let way = |say: &str, answer: &str, words: Option<&str>| Way {
        say: say.to_owned(),
        answer: answer.to_owned(),
        words: words.map(str::to_owned),
        group: None,
    };
    let mut ways = Vec::new();
    if ask.own_way {
        ways.push(way("cannot reach it", "cannot reach", None));
        ways.push(way("not built like this", "not built like this ", Some("what is different")));
        ways.push(way("I suspect a part", "opinion ", Some("the part, as the drawing names it")));
        ways.push(way("I moved a part and its leads", "moved ", Some("the part, as the drawing names it")));
        ways.push(way("I ran it until it was warm", "ran warm", None));
        if matches!(ask.about, About::Try(_)) {
            let words = "degrees, and minutes since it was switched on, such as 310F 10";
            ways.push(way("a thermometer shows", "thermometer ", Some(words)));
        }
        ways.push(way("stop looking", "stop", None));
        ways.push(way("its plate says", "plate ", Some("an entry and its text, such as watts 4800")));
        ways.push(way(
            "its papers say",
            "papers ",
            Some("an entry and its text, such as service-mode hold start and stop"),
        ));
        ways.push(way(
            "printed at a terminal",
            "label ",
            Some("the terminal and what is printed, such as heater.1 H1"),
        ));
    }
    if ask.telephone {
        ways.push(way("I come on another day", "later ", Some("the window, such as 2026-12-01 9:00-12:00")));
        ways.push(way("settled on the telephone", "settled ", Some("what it was, such as cord:unplugged")));
    }
    if ask.enter == Some(call::Answer::Skip) {
        ways.push(way("pass over", "skip", None));
    }
    if ask.about != About::Ended {
        ways.push(way("I see something dangerous", "danger ", Some("what it is")));
    }
    ways
}

/// Says what was found so far, the latest first.
fn history(desk: &Desk<'_, '_>) -> Vec<String> {
    let belief = desk.session.belief();
    belief.evidence().iter().rev().map(|weighed| words::item(belief.machine(), &weighed.item)).collect()
}
