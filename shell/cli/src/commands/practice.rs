//! `callwright practice`: a learner takes a call on a unit with a hidden fault, step by step, and gets a review.

use crate::args::Practice;
use crate::failure::Failure;
use crate::{output, shelf};
use prediction::{Meter, Predictor};
use rehearsal::practice::{Lesson, Played, Review, read_act, settings};
use rehearsal::{Rehearsal, RehearsalError};
use repair::Act;
use serde_json::json;
use std::io::{BufRead, IsTerminal, Write};
use std::process::ExitCode;

pub(crate) fn run(asked: &Practice, meter: &Meter, as_json: bool) -> Result<ExitCode, Failure> {
    let (machine, _) = shelf::load(&asked.machine)?;
    let predictor = Predictor::new(&machine, *meter);
    let rehearsal = Rehearsal::new(&predictor, asked.seed, settings()).map_err(|error| bug(&error))?;
    let difficulty = asked.difficulty.into();
    let lesson = Lesson::draw(&rehearsal, difficulty, asked.seed).ok_or_else(|| {
        Failure::Input(format!("`{}` has no such lesson; ask for another difficulty or seed", machine.id))
    })?;
    let acts = asked.steps.iter().map(|text| read_act(&machine, text).map_err(Failure::Input));
    let mut acts: Vec<Act> = acts.collect::<Result<_, _>>()?;
    let by_hand = acts.is_empty() && !as_json && std::io::stdin().is_terminal();
    if !as_json {
        output::line(&output::bold(&format!("{}: the customer says", machine.title)));
        lesson.complaint().iter().for_each(|line| output::line(&format!("  {line}")));
    }
    if by_hand {
        let take = |text: &str| read_act(&machine, text);
        talk(&lesson, &mut acts, &take)?;
    }
    let played = lesson.play(&acts).map_err(|error| bug(&error))?;
    let review = lesson.review(&acts).map_err(|error| bug(&error))?;
    if as_json {
        let lines: Vec<_> =
            played.lines.iter().map(|l| json!({ "minutes": l.minutes, "did": l.act, "shown": l.shown })).collect();
        output::json(&json!({
            "machine": machine.id,
            "difficulty": lesson.difficulty(),
            "complaint": lesson.complaint(),
            "steps": lines,
            "ended": played.ended.is_some(),
            "review": review,
        }));
    } else {
        if !by_hand {
            tell(&played, 0);
        }
        look_back(&review, played.ended.is_some());
    }
    Ok(ExitCode::SUCCESS)
}

/// Takes acts as typed until the visit has ended or the learner stops.
fn talk(
    lesson: &Lesson<'_, '_, '_>,
    acts: &mut Vec<Act>,
    read: &dyn Fn(&str) -> Result<Act, String>,
) -> Result<(), Failure> {
    output::line("Type what you do, such as `ohms heater.1 heater.2`; an empty line gives up and shows the review.");
    let mut told = 0;
    for typed in std::io::stdin().lock().lines() {
        let typed = typed.map_err(|error| Failure::SetUp(format!("the terminal cannot be read: {error}")))?;
        if typed.trim().is_empty() {
            return Ok(());
        }
        match read(&typed) {
            Ok(act) => acts.push(act),
            Err(why) => {
                output::line(&why);
                continue;
            }
        }
        let played = lesson.play(acts).map_err(|error| bug(&error))?;
        told = tell(&played, told);
        if played.ended.is_some() {
            return Ok(());
        }
        // What is not flushed is only seen later.
        let _ = std::io::stdout().flush();
    }
    Ok(())
}

/// Tells what came of it from the line with this number on; gives how many lines there are.
fn tell(played: &Played, from: usize) -> usize {
    for line in &played.lines[from.min(played.lines.len())..] {
        output::line(&format!("{:6.1} min  {} -> {}", line.minutes, line.act, line.shown));
    }
    played.lines.len()
}

fn look_back(review: &Review, ended: bool) {
    output::line("");
    let verdict = match (ended, review.right) {
        (false, _) => "not ended",
        (true, true) => "right",
        (true, false) => "not right: the trouble is still there, or was handed on without need",
    };
    output::line(&output::bold(&format!("It was {}. You: {verdict}.", review.truth.join(" + "))));
    output::line(&format!(
        "{:.0} minutes, {} parts for nothing, {} readings on the energised machine; the tool {:.0} minutes, knowing it from \
         the start {:.0}.",
        review.minutes, review.needless_parts, review.clipped_readings, review.tool_minutes, review.all_knowing_minutes
    ));
    for (at, act) in review.acts.iter().enumerate() {
        output::line(&format!("{:>3}. {}", at + 1, act.did));
        output::line(&format!(
            "     took {:.1} minutes, made the rest {:.1} minutes {}, {:.1} bits",
            act.minutes,
            act.worth.abs(),
            if act.worth < 0.0 { "longer" } else { "shorter" },
            act.bits
        ));
        if let Some(tool) = &act.tool {
            output::line(&format!("     the tool: {tool}"));
        }
    }
    output::line("From the start the tool would have done:");
    review.tool_steps.iter().for_each(|step| output::line(&format!("  {step}")));
}

fn bug(error: &RehearsalError) -> Failure {
    Failure::Bug(error.to_string())
}
