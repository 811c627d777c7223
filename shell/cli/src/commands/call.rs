//! `callwright call`: works through a call, or lets the demo do it, or plays a recorded one.

mod keep;
mod papers;
mod recorded;
mod show;
mod talk;

use crate::args::Call;
use crate::failure::Failure;
use crate::shelf;
use call::Settings;
use call::demo::Demo;
use keep::Keep;
use machine::model::Machine;
use prediction::{Meter, Predictor};
use std::io::IsTerminal;
use std::process::ExitCode;
use talk::{Lines, Talk};

/// The machine of the demo.
const DEMO_MACHINE: &str = "dryer-timer-240";

pub(crate) fn run(asked: &Call, as_json: bool) -> Result<ExitCode, Failure> {
    if let Some(path) = &asked.from {
        return recorded::run(path, as_json);
    }
    if asked.demo { demo(asked, as_json) } else { own(asked, as_json) }
}

fn demo(asked: &Call, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, text) = shelf::load(asked.machine.as_deref().unwrap_or(DEMO_MACHINE))?;
    let keep = Keep::demo(asked.book.as_deref(), asked.seed)?;
    let mut settings = settings(&machine, &text)?;
    settings.full_van = true;
    let demo = Demo::draw(&machine, asked.seed).ok_or_else(|| {
        Failure::Input(format!("no fault of `{}` fits the demo's complaint: turns and stays cold", machine.id))
    })?;
    // Without a terminal the demo plays by itself.
    let by_itself = as_json || !std::io::stdin().is_terminal();
    let lines = if by_itself { Lines::none() } else { Lines::typed() };
    let predictor = Predictor::new(&machine, Meter::ordinary());
    Talk::new(&predictor, settings, keep, lines, as_json).with_demo(demo, by_itself).run()
}

fn own(asked: &Call, as_json: bool) -> Result<ExitCode, Failure> {
    let keep = Keep::own(asked.book.as_deref())?;
    let mut lines = Lines::typed();
    let name = match (&asked.machine, keep.machine()) {
        (Some(name), _) => name.clone(),
        (None, Some(name)) => name,
        (None, None) => ask_machine(&mut lines, as_json)?,
    };
    let (machine, text) = shelf::load(&name)?;
    let settings = settings(&machine, &text)?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    Talk::new(&predictor, settings, keep, lines, as_json).run()
}

fn settings(machine: &Machine, text: &str) -> Result<Settings, Failure> {
    let hash = book::Checksum::of(text.as_bytes()).to_string();
    let file = book::MachineFile { machine: machine.id.clone(), hash };
    let currency = machine.currency.parse().map_err(|error: book::BadCurrency| Failure::Input(error.to_string()))?;
    Ok(Settings::usual(file, currency))
}

fn ask_machine(lines: &mut Lines, as_json: bool) -> Result<String, Failure> {
    let voice = show::Voice { quiet: as_json };
    voice.line("Which machine?");
    for (index, (id, _)) in shelf::SHIPPED.iter().enumerate() {
        voice.line(&format!("  {} {id}", index + 1));
    }
    let Some(text) = lines.next(&voice, "> ")? else {
        return Err(Failure::Input("no machine was named; say `callwright call MACHINE`".to_owned()));
    };
    let text = text.trim();
    let by_number = text.parse::<usize>().ok().and_then(|number| shelf::SHIPPED.get(number.checked_sub(1)?));
    Ok(match by_number {
        Some((id, _)) => (*id).to_owned(),
        None if text.is_empty() => DEMO_MACHINE.to_owned(),
        None => text.to_owned(),
    })
}
