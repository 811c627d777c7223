//! `callwright call`: works through a call, or lets the demo do it, or plays a recorded one.

mod keep;
mod papers;
mod recorded;
pub(crate) mod show;
pub(crate) mod talk;

use crate::args::Call;
use crate::failure::Failure;
use crate::kit::Kit;
use crate::shelf;
use book::MachineFile;
use call::demo::Demo;
use call::{Settings, Shop, Van, Waiting, machine_of};
pub(crate) use keep::Keep;
use machine::model::Machine;
use prediction::{Meter, Predictor};
use shipped::DEMO as DEMO_MACHINE;
use std::io::IsTerminal;
use std::process::ExitCode;
use talk::{Begin, Lines, Talk};

/// A meters file comes before the meters of the book's settings.
pub(crate) fn run(asked: &Call, kit: &Kit, as_json: bool) -> Result<ExitCode, Failure> {
    if let Some(path) = &asked.from {
        return recorded::run(path, &kit.meter, as_json);
    }
    if asked.demo { demo(asked, &kit.meter, as_json) } else { own(asked, kit, as_json) }
}

fn demo(asked: &Call, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, text) = shelf::load(asked.machine.as_deref().unwrap_or(DEMO_MACHINE))?;
    let keep = Keep::demo(asked.book.as_deref(), asked.seed)?;
    let mut settings = settings(asked, &Shop::default(), &machine, &text)?;
    settings.van = Van::Full;
    let demo = Demo::draw(&machine, asked.seed).ok_or_else(|| {
        Failure::Input(format!("no fault of `{}` fits the demo's complaint: turns and stays cold", machine.id))
    })?;
    // Without a terminal the demo plays by itself.
    let by_itself = as_json || !std::io::stdin().is_terminal();
    let lines = if by_itself { Lines::none() } else { Lines::typed() };
    let begin = keep.unfinished().map_or(Begin::Fresh, |found| Begin::GoOn(found.events));
    check_machine(&begin, &machine)?;
    let predictor = Predictor::new(&machine, *meter);
    Talk::new(&predictor, settings, keep, lines, as_json).with_demo(demo, by_itself).begin(begin).run()
}

fn own(asked: &Call, kit: &Kit, as_json: bool) -> Result<ExitCode, Failure> {
    let keep = Keep::own(asked.book.as_deref())?;
    let mut lines = Lines::typed();
    let begin = match keep.unfinished() {
        Some(found) => Begin::GoOn(found.events),
        None => ask_waiting(&keep, &mut lines, as_json)?.map_or(Begin::Fresh, Begin::Visit),
    };
    let name = match (&asked.machine, machine_of(begin.events())) {
        (Some(name), _) => name.clone(),
        (None, Some(file)) => file.machine,
        (None, None) => ask_machine(&mut lines, as_json)?,
    };
    let shop = Shop::when_begun(keep.events(), begin.events());
    let (mut machine, text) = match screens::own_machine(&shop, &name) {
        Some(own) => own.map_err(|refused| Failure::Input(format!("{}; {}", refused.say, refused.mend)))?,
        None => shelf::load(&name)?,
    };
    check_machine(&begin, &machine)?;
    call::adapt(&mut machine, begin.events());
    call::take_up(&mut machine, &shop);
    let meter = if kit.file.is_some() { kit.meter } else { screens::meter(&shop).map_err(Failure::Input)? };
    let settings = settings(asked, &shop, &machine, &text)?;
    let predictor = Predictor::new(&machine, meter);
    Talk::new(&predictor, settings, keep, lines, as_json).begin(begin).run()
}

/// A call that was broken off goes on with its own machine.
fn check_machine(begin: &Begin, machine: &Machine) -> Result<(), Failure> {
    match machine_of(begin.events()) {
        Some(file) if file.machine != machine.id => Err(Failure::Input(format!(
            "the call to go on with is on `{}`, not on `{}`; go on with that one first, or name another book with --book",
            file.machine, machine.id
        ))),
        _ => Ok(()),
    }
}

/// The shop's settings; what is named on the command line comes before them.
fn settings(asked: &Call, shop: &Shop, machine: &Machine, text: &str) -> Result<Settings, Failure> {
    let mut settings = shop.call(machine, MachineFile::of(&machine.id, text)).map_err(Failure::Input)?;
    settings.rates.call_out = rate(asked.call_out.as_deref(), settings.rates.call_out)?;
    settings.rates.per_hour = rate(asked.per_hour.as_deref(), settings.rates.per_hour)?;
    Ok(settings)
}

/// Reads an amount as typed; the usual one where none was.
fn rate(typed: Option<&str>, usual: quantity::Decimal) -> Result<quantity::Decimal, Failure> {
    let Some(text) = typed else { return Ok(usual) };
    match text.parse::<quantity::Decimal>() {
        Ok(amount) if !amount.is_sign_negative() => Ok(amount),
        _ => Err(Failure::Input(format!("`{text}` is no amount of money; write it as `95` or `95.50`"))),
    }
}

/// Asks whether this is the visit that a job waits for.
fn ask_waiting(keep: &Keep, lines: &mut Lines, as_json: bool) -> Result<Option<Waiting>, Failure> {
    let voice = show::Voice { quiet: as_json };
    let mut waiting = keep.waiting();
    if waiting.is_empty() {
        return Ok(None);
    }
    voice.line("Jobs that wait for another visit:");
    for (index, of) in waiting.iter().enumerate() {
        let name = keep.name_of(&of.events).unwrap_or_else(|| "a customer without name here".to_owned());
        voice.line(&format!("  {} {name}: {}", index + 1, of.waits_for()));
    }
    let answer = lines.next(&voice, "Its number, or Enter for a new call > ")?;
    let number = answer.and_then(|text| text.trim().parse::<usize>().ok()).and_then(|number| number.checked_sub(1));
    Ok(number.filter(|number| *number < waiting.len()).map(|number| waiting.swap_remove(number)))
}

fn ask_machine(lines: &mut Lines, as_json: bool) -> Result<String, Failure> {
    let voice = show::Voice { quiet: as_json };
    voice.line("Which machine?");
    for (index, one) in shipped::ALL.iter().enumerate() {
        voice.line(&format!("  {} {}: {}", index + 1, one.id, one.title()));
    }
    let Some(text) = lines.next(&voice, "> ")? else {
        return Err(Failure::Input("no machine was named; say `callwright call MACHINE`".to_owned()));
    };
    let text = text.trim();
    let by_number = text.parse::<usize>().ok().and_then(|number| shipped::ALL.get(number.checked_sub(1)?));
    Ok(match by_number {
        Some(one) => one.id.to_owned(),
        None if text.is_empty() => DEMO_MACHINE.to_owned(),
        None => text.to_owned(),
    })
}
