//! `callwright screen`: the app's screens without a browser. Plays touches on a fresh call and says what is shown after the
//! last one. Nothing of it is kept.

use crate::args::Shown;
use crate::failure::Failure;
use crate::{clock, output, shelf};
use book::{DeviceId, Loaded, MachineFile, Pen};
use call::{Settings, Van};
use prediction::{Meter, Predictor};
use screens::{Begin, Behind, Desk, Screen, Touch};
use shipped::{DEMO, DEMO_SEED};
use std::io::Read;
use std::path::Path;
use std::process::ExitCode;

pub(crate) fn run(asked: &Shown, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let touches = asked.touches.as_deref().map_or(Ok(Vec::new()), read)?;
    let (machine, text) = shelf::load(asked.machine.as_deref().unwrap_or(DEMO))?;
    let file = MachineFile::of(&machine.id, &text);
    let currency = machine.currency.parse().map_err(|error: book::BadCurrency| Failure::Input(error.to_string()))?;
    let mut settings = Settings::usual(file, currency);
    if asked.demo {
        settings.van = Van::Full;
    }
    let predictor = Predictor::new(&machine, *meter);
    let loaded = Loaded::default();
    let pen = Pen::after(DeviceId::from_random([0; 16]), &loaded);
    let demo = asked.demo.then_some(Behind::Seed(DEMO_SEED));
    let mut desk = Desk::open(&predictor, settings, pen, &loaded, (Vec::new(), Vec::new()), demo, Begin::Fresh);
    settle(&mut desk)?;
    for touch in &touches {
        desk.touch(touch, &mut unsecret);
        settle(&mut desk)?;
    }
    tell(&desk.screen(), as_json)
}

/// Keys for what nobody keeps.
fn unsecret(bytes: &mut [u8]) {
    bytes.fill(0x5a);
}

fn settle(desk: &mut Desk<'_, '_>) -> Result<(), Failure> {
    let at = clock::now()?;
    while desk.owes(&at).map_err(Failure::Bug)?.is_some() {
        desk.kept();
    }
    Ok(())
}

/// Reads touches, one a line, each as JSON.
fn read(path: &Path) -> Result<Vec<Touch>, Failure> {
    let shown = path.display();
    let mut text = String::new();
    let read = if path.as_os_str() == "-" {
        std::io::stdin().read_to_string(&mut text).map(drop)
    } else {
        std::fs::read_to_string(path).map(|read| text = read)
    };
    read.map_err(|error| Failure::Input(format!("{shown}: {error}")))?;
    let lines = text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty());
    lines
        .map(|(at, line)| {
            let number = at + 1;
            let mend = r#"write one a line, such as {"answer":"15.2"}, "take-offered", "undo" or {"probe":"heater.1"}"#;
            serde_json::from_str(line).map_err(|error| Failure::Input(format!("{shown}:{number}: {error}; {mend}")))
        })
        .collect()
}

fn tell(screen: &Screen, as_json: bool) -> Result<ExitCode, Failure> {
    if as_json {
        output::json(&serde_json::to_value(screen).map_err(|error| Failure::Bug(error.to_string()))?);
        return Ok(ExitCode::SUCCESS);
    }
    if let Some(notice) = &screen.notice {
        output::line(&format!("{}; {}", notice.say, notice.mend));
    }
    screen.cautions.iter().for_each(|panel| output::line(&format!("{}: {}", panel.word, panel.sentence)));
    output::line(&output::bold(&screen.say));
    screen.lines.iter().for_each(|line| output::line(&format!("  {}", line.say)));
    if let Some(offered) = &screen.offered {
        output::line(&format!("demo: {offered}"));
    }
    Ok(ExitCode::SUCCESS)
}
