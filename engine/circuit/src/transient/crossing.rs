//! The first zero of `level + climb t + sum of amount exp(-rate t)`. Knows nothing of networks.
//!
//! Such a sum with n terms has at most n - 1 zeros, and they can be fenced in without sampling: between two zeros of
//! the course lies a zero of its slope. Multiplied by exp(rate t) of its slowest term, which moves no zero, the slope
//! of the rest has one term less, so that its zeros come from the same method. Between fences the course crosses zero
//! at most once; halving finds where.
//!
//! SOURCE: Polya and Szego, Problems and Theorems in Analysis II, part V, generalised Descartes' rule (from memory).

/// Rates this close, relatively, are one.
const SAME_RATE: f64 = 1e-13;
/// A level this small beside the terms that cancel in it is none.
const NO_LEVEL: f64 = 1e-12;
/// exp(-745) is the smallest number above zero: past it nothing moves.
const LONGEST_FADE: f64 = 745.0;

/// Is a course as a sum of terms.
#[derive(Debug, Clone)]
pub(super) struct Course {
    level: f64,
    climb: f64,
    gross: f64,
    fades: Vec<Fade>,
}

/// Is one term, `amount * exp(-rate t)`.
#[derive(Debug, Clone, Copy)]
struct Fade {
    amount: f64,
    rate: f64,
}

impl Course {
    /// Starts a course at zero, seen from a target.
    pub(super) fn below(target: f64) -> Self {
        Self { level: -target, climb: 0.0, gross: target.abs(), fades: Vec::new() }
    }

    /// Adds what ends at `level` and differs from it at the start by `amount`, which fades at `rate`.
    pub(super) fn settle(&mut self, level: f64, amount: f64, rate: f64) {
        self.level += level;
        self.gross += level.abs();
        if amount.abs() > 0.0 {
            self.fades.push(Fade { amount, rate });
        }
    }

    /// Adds what climbs for ever.
    pub(super) fn climb(&mut self, per_second: f64) {
        self.climb += per_second;
    }

    /// Gives the first zero at or after time 0.
    pub(super) fn first_zero(mut self) -> Option<f64> {
        if self.level.abs() <= NO_LEVEL * self.gross {
            self.level = 0.0;
        }
        let fades = merged(self.fades.clone());
        let last = self.last_moment(&fades)?;
        if self.climb.abs() > 0.0 {
            let mut slope: Vec<Fade> =
                fades.iter().map(|f| Fade { amount: -f.amount * f.rate, rate: f.rate }).collect();
            slope.push(Fade { amount: self.climb, rate: 0.0 });
            let fences = zeros(&merged(slope), last);
            let value = |t: f64| self.level + self.climb * t + sum(&fades, t);
            return crossings(&fences, last, value).into_iter().next();
        }
        let mut terms = fades;
        terms.push(Fade { amount: self.level, rate: 0.0 });
        zeros(&merged(terms), last).into_iter().next()
    }

    /// Gives a moment after which the sign is settled, with something to spare, for one fade alone is zero at the very
    /// bound; `None` if there is nothing that moves.
    fn last_moment(&self, fades: &[Fade]) -> Option<f64> {
        let size: f64 = fades.iter().map(|fade| fade.amount.abs()).sum();
        if self.climb.abs() > 0.0 {
            return Some(2.0 * (self.level.abs() + size) / self.climb.abs());
        }
        let slowest = fades.first()?.rate;
        let fade = if self.level.abs() > 0.0 { libm::log(size / self.level.abs()) } else { LONGEST_FADE };
        Some((fade.clamp(0.0, LONGEST_FADE) + 1.0) / slowest)
    }
}

/// Sorts by rate, slowest first, and adds up terms of one rate.
fn merged(mut fades: Vec<Fade>) -> Vec<Fade> {
    fades.sort_by(|a, b| a.rate.total_cmp(&b.rate));
    let mut merged: Vec<Fade> = Vec::new();
    for fade in fades {
        match merged.last_mut() {
            Some(last) if fade.rate - last.rate <= SAME_RATE * fade.rate => last.amount += fade.amount,
            _ => merged.push(fade),
        }
    }
    merged.retain(|fade| fade.amount.abs() > 0.0);
    merged
}

fn sum(fades: &[Fade], t: f64) -> f64 {
    fades.iter().map(|fade| fade.amount * libm::exp(-fade.rate * t)).sum()
}

/// Gives the zeros between 0 and `last` of a sum of fades of different rates, slowest first.
fn zeros(fades: &[Fade], last: f64) -> Vec<f64> {
    let Some((slowest, faster)) = fades.split_first() else { return Vec::new() };
    if faster.is_empty() {
        return Vec::new();
    }
    let rest: Vec<Fade> = faster.iter().map(|f| Fade { amount: f.amount, rate: f.rate - slowest.rate }).collect();
    let slope: Vec<Fade> = rest.iter().map(|f| Fade { amount: -f.amount * f.rate, rate: f.rate }).collect();
    let fences = zeros(&slope, last);
    crossings(&fences, last, |t| slowest.amount + sum(&rest, t))
}

/// Gives where a course crosses zero, once at most between neighbouring fences.
fn crossings(fences: &[f64], last: f64, value: impl Fn(f64) -> f64) -> Vec<f64> {
    let mut found = Vec::new();
    let mut from = 0.0;
    for &to in fences.iter().chain([&last]) {
        if (value(from) < 0.0) != (value(to) < 0.0) {
            found.push(halve(from, to, &value));
        }
        from = to;
    }
    found
}

/// Halves until no number lies between the ends.
fn halve(mut from: f64, mut to: f64, value: impl Fn(f64) -> f64) -> f64 {
    let below = value(from) < 0.0;
    loop {
        let middle = from + (to - from) / 2.0;
        if middle <= from || middle >= to {
            return to;
        }
        if (value(middle) < 0.0) == below {
            from = middle;
        } else {
            to = middle;
        }
    }
}
