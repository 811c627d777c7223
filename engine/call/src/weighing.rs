//! Whether a repair is worth it, in the customer's money: what repairing and replacing cost over the same years.

use worth::{Assumed, Choice, Cost, cost_of, life_of_kind, worth_up_to};

/// What is assumed where nothing else is said, and what a person may say instead.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Supposed {
    /// Age, years.
    pub age: Option<f64>,
    /// Price of a new one, delivered.
    pub new_price: Option<f64>,
    /// Mean life of such appliances, years.
    pub life: Option<f64>,
    /// What the old one uses more of electricity than a new one, kWh a year.
    pub kwh_more: Option<f64>,
    /// Price of electricity, money for a kWh.
    pub energy_price: Option<f64>,
    /// What the old one uses more besides (water, gas), money a year.
    pub uses_more: Option<f64>,
    /// Further repairs, money a year.
    pub repairs: Option<f64>,
    /// Warranty of a new one, years.
    pub warranty: Option<f64>,
    /// What somebody else asks for the repair to whom it may be referred.
    pub referred: Option<f64>,
    /// Interest, per cent a year.
    pub interest: Option<f64>,
    /// Years that are looked ahead.
    pub years: Option<u32>,
}

/// Repair and replacement weighed against each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// What was assumed.
    pub assumed: Assumed,
    /// Price of a kWh.
    pub energy_price: f64,
    /// In words, each assumption with where it comes from.
    pub assumptions: Vec<String>,
    /// What the repair costs.
    pub repair: Cost,
    /// What it costs to have somebody else repair it, where his price is known.
    pub refer: Option<Cost>,
    /// What a new one costs.
    pub replace: Cost,
    /// Price up to which the repair is worth it.
    pub up_to: f64,
}

/// Prices of new appliances by what stands in the name of the kind, in US dollars. Common practice, no source.
const NEW: &[(&str, f64)] = &[
    ("dryer", 750.0),
    ("dishwasher", 700.0),
    ("disposer", 220.0),
    ("freezer", 650.0),
    ("refrigerator", 1100.0),
    ("ice maker", 350.0),
    ("microwave", 250.0),
    ("hood", 350.0),
    ("induction", 1300.0),
    ("range", 950.0),
    ("oven", 1500.0),
    ("cooktop", 700.0),
    ("washer", 800.0),
    ("water heater", 900.0),
    ("air conditioner", 400.0),
];
/// Share of the price of a new one that further repairs cost a year. Common practice, no source.
const REPAIRS: f64 = 0.03;
/// Price of a kWh, in US dollars: what households paid on average in 2024 (Energy Information Administration, from memory).
const ENERGY: f64 = 0.17;
/// Warranty of a new one, years. Common practice, no source.
const WARRANTY: f64 = 1.0;
/// Chance that a repair holds. Common practice, no source; the months say the shop's own.
const HOLDS: f64 = 0.95;

/// Weighs a repair at this price on a machine of this kind; `also` is paid besides where a new one is bought, such as for the
/// call. `None` where what was said makes no sense.
#[must_use]
pub fn weigh(kind: &str, price: f64, also: f64, said: &Supposed) -> Option<Weighed> {
    let sound = |value: &f64| value.is_finite() && *value >= 0.0;
    let all = [said.age, said.new_price, said.life, said.uses_more, said.repairs, said.interest];
    let more = [said.kwh_more, said.energy_price, said.warranty, said.referred];
    if !all.iter().chain(&more).flatten().chain([&price, &also]).all(sound) {
        return None;
    }
    let usual = life_of_kind(kind);
    let life = match said.life {
        Some(mean) => worth::Life::with_mean(SHAPE, mean)?,
        None => usual.life,
    };
    let new_price =
        said.new_price.unwrap_or_else(|| NEW.iter().find(|(word, _)| kind.contains(word)).map_or(700.0, |of| of.1));
    let age = said.age.unwrap_or(life.mean() / 2.0);
    let energy = said.energy_price.unwrap_or(ENERGY);
    let assumed = Assumed {
        life,
        age,
        new_price,
        uses_more: said.uses_more.unwrap_or(0.0) + said.kwh_more.unwrap_or(0.0) * energy,
        repairs: said.repairs.unwrap_or(REPAIRS * new_price),
        warranty: said.warranty.unwrap_or(WARRANTY),
        interest: said.interest.unwrap_or(4.0) / 100.0,
        years: said.years.unwrap_or(10).clamp(1, 40),
    };
    let from = |known: bool| if known { "as said" } else { "assumed" };
    let assumptions = vec![
        format!("{age:.0} years old ({})", from(said.age.is_some())),
        format!(
            "such appliances last {:.0} years on average ({})",
            life.mean(),
            if said.life.is_some() { "as said" } else { usual.source }
        ),
        format!("a new one costs {new_price:.0} ({})", from(said.new_price.is_some())),
        format!(
            "the old one uses {:.0} a year more than a new one ({}), a kWh at {energy:.2} ({})",
            assumed.uses_more,
            from(said.uses_more.or(said.kwh_more).is_some()),
            from(said.energy_price.is_some())
        ),
        format!("further repairs cost {:.0} a year ({})", assumed.repairs, from(said.repairs.is_some())),
        format!(
            "the repair holds in 19 of 20 cases; a new one has {:.0} years of warranty ({}); interest {:.1} % a year; {} years",
            assumed.warranty,
            from(said.warranty.is_some()),
            100.0 * assumed.interest,
            assumed.years
        ),
    ];
    Some(Weighed {
        repair: cost_of(Choice::Repair { price, holds: HOLDS }, &assumed),
        // Whoever looked is paid for that, whoever repairs.
        refer: said.referred.map(|price| cost_of(Choice::Repair { price: price + also, holds: HOLDS }, &assumed)),
        replace: cost_of(Choice::Replace { also }, &assumed),
        up_to: worth_up_to(HOLDS, also, &assumed),
        energy_price: energy,
        assumed,
        assumptions,
    })
}

/// Shape of lives whose mean was said; as the usual ones have it.
const SHAPE: f64 = 2.3;

impl Weighed {
    /// Gives what may be done, what doing it is called, and what it costs.
    #[must_use]
    pub fn ways(&self) -> Vec<(&'static str, &'static str, &Cost)> {
        let refer = self.refer.as_ref().map(|cost| ("refer it", "referring it", cost));
        let (repair, replace) =
            (("repair it now", "repairing", &self.repair), ("replace it now", "replacing", &self.replace));
        [Some(repair), refer, Some(replace)].into_iter().flatten().collect()
    }

    /// Says what it comes to, in whole money.
    #[must_use]
    pub fn say(&self, currency: &str) -> Vec<String> {
        let ways = self.ways();
        let best = ways.iter().min_by(|one, other| one.2.in_all.total_cmp(&other.2.in_all));
        let better = best.map_or("repairing", |best| best.1);
        let each: Vec<String> =
            ways.iter().map(|(what, _, cost)| format!("{what} {currency} {:.0} a year", cost.a_year)).collect();
        vec![
            format!("over {} years {better} is cheaper: {}", self.assumed.years, each.join(", ")),
            format!("a repair is worth it up to {currency} {:.0}", self.up_to.max(0.0)),
        ]
    }
}
