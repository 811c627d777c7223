//! Repair, have it seen to, or replace: what each costs in expectation over the same years.
//!
//! Whatever is chosen, the customer has an appliance all the time: one that dies within the years is replaced by a new one,
//! and what is left of the last one's life at the end counts as worth its share of a new one's price. Month by month, each
//! month's costs discounted; a renewal recursion over the month in which a new one was bought.

use crate::life::Life;

/// What is assumed; all of it can be changed by the customer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Assumed {
    /// Life of such appliances.
    pub life: Life,
    /// Age of this one, years.
    pub age: f64,
    /// A new one, delivered and installed.
    pub new_price: f64,
    /// What the old one uses more than a new one, money a year.
    pub uses_more: f64,
    /// Further repairs of one out of warranty, money a year.
    pub repairs: f64,
    /// Warranty of a new one, years.
    pub warranty: f64,
    /// Interest, a share a year.
    pub interest: f64,
    /// The years over which costs are compared.
    pub years: u32,
}

/// What may be chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Choice {
    /// Paid now, after which the appliance lives on at its age: `holds` is the chance that it does, else a new one is bought
    /// at once. For the own repair and for one by somebody else.
    Repair {
        /// What it costs.
        price: f64,
        /// Chance that the repair holds, 0 to 1.
        holds: f64,
    },
    /// A new one now; `also` is what is paid besides, such as for the call.
    Replace {
        /// What is paid besides.
        also: f64,
    },
}

/// What a choice comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Worth now of all that is paid over the years, less what is left at the end.
    pub in_all: f64,
    /// The same as a yearly amount.
    pub a_year: f64,
    /// Paid by the end of each year on average, not discounted and with nothing taken off: for a picture. The first is now.
    pub paid: Vec<f64>,
    /// Chance that a new one is bought within the years.
    pub bought: f64,
}

/// Gives what a choice costs. Years beyond 40 are taken as 40.
#[must_use]
pub fn cost_of(choice: Choice, assumed: &Assumed) -> Cost {
    let months = 12 * assumed.years.clamp(1, 40) as usize;
    let new = New::over(assumed, months);
    let (start, old, fresh) = match choice {
        Choice::Repair { price, holds } => {
            let holds = holds.clamp(0.0, 1.0);
            (price, holds, 1.0 - holds)
        }
        Choice::Replace { also } => (also, 0.0, 1.0),
    };
    let with_old = new.old(assumed, months);
    let in_all = start + old * with_old.in_all + fresh * new.in_all[0];
    let paid = (0..=months).step_by(12).map(|month| start + old * with_old.paid[month] + fresh * new.paid[month]);
    let years = f64::from(assumed.years.clamp(1, 40));
    Cost {
        in_all,
        a_year: crate::money::a_year(in_all, assumed.interest, years),
        paid: paid.collect(),
        bought: fresh + old * (1.0 - assumed.life.survives_further(assumed.age, years)),
    }
}

/// Gives the price of a repair at which it costs just as much as a new one; under it the repair is worth it.
#[must_use]
pub fn worth_up_to(holds: f64, also: f64, assumed: &Assumed) -> f64 {
    let free = cost_of(Choice::Repair { price: 0.0, holds }, assumed).in_all;
    cost_of(Choice::Replace { also }, assumed).in_all - free
}

/// New ones bought at need, seen from the month in which the first is bought.
struct New {
    /// Worth then of all that is paid from a purchase with so many months gone to the end.
    in_all: Vec<f64>,
    /// Paid by each month after a purchase at the beginning, on average.
    paid: Vec<f64>,
    /// What an amount in each month is worth now, a share.
    discounts: Vec<f64>,
}

/// The old one, and the new ones after it.
struct Old {
    in_all: f64,
    paid: Vec<f64>,
}

fn at(month: usize) -> f64 {
    u32::try_from(month).map_or(f64::MAX, f64::from) / 12.0
}

/// What is left of a new one's price at an age: the share of its mean life that is still to come.
fn left_over(assumed: &Assumed, age: f64) -> f64 {
    assumed.new_price * (assumed.life.left(age) / assumed.life.mean()).clamp(0.0, 1.0)
}

fn discount(assumed: &Assumed, month: usize) -> f64 {
    libm::pow(1.0 + assumed.interest, -at(month))
}

impl New {
    fn over(assumed: &Assumed, months: usize) -> Self {
        let life = assumed.life;
        let survives: Vec<f64> = (0..=months).map(|month| life.survives(at(month))).collect();
        let repairs: Vec<f64> =
            (0..months).map(|month| if at(month) < assumed.warranty { 0.0 } else { assumed.repairs / 12.0 }).collect();
        let discounts: Vec<f64> = (0..=months).map(|month| discount(assumed, month)).collect();
        let mean = life.mean();
        let left: Vec<f64> =
            life.left_by_month(months).iter().map(|left| assumed.new_price * (left / mean).clamp(0.0, 1.0)).collect();
        let mut in_all = vec![0.0; months + 1];
        for bought in (0..months).rev() {
            let ahead = months - bought;
            let mut sum = assumed.new_price;
            for month in 0..ahead {
                sum += survives[month] * repairs[month] * discounts[month];
                let dies = survives[month] - survives[month + 1];
                sum += dies * in_all[bought + month + 1] * discounts[month + 1];
            }
            in_all[bought] = sum - survives[ahead] * left[ahead] * discounts[ahead];
        }
        let mut paid = vec![assumed.new_price; months + 1];
        for by in 1..=months {
            let mut sum = assumed.new_price;
            for month in 0..by {
                sum += survives[month] * repairs[month];
                sum += (survives[month] - survives[month + 1]) * paid[by - month - 1];
            }
            paid[by] = sum;
        }
        Self { in_all, paid, discounts }
    }

    fn old(&self, assumed: &Assumed, months: usize) -> Old {
        let survives: Vec<f64> =
            (0..=months).map(|month| assumed.life.survives_further(assumed.age, at(month))).collect();
        let running = (assumed.uses_more + assumed.repairs) / 12.0;
        let mut in_all = -survives[months] * left_over(assumed, assumed.age + at(months)) * self.discounts[months];
        for month in 0..months {
            in_all += survives[month] * running * self.discounts[month];
            // One bought in the last month is as good as new at the end, and is worth its price then.
            in_all += (survives[month] - survives[month + 1]) * self.in_all[month + 1] * self.discounts[month + 1];
        }
        let paid = (0..=months).map(|by| {
            let lives: f64 = (0..by).map(|month| survives[month] * running).sum();
            let dies = (0..by).map(|month| (survives[month] - survives[month + 1]) * self.paid[by - month - 1]);
            lives + dies.sum::<f64>()
        });
        Old { in_all, paid: paid.collect() }
    }
}
