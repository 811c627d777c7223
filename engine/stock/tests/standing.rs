//! Standing stock against outside figures. SOURCE: scipy 1 (`scipy.stats.poisson`) and stockpyl 1.0.2
//! (`newsvendor_poisson`), run by the reference scripts handed to the project.

use stock::{Demand, cost_rate, cycle_stock, fill_rate, least_cost_stock, newsvendor, newsvendor_profit};

fn near(one: f64, other: f64) -> bool {
    (one / other - 1.0).abs() < 1e-9
}

#[test]
fn newsvendor_takes_as_many_as_scipy_says() {
    for (mean, price, cost, salvage, quantity, profit) in
        [(4.2, 60.0, 35.0, 10.0, 4, 65.069_303_35), (1.3, 45.0, 20.0, 15.0, 2, 23.019_352_49)]
    {
        let demand = Demand::over(mean, 1.0).unwrap();
        assert_eq!(newsvendor(demand, price, cost, salvage), quantity);
        assert!(near(newsvendor_profit(demand, quantity, price, cost, salvage), profit));
        let other = |quantity| newsvendor_profit(demand, quantity, price, cost, salvage);
        assert!(other(quantity) >= other(quantity + 1) && other(quantity) >= other(quantity - 1));
    }
}

#[test]
fn base_stock_is_the_textbooks() {
    for (week, lead, holding, shortage, stock, rate) in
        [(0.9, 1.5, 0.4, 9.0, 4, 1.207_149_317), (0.15, 2.0, 0.5, 6.0, 1, 0.615_318_434_4)]
    {
        let demand = Demand::over(week, lead).unwrap();
        assert_eq!(least_cost_stock(demand, holding, shortage), stock);
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
