//! Standing stock against outside figures. SOURCE: scipy 1 (`scipy.stats.poisson`) and stockpyl 1.0.2
//! (`newsvendor_poisson`), run by the reference scripts handed to the project.

use stock::{Demand, cycle_stock};

/// What taking so many along brings on average. SOURCE: the newsvendor model of any inventory textbook, from memory.
fn profit_of(demand: Demand, quantity: u64, price: f64, cost: f64, salvage: f64) -> f64 {
    let (met, taken) = (demand.met(quantity), f64::from(u32::try_from(quantity).expect("few")));
    price * met + salvage * (taken - met) - cost * taken
}

/// What a base stock costs a week, continuous review, one for one. SOURCE: any inventory textbook, from memory.
fn cost_rate(demand: Demand, stock: u64, holding: f64, shortage: f64) -> f64 {
    let pieces = f64::from(u32::try_from(stock).expect("few"));
    holding * (pieces - demand.met(stock)) + shortage * demand.missing(stock)
}

/// Share of demands met from the shelf: who asks finds a piece where fewer than the stock are on order.
fn fill_rate(demand: Demand, stock: u64) -> f64 {
    stock.checked_sub(1).map_or(0.0, |less| demand.at_most(less))
}

fn near(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() < 1e-9
}

#[test]
fn newsvendor_takes_as_many_as_scipy_says() {
    for (mean, price, cost, salvage, quantity, profit) in
        [(4.2, 60.0, 35.0, 10.0, 4, 65.069_303_35), (1.3, 45.0, 20.0, 15.0, 2, 23.019_352_49)]
    {
        let demand = Demand::over(mean, 1.0).unwrap();
        assert_eq!(demand.least_for((price - cost) / (price - salvage)), quantity);
        assert!(near(profit_of(demand, quantity, price, cost, salvage), profit));
        let other = |quantity| profit_of(demand, quantity, price, cost, salvage);
        assert!(other(quantity) >= other(quantity + 1) && other(quantity) >= other(quantity - 1));
    }
}

#[test]
fn base_stock_is_the_textbooks() {
    for (week, lead, holding, shortage, stock, rate) in
        [(0.9, 1.5, 0.4, 9.0, 4, 1.207_149_317), (0.15, 2.0, 0.5, 6.0, 1, 0.615_318_434_4)]
    {
        let demand = Demand::over(week, lead).unwrap();
        assert_eq!(demand.least_for(shortage / (shortage + holding)), stock);
        assert!(
            near(cost_rate(demand, stock, holding, shortage), rate),
            "{}",
            cost_rate(demand, stock, holding, shortage)
        );
    }
    let table =
        [(0.9, 1.5, 0.9, 3, 0.845_447_3), (0.9, 1.5, 0.95, 3, 0.845_447_3), (0.9, 1.5, 0.99, 5, 0.987_629_848_8)];
    for (week, lead, service, stock, fill) in table.into_iter().chain([(0.15, 2.0, 0.9, 1, 0.740_818_220_7)]) {
        let demand = Demand::over(week, lead).unwrap();
        assert_eq!(cycle_stock(demand, service), stock, "{service}");
        assert!(near(fill_rate(demand, stock), fill), "{}", fill_rate(demand, stock));
    }
}

#[test]
fn no_demand_and_no_sense_are_told_apart() {
    let none = Demand::over(0.0, 2.0).unwrap();
    assert_eq!((cycle_stock(none, 0.99), fill_rate(none, 0)), (0, 0.0));
    assert!(near(none.at_most(0), 1.0));
    for (week, lead) in [(f64::NAN, 1.0), (-1.0, 1.0), (1.0, f64::INFINITY), (1e9, 1e9)] {
        assert_eq!(Demand::over(week, lead), None);
    }
}
