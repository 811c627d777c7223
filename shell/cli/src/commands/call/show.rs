//! An ask on the terminal: stage, move, what stands under it, cautions. Prints; decides nothing.

use crate::output;
use book::Stage;
use call::{Ask, Session, Sort, Wants};
use diagnosis::unexplained::sentences;
use diagnosis::{reasons::reasons, words};

/// Speaks, or keeps quiet where one JSON object is all that is wanted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Voice {
    /// Says nothing.
    pub(crate) quiet: bool,
}

impl Voice {
    pub(crate) fn line(self, text: &str) {
        if !self.quiet {
            output::line(text);
        }
    }

    pub(crate) fn prompt(self, text: &str) {
        if !self.quiet {
            output::prompt(text);
        }
    }
}

/// Columns that a line is broken at.
const WIDTH: usize = 96;

/// Prints an ask.
pub(crate) fn ask(voice: Voice, session: &Session<'_, '_>, ask: &Ask, last: &mut Option<Stage>) {
    if *last != Some(ask.stage) {
        voice.line("");
        voice.line(&output::bold(&format!("[ {} ]", stage(ask.stage))));
        *last = Some(ask.stage);
    }
    voice.line("");
    for caution in &ask.cautions {
        wrapped(voice, "  ", &format!("{}: {}", caution.signal.word(), caution.sentence));
    }
    for (index, line) in broken(&ask.say, WIDTH).iter().enumerate() {
        voice.line(&output::bold(&if index == 0 { line.clone() } else { format!("  {line}") }));
    }
    for line in &ask.lines {
        let (mark, say) = match line.sort {
            Sort::Do => ("  - ", line.say.clone()),
            Sort::Expect => ("  ", format!("expect: {}", line.say)),
            Sort::Means => ("  ", format!("? {}", line.say)),
            Sort::Why => ("  ", format!("why: {}", line.say)),
            Sort::Otherwise => ("  ", line.say.clone()),
            Sort::Notice => ("  ! ", line.say.clone()),
            Sort::Plain => ("  ", line.say.clone()),
        };
        wrapped(voice, mark, &say);
    }
    choices(voice, session, &ask.wants);
}

fn choices(voice: Voice, session: &Session<'_, '_>, wants: &Wants) {
    match wants {
        Wants::Choice(choices) => {
            for (index, choice) in choices.iter().enumerate() {
                wrapped(voice, &format!("  {:>2} ", index + 1), &choice.say);
            }
        }
        Wants::Seen(observed) => {
            for of in observed {
                let values: Vec<String> =
                    of.values.iter().map(|value| format!("{} ({})", value.id, value.say)).collect();
                wrapped(voice, "   ", &format!("{}= {}", session.machine()[of.what].id, values.join(", ")));
            }
        }
        _ => {}
    }
}

fn wrapped(voice: Voice, mark: &str, text: &str) {
    let indent = " ".repeat(mark.chars().count());
    for (index, line) in broken(text, WIDTH - indent.len()).iter().enumerate() {
        voice.line(&format!("{}{line}", if index == 0 { mark } else { &indent }));
    }
}

fn broken(text: &str, width: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split(' ') {
        let Some(last) = lines.last_mut() else { break };
        if !last.is_empty() && last.chars().count() + 1 + word.chars().count() > width {
            lines.push(word.to_owned());
        } else {
            if !last.is_empty() {
                last.push(' ');
            }
            last.push_str(word);
        }
    }
    lines
}

/// Names a stage as the line of stages does.
pub(crate) fn stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Intake => "intake",
        Stage::Load => "load",
        Stage::Travel => "travel",
        Stage::Arrive => "arrive",
        Stage::CheckSupply => "check the supply",
        Stage::MakeSafe => "make safe",
        Stage::Find => "find",
        Stage::Agree => "agree",
        Stage::Repair => "repair",
        Stage::Prove => "prove",
        Stage::HandOver => "hand over",
    }
}

/// Prints the suspects, likeliest first, each with a bar.
pub(crate) fn suspects(voice: Voice, session: &Session<'_, '_>) {
    let belief = session.belief();
    for (suspect, share) in belief.shares().into_iter().take(8).filter(|(_, share)| *share >= 0.002) {
        // A share is between 0 and 1, so that the bar has at most 20 marks.
        let bar: String = (0..20).map(|step| if f64::from(step) < share * 20.0 { '#' } else { '.' }).collect();
        voice.line(&format!("  {bar} {:>3.0} %  {}", share * 100.0, words::suspect(session.machine(), suspect)));
    }
    let unexplained = sentences(belief);
    unexplained.iter().for_each(|text| wrapped(voice, "  ", text));
    if !unexplained.is_empty() {
        voice.line("  If you see what differs, say `not built like this WHAT`.");
    }
}

/// Prints what spoke for and against the leading suspects.
pub(crate) fn why(voice: Voice, session: &Session<'_, '_>) {
    let belief = session.belief();
    for (suspect, share) in belief.shares().into_iter().take(3) {
        voice.line(&format!(
            "  {} ({:.0} %)",
            output::bold(&words::suspect(session.machine(), suspect)),
            share * 100.0
        ));
        for reason in reasons(belief, suspect).into_iter().take(4) {
            wrapped(voice, "    ", &reason.say);
        }
    }
}

/// Prints what can be typed.
pub(crate) fn help(voice: Voice, ask: &Ask) {
    voice.line("  at any prompt: undo, why, suspects, help, quit; `danger WHAT` if you see something dangerous");
    voice.line("  Enter takes what stands in brackets; `skip` passes over what may be passed over");
    if ask.own_way {
        voice.line(
            "  your own way: `another reading A B`, `ohms A B [STATE]`, `volts A B STATE`, `look PART`, `try STATE`,",
        );
        voice.line("  `cannot reach [TERMINALS]`, `opinion PART [TIMES]`, `not built like this WHAT`, `stop`,");
        voice.line(
            "  kept with the unit: `unit VARIANT WAY`, `label POINT TEXT`, `plate ENTRY TEXT`, `papers ENTRY TEXT`,",
        );
        voice.line("  to make it show what comes and goes: `moved PART` (while isolated), `ran warm`");
        voice.line("  while it runs: `thermometer 310F 10` (what it shows, minutes since it was switched on)");
    }
}
