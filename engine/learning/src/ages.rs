//! How much oftener than its weight says a fault comes at an age: a gamma belief about each rate, updated by Poisson counts.

use crate::closed::Closed;
use std::collections::BTreeMap;

/// Ages from which on jobs are counted together, years.
const BANDS: [f64; 3] = [0.0, 4.0, 9.0];
/// Cases that the weight at that age is worth: with as many expected a shop believes its own count as much. Common practice,
/// no source.
pub const AGE_STRENGTH: f64 = 4.0;
/// Least change that is worth being told.
const LEAST_CHANGE: f64 = 0.05;

/// How often a fault was found at an age.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AtAge {
    /// From this age on, years, until the next band.
    pub from: f64,
    /// How many times its weight it has there.
    pub times: f64,
    /// Jobs in which it was found.
    pub cases: u32,
    /// Jobs in which it was to be expected.
    pub expected: f64,
}

/// Learns from the closed jobs of a machine whose age was known. `weights_at` gives the weights of its faults at an age, by
/// `part:fault`; only faults of which something is to be told are given, each with every band.
///
/// SOURCE: the gamma-Poisson model of relative rates, mean (strength + cases) / (strength + expected); Clayton and Kaldor,
/// Biometrics 43 (1987), from memory; without their fitting of the strength.
#[must_use]
pub fn at_ages(
    weights_at: &dyn Fn(f64) -> BTreeMap<String, f64>,
    jobs: &[Closed],
    machine: &str,
) -> BTreeMap<String, Vec<AtAge>> {
    let mut all: BTreeMap<String, Vec<AtAge>> = BTreeMap::new();
    let bare = BANDS.map(|from| AtAge { from, times: 1.0, cases: 0, expected: 0.0 }).to_vec();
    for job in jobs.iter().filter(|job| job.machine == machine && !job.came_back) {
        let Some(age) = job.age_years.filter(|age| *age >= 0.0) else { continue };
        let weights = weights_at(age);
        let found = job.faults.iter().filter(|fault| weights.contains_key(*fault)).count();
        let band = BANDS.iter().rposition(|from| *from <= age).unwrap_or(0);
        let total: f64 = weights.values().sum();
        if found == 0 || total <= 0.0 {
            continue;
        }
        for (fault, weight) in weights {
            let cases = u32::from(job.faults.contains(&fault));
            let at = &mut all.entry(fault).or_insert_with(|| bare.clone())[band];
            at.expected += weight / total * f64::from(u32::try_from(found).unwrap_or(u32::MAX));
            at.cases += cases;
        }
    }
    for at in all.values_mut().flatten() {
        at.times = (AGE_STRENGTH + f64::from(at.cases)) / (AGE_STRENGTH + at.expected);
    }
    all.retain(|_, bands| bands.iter().any(|at| (at.times - 1.0).abs() > LEAST_CHANGE));
    all
}
