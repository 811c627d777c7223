//! Looking back: how the months went, how well the advice came true, what the shop's own jobs teach.

use crate::counter::settings::in_force;
use crate::screen::{Choice, Curve, Field, Fields, Mark, Plot, Setting};
use crate::shelf;
use book::{Body, Event, FaultName, LearningTaken, Number, WeightLearned};
use call::{Refused, Shop, TO_FIRST_PART};
use learning::{Closed, Figures, STRENGTH, closed_jobs, drift, figures, learned, report, slower};
use std::collections::{BTreeMap, BTreeSet};

/// Least jobs of a machine from which anything is offered to be learned.
const LEAST_JOBS: usize = 5;
/// The latest jobs of a machine that are looked at for drift.
const LATEST: usize = 30;

/// Gives the looking back as fields and curves; `month` is the one that was chosen.
pub(super) fn shown(events: &[Event], shop: &Shop, month: Option<&str>) -> (Vec<Fields>, Vec<Plot>) {
    let jobs = closed_jobs(events);
    let months: BTreeSet<&str> = jobs.iter().map(|job| job.month.as_str()).collect();
    let chosen = month.filter(|month| months.contains(month)).or_else(|| months.last().copied()).unwrap_or_default();
    let of = |wanted: &dyn Fn(&Closed) -> bool| figures(&jobs.iter().filter(|job| wanted(job)).collect::<Vec<_>>());
    let now = of(&|job| job.month == chosen);
    let before = of(&|job| job.month.as_str() < chosen);
    let choices =
        months.iter().rev().map(|month| Choice { answer: (*month).to_owned(), say: (*month).to_owned() }).collect();
    let pick = Field::new("month", "month", chosen.to_owned(), "", Setting::OneOf(choices));
    if jobs.is_empty() {
        let note = Some("no job is closed yet".to_owned());
        return (vec![Fields { title: "The months".to_owned(), note, fields: Vec::new() }], Vec::new());
    }
    let mut groups = vec![Fields {
        title: "The month".to_owned(),
        note: Some(report(chosen, &now, &before).join("\n")),
        fields: vec![pick],
    }];
    let of_month: Vec<&Closed> = jobs.iter().filter(|job| job.month == chosen).collect();
    groups.push(by_machine(&of_month, shop));
    groups.push(people(&of(&|_| true)));
    groups.extend(teachings(&jobs, shop));
    groups.push(Fields {
        title: "Handed out".to_owned(),
        note: Some("repair records without names, as the open repair data standard (ORDS) wants them".to_owned()),
        fields: vec![Field::new(
            "records",
            "repair records",
            records(&jobs, shop),
            "",
            Setting::Save("repairs.csv".to_owned()),
        )],
    });
    let plots = [by_month(&jobs, &months), calibration(&of(&|_| true))];
    (groups, plots.into_iter().flatten().collect())
}

/// Takes up what a machine's jobs teach: from now on its jobs are worked with these weights.
pub(super) fn take_up(events: &[Event], shop: &Shop, machine: &str) -> Result<Body, Refused> {
    let jobs = closed_jobs(events);
    let weights = weights_of(shop, machine);
    let taught = learned(&weights, &jobs, machine);
    if taught.from.len() < LEAST_JOBS {
        let mend = format!("close {LEAST_JOBS} jobs of it first");
        return Err(Refused::new(format!("there is nothing to learn of `{machine}` yet"), mend));
    }
    let weight = |(fault, (_, after, cases)): (&String, &(f64, f64, u32))| {
        let (part, mode) = fault.split_once(':')?;
        let fault = FaultName { part: part.to_owned(), fault: mode.to_owned() };
        Some(WeightLearned { fault, weight: Number::new(*after)?, cases: *cases })
    };
    let weights = taught.weights.iter().filter_map(weight).collect();
    let minutes = slower(&jobs, machine, TO_FIRST_PART).and_then(Number::new);
    Ok(Body::shop(LearningTaken { machine: machine.to_owned(), weights, minutes, from: taught.from }))
}

/// Weights of a machine's faults as its description has them, by `part:fault`.
fn weights_of(shop: &Shop, machine: &str) -> BTreeMap<String, f64> {
    let read = shelf::read(shop, machine);
    read.map(|of| of.faults.iter().map(|fault| (fault.id.clone(), fault.weight)).collect()).unwrap_or_default()
}

fn by_machine(jobs: &[&Closed], shop: &Shop) -> Fields {
    let machines: BTreeSet<&str> = jobs.iter().map(|job| job.machine.as_str()).collect();
    let row = |machine: &&str| {
        let own: Vec<&Closed> = jobs.iter().filter(|job| job.machine == **machine).copied().collect();
        let of = figures(&own);
        let charged: Vec<String> =
            of.charged.iter().map(|(currency, amount)| format!("{currency} {amount:.2}")).collect();
        let minutes = of.minutes_to_find.map_or_else(String::new, |minutes| format!("; {minutes:.0} minutes to find"));
        let note = format!("{} of {} on the first visit{minutes}; {}", of.first_visit, of.jobs, charged.join(", "));
        Field::new(&format!("kind/{machine}"), &title(shop, machine), of.jobs.to_string(), &note, Setting::Shown)
    };
    Fields { title: "By machine".to_owned(), note: None, fields: machines.iter().map(row).collect() }
}

/// Slips at the meter and what customers tell, over all jobs.
fn people(all: &Figures) -> Fields {
    let share = |(some, of): (u32, u32)| {
        let belief = learning::Share::prior(0.5, 9.5).map(|prior| prior.seen(some, of));
        belief.map_or_else(String::new, |of| {
            format!(
                "{:.1} % ({:.1} to {:.1} %)",
                100.0 * of.mean(),
                100.0 * of.quantile(0.025),
                100.0 * of.quantile(0.975)
            )
        })
    };
    let row = |id: &str, say: &str, of: (u32, u32)| {
        Field::new(id, say, format!("{} of {}", of.0, of.1), &share(of), Setting::Shown)
    };
    let note = "over all closed jobs; one in twenty is assumed where nothing was seen, worth ten cases".to_owned();
    Fields {
        title: "Meter and words".to_owned(),
        note: Some(note),
        fields: vec![
            row("slips", "readings taken again that showed something else", all.slips),
            row("told", "what customers told and was otherwise", all.told_otherwise),
        ],
    }
}

/// What the jobs of each machine teach, with what was taken up of it.
fn teachings(jobs: &[Closed], shop: &Shop) -> Vec<Fields> {
    let machines: BTreeSet<&str> = jobs.iter().map(|job| job.machine.as_str()).filter(|id| !id.is_empty()).collect();
    let group = |machine: &&str| {
        let weights = weights_of(shop, machine);
        let taught = learned(&weights, jobs, machine);
        if taught.from.len() < LEAST_JOBS {
            return None;
        }
        let mut note = format!(
            "{} closed jobs; the description's own weights count as {STRENGTH:.0}. Nothing changes until it is taken up.",
            taught.from.len()
        );
        if let Some(times) = slower(jobs, machine, TO_FIRST_PART) {
            note.push_str(&format!("\nfinding takes {times:.2} times as long as is usual, the usual worth ten jobs"));
        }
        if let Some(taken) = shop.learned.get(*machine) {
            note.push_str(&format!("\ntaken up already: what {} jobs taught", taken.from.len()));
        }
        let own: Vec<Closed> = jobs.iter().filter(|job| job.machine == **machine).cloned().collect();
        let latest = &own[own.len().saturating_sub(LATEST)..];
        for (fault, count, expected, chance) in drift(&weights, latest, machine) {
            note.push_str(&format!(
                "\nmore than expected of late: {fault}, {count} times in {} jobs where {expected:.1} were (chance {chance:.3})",
                latest.len()
            ));
        }
        let row = |(fault, (before, after, cases)): (&String, &(f64, f64, u32))| {
            let note = format!("weight {before:.2}, after them {after:.2}");
            Field::new(&format!("fault/{machine}/{fault}"), fault, cases.to_string(), &note, Setting::Shown)
        };
        let mut rows: Vec<(&String, &(f64, f64, u32))> = taught.weights.iter().collect();
        rows.sort_by_key(|(_, (_, _, cases))| std::cmp::Reverse(*cases));
        let mut fields: Vec<Field> = rows.into_iter().take(8).map(row).collect();
        let say = "take it up for the jobs to come";
        fields.push(Field::new(&format!("take/{machine}"), say, String::new(), "", Setting::Act));
        Some(Fields { title: format!("What the jobs teach: {}", title(shop, machine)), note: Some(note), fields })
    };
    machines.iter().filter_map(group).collect()
}

fn records(jobs: &[Closed], shop: &Shop) -> String {
    let set = in_force(shop);
    let name = if set.letterhead.name.is_empty() { "a shop" } else { set.letterhead.name.as_str() };
    let kind = |machine: &str| shelf::read(shop, machine).map(|of| of.kind).unwrap_or_default();
    learning::ords::csv(jobs, name, &set.letterhead.country, kind).unwrap_or_default()
}

fn title(shop: &Shop, machine: &str) -> String {
    shelf::text(shop, machine).and_then(|text| machine::title_in(&text)).unwrap_or_else(|| machine.to_owned())
}

/// First-visit fixes and faults that came back, month by month.
fn by_month(jobs: &[Closed], months: &BTreeSet<&str>) -> Option<Plot> {
    if months.len() < 2 {
        return None;
    }
    let last = number(months.len() - 1);
    let figures: Vec<(f64, Figures)> = months
        .iter()
        .enumerate()
        .map(|(at, month)| {
            let own: Vec<&Closed> = jobs.iter().filter(|job| job.month == **month).collect();
            (number(at) / last, figures(&own))
        })
        .collect();
    let share = |of: fn(&Figures) -> u32| -> Vec<(f64, f64)> {
        figures.iter().map(|(at, all)| (*at, f64::from(of(all)) / f64::from(all.jobs.max(1)))).collect()
    };
    let curve = |label: &str, points| Curve { label: label.to_owned(), points };
    let words = months.iter().zip(&figures).map(|(month, (_, all))| {
        format!("{month}: {} of {} on the first visit, {} came back", all.first_visit, all.jobs, all.came_back)
    });
    let ends = [(0.0, months.first()), (1.0, months.last())];
    Some(Plot {
        title: "Month by month".to_owned(),
        across: "month".to_owned(),
        upward: "share of the jobs".to_owned(),
        marks_across: ends
            .into_iter()
            .filter_map(|(at, month)| Some(Mark { at, label: (*month?).to_owned() }))
            .collect(),
        marks_upward: percents(),
        curves: vec![
            curve("done on the first visit", share(|all| all.first_visit)),
            curve("came back", share(|all| all.came_back)),
        ],
        dots: Vec::new(),
        words: words.collect(),
    })
}

/// What was stated against what came true; on the slant line both are alike.
fn calibration(all: &Figures) -> Option<Plot> {
    let score = all.score.as_ref()?;
    let words = score.bins.iter().map(|bin| {
        format!(
            "stated {:.0} % on average, came true {:.0} % of {} times",
            100.0 * bin.stated,
            100.0 * bin.came_true,
            bin.count
        )
    });
    Some(Plot {
        title: "Did what was stated come true?".to_owned(),
        across: "stated".to_owned(),
        upward: "came true".to_owned(),
        marks_across: percents(),
        marks_upward: percents(),
        curves: vec![Curve { label: "as stated".to_owned(), points: vec![(0.0, 0.0), (1.0, 1.0)] }],
        dots: score.bins.iter().map(|bin| (bin.stated, bin.came_true)).collect(),
        words: words.collect(),
    })
}

fn percents() -> Vec<Mark> {
    [0.0, 0.5, 1.0].map(|at| Mark { at, label: format!("{:.0} %", 100.0 * at) }).to_vec()
}

fn number(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::MAX, f64::from)
}
