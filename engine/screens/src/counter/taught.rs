//! What the shop's own jobs teach: shown with the jobs it comes from, and taken up by hand.

use crate::screen::{Field, Fields, Setting};
use crate::shelf;
use book::{AgeLearned, Body, Event, FaultName, HabitsTaken, LearningTaken, Number, PaceLearned, WeightLearned, Work};
use call::{Refused, Shop, TO_FIRST_PART};
use diagnosis::Assumptions;
use learning::{AGE_STRENGTH, AtAge, Closed, HANDS_STRENGTH, Learned, Pace, STRENGTH, Share, Took};
use learning::{Figures, at_ages, closed_jobs, drift, figures, learned, paces, slower};
use machine::Machine;
use repair::Prices;
use std::collections::{BTreeMap, BTreeSet};

/// Least jobs from which anything is offered to be learned.
const LEAST_JOBS: usize = 5;
/// The latest jobs of a machine that are looked at for drift.
const LATEST: usize = 30;
/// Readings that the usual share of slips is worth, and things told that the usual share of errors is worth. Common practice,
/// no source.
const SLIPS_STRENGTH: f64 = 200.0;
const TOLD_STRENGTH: f64 = 50.0;

/// Takes up what a machine's jobs teach: from now on its jobs are worked with these weights.
pub(super) fn take_up_machine(events: &[Event], shop: &Shop, machine: &str) -> Result<Body, Refused> {
    let jobs = closed_jobs(events);
    let read = shelf::read(shop, machine)?;
    let Some((taught, ages)) = of_machine(&jobs, &read) else {
        return Err(too_few(&format!("of `{machine}`"), &format!("close {LEAST_JOBS} jobs of it first")));
    };
    let age =
        |at: &AtAge| Some(AgeLearned { from: Number::new(at.from)?, times: Number::new(at.times)?, cases: at.cases });
    let weight = |(fault, (_, after, cases)): (&String, &(f64, f64, u32))| {
        let (part, mode) = fault.split_once(':')?;
        let ages = ages.get(fault).into_iter().flatten().filter_map(age).collect();
        let fault = FaultName { part: part.to_owned(), fault: mode.to_owned() };
        Some(WeightLearned { fault, weight: Number::new(*after)?, cases: *cases, ages })
    };
    let weights = taught.weights.iter().filter_map(weight).collect();
    let minutes = slower(&jobs, machine, TO_FIRST_PART).and_then(Number::new);
    Ok(Body::shop(LearningTaken { machine: machine.to_owned(), weights, minutes, from: taught.from }))
}

/// Takes up how hands work and customers tell: jobs begun from now on are worked with that.
pub(super) fn take_up_habits(events: &[Event], shop: &Shop) -> Result<Body, Refused> {
    let jobs = closed_jobs(events);
    let too_few = || too_few("of hands and words", &format!("close {LEAST_JOBS} jobs first"));
    if jobs.len() < LEAST_JOBS {
        return Err(too_few());
    }
    let pace =
        |(work, pace): (Work, Pace)| Some(PaceLearned { work, times: Number::new(pace.times)?, cases: pace.cases });
    let paces = hands(&jobs, &read_all(&jobs, shop)).into_iter().filter_map(pace).collect();
    let share = |of: Option<Share>| of.map(Share::mean).and_then(Number::new).ok_or_else(too_few);
    let all = figures(&jobs.iter().collect::<Vec<_>>());
    let (slip, wrong_report) = (share(slips(&all))?, share(told_otherwise(&all))?);
    let from = jobs.iter().map(|job| job.id).collect();
    Ok(Body::shop(HabitsTaken { paces, slip, wrong_report, from }))
}

fn too_few(what: &str, mend: &str) -> Refused {
    Refused::new(format!("there is nothing to learn {what} yet"), mend.to_owned())
}

/// The machines of these jobs that this version can read.
fn read_all(jobs: &[Closed], shop: &Shop) -> BTreeMap<String, Machine> {
    let ids: BTreeSet<&str> = jobs.iter().map(|job| job.machine.as_str()).filter(|id| !id.is_empty()).collect();
    ids.into_iter().filter_map(|id| Some((id.to_owned(), shelf::read(shop, id).ok()?))).collect()
}

/// What a machine's jobs teach; `None` of too few.
fn of_machine(jobs: &[Closed], machine: &Machine) -> Option<(Learned, BTreeMap<String, Vec<AtAge>>)> {
    let taught = learned(&weights_of(machine, None), jobs, &machine.id);
    if taught.from.len() < LEAST_JOBS {
        return None;
    }
    let mut read = machine.clone();
    for fault in &mut read.faults {
        fault.weight = taught.weights.get(&fault.id).map_or(fault.weight, |(_, after, _)| *after);
    }
    let ages = at_ages(&|age| weights_of(&read, Some(age)), jobs, &machine.id);
    Some((taught, ages))
}

/// Weights of a machine's faults as its description has them, by `part:fault`.
fn weights_of(machine: &Machine, age: Option<f64>) -> BTreeMap<String, f64> {
    machine.faults.iter().map(|fault| (fault.id.clone(), fault.weight_at(age))).collect()
}

/// How quick hands are against what the descriptions and the usual prices of steps have.
fn hands(jobs: &[Closed], machines: &BTreeMap<String, Machine>) -> BTreeMap<Work, Pace> {
    let prices = Prices::default();
    let usual = |machine: &str, took: &Took| {
        let machine = machines.get(machine)?;
        let cover = || machine.access.steps.iter().find(|cover| cover.id == took.of);
        match took.work {
            Work::Reading => Some(prices.reading),
            Work::Look => Some(prices.look),
            Work::CoverOff => Some(cover()?.minutes_off),
            Work::CoverOn => Some(cover()?.minutes_on),
            Work::Repair => {
                let of_part = machine.repairs.iter().filter(|repair| machine[repair.part].id == took.of);
                let minutes: Vec<f64> = of_part.map(|repair| repair.minutes).collect();
                // Where a part can be mended in several ways, the record does not say by which minutes.
                (minutes.windows(2).all(|two| two[0].to_bits() == two[1].to_bits()))
                    .then(|| minutes.first().copied())?
            }
        }
    };
    paces(jobs, &usual)
}

fn slips(all: &Figures) -> Option<Share> {
    Some(usual_share(Assumptions::default().slip, SLIPS_STRENGTH)?.seen(all.slips.0, all.slips.1))
}

fn told_otherwise(all: &Figures) -> Option<Share> {
    let usual = usual_share(Assumptions::default().wrong_report, TOLD_STRENGTH)?;
    Some(usual.seen(all.told_otherwise.0, all.told_otherwise.1))
}

fn usual_share(mean: f64, strength: f64) -> Option<Share> {
    Share::prior(mean * strength, (1.0 - mean) * strength)
}

/// What all jobs teach of hands and words, then what those of each machine teach.
pub(super) fn groups(jobs: &[Closed], all: &Figures, shop: &Shop) -> Vec<Fields> {
    let machines = read_all(jobs, shop);
    let of_machines = machines.values().filter_map(|machine| machine_taught(jobs, shop, machine));
    std::iter::once(habits(jobs, all, &machines, shop)).chain(of_machines).collect()
}

/// Slips at the meter, what customers tell, and how quick hands are, over all jobs.
fn habits(jobs: &[Closed], all: &Figures, machines: &BTreeMap<String, Machine>, shop: &Shop) -> Fields {
    let row = |id: &str, say: &str, (some, of): (u32, u32), belief: Option<Share>| {
        let note = belief.map_or_else(String::new, |of| {
            let percent = |share: f64| 100.0 * share;
            let (low, high) = (percent(of.quantile(0.025)), percent(of.quantile(0.975)));
            format!("{:.1} % ({low:.1} to {high:.1} %)", percent(of.mean()))
        });
        Field::new(id, say, format!("{some} of {of}"), &note, Setting::Shown)
    };
    let mut note = format!(
        "over all closed jobs; the usual shares count as {SLIPS_STRENGTH:.0} readings and {TOLD_STRENGTH:.0} things told, \
         the usual minutes as {HANDS_STRENGTH:.0} pieces of work. Nothing changes until it is taken up."
    );
    if let Some(taken) = &shop.habits {
        note.push_str(&format!("\ntaken up already: what {} jobs taught", taken.from.len()));
    }
    let mut fields = vec![
        row("slips", "readings taken again that showed something else", all.slips, slips(all)),
        row("told", "what customers told and was otherwise", all.told_otherwise, told_otherwise(all)),
    ];
    fields.extend(hands(jobs, machines).into_iter().map(|(work, pace)| {
        let aside = if pace.aside > 0 { format!("; {} set aside as no work alone", pace.aside) } else { String::new() };
        let note = format!("{:.2} times the usual minutes{aside}", pace.times);
        Field::new(&format!("pace/{}", id_of(work)), say_of(work), pace.cases.to_string(), &note, Setting::Shown)
    }));
    if jobs.len() >= LEAST_JOBS {
        fields.push(Field::new("take-habits", "take it up for the jobs to come", String::new(), "", Setting::Act));
    }
    Fields { title: "Hands and words".to_owned(), note: Some(note), fields }
}

fn id_of(work: Work) -> &'static str {
    match work {
        Work::Reading => "reading",
        Work::Look => "look",
        Work::CoverOff => "cover-off",
        Work::CoverOn => "cover-on",
        Work::Repair => "repair",
    }
}

fn say_of(work: Work) -> &'static str {
    match work {
        Work::Reading => "readings on the dead machine",
        Work::Look => "looks",
        Work::CoverOff => "covers taken off",
        Work::CoverOn => "covers put back",
        Work::Repair => "parts changed or mended",
    }
}

/// What the jobs of a machine teach, with what was taken up of it; nothing of too few.
fn machine_taught(jobs: &[Closed], shop: &Shop, read: &Machine) -> Option<Fields> {
    let (taught, ages) = of_machine(jobs, read)?;
    let machine = read.id.as_str();
    let mut note = format!(
        "{} closed jobs; the description's own weights count as {STRENGTH:.0}, at each age as {AGE_STRENGTH:.0} expected cases. \
         Nothing changes until it is taken up.",
        taught.from.len()
    );
    if let Some(times) = slower(jobs, machine, TO_FIRST_PART) {
        note.push_str(&format!("\nfinding takes {times:.2} times as long as is usual, the usual worth ten jobs"));
    }
    if let Some(taken) = shop.learned.get(machine) {
        note.push_str(&format!("\ntaken up already: what {} jobs taught", taken.from.len()));
    }
    let own: Vec<Closed> = jobs.iter().filter(|job| job.machine == machine).cloned().collect();
    let latest = &own[own.len().saturating_sub(LATEST)..];
    let weights = taught.weights.iter().map(|(fault, (before, ..))| (fault.clone(), *before)).collect();
    for (fault, count, expected, chance) in drift(&weights, latest, machine) {
        note.push_str(&format!(
            "\nmore than expected of late: {fault}, {count} times in {} jobs where {expected:.1} were (chance {chance:.3})",
            latest.len()
        ));
    }
    let row = |(fault, (before, after, cases)): (&String, &(f64, f64, u32))| {
        let by_age: Vec<String> = ages.get(fault).into_iter().flatten().filter_map(say_age).collect();
        let by_age = if by_age.is_empty() { String::new() } else { format!("; {}", by_age.join(", ")) };
        let note = format!("weight {before:.2}, after them {after:.2}{by_age}");
        Field::new(&format!("fault/{machine}/{fault}"), fault, cases.to_string(), &note, Setting::Shown)
    };
    let mut rows: Vec<(&String, &(f64, f64, u32))> =
        taught.weights.iter().filter(|(_, (_, _, cases))| *cases > 0).collect();
    rows.sort_by_key(|(_, (_, _, cases))| std::cmp::Reverse(*cases));
    let mut fields: Vec<Field> = rows.into_iter().take(8).map(row).collect();
    let say = "take it up for the jobs to come";
    fields.push(Field::new(&format!("take/{machine}"), say, String::new(), "", Setting::Act));
    Some(Fields { title: format!("What the jobs teach: {}", read.title), note: Some(note), fields })
}

/// A band of ages in which anything was found or expected, in words.
fn say_age(at: &AtAge) -> Option<String> {
    let told = at.cases > 0 || at.expected >= 0.5;
    told.then(|| format!("from {:.0} years on {:.2} times that ({} jobs)", at.from, at.times, at.cases))
}
