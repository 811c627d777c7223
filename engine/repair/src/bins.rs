//! The outcomes of a reading that are worth telling apart: cut where the predictions can be told apart.
//!
//! Predictions with a narrow spread are sorted along the scale; where two neighbours do not overlap at 2.5 sigma a cut
//! is made halfway. Every suspect's chance of each outcome follows from its own distribution over the cuts.

use prediction::{Meter, Prediction, Quantity, Shown};
use std::f64::consts::SQRT_2;

/// Most outcomes of one reading; beyond it the nearest neighbours are joined.
const MOST: usize = 7;
/// Half-width in sigmas that keeps two predictions apart.
const APART: f64 = 2.5;

/// The outcomes of one reading: intervals of the scale between cuts, and over-range.
#[derive(Clone, Debug, PartialEq)]
pub struct Bins {
    /// Cuts between the intervals, rising.
    pub cuts: Vec<f64>,
    /// Over-range is an outcome of its own, the last.
    pub over_range: bool,
}

/// Share of a spread-out prediction that must lie beyond the sharp ones for a cut there.
const MUCH: f64 = 0.25;

impl Bins {
    /// Cuts the scale for these predictions.
    #[must_use]
    pub fn of(predictions: &[Prediction], quantity: Quantity, meter: &Meter) -> Self {
        let values = predictions.iter().filter_map(|p| {
            let Shown::Value { value, .. } = p.shown else { return None };
            Some((value, p.sigma(quantity, meter)))
        });
        let is_narrow = |(value, sigma): &(f64, f64)| *sigma < 0.15 * value || *sigma < 2.0 * meter.least(quantity);
        let (narrow, wide): (Vec<_>, Vec<_>) = values.partition(is_narrow);
        let mut spans: Vec<(f64, f64)> =
            narrow.iter().map(|(value, sigma)| (value - APART * sigma, value + APART * sigma)).collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut gaps: Vec<(f64, f64)> = Vec::new();
        let mut reach = f64::NEG_INFINITY;
        for (low, high) in spans {
            if reach > f64::NEG_INFINITY && low > reach {
                gaps.push((reach, low));
            }
            reach = reach.max(high);
        }
        let width = |gap: &(f64, f64)| (gap.1 - gap.0) / (gap.1.abs() + gap.0.abs() + meter.least(quantity));
        while gaps.len() + 1 > MOST {
            let least = (0..gaps.len()).min_by(|&a, &b| width(&gaps[a]).total_cmp(&width(&gaps[b])));
            let Some(least) = least else { break };
            gaps.remove(least);
        }
        let mut cuts: Vec<f64> = gaps.iter().map(|(low, high)| 0.5 * (low + high)).collect();
        // A spread-out prediction (a burnt joint of some ohms) is told from the sharp ones by lying beyond them all.
        let lowest = narrow.iter().map(|(value, sigma)| value - APART * sigma).fold(f64::INFINITY, f64::min);
        let beyond = |cut: f64, sign: f64| {
            let share = |(value, sigma): &(f64, f64)| 0.5 * libm::erfc(sign * (cut - value) / (sigma * SQRT_2));
            wide.iter().any(|prediction| share(prediction) >= MUCH)
        };
        if !narrow.is_empty() && beyond(reach, 1.0) {
            cuts.push(reach);
        }
        if lowest > 0.0 && lowest.is_finite() && beyond(lowest, -1.0) {
            cuts.insert(0, lowest);
        }
        let over_range = predictions.iter().any(|p| p.shown == Shown::OverRange);
        Self { cuts, over_range }
    }

    /// Gives the number of outcomes.
    #[must_use]
    pub fn count(&self) -> usize {
        self.cuts.len() + 1 + usize::from(self.over_range)
    }

    /// Gives the chance of each outcome under a prediction, `slip` of it spread evenly.
    #[must_use]
    pub fn chances(&self, prediction: &Prediction, quantity: Quantity, meter: &Meter, slip: f64) -> Vec<f64> {
        let count = self.count();
        let even = 1.0 / as_f64(count);
        let mut chances = vec![slip * even; count];
        let add = |chances: &mut Vec<f64>, at: usize, share: f64| chances[at] += (1.0 - slip) * share;
        match prediction.shown {
            Shown::OverRange if self.over_range => add(&mut chances, count - 1, 1.0),
            Shown::OverRange => add(&mut chances, self.cuts.len(), 1.0),
            Shown::Value { value, .. } => {
                let sigma = prediction.sigma(quantity, meter).max(1e-12);
                let below = |x: f64| 0.5 * libm::erfc((value - x) / (sigma * std::f64::consts::SQRT_2));
                self.spread(&mut chances, slip, below);
            }
            Shown::Ghost { highest } if highest.is_finite() => {
                let below = |x: f64| 0.5 * (x / 3.0).clamp(0.0, 1.0) + 0.5 * (x / highest.max(3.0)).clamp(0.0, 1.0);
                self.spread(&mut chances, slip, below);
            }
            Shown::Ghost { .. } => (0..count).for_each(|at| add(&mut chances, at, even)),
        }
        chances
    }

    fn spread(&self, chances: &mut [f64], slip: f64, below: impl Fn(f64) -> f64) {
        let mut before = 0.0;
        for (at, cut) in self.cuts.iter().enumerate() {
            let here = below(*cut);
            chances[at] += (1.0 - slip) * (here - before).max(0.0);
            before = here;
        }
        chances[self.cuts.len()] += (1.0 - slip) * (1.0 - before).max(0.0);
    }

    /// Gives the limits of one outcome; `None` for over-range.
    #[must_use]
    pub fn limits(&self, outcome: usize) -> Option<(f64, f64)> {
        if self.over_range && outcome + 1 == self.count() {
            return None;
        }
        let low = if outcome == 0 { 0.0 } else { self.cuts[outcome - 1] };
        Some((low, self.cuts.get(outcome).copied().unwrap_or(f64::INFINITY)))
    }
}

/// Gives a small count as a float; counts of outcomes are far below 2^32.
pub(crate) fn as_f64(count: usize) -> f64 {
    f64::from(u32::try_from(count).unwrap_or(u32::MAX))
}
