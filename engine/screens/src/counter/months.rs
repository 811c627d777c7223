//! Looking back: how the months went, how well the advice came true.

use crate::counter::settings::in_force;
use crate::counter::taught;
use crate::screen::{Choice, Curve, Field, Fields, Mark, Plot, Setting};
use crate::shelf;
use book::Event;
use call::Shop;
use learning::{Closed, Figures, closed_jobs, figures, report};
use std::collections::BTreeSet;

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
    let all = of(&|_| true);
    groups.extend(taught::groups(&jobs, &all, shop));
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
    let plots = [by_month(&jobs, &months), calibration(&all)];
    (groups, plots.into_iter().flatten().collect())
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
    let each = months.iter().zip(&figures).map(|(month, (_, all))| {
        format!("{month}: {} of {} on the first visit, {} came back", all.first_visit, all.jobs, all.came_back)
    });
    let sum = |of: fn(&Figures) -> u32| figures.iter().map(|(_, all)| of(all)).sum::<u32>();
    let in_all = sum(|all| all.jobs);
    let key = [
        format!("done on the first visit: {} of {in_all} in all", sum(|all| all.first_visit)),
        format!("came back: {} of {in_all} in all", sum(|all| all.came_back)),
    ];
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
        words: key.into_iter().chain(each).collect(),
    })
}

/// What was stated against what came true; on the slant line both are alike.
fn calibration(all: &Figures) -> Option<Plot> {
    let score = all.score.as_ref()?;
    let key = "where as much comes true as was stated; the dots are what did".to_owned();
    let bins = score.bins.iter().map(|bin| {
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
        words: std::iter::once(key).chain(bins).collect(),
    })
}

fn percents() -> Vec<Mark> {
    [0.0, 0.5, 1.0].map(|at| Mark { at, label: format!("{:.0} %", 100.0 * at) }).to_vec()
}

fn number(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::MAX, f64::from)
}
