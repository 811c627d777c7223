//! The choice against money sums where lives are all but sure, against the renewal theorem, and against drawn lives.

use worth::money::a_year;
use worth::{Assumed, Choice, Life, cost_of, worth_up_to};

fn assumed(life: Life, age: f64) -> Assumed {
    Assumed { life, age, new_price: 900.0, uses_more: 0.0, repairs: 0.0, warranty: 0.0, interest: 0.0, years: 10 }
}

/// A life of 10 years to the month: bought now, nothing is left and nothing more is paid.
#[test]
fn a_life_that_is_sure_costs_what_the_sums_say() {
    let sure = Life::with_mean(400.0, 10.5).unwrap();
    let new = cost_of(Choice::Replace { also: 95.0 }, &assumed(sure, 0.0));
    // Half a year of it is left at the end.
    let left = 900.0 * 0.5 / 10.5;
    assert!((new.in_all - (995.0 - left)).abs() < 6.0, "{}", new.in_all);
    assert!((new.paid[0] - 995.0).abs() < 1e-9 && (new.paid[10] - 995.0).abs() < 1e-3);
    // With interest a year's amount is the annuity's.
    let lent = Assumed { interest: 0.06, ..assumed(sure, 0.0) };
    let new = cost_of(Choice::Replace { also: 0.0 }, &lent);
    assert!((new.a_year - a_year(new.in_all, 0.06, 10.0)).abs() < 1e-9);
    // Repaired at 6 years it lasts 4.5 more; then a new one, of which 5.5 years of 10.5 are used at the end.
    let repaired = cost_of(Choice::Repair { price: 200.0, holds: 1.0 }, &assumed(sure, 6.0));
    assert!((repaired.in_all - (200.0 + 900.0 * 5.5 / 10.5)).abs() < 8.0, "{}", repaired.in_all);
    assert!((repaired.bought - 1.0).abs() < 1e-6);
}

/// Over many years without interest a new one at each death costs its price by the mean life. SOURCE: the elementary renewal
/// theorem.
#[test]
fn in_the_long_run_it_is_the_price_by_the_mean_life() {
    let life = Life::with_mean(2.3, 9.0).unwrap();
    let long = Assumed { years: 40, ..assumed(life, 0.0) };
    let new = cost_of(Choice::Replace { also: 0.0 }, &long);
    assert!((new.a_year / 100.0 - 1.0).abs() < 0.02, "{}", new.a_year);
}

/// A seeded stream of shares; SOURCE: the 64-bit linear congruential generator of Knuth's MMIX, from memory.
fn next(state: &mut u64) -> f64 {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    (f64::from(u32::try_from(*state >> 32).unwrap_or_default()) + 0.5) / 4_294_967_296.0
}

#[test]
fn drawn_lives_cost_the_same_on_average() {
    let life = Life::with_mean(2.3, 11.0).unwrap();
    let assumed = Assumed { uses_more: 30.0, repairs: 40.0, warranty: 2.0, interest: 0.05, ..assumed(life, 7.0) };
    let said = cost_of(Choice::Repair { price: 250.0, holds: 0.9 }, &assumed);
    let (mut state, draws) = (3, 10_000);
    let mut sum = 0.0;
    let years_at = |draw: f64, age: f64| {
        // By the inverse of what survives, given the age.
        let scale = life.mean() / libm::tgamma(1.0 + 1.0 / 2.3);
        scale * libm::pow(libm::pow(age / scale, 2.3) - libm::log(draw), 1.0 / 2.3) - age
    };
    for _ in 0..draws {
        let mut cost = 250.0;
        let mut clock = 0.0;
        let (mut old, mut age) = (next(&mut state) < 0.9, 7.0);
        let mut lasts = years_at(next(&mut state), age);
        if !old {
            cost += 900.0;
            (age, lasts) = (0.0, years_at(next(&mut state), 0.0));
        }
        let worth = |at: f64| libm::pow(1.05, -at);
        loop {
            let until = (clock + lasts).min(10.0);
            // Running costs month by month.
            let mut at = clock;
            while at < until - 1e-9 {
                let step = (1.0_f64 / 12.0).min(until - at);
                let own_age = age + at - clock;
                let yearly = if old {
                    70.0
                } else if own_age < 2.0 {
                    0.0
                } else {
                    40.0
                };
                cost += yearly * step * worth(at);
                at += step;
            }
            if clock + lasts >= 10.0 {
                cost -= 900.0 * (life.left(age + 10.0 - clock) / life.mean()).min(1.0) * worth(10.0);
                break;
            }
            clock += lasts;
            cost += 900.0 * worth(clock);
            (old, age, lasts) = (false, 0.0, years_at(next(&mut state), 0.0));
        }
        sum += cost;
    }
    let mean = sum / f64::from(draws);
    // Deaths fall at the end of a month there and at any time here; the draws have an error of about 4.
    assert!((said.in_all - mean).abs() < 15.0, "{} for {mean}", said.in_all);
}

#[test]
fn a_repair_is_worth_less_the_older_it_is() {
    let life = Life::with_mean(2.3, 13.0).unwrap();
    let up_to = |age: f64| {
        worth_up_to(0.95, 0.0, &Assumed { repairs: 30.0, warranty: 1.0, interest: 0.04, ..assumed(life, age) })
    };
    assert!(up_to(2.0) > up_to(8.0) && up_to(8.0) > up_to(16.0), "{} {} {}", up_to(2.0), up_to(8.0), up_to(16.0));
    let at = |price| {
        cost_of(
            Choice::Repair { price, holds: 0.95 },
            &Assumed { repairs: 30.0, warranty: 1.0, interest: 0.04, ..assumed(life, 8.0) },
        )
    };
    let new = cost_of(
        Choice::Replace { also: 0.0 },
        &Assumed { repairs: 30.0, warranty: 1.0, interest: 0.04, ..assumed(life, 8.0) },
    );
    assert!((at(up_to(8.0)).in_all - new.in_all).abs() < 1e-6);
}
