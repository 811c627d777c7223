//! Rehearses calls on every machine of a folder and writes one table, docs/rehearsals-every.md.
//!
//! `every OUT.md FOLDER [calls=N] [seed=N] [only=ID]`: the tool beside who changes the likeliest part and who reads what tells most for
//! a minute.
#![allow(clippy::print_stderr, reason = "an example tells how far it is")]

use machine::Machine;
use rehearsal::{Report, Settings, Strategy, gather};
use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

const WHO: [Strategy; 3] = [Strategy::Tool, Strategy::LikeliestPartFirst, Strategy::InformationPerMinute];

fn main() -> Result<(), Box<dyn Error>> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let [out, folder, rest @ ..] = args.as_slice() else {
        return Err("give the file for the table and the folder of the machines".into());
    };
    let (mut calls, mut seed, mut only) = (60, 1, None);
    for word in rest {
        match word.split_once('=') {
            Some(("calls", count)) => calls = count.parse()?,
            Some(("seed", number)) => seed = number.parse()?,
            Some(("only", id)) => only = Some(id),
            _ => return Err(format!("`{word}` is none of `calls=N`, `seed=N`, `only=ID`").into()),
        }
    }
    let told = Settings::default();
    let mut untold = Settings::default();
    untold.draw.untold_builds = true;
    let (mut text, mut builds) = (head(calls, seed), String::new());
    for path in files(Path::new(folder))? {
        let machine = read(&path)?;
        if only.is_some_and(|only| only != machine.id) {
            continue;
        }
        let mut tell = |done: usize| eprint!("\r{}: {done} of {calls} calls", machine.id);
        let report = gather(&machine, calls, seed, &told, &WHO, &mut tell)?.report();
        row(&mut text, &machine, &report)?;
        if machine.builds.len() > 1 {
            let other = gather(&machine, calls, seed, &untold, &WHO, &mut tell)?.report();
            row_of_builds(&mut builds, &machine, [&report, &other])?;
        }
        eprintln!();
    }
    text += BUILDS;
    text += &builds;
    std::fs::write(out, text)?;
    Ok(())
}

fn files(folder: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.extension().is_some_and(|ending| ending == "toml") {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Reads a machine, and what it builds on from beside it.
fn read(path: &Path) -> Result<Machine, Box<dyn Error>> {
    let beside = |id: &str| std::fs::read_to_string(path.with_file_name(format!("{id}.toml"))).ok();
    let read = machine::read_with(&std::fs::read_to_string(path)?, &beside);
    read.machine.ok_or_else(|| format!("`{}` does not read clean", path.display()).into())
}

fn head(calls: usize, seed: u64) -> String {
    format!(
        "# Every shipped machine, rehearsed\n\n\
         Written by `make rehearsal-every`: {calls} calls for each machine, seed {seed}; how, is said in \
         [rehearsals.md](rehearsals.md). Minutes\nare those from arrival to the start of the repair that cures, with one standard \
         error; likeliest: who changes the likeliest part;\ninf./min.: who reads what tells most for a minute. Probing by hand in \
         an open, energised machine and judged against safety are the\ntool's, over all its calls.\n\n\
         | machine | faults | right, % | likeliest | inf./min. | needless for 100 | likeliest | minutes | likeliest | inf./min. | \
         all-knowing | callbacks for 100 | probing | against safety |\n\
         |---|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|\n"
    )
}

/// What stands before the table of units whose build nobody told.
const BUILDS: &str = "\n## Units of another build than described\n\n\
    The same calls on units of all builds that the description's variants make, as often as it says, the technician told \
    nothing of it:\nshare right on the first visit and minutes, as described and untold.\n\n\
    | machine | builds | right, % | untold | minutes | untold |\n|---|---:|---:|---:|---:|---:|\n";

fn row_of_builds(text: &mut String, machine: &Machine, [told, untold]: [&Report; 2]) -> std::fmt::Result {
    let (told, untold) = (&told.tool, &untold.tool);
    writeln!(
        text,
        "| {} | {} | {:.1} | {:.1} | {:.1} ± {:.1} | {:.1} ± {:.1} |",
        machine.id,
        machine.builds.len(),
        100.0 * told.first_visit_fix,
        100.0 * untold.first_visit_fix,
        told.minutes,
        told.minutes_error,
        untold.minutes,
        untold.minutes_error,
    )
}

fn row(text: &mut String, machine: &Machine, report: &Report) -> std::fmt::Result {
    let (tool, part, inf) = (&report.tool, &report.rivals.likeliest_part_first, &report.rivals.information_per_minute);
    writeln!(
        text,
        "| {} | {} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:.1} ± {:.1} | {:.1} | {:.1} | {:.1} | {:.1} | {:.2} | {} |",
        machine.id,
        machine.faults.len(),
        100.0 * tool.first_visit_fix,
        100.0 * part.first_visit_fix,
        100.0 * inf.first_visit_fix,
        tool.needless_parts_per_100,
        part.needless_parts_per_100,
        tool.minutes,
        tool.minutes_error,
        part.minutes,
        inf.minutes,
        report.all_knowing_minutes,
        tool.callbacks_per_100,
        tool.open_energised_probing,
        report.dangers.violations,
    )
}
