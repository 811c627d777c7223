//! How quick a shop's hands are at each sort of work, out of the times at which it was recorded: a normal belief about the
//! logarithm of the ratio to what is usual.

use crate::closed::Closed;
use book::Work;
use std::collections::BTreeMap;

/// Pieces of work that the usual minutes are worth. Common practice, no source.
pub const HANDS_STRENGTH: f64 = 10.0;
/// A ratio beyond this, or under its inverse, was no work alone: a pause, or several things recorded at once.
const BEYOND: f64 = 6.0;

/// A piece of work with the time it took.
#[derive(Clone, Debug, PartialEq)]
pub struct Took {
    /// Its sort.
    pub work: Work,
    /// The cover or part it was done to; empty where it does not matter.
    pub of: String,
    /// Minutes since what was recorded before it on that visit.
    pub minutes: f64,
}

/// How quick hands are at a sort of work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// How many times as long as is usual it takes.
    pub times: f64,
    /// Pieces of work it comes from.
    pub cases: u32,
    /// Pieces that were set aside as no work alone.
    pub aside: u32,
}

/// Learns from closed jobs; `usual` gives the usual minutes of a piece of work on a machine, `None` where nothing is known.
///
/// SOURCE: the mean of a normal law of known spread under its conjugate prior, any textbook of Bayesian statistics, from
/// memory: the prior counts as so many pieces at 0.
#[must_use]
pub fn paces(jobs: &[Closed], usual: &dyn Fn(&str, &Took) -> Option<f64>) -> BTreeMap<Work, Pace> {
    let mut sums: BTreeMap<Work, (f64, u32, u32)> = BTreeMap::new();
    for job in jobs {
        for took in &job.took {
            let Some(usual) = usual(&job.machine, took).filter(|usual| *usual > 0.0) else { continue };
            let ratio = took.minutes / usual;
            let (sum, cases, aside) = sums.entry(took.work).or_default();
            if ratio > 1.0 / BEYOND && ratio < BEYOND {
                *sum += libm::log(ratio);
                *cases += 1;
            } else {
                *aside += 1;
            }
        }
    }
    let pace = |(sum, cases, aside): (f64, u32, u32)| {
        let times = libm::exp(sum / (HANDS_STRENGTH + f64::from(cases)));
        Pace { times, cases, aside }
    };
    sums.into_iter().filter(|(_, (_, cases, _))| *cases > 0).map(|(work, sums)| (work, pace(sums))).collect()
}
