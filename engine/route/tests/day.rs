//! A day's order against all orders, its lateness against every way in which the minutes may come out, and distances
//! against published ones.

use route::{Day, Point, Spread, Stop, Weights, minutes_between, order_of, plan, walk};

/// A seeded stream of numbers; SOURCE: the 64-bit linear congruential generator of Knuth's MMIX, from memory.
struct Stream(u64);

impl Stream {
    fn below(&mut self, below: u32) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from((self.0 >> 33) % u64::from(below)).unwrap_or_default())
    }
}

fn drawn(stream: &mut Stream, calls: usize) -> Day {
    let points: Vec<(f64, f64)> = (0..=calls).map(|_| (stream.below(40), stream.below(40))).collect();
    let way = |one: &(f64, f64), other: &(f64, f64)| libm::hypot(one.0 - other.0, one.1 - other.1);
    let travel = points.iter().map(|one| points.iter().map(|other| way(one, other)).collect()).collect();
    let stop = |place: usize, stream: &mut Stream| {
        let opens = 480.0 + stream.below(300);
        let minutes = [(20.0 + stream.below(20), 2.0), (60.0 + stream.below(60), 1.0)];
        let window = (!place.is_multiple_of(3)).then_some((opens, opens + 60.0 + stream.below(120)));
        Stop { place, window, minutes: Spread::mixed(&minutes, 0.3).expect("weights") }
    };
    let stops = (1..=calls).map(|place| stop(place, stream)).collect();
    Day { travel, from: 0, home: 0, leaves: 480.0, back_by: 1020.0, stops }
}

fn orders(of: usize) -> Vec<Vec<usize>> {
    if of == 0 {
        return vec![Vec::new()];
    }
    let longer = |shorter: Vec<usize>| {
        (0..of).map(move |at| {
            let mut order = shorter.clone();
            order.insert(at, of - 1);
            order
        })
    };
    orders(of - 1).into_iter().flat_map(longer).collect()
}

#[test]
fn the_order_is_the_best_of_all_in_expectation() {
    let mut stream = Stream(5);
    for calls in [0, 1, 3, 5, 5, 6, 6] {
        let day = drawn(&mut stream, calls);
        let weights = Weights::default();
        let all = orders(calls).into_iter().map(|order| walk(&day, &order, &weights).cost);
        let best = all.min_by(f64::total_cmp).unwrap();
        let found = plan(&day, &weights).unwrap();
        assert!((found.cost - best).abs() < 1e-6, "{calls}: {} for {best}", found.cost);
        let mut order = order_of(&day, &weights).unwrap();
        order.sort_unstable();
        assert_eq!(order, (0..calls).collect::<Vec<_>>());
    }
}

/// Two calls, the first of two sure lengths: everything can be reckoned by hand.
#[test]
fn lateness_is_what_the_minutes_make_it() {
    let either = Spread::mixed(&[(30.0, 3.0), (90.0, 1.0)], 0.0).unwrap();
    let stop = |place, window, minutes| Stop { place, window, minutes };
    let travel = vec![vec![0.0, 20.0, 30.0], vec![20.0, 0.0, 10.0], vec![30.0, 10.0, 0.0]];
    let stops = vec![stop(1, Some((510.0, 540.0)), either), stop(2, Some((540.0, 570.0)), Spread::sure(40.0))];
    let day = Day { travel, from: 0, home: 0, leaves: 480.0, back_by: 640.0, stops };
    let weights = Weights { late: 10.0, after_hours: 2.0, waited: 0.5 };
    let walked = walk(&day, &[0, 1], &weights);
    // Leaves 8:00, there 8:20, waits for 8:30; done 9:00 or 10:00; there 9:10 (in time) or 10:10 (40 late), 3 to 1.
    let [first, second] = walked.visits.as_slice() else { panic!("{walked:?}") };
    assert!((first.waits - 10.0).abs() < 1e-9 && first.late.abs() < 1e-12);
    assert!((second.late - 0.25).abs() < 1e-9 && (second.minutes_late - 10.0).abs() < 1e-9, "{second:?}");
    assert!((second.there.0 - 565.0).abs() < 1e-9 && (second.there.2 - 610.0).abs() < 1e-9, "{second:?}");
    // Home at 10:20 or 11:20: 40 minutes after hours in one of four.
    assert!((walked.home.0 - 635.0).abs() < 1e-9 && (walked.after_hours - 0.25).abs() < 1e-9, "{walked:?}");
    let cost = 60.0 + 0.5 * 10.0 + 10.0 * 10.0 + 2.0 * 10.0;
    assert!((walked.cost - cost).abs() < 1e-9, "{}", walked.cost);
}

#[test]
fn a_spread_adds_its_means_and_deviations() {
    let one = Spread::mixed(&[(25.0, 1.0), (80.0, 1.0)], 0.4).unwrap();
    let other = Spread::mixed(&[(47.0, 1.0)], 0.5).unwrap();
    let both = one.then(&other);
    assert!((both.mean() - one.mean() - other.mean()).abs() < 1e-3);
    let variance = |of: &Spread| of.deviation() * of.deviation();
    assert!((variance(&both) - variance(&one) - variance(&other)).abs() < 0.05);
    // A triangle over 2h has the variance h^2 / 6. SOURCE: any handbook of statistics, from memory.
    assert!((other.deviation() - 23.5 / 6.0_f64.sqrt()).abs() < 0.1, "{}", other.deviation());
    assert!((one.mean() - 52.5).abs() < 0.1 && (one.over(50.0) - 0.5).abs() < 0.02);
    let waits = one.not_before(40.0);
    assert!(waits.quantile(0.0) >= 40.0 && (waits.over(50.0) - one.over(50.0)).abs() < 1e-9);
    assert!((one.beyond(60.0) - (one.then(&Spread::sure(0.0)).not_before(60.0).mean() - 60.0)).abs() < 1e-6);
    for bad in [Spread::mixed(&[], 0.1), Spread::mixed(&[(f64::NAN, 1.0)], 0.1), Spread::mixed(&[(5.0, -1.0)], 0.1)] {
        assert_eq!(bad, None);
    }
}

/// SOURCE: the worked example of the haversine formula that goes round with the airports of Nashville and Los Angeles:
/// 2886.44 km at a radius of 6371 km, from memory.
#[test]
fn the_straight_way_is_the_known_one() {
    let (one, other) = (Point::new(36.12, -86.67).unwrap(), Point::new(33.94, -118.4).unwrap());
    assert!((one.metres_to(other) / 1000.0 - 2886.44).abs() < 0.1, "{}", one.metres_to(other));
    assert!(one.metres_to(one) < 1e-6 && minutes_between(one, one, 10.0) < 1e-9);
    let near = Point::new(36.13, -86.67).unwrap();
    // 1112 m straight, 1446 m by road at 10 m/s: 2.4 minutes and 3 for parking.
    assert!((minutes_between(one, near, 10.0) - 5.41).abs() < 0.02, "{}", minutes_between(one, near, 10.0));
    assert_eq!(Point::new(91.0, 0.0), None);
    assert_eq!(Point::new(0.0, f64::NAN), None);
}
