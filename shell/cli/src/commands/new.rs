//! `callwright new`: a description laid over a described machine, from what the rating plate says.

use crate::args::New;
use crate::commands::call::show::Voice;
use crate::commands::call::talk::Lines;
use crate::commands::check;
use crate::failure::{Failure, unknown};
use crate::{output, shelf};
use machine::model::Conductor;
use machine::{Nameplate, Rating, ratings};
use serde_json::json;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

pub(crate) fn run(asked: &New, as_json: bool) -> Result<ExitCode, Failure> {
    let (base, _) = shelf::load(&asked.based_on)?;
    let (file, text) = shelf::text_of(&asked.based_on)?;
    let known = ratings(&text, &shelf::base_of(&file));
    let mut plate = Nameplate {
        id: asked.id.clone(),
        title: asked.title.clone(),
        based_on: base.id.clone(),
        ..read_plate(asked.plate.as_deref().unwrap_or_default())?
    };
    let legs = base.supply.block.iter().filter(|(of, _)| matches!(of, Conductor::Leg1 | Conductor::Leg2)).count();
    if let Some(volts) = plate.volts.filter(|volts| legs > 1 && (volts / base.plate_volts - 1.0).abs() > 0.01) {
        return Err(Failure::Input(format!(
            "`{}` stands on two legs, which give {} V and not {volts} V; lay a file over it that changes `[supply]`, as the \
             shipped `range-control-230` does",
            base.id, base.plate_volts
        )));
    }
    // Heaters go with the plate: as many watts more as it has, at volts in proportion.
    let more_volts = plate.volts.map_or(1.0, |volts| volts / base.plate_volts);
    let more_watts = plate.watts.map_or(1.0, |watts| watts / base.plate_watts);
    let given = read_watts(&asked.watts, &known)?;
    let mut lines = if asked.ask_nothing || as_json { Lines::none() } else { Lines::typed() };
    let voice = Voice { quiet: as_json };
    for rating in &known {
        let watts = if rating.heats { round(rating.watts * more_watts) } else { rating.watts };
        let volts = (rating.volts * more_volts * 10.0).round() / 10.0;
        let guess = Rating { watts, volts, ..rating.clone() };
        let watts = match given.iter().find(|(part, _)| *part == rating.part) {
            Some((_, watts)) => *watts,
            None => ask(&mut lines, &voice, &guess)?,
        };
        let now = Rating { watts, ..guess };
        if now != *rating {
            plate.ratings.push(now);
        }
    }
    let path = asked.file.clone().unwrap_or_else(|| PathBuf::from(format!("{}.toml", asked.id)));
    let shown = write_checked(&path, &plate.text())?;
    if as_json {
        output::json(&json!({ "path": shown, "machine": asked.id, "based_on": base.id }));
    } else {
        output::line(&format!("{shown}: `{}` builds on `{}`; nothing wrong found", asked.id, base.id));
    }
    Ok(ExitCode::SUCCESS)
}

/// Reads `volts=230,watts=2100`.
fn read_plate(text: &str) -> Result<Nameplate, Failure> {
    let mut plate = Nameplate::default();
    for pair in text.split(',').map(str::trim).filter(|pair| !pair.is_empty()) {
        let (key, value) = pair
            .split_once('=')
            .ok_or_else(|| Failure::Input(format!("`{pair}` says nothing of a plate; write `volts=230`")))?;
        let value = Some(number(value, pair)?);
        match key.trim() {
            "volts" => plate.volts = value,
            "watts" => plate.watts = value,
            "hertz" => plate.hertz = value,
            other => return Err(unknown("key of the plate", other, &["volts", "watts", "hertz"].map(str::to_owned))),
        }
    }
    Ok(plate)
}

/// Reads each `PART=WATTS`.
fn read_watts(given: &[String], known: &[Rating]) -> Result<Vec<(String, f64)>, Failure> {
    let parts: Vec<String> = known.iter().map(|rating| rating.part.clone()).collect();
    let read = |pair: &String| {
        let (part, watts) =
            pair.split_once('=').ok_or_else(|| Failure::Input(format!("`{pair}` is no `PART=WATTS`")))?;
        if !parts.iter().any(|known| known == part) {
            return Err(unknown("heater or lamp", part, &parts));
        }
        Ok((part.to_owned(), number(watts, pair)?))
    };
    given.iter().map(read).collect()
}

fn number(text: &str, pair: &str) -> Result<f64, Failure> {
    let number = text.trim().parse::<f64>().ok().filter(|number| number.is_finite() && *number > 0.0);
    number.ok_or_else(|| Failure::Input(format!("`{pair}` has no number above 0 behind its `=`")))
}

/// Asks for a part's watts; nothing typed takes what goes with the plate.
fn ask(lines: &mut Lines, voice: &Voice, guess: &Rating) -> Result<f64, Failure> {
    loop {
        let prompt = format!("{}, watts at {} V [{}]: ", guess.name, guess.volts, guess.watts);
        let Some(line) = lines.next(voice, &prompt)? else { return Ok(guess.watts) };
        let typed = line.trim();
        if typed.is_empty() {
            return Ok(guess.watts);
        }
        match number(typed.trim_end_matches(['W', 'w', ' ']), typed) {
            Ok(watts) => return Ok(watts),
            Err(_) => voice.line(&format!("  `{typed}` is no number of watts; press Enter to take {}", guess.watts)),
        }
    }
}

/// Rounds watts to what a plate would say.
fn round(watts: f64) -> f64 {
    if watts < 100.0 { watts.round() } else { (watts / 10.0).round() * 10.0 }
}

/// Writes a new description that stands up to being checked, and says where; a file that is there stays.
pub(crate) fn write_checked(path: &Path, text: &str) -> Result<String, Failure> {
    let shown = path.display().to_string();
    let wrong = check::found(&shown, text);
    if !wrong.is_empty() {
        let all = wrong.join("\n");
        return Err(Failure::Input(format!("nothing was written; the description would be wrong:\n{all}")));
    }
    let mut file = std::fs::File::create_new(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::AlreadyExists => {
            Failure::Input(format!("`{shown}` is there already; name another file with --file"))
        }
        _ => Failure::SetUp(format!("cannot write `{shown}`: {error}")),
    })?;
    file.write_all(text.as_bytes()).map_err(|error| Failure::SetUp(format!("cannot write `{shown}`: {error}")))?;
    Ok(shown)
}
