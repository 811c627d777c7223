//! Rehearses calls on machines and writes the tables and the plot of docs/rehearsals.
//!
//! `rehearsals OUT.md OUT.svg [calls=N] [seed=N] [nodes=N] [--robust] FILE.toml...`; the plot lies beside the tables.
#![allow(clippy::print_stderr, reason = "an example tells how far it is")]

use machine::Machine;
use rehearsal::{Calibration, Gathered, Measures, Report, Settings, Strategy, gather};
use std::error::Error;
use std::fmt::Write as _;

/// What was asked for.
struct Asked {
    calls: usize,
    seed: u64,
    robust: bool,
    settings: Settings,
    machines: Vec<Machine>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [tables, plot, rest @ ..] = args.as_slice() else {
        return Err("give the file for the tables, the file for the plot, and the machines' files".into());
    };
    let asked = asked(rest)?;
    let mut text = head(&asked);
    let mut panels = Vec::new();
    for machine in &asked.machines {
        let gathered = play(machine, &asked, &asked.settings, (&Strategy::ALL, ""))?;
        let report = gathered.report();
        section(&mut text, machine, &report);
        if asked.robust {
            robust(&mut text, machine, &asked, &gathered)?;
        }
        panels.push((machine.id.clone(), gathered));
    }
    std::fs::write(tables, text)?;
    std::fs::write(plot, svg(&panels))?;
    Ok(())
}

fn asked(words: &[String]) -> Result<Asked, Box<dyn Error>> {
    let mut asked = Asked { calls: 150, seed: 1, robust: false, settings: Settings::default(), machines: Vec::new() };
    for word in words {
        match word.split_once('=').unwrap_or((word, "")) {
            ("calls", calls) => asked.calls = calls.parse()?,
            ("seed", seed) => asked.seed = seed.parse()?,
            ("nodes", nodes) => asked.settings.nodes = nodes.parse()?,
            ("--robust", _) => asked.robust = true,
            (path, _) => {
                let read = machine::read(&std::fs::read_to_string(path)?);
                asked.machines.push(read.machine.ok_or_else(|| format!("`{path}` does not read clean"))?);
            }
        }
    }
    if asked.machines.is_empty() { Err("give at least one machine's file".into()) } else { Ok(asked) }
}

fn play<'m>(
    machine: &'m Machine,
    asked: &Asked,
    settings: &Settings,
    (who, what): (&[Strategy], &str),
) -> Result<Gathered<'m>, Box<dyn Error>> {
    let mut tell = |done: usize| eprint!("\r{}{what}: {done} of {} calls", machine.id, asked.calls);
    let gathered = gather(machine, asked.calls, asked.seed, settings, who, &mut tell)?;
    eprintln!();
    Ok(gathered)
}

fn head(asked: &Asked) -> String {
    format!(
        "# Rehearsals\n\n\
         Written by `make rehearsal`: {} calls for each machine, seed {}, {} states weighed for a decision. Every technician \
         meets the same\nunits, customers, meter errors, covers, prices and stop rule. Truth is drawn and solved apart from the \
         reasoner, with\nprior weights off by up to {} times either way. Money and danger are no minutes here.\n\
         Before handing back everyone runs every state and takes the machine's proving readings and the check of the supply; in \
         one\ncall of ten an unrelated dangerous fault is planted (more of that in [rehearsal-dangers.md](rehearsal-dangers.md)). The van \
         holds what\nthe machine's file calls stocked.\n\n\
         Technicians:\n\n\
         - **tool**: its advice obeyed exactly.\n\
         - **checklist**: the frozen flowchart of the machine.\n\
         - **value of inf.**: value of information one step ahead, covers and switching ignored when choosing.\n\
         - **likeliest part**: the part likeliest by the belief is changed, nothing read of his own accord (a board is still \
         read first,\n  as for everyone).\n\
         - **information**: what tells most, whatever it costs, until one repair is 90 % sure.\n\
         - **inf. per minute**: what tells most for a minute, the way in included, until one repair is 90 % sure.\n\n\
         Bounds, minutes to the start of the repair that cures:\n\n\
         - **all-knowing**: knows the faults and goes straight to the cure. Nobody can beat it.\n\
         - **obliged to confirm**: knows the faults, but before he changes or names anything he sees the trouble in a run, takes \
         one\n  reading, or looks at damage that shows, the cheapest of these; and he runs the machine after each repair but the \
         last.\n  It bounds whoever confirms before he changes. One who changes a part unconfirmed may go below it.\n\n\
         Calibration: at each repair that the tool decided on, the share of its suspects that this repair cures, against whether \
         the\nunit had a fault that it cures (a new part that is bad itself counts as right); and before every step the share of \
         the\nleading suspect, and of every suspect of 1 % or more, against whether it was the truth. Standard errors take each \
         call as one draw.\n\n\
         ![Share of calls with the cure begun, over minutes](rehearsals.svg)\n",
        asked.calls, asked.seed, asked.settings.nodes, asked.settings.draw.prior_factor
    )
}

/// A row of the table: its name, its figure, its standard error where there is one.
type Row = (&'static str, fn(&Measures) -> f64, fn(&Measures) -> Option<f64>);

const ROWS: [Row; 14] = [
    ("right at the first visit, %", |m| 100.0 * m.first_visit_fix, |_| None),
    ("needless parts for 100 calls", |m| m.needless_parts_per_100, |_| None),
    ("minutes to find", |m| m.minutes_to_find, |_| None),
    ("minutes to the start of the cure", |m| m.minutes, |m| Some(m.minutes_error)),
    ("minutes in all", |m| m.minutes_in_all, |_| None),
    ("probing by hand, open and live", |m| m.open_energised_probing, |_| None),
    ("supply and proving readings", |m| m.supply_and_proving_readings, |_| None),
    ("work points proved dead", |m| m.proved_dead, |_| None),
    ("readings, isolated", |m| m.readings, |_| None),
    ("readings, clipped", |m| m.clipped_readings, |_| None),
    ("completed from the van, %", |m| 100.0 * m.completed_from_van, |_| None),
    ("covers off", |m| m.covers_off, |_| None),
    ("callbacks for 100 calls", |m| m.callbacks_per_100, |_| None),
    ("handed on for 100 calls", |m| m.referred_per_100, |_| None),
];

// Writing into a string cannot fail, here and below.
fn section(text: &mut String, machine: &Machine, report: &Report) {
    let columns = report.columns();
    let _ = write!(text, "\n## {}\n\n|  |", machine.id);
    for (name, _) in &columns {
        let _ = write!(text, " {name} |");
    }
    let _ = write!(text, "\n|---|{}", "---:|".repeat(columns.len()));
    for (name, figure, error) in ROWS {
        let _ = write!(text, "\n| {name} |");
        for (_, measures) in &columns {
            let _ = match error(measures) {
                Some(error) => write!(text, " {:.2} ± {error:.2} |", figure(measures)),
                None => write!(text, " {:.2} |", figure(measures)),
            };
        }
    }
    let _ = write!(
        text,
        "\n\nThe figure after ± is one standard error. All-knowing: {:.2} minutes; obliged to confirm: {:.2} minutes. The \
         tool's over\nthese: {:.2} and {:.2}.\n",
        report.all_knowing_minutes,
        report.confirming_minutes,
        report.minutes_over_all_knowing,
        report.minutes_over_confirming
    );
    let _ = write!(
        text,
        "\n| rival less the tool, call by call | minutes | needless parts for 100 calls |\n|---|---:|---:|\n"
    );
    for (name, paired) in report.paired_rivals() {
        let _ = writeln!(
            text,
            "| {name} | {:.2} ± {:.2} | {:.1} ± {:.1} |",
            paired.minutes_more,
            paired.minutes_more_error,
            paired.needless_more_per_100,
            paired.needless_more_per_100_error
        );
    }
    let _ = writeln!(text, "\nDanger, the tool's visits:\n");
    for line in report.dangers.lines(report.calls) {
        let _ = writeln!(text, "- {line}");
    }
    for (name, told) in report.calibrations() {
        calibrated(text, name, told);
    }
}

fn calibrated(text: &mut String, name: &str, told: &Calibration) {
    let _ = write!(
        text,
        "\nStated of {name}: Brier score {:.4} ± {:.4} = reliability {:.4} - resolution {:.4} + uncertainty {:.4} + within \
         bins {:.4}.\n\n| stated | times | mean, % | so, % |\n|---|---:|---:|---:|\n",
        told.brier, told.brier_error, told.reliability, told.resolution, told.uncertainty, told.within
    );
    for bin in told.bins.iter().filter(|bin| bin.count > 0) {
        let [from, claimed, cured, error] = [bin.from, bin.claimed, bin.cured, bin.error].map(|share| 100.0 * share);
        let _ = writeln!(
            text,
            "| {from:.0} to {:.0} % | {} | {claimed:.1} | {cured:.1} ± {error:.1} |",
            from + 10.0,
            bin.count
        );
    }
}

/// The same calls with something off or put right: the weights known, the minutes that the tool reckons with halved and
/// doubled, the meter at 5 %. What each loses against the first line is taken call by call.
fn robust(text: &mut String, machine: &Machine, asked: &Asked, usual: &Gathered) -> Result<(), Box<dyn Error>> {
    let mut known = asked.settings.clone();
    known.weights_known = true;
    let mut meter = asked.settings.clone();
    meter.draw.meter.accuracy = 0.05;
    let mut half = asked.settings.clone();
    half.believed_prices = Some(times_the_hands(&asked.settings, 0.5));
    let mut twice = asked.settings.clone();
    twice.believed_prices = Some(times_the_hands(&asked.settings, 2.0));
    text.push_str(
        "\nThe tool with something off, on the same calls:\n\n| | right, % | needless for 100 | minutes to the start of the cure \
         | lost by it, minutes | Brier, leading suspect |\n|---|---:|---:|---:|---:|---:|\n",
    );
    // The tool alone: its rivals say nothing of what it loses.
    let alone = [Strategy::Tool];
    let right = play(machine, asked, &known, (&alone, ", weights known"))?;
    let mut line = |name: &str, gathered: &Gathered, against: &Gathered| {
        let (report, lost) = (gathered.report(), gathered.lost_against(against));
        let t = report.tool;
        let told = &report.calibration_of_leading;
        let _ = writeln!(
            text,
            "| {name} | {:.1} | {:.1} | {:.2} ± {:.2} | {:+.2} ± {:.2} | {:.4} ± {:.4} |",
            100.0 * t.first_visit_fix,
            t.needless_parts_per_100,
            t.minutes,
            t.minutes_error,
            lost.0,
            lost.1,
            told.brier,
            told.brier_error
        );
    };
    line("weights known exactly", &right, &right);
    line("weights off up to threefold, as above (lost against the line before)", usual, &right);
    for (name, settings) in [
        ("and hands' minutes reckoned at half (lost against as above, here and below)", half),
        ("and hands' minutes reckoned at double", twice),
        ("and a meter of 5 %, taken for an ordinary one", meter),
    ] {
        line(name, &play(machine, asked, &settings, (&alone, &format!(", {name}")))?, usual);
    }
    Ok(())
}

fn times_the_hands(settings: &Settings, times: f64) -> repair::Prices {
    let now = &settings.prices;
    repair::Prices {
        reading: times * now.reading,
        set_controls: times * now.set_controls,
        lift_lead: times * now.lift_lead,
        supply_reading: times * now.supply_reading,
        clipped: times * now.clipped,
        look: times * now.look,
        isolate: times * now.isolate,
        energise: times * now.energise,
        explain: times * now.explain,
        ..now.clone()
    }
}

const WIDE: f64 = 640.0;
const HIGH: f64 = 300.0;
const LEFT: f64 = 60.0;
const TOP: f64 = 40.0;
/// The minutes axis ends here; what takes longer is not drawn.
const MOST_MINUTES: f64 = 90.0;
const INKS: [&str; 7] = ["#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#000000"];

/// Draws one panel for each machine: the share of calls whose cure was begun, rightly, by so many minutes.
fn svg(panels: &[(String, Gathered)]) -> String {
    let high = (HIGH + 2.0 * TOP) * panels.len() as f64;
    let mut text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {} {high}\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
        WIDE + LEFT + 150.0
    );
    for (index, (name, gathered)) in panels.iter().enumerate() {
        let top = TOP + index as f64 * (HIGH + 2.0 * TOP);
        axes(&mut text, name, top);
        let mut lines: Vec<(&str, Vec<f64>)> = Vec::new();
        for strategy in Strategy::ALL {
            let Some(visits) = gathered.visits.get(&strategy) else { continue };
            let right = visits.iter().map(|v| if v.right { v.minutes } else { f64::INFINITY });
            lines.push((strategy.name(), right.collect()));
        }
        lines.push(("all-knowing", gathered.all_knowing.clone()));
        for (at, (name, minutes)) in lines.into_iter().enumerate() {
            let ink = INKS[at % INKS.len()];
            let _ = writeln!(
                text,
                "<path fill=\"none\" stroke=\"{ink}\" stroke-width=\"1.6\" d=\"{}\"/>",
                steps(minutes, top)
            );
            let y = top + 20.0 + 18.0 * at as f64;
            let x = LEFT + WIDE + 10.0;
            let _ = writeln!(text, "<text x=\"{x}\" y=\"{y}\" fill=\"{ink}\">{name}</text>");
        }
    }
    text.push_str("</svg>\n");
    text
}

fn axes(text: &mut String, name: &str, top: f64) {
    let bottom = top + HIGH;
    let _ = writeln!(text, "<text x=\"{LEFT}\" y=\"{}\" font-weight=\"bold\">{name}</text>", top - 12.0);
    for fifth in 0..=5 {
        let share = f64::from(fifth) / 5.0;
        let y = bottom - share * HIGH;
        let _ = writeln!(text, "<path stroke=\"#ddd\" d=\"M{LEFT} {y:.1}h{WIDE}\"/>");
        let _ = writeln!(
            text,
            "<text x=\"{}\" y=\"{:.1}\" text-anchor=\"end\">{:.0} %</text>",
            LEFT - 6.0,
            y + 4.0,
            100.0 * share
        );
    }
    for tick in 0..=9 {
        let minutes = f64::from(tick) * 10.0;
        let x = LEFT + minutes / MOST_MINUTES * WIDE;
        let _ =
            writeln!(text, "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{minutes:.0}</text>", bottom + 16.0);
    }
    let _ = writeln!(
        text,
        "<text x=\"{}\" y=\"{}\" text-anchor=\"middle\">minutes from arrival to the start of the cure</text>",
        LEFT + 0.5 * WIDE,
        bottom + 32.0
    );
}

/// Gives the path of a cumulative share.
fn steps(mut minutes: Vec<f64>, top: f64) -> String {
    minutes.sort_by(f64::total_cmp);
    let rise = HIGH / minutes.len().max(1) as f64;
    let mut path = format!("M{LEFT} {:.1}", top + HIGH);
    for (done, minutes) in minutes.iter().take_while(|m| **m <= MOST_MINUTES).enumerate() {
        let y = top + HIGH - rise * (done + 1) as f64;
        let _ = write!(path, "H{:.1}V{y:.1}", LEFT + minutes / MOST_MINUTES * WIDE);
    }
    let _ = write!(path, "H{:.1}", LEFT + WIDE);
    path
}
