//! Figures over closed jobs, by month or by kind, and a month's report in plain words.

use crate::closed::Closed;
use crate::conjugate::Share;
use crate::score::{Score, score};
use book::{Currency, Money};
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// Figures over some closed jobs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    /// Jobs.
    pub jobs: u32,
    /// Mended, settled or explained on the first visit, and not come back.
    pub first_visit: u32,
    /// Came back.
    pub came_back: u32,
    /// Mean minutes from arrival to the first part changed, of those where both were recorded.
    pub minutes_to_find: Option<f64>,
    /// Parts changed beyond the first of a job, and those of jobs that came back: changed for nothing, as far as a book tells.
    pub needless_parts: u32,
    /// Jobs on which every step was the one proposed, and those of them that were first-visit fixes.
    pub followed: (u32, u32),
    /// The other jobs, and those of them that were first-visit fixes.
    pub own_way: (u32, u32),
    /// Readings taken again that showed something else: how many of how many.
    pub slips: (u32, u32),
    /// What customers told and was otherwise: how many of how many.
    pub told_otherwise: (u32, u32),
    /// Charged without tax, by currency.
    pub charged: BTreeMap<Currency, Decimal>,
    /// How well what was stated came true.
    pub score: Option<Score>,
}

impl Figures {
    /// Gives a share of the jobs with the range it lies in with 95 % (Jeffreys' prior).
    #[must_use]
    pub fn share(&self, of: u32) -> Option<(f64, f64, f64)> {
        let jobs = self.jobs;
        let share = Share::prior(0.5, 0.5)?.seen(of, jobs);
        (jobs > 0).then(|| (f64::from(of) / f64::from(jobs), share.quantile(0.025), share.quantile(0.975)))
    }
}

/// Works figures out.
#[must_use]
pub fn figures(jobs: &[&Closed]) -> Figures {
    let mut all = Figures::default();
    let mut minutes = Vec::new();
    let mut stated = Vec::new();
    for job in jobs {
        let fixed = u32::from(job.first_visit_fix());
        all.jobs += 1;
        all.first_visit += fixed;
        all.came_back += u32::from(job.came_back);
        all.needless_parts += if job.came_back { job.parts } else { job.parts.saturating_sub(1) };
        let of = if job.followed() { &mut all.followed } else { &mut all.own_way };
        *of = (of.0 + 1, of.1 + fixed);
        all.slips = (all.slips.0 + job.readings.1, all.slips.1 + job.readings.0);
        all.told_otherwise = (all.told_otherwise.0 + job.told.1, all.told_otherwise.1 + job.told.0);
        for Money { amount, currency } in &job.charged {
            *all.charged.entry(*currency).or_default() += *amount;
        }
        minutes.extend(job.minutes_to_find);
        if !job.came_back {
            stated.extend(job.stated.iter().copied());
        }
    }
    let count = u32::try_from(minutes.len()).map_or(f64::MAX, f64::from);
    all.minutes_to_find = (!minutes.is_empty()).then(|| minutes.iter().sum::<f64>() / count);
    all.score = score(&stated);
    all
}

/// Tells a month in plain words; `before` are the figures of the months before it, for comparison.
#[must_use]
pub fn report(month: &str, now: &Figures, before: &Figures) -> Vec<String> {
    let percent = |share: f64| format!("{:.0} %", 100.0 * share);
    let mut said = vec![format!(
        "{month}: {} closed.",
        if now.jobs == 1 { "one job".to_owned() } else { format!("{} jobs", now.jobs) }
    )];
    if let Some((share, low, high)) = now.share(now.first_visit) {
        let then = before
            .share(before.first_visit)
            .map_or_else(String::new, |(share, ..)| format!(", {} in the months before", percent(share)));
        let range = format!("(by chance alone it may lie between {} and {})", percent(low), percent(high));
        said.push(format!(
            "Done on the first visit and not come back: {} of {}, {}{then} {range}.",
            now.first_visit,
            now.jobs,
            percent(share)
        ));
    }
    said.push(match now.came_back {
        0 => "Nothing came back.".to_owned(),
        1 => "One fault came back.".to_owned(),
        count => format!("{count} faults came back."),
    });
    if let Some(minutes) = now.minutes_to_find {
        let then = before.minutes_to_find.map_or_else(String::new, |then| format!(", {then:.0} in the months before"));
        said.push(format!("From arrival to the first part: {minutes:.0} minutes on average{then}."));
    }
    if now.needless_parts > 0 {
        said.push(format!("Parts that may have been changed for nothing: {}.", now.needless_parts));
    }
    for (currency, amount) in &now.charged {
        said.push(format!("Charged without tax: {currency} {amount:.2}."));
    }
    let went = |(jobs, fixed): (u32, u32)| format!("{fixed} of {jobs}");
    if now.own_way.0 > 0 {
        said.push(format!(
            "The advice followed throughout: {} done on the first visit; a way of your own taken: {}.",
            went(now.followed),
            went(now.own_way)
        ));
    }
    if let Some(score) = &now.score {
        said.push(format!(
            "What the tool stated before a part was changed, {} statements: mean squared error {:.3}, {:.3} if it had always stated the average.",
            score.count, score.brier, score.brier_of_rate
        ));
    }
    said
}
