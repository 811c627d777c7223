//! Receptacles, supply limits and branch circuits against their rows.

use crate::rows::{Answer, Check, Row, compare, read};
use quantity::copper::Awg;
use quantity::receptacle::{Contact, Pattern, expected_volts, nominal_volts};
use quantity::supply::{self, Place, Quality, System};
use quantity::{Amps, Published, Volts, Watts, branch};

/// First prefix that fits wins: the longer ones come first.
const CHECKS: [(&str, Check); 30] = [
    ("O3-C84-pct-", |r| Answer::Words(percent(r))),
    ("O3-C84-", |r| Answer::Constant(c84(r))),
    ("O3-EN50160-lo", |_| Answer::Constant(supply::LEAST_230)),
    ("O3-EN50160-hi", |_| Answer::Constant(supply::MOST_230)),
    ("O3-EN50160-all", |_| Answer::Constant(supply::LEAST_EVER_230)),
    ("O3-R55C-", |r| {
        let count: u8 = r.rest("O3-R55C-").parse().unwrap();
        Answer::Number(branch::range_demand_kilowatts(count).unwrap())
    }),
    ("O3-R55A-1", |_| Answer::Constant(branch::UNDER_3500_SHARE)),
    ("O3-R55B-1", |_| Answer::Constant(branch::UNDER_8750_SHARE)),
    ("O3-R55N1-", |r| Answer::Number(branch::range_branch_load(Watts(1000.0 * r.first())).0 / 1000.0)),
    ("O3-R55D6A", |_| {
        let demand = branch::range_demand_kilowatts(24).unwrap();
        Answer::Number(demand * branch::demand_factor(Watts(16_000.0)))
    }),
    ("O3-R55N4-A", |_| Answer::Number(branch::range_branch_load(three_on_one_circuit()).0 / 240.0)),
    ("O3-R55N4", |_| Answer::Number(branch::range_branch_load(three_on_one_circuit()).0 / 1000.0)),
    ("O3-R55-40A", |_| Answer::Constant(branch::RANGE_BRANCH)),
    ("O3-R55-16A", |_| Answer::Number(branch::range_branch_load(Watts(16_000.0)).0 / 240.0)),
    ("O3-D54", |_| Answer::Constant(branch::DRYER_LOAD)),
    ("O3-CONT", |_| Answer::Constant(branch::CONTINUOUS)),
    ("O3-WH-5500-125", |_| Answer::Number(branch::water_heater_circuit(Watts(5500.0), Volts(240.0)).0)),
    ("O3-WH-5500-150", |_| Answer::Number(branch::largest_device(Watts(5500.0), Volts(240.0)).unwrap().0)),
    ("O3-WH", |_| Answer::Constant(branch::WATER_HEATER)),
    ("O3-SPACE", |_| Answer::Constant(branch::SPACE_HEATING)),
    ("O3-CORD80", |_| Answer::Constant(branch::CORD_CONNECTED_SHARE)),
    ("O3-SMALL-", |r| {
        let gauge = Awg::new(r.rest("O3-SMALL-").parse().unwrap()).unwrap();
        Answer::Constant(branch::small_conductor_limit(gauge).unwrap())
    }),
    ("O3-DISC", |_| Answer::Constant(branch::DEVICE_AS_DISCONNECT)),
    ("O3-DW-CORD", |_| {
        let [least, most] = [branch::DISHWASHER_CORD_LEAST, branch::DISHWASHER_CORD_MOST].map(|cord| cord.value);
        Answer::Words(format!("{least:.1} to {most:.1} (3 to 6.5 ft)"))
    }),
    ("O3-BOND-4W", |_| Answer::Words(branch::FOUR_WIRE_STRAP.to_owned())),
    ("O3-BOND-1", |r| condition(r, 0)),
    ("O3-BOND-2", |r| condition(r, 1)),
    ("O3-BOND-3", |r| condition(r, 2)),
    ("O3-BOND-4", |r| condition(r, 3)),
    ("O3-BOND-5", |r| condition(r, 4)),
];

fn three_on_one_circuit() -> Watts {
    // 6.6 + 4.4 + 4.4 kW stand in the row's inputs.
    Watts(6600.0 + 4400.0 + 4400.0)
}

fn quality(name: &str) -> Quality {
    if name == "A" { Quality::A } else { Quality::B }
}

fn c84(row: &Row) -> Published {
    let words: Vec<&str> = row.get("inputs").split('-').collect();
    let [name, nominal, place, end] = words[..] else { panic!("{}", row.id()) };
    let nominal = Volts(nominal.parse().unwrap());
    let place = if place == "svc" { Place::Service } else { Place::Utilization };
    match (end, place) {
        ("max", Place::Service) => supply::most_volts(quality(name), nominal).unwrap(),
        _ => supply::least_volts(quality(name), place, nominal).unwrap(),
    }
}

fn percent(row: &Row) -> String {
    let quality = quality(row.rest("O3-C84-pct-").split('-').next().unwrap());
    let nominal = Volts(120.0);
    let share = |figure: Option<Published>| (1000.0 * (figure.unwrap().value / 120.0 - 1.0)).round() / 10.0;
    let least = share(supply::least_volts(quality, Place::Service, nominal));
    format!("{least}/+{}", share(supply::most_volts(quality, nominal)))
}

fn condition(row: &Row, at: usize) -> Answer {
    assert_eq!(branch::THREE_WIRE_CONDITIONS[at], row.get("inputs"));
    Answer::Words("required".to_owned())
}

#[test]
fn supply_and_branch_agree_with_every_row() {
    let (compared, left) = compare(include_str!("03_supply.csv"), &CHECKS);
    assert_eq!((compared, left.len()), (53, 0));
}

#[test]
fn receptacles_agree_with_every_row() {
    let mut compared = 0;
    for row in read(include_str!("03_receptacles.csv")) {
        let pattern = Pattern::named(row.get("configuration")).unwrap();
        assert_eq!(pattern.amps.to_string(), row.get("rated_A"));
        assert_eq!(pattern.volts, row.get("rated_V"));
        assert_eq!(pattern.note, row.get("note"));
        let pair =
            pattern.pairs().into_iter().find(|(a, b)| format!("{}-{}", a.letter(), b.letter()) == row.get("pair"));
        let (a, b) = pair.unwrap_or_else(|| panic!("{} has no such pair", row.id()));
        let volts = |system| nominal_volts(a, b, system).0.to_string();
        assert_eq!(volts(System::SplitPhase), row.get("expected_V_on_120_240"), "{}", row.id());
        assert_eq!(volts(System::Wye208), row.get("expected_V_on_208Y_120"), "{}", row.id());
        compared += 1;
    }
    assert_eq!(compared, 24);
    // Every pair of every pattern has a row.
    assert_eq!(quantity::receptacle::PATTERNS.iter().map(|p| p.pairs().len()).sum::<usize>(), compared);
}

#[test]
fn live_pairs_keep_range_a_and_dead_pairs_stay_under_two_volts() {
    let live = expected_volts(Contact::X, Contact::Y, System::SplitPhase);
    assert!(live.contains(228.0) && live.contains(252.0) && !live.contains(227.0) && !live.contains(253.0));
    let dead = expected_volts(Contact::Neutral, Contact::Earth, System::SplitPhase);
    assert!(dead.contains(1.9) && !dead.contains(3.0));
}

#[test]
fn standard_ratings_go_up_to_the_next_size() {
    // The three sizes stand in the notes of the rows O3-WH-5500-125, O3-WH-5500-150 and O3-R55-16A.
    for (amps, size) in [(28.645_833, 30.0), (34.375, 35.0), (40.0, 40.0)] {
        assert_eq!(branch::standard_rating(Amps(amps)), Some(Amps(size)));
    }
    assert_eq!(branch::standard_rating(Amps(101.0)), None);
    assert_eq!(branch::largest_device(Watts(1500.0), Volts(120.0)), None);
}

#[test]
fn no_limit_is_made_up_for_another_nominal() {
    assert_eq!(supply::least_volts(Quality::A, Place::Service, Volts(208.0)), None);
    assert_eq!(supply::most_volts(Quality::A, Volts(230.0)), None);
}
