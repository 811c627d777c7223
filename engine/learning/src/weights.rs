//! Weights of faults by counting: a Dirichlet belief over the faults of a machine, begun with the description's own weights.

use crate::closed::Closed;
use book::JobId;
use statrs::distribution::{Binomial, DiscreteCDF};
use std::collections::BTreeMap;

/// What the description's own weights are worth, in jobs: after as many jobs of its own a shop believes both alike. Common
/// practice, no source.
pub const STRENGTH: f64 = 60.0;

/// What was learned of a machine's faults.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Each fault: its weight before and after, and in how many jobs it was.
    pub weights: BTreeMap<String, (f64, f64, u32)>,
    /// The jobs it comes from.
    pub from: Vec<JobId>,
}

/// Learns from the closed jobs of a machine. `weights` are those of its description, by `part:fault`; they are scaled so that
/// their sum stays what it was. A job whose fault came back teaches nothing: what it found was not it.
#[must_use]
pub fn learned(weights: &BTreeMap<String, f64>, jobs: &[Closed], machine: &str) -> Learned {
    let own = jobs.iter().filter(|job| job.machine == machine && !job.came_back);
    let taught: Vec<&Closed> = own.filter(|job| job.faults.iter().any(|fault| weights.contains_key(fault))).collect();
    let counts = counts(&taught, weights);
    let total: f64 = weights.values().sum();
    let seen: f64 = counts.values().map(|count| f64::from(*count)).sum();
    let after = |prior: f64, count: u32| (STRENGTH * prior / total + f64::from(count)) / (STRENGTH + seen) * total;
    // One that was never found loses what the others gain.
    let changed = weights.iter().map(|(fault, &prior)| {
        let count = counts.get(fault).copied().unwrap_or(0);
        (fault.clone(), (prior, after(prior, count), count))
    });
    Learned {
        weights: if total > 0.0 && !taught.is_empty() { changed.collect() } else { BTreeMap::new() },
        from: taught.iter().map(|job| job.id).collect(),
    }
}

/// Jobs of its own after which a shop's minutes count as much as the usual ones. Common practice, no source.
const MINUTES_STRENGTH: f64 = 10.0;

/// Gives how many times as long as `usual` it takes from arrival to the first part on a machine, pulled towards once by the
/// strength of ten jobs; `None` where no job recorded both.
#[must_use]
pub fn slower(jobs: &[Closed], machine: &str, usual: f64) -> Option<f64> {
    let own = jobs.iter().filter(|job| job.machine == machine && !job.came_back);
    let ratios: Vec<f64> = own.filter_map(|job| job.minutes_to_find).map(|minutes| minutes / usual).collect();
    let count = u32::try_from(ratios.len()).map_or(f64::MAX, f64::from);
    (!ratios.is_empty()).then(|| (MINUTES_STRENGTH + ratios.iter().sum::<f64>()) / (MINUTES_STRENGTH + count))
}

/// Says of which faults the latest jobs found more than the weights let expect: the chance of so many or more, where it is
/// under 1 in 100.
#[must_use]
pub fn drift(weights: &BTreeMap<String, f64>, latest: &[Closed], machine: &str) -> Vec<(String, u32, f64, f64)> {
    let own: Vec<&Closed> = latest.iter().filter(|job| job.machine == machine && !job.faults.is_empty()).collect();
    let total: f64 = weights.values().sum();
    let jobs = u64::try_from(own.len()).unwrap_or(u64::MAX);
    let mut all = Vec::new();
    for (fault, count) in counts(&own, weights) {
        let share = weights.get(&fault).map_or(0.0, |weight| weight / total);
        let Ok(law) = Binomial::new(share, jobs) else { continue };
        let chance = count.checked_sub(1).map_or(1.0, |less| 1.0 - law.cdf(u64::from(less)));
        if chance < 0.01 {
            all.push((fault, count, share * f64::from(u32::try_from(jobs).unwrap_or(u32::MAX)), chance));
        }
    }
    all
}

fn counts(jobs: &[&Closed], weights: &BTreeMap<String, f64>) -> BTreeMap<String, u32> {
    let mut counts = BTreeMap::new();
    for fault in jobs.iter().flat_map(|job| &job.faults).filter(|fault| weights.contains_key(*fault)) {
        *counts.entry(fault.clone()).or_default() += 1;
    }
    counts
}
