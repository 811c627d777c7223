//! Lives and money against outside figures. SOURCE: scipy 1 (`scipy.stats.weibull_min`) and numpy_financial 1.0.0, run by
//! the reference scripts handed to the project.

use worth::money::a_year;
use worth::{Life, life_of_kind};

fn near(one: f64, other: f64) {
    assert!((one / other - 1.0).abs() < 1e-9, "{one} for {other}");
}

#[test]
fn lives_are_scipys() {
    struct Row {
        life: (f64, f64),
        mean: f64,
        at: [(f64, f64); 2],
        further: (f64, f64),
    }
    let rows = [
        Row {
            life: (1.5, 12.0),
            mean: 10.832_943_52,
            at: [(5.0, 0.764_175_979_4), (10.0, 0.467_327_129_9)],
            further: (5.0, 0.918_883_241_9),
        },
        Row {
            life: (0.8, 30.0),
            mean: 33.990_092_89,
            at: [(1.0, 0.936_307_170_4), (10.0, 0.660_179_410_7)],
            further: (1.0, 0.952_397_192_4),
        },
        Row {
            life: (3.2, 14.0),
            mean: 12.539_151_38,
            at: [(10.0, 0.711_262_129), (13.0, 0.454_354_981_2)],
            further: (10.0, 0.885_587_701_2),
        },
    ];
    for row in rows {
        let life = Life::new(row.life.0, row.life.1).unwrap();
        near(life.mean(), row.mean);
        for (age, survives) in row.at {
            near(life.survives(age), survives);
        }
        near(life.survives_further(row.further.0, 1.0), row.further.1);
        near(Life::with_mean(row.life.0, life.mean()).unwrap().mean(), life.mean());
        let months = if row.life.0 > 1.0 { 240 } else { 0 };
        for (month, left) in life.left_by_month(months).iter().enumerate().step_by(60) {
            let age = f64::from(u32::try_from(month).unwrap()) / 12.0;
            assert!((left / life.left(age) - 1.0).abs() < if months > 0 { 1e-3 } else { 0.05 }, "{left} at {age}");
        }
        // What is left is reckoned over 120 years; lives that go early have a longer tail than that.
        let near_enough = if row.life.0 > 1.0 { 1e-4 } else { 0.1 };
        assert!((life.left(0.0) / life.mean() - 1.0).abs() < near_enough, "{}", life.left(0.0));
    }
    // Without wear what is left is the same at every age.
    let even = Life::new(1.0, 9.0).unwrap();
    assert!((even.left(0.0) - even.left(20.0)).abs() < 1e-3 && (even.left(3.0) - 9.0).abs() < 1e-2);
    assert_eq!(Life::new(0.0, 3.0), None);
    assert_eq!(Life::new(2.0, f64::NAN), None);
}

#[test]
fn money_over_years_is_numpys() {
    near(a_year(280.0, 0.06, 4.0), 80.805_617_86);
    near(a_year(900.0, 0.06, 11.0) - 25.0, 89.113_644_29);
    near(a_year(150.0, 0.04, 2.0), 79.529_411_76);
    near(a_year(700.0, 0.04, 12.0), 74.586_520_88);
    near(a_year(700.0, 0.0, 10.0), 70.0);
}

#[test]
fn kinds_have_their_own_lives() {
    let mean = |kind| life_of_kind(kind).mean;
    assert!((mean("dishwasher") - 9.0).abs() < 1e-9 && (mean("top-load washer") - 10.0).abs() < 1e-9);
    assert!((mean("gas range") - 15.0).abs() < 1e-9 && (mean("range hood") - 14.0).abs() < 1e-9);
    assert!(
        life_of_kind("ice maker").source.contains("no source") && life_of_kind("freezer").source.contains("memory")
    );
    assert!((life_of_kind("freezer").life.mean() - 11.0).abs() < 1e-9);
}
