//! A certified lower bound for problems too large to solve: what telling the suspects apart must cost, beside the cure.
//!
//! It knows nothing of how plans are found, and it never uses one.
//!
//! **What is bounded.** A plan takes tests and repairs by what it has seen. Let h be the truth with prior b(h), Y the
//! whole history of outcomes when the job ends, and P(Y given h) its chance under the plan. Choose any weights β(h) from
//! 0 up, any fixed reference q for the outcomes of each test, any ε for the chance that a repair ends the job, and any
//! rule g(h given how the job ended). Let Q(Y) be the product of the references along the history.
//!
//! **Why it is valid.** With w(h) = b(h) β(h) / B and B = Σ b β, the divergence of w(h) P(Y given h) from Q(Y) g(h given
//! Y) is never negative (Gibbs). Written out, for every plan:
//!
//! > Σ b(h) β(h) E\[ Σ ln(P/q) along the history + ln w(h) − ln g(h given the end) \] ≥ 0.
//!
//! So taking this amount off the cost of a plan never raises its expected cost: it is a feasible penalty. Each step's
//! part of it depends on h and the step alone (its mean is the divergence D of the row of h from q), so one who is told
//! h, and how every repair will work, can be let choose freely: what he pays at least, penalty included, bounds every
//! plan from below. Told h his problem falls apart. A test is worth taking if its price is below β(h) D, and may need
//! covers and modes opened for it; a repair that does not touch h never pays, because ε is chosen so; and the repairs
//! that touch h are tried in every order. Tests are taken at most once, except those sure for every suspect: their
//! repetition is given the chance exp(−price/β), so that it never pays either. Ends that fit several truths share g in
//! proportion to w, so only suspects with different cures must be told apart. Where truths shrink by partial repairs,
//! each step's part is bounded by the dearest truth on the way (divergence is convex in the row). The set-up is the
//! price of each cover opened at least once and the shortest way through the modes needed.
//!
//! With all β = 0 this is the cost of one who knows the truth. β and q are then improved by ascent; whatever they are,
//! the bound holds.
//!
//! SOURCE: Brown, Smith, Sun, Operations Research 58(4), 2010 (information relaxation with a feasible penalty); Naghshvar
//! and Javidi, Annals of Statistics 41(6), 2013 (information bounds on the cost of sequential testing); Kullback and
//! Leibler, Annals of Mathematical Statistics 22(1), 1951. Names from memory; the derivation is the one above.

mod relaxed;
mod walks;

use super::error::ProblemError;
use super::problem::Problem;
use super::situation::Situation;
use relaxed::{Relaxed, Told, Tuning};

/// A lower bound on the expected cost of every plan from a situation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Certified {
    /// What no plan can beat.
    pub bound: f64,
    /// What one who knows the truth at once pays; the bound is never below it.
    pub knowing: f64,
}

/// Prices of a nat tried at first, all suspects alike.
const FIRST_PRICES: [f64; 8] = [0.5, 1.0, 2.0, 3.5, 6.0, 10.0, 16.0, 26.0];
/// Rounds in which the references follow the tests chosen.
const ROUNDS: usize = 4;
/// Rounds in which each suspect's price of a nat is moved.
const ASCENT: usize = 12;
/// Taken off at last, as a share: what rounding could have added.
const ROUNDING: f64 = 1e-9;

impl Problem {
    /// Bounds the expected cost of every plan from below.
    ///
    /// # Errors
    /// The situation does not fit the problem.
    pub fn certified_bound(&self, situation: &Situation) -> Result<Certified, ProblemError> {
        let state = self.state(situation)?;
        let relaxed = Relaxed::new(&self.core, &state);
        let knowing = relaxed.told(&relaxed.tuning(0.0)).bound;
        let mut best: Option<(Told, Tuning)> = None;
        for price in FIRST_PRICES {
            let found = settle(&relaxed, relaxed.tuning(price));
            match &best {
                // The bound rises and then falls with the price.
                Some((told, _)) if found.0.bound < told.bound => break,
                _ => best = Some(found),
            }
        }
        let top = best.map_or(knowing, |found| ascend(&relaxed, found));
        let least = |bound: f64| bound - ROUNDING * bound.abs();
        Ok(Certified { bound: least(top.max(knowing)), knowing: least(knowing) })
    }
}

/// Lets the references follow the tests chosen and keeps the best.
fn settle(relaxed: &Relaxed<'_>, tuning: Tuning) -> (Told, Tuning) {
    let mut best = (relaxed.told(&tuning), tuning);
    for _ in 0..ROUNDS {
        let next = relaxed.follow(&best.1, &best.0);
        let told = relaxed.told(&next);
        if told.bound <= best.0.bound {
            break;
        }
        best = (told, next);
    }
    best
}

/// Moves each suspect's price of a nat: up where the tests chosen tell less than is needed, down where they tell more.
fn ascend(relaxed: &Relaxed<'_>, from: (Told, Tuning)) -> f64 {
    let mut best = from.0.bound;
    let (mut told, mut tuning) = from;
    for round in 0..ASCENT {
        let reach = 0.5 / (1.0 + 0.25 * round as f64);
        tuning = relaxed.move_prices(&tuning, &told, reach);
        tuning = relaxed.follow(&tuning, &relaxed.told(&tuning));
        told = relaxed.told(&tuning);
        best = best.max(told.bound);
    }
    best
}
