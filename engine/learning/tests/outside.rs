//! Conjugate updates against scipy, the Brier score against a sum by hand, weights against counting.
//! SOURCE of the first: scipy 1 (`beta`), run by the reference scripts handed to the project; of rates by age and paces: the
//! posterior mean by quadrature of prior times likelihood, scipy 1.17.1 (`gamma`, `poisson`, `norm`, `quad`).

use book::Work;
use learning::{Closed, STRENGTH, Share, Took, at_ages, drift, learned, paces, score, slower};
use std::collections::BTreeMap;

fn near(one: f64, other: f64, within: f64) {
    assert!((one / other - 1.0).abs() < within, "{one} for {other}");
}

#[test]
fn shares_are_scipys() {
    let one = Share::prior(2.0, 18.0).unwrap();
    let after = one.seen(3, 10);
    near(after.mean(), 0.166_666_666_7, 1e-9);
    for (probability, share) in [(0.025, 0.058_456_082_97), (0.5, 0.159_215_990_1), (0.975, 0.316_640_609_4)] {
        near(after.quantile(probability), share, 1e-7);
    }
    let flat = Share::prior(1.0, 1.0).unwrap();
    near(flat.seen(0, 12).mean(), 0.071_428_571_43, 1e-9);
    near(flat.seen(0, 12).quantile(0.975), 0.247_052_638, 1e-7);
    assert_eq!(Share::prior(0.0, 1.0), None);
}

#[test]
fn a_score_is_the_mean_squared_error() {
    let stated = [(0.9, true), (0.9, true), (0.8, false), (0.3, false), (0.1, false), (1.0, true)];
    let scored = score(&stated).unwrap();
    // 0.01 + 0.01 + 0.64 + 0.09 + 0.01 + 0 over six; always a half would have a quarter.
    near(scored.brier, 0.76 / 6.0, 1e-12);
    near(scored.brier_of_rate, 0.25, 1e-12);
    let top = scored.bins.last().unwrap();
    assert_eq!((top.count, scored.count), (3, 6));
    near(top.stated, 2.8 / 3.0, 1e-12);
    near(top.came_true, 1.0, 1e-12);
    assert_eq!(score(&[]), None);
}

fn closed(fault: &str, came_back: bool) -> Closed {
    Closed {
        id: "00112233445566778899aabbccddeeff-1".parse().map(book::JobId).expect("an id"),
        machine: "dryer".to_owned(),
        age_years: Some(7.0),
        at: "2026-03-02T09:15:00+01:00".parse().expect("a time"),
        month: "2026-03".to_owned(),
        faults: vec![fault.to_owned()],
        found: "heater: open".to_owned(),
        end: Some(book::End::Proved),
        visits: 1,
        is_callback: false,
        came_back,
        minutes_to_find: Some(20.0),
        parts: 1,
        proposals: (3, 0),
        stated: Vec::new(),
        readings: (4, 0),
        told: (2, 0),
        took: Vec::new(),
        charged: Vec::new(),
    }
}

#[test]
fn weights_are_counted_with_the_priors_strength() {
    let weights = BTreeMap::from([("heater:open".to_owned(), 6.0), ("fuse:open".to_owned(), 4.0)]);
    let mut jobs = vec![closed("heater:open", false); 20];
    jobs.push(closed("fuse:open", true));
    jobs.push(closed("belt:broken", false));
    let taught = learned(&weights, &jobs, "dryer");
    assert_eq!(taught.from.len(), 20);
    let (before, after, count) = taught.weights["heater:open"];
    assert_eq!((before.to_bits(), count), (6.0_f64.to_bits(), 20));
    near(after, (STRENGTH * 0.6 + 20.0) / (STRENGTH + 20.0) * 10.0, 1e-12);
    // What was never found loses what the other gains: the sum stays.
    near(after + taught.weights["fuse:open"].1, 10.0, 1e-12);
    assert!(learned(&weights, &jobs, "range").from.is_empty());
    // 21 jobs of 20 minutes where 30 are usual, with ten of 30: the one that came back teaches nothing.
    near(slower(&jobs, "dryer", 30.0).unwrap(), (10.0 + 21.0 * 20.0 / 30.0) / 31.0, 1e-12);
    assert_eq!(slower(&jobs, "range", 30.0), None);
    // Twenty of twenty where six in ten were expected: 0.6^20.
    let told = drift(&weights, &jobs[..20], "dryer");
    assert_eq!((told[0].0.as_str(), told[0].1), ("heater:open", 20));
    near(told[0].3, libm::pow(0.6, 20.0), 1e-6);
    assert!(drift(&weights, &jobs[..2], "dryer").is_empty());
}

#[test]
fn rates_by_age_are_a_gamma_belief_with_poisson_counts() {
    let weights = |_: f64| BTreeMap::from([("heater:open".to_owned(), 5.0), ("fuse:open".to_owned(), 5.0)]);
    let mut jobs: Vec<Closed> = (0..5).map(|_| closed("heater:open", false)).collect();
    jobs.extend((0..6).map(|_| Closed { age_years: Some(2.0), ..closed("fuse:open", false) }));
    jobs.push(Closed { age_years: None, ..closed("fuse:open", false) });
    jobs.push(closed("fuse:open", true));
    let ages = at_ages(&weights, &jobs, "dryer");
    let of = |fault: &str, band: usize| ages[fault][band];
    // Five jobs at 7 years, all of them the heater where half were expected; six at 2 years, all the fuse.
    assert_eq!((of("heater:open", 1).cases, of("heater:open", 0).cases), (5, 0));
    near(of("heater:open", 1).expected, 2.5, 1e-12);
    near(of("heater:open", 0).times, 0.571_428_571_428_571_5, 1e-9);
    near(of("heater:open", 2).times, 1.0, 1e-12);
    let seven = (0..2).map(|_| closed("heater:open", false));
    let more: Vec<Closed> = jobs.iter().filter(|job| job.age_years == Some(7.0)).cloned().chain(seven).collect();
    // Seven found where two and a half are expected: weights that leave the heater 2.5 in 7.
    let fewer = |_: f64| BTreeMap::from([("heater:open".to_owned(), 2.5), ("fuse:open".to_owned(), 4.5)]);
    near(at_ages(&fewer, &more, "dryer")["heater:open"][1].times, 1.692_307_692_307_692_5, 1e-9);
    assert!(at_ages(&weights, &jobs, "range").is_empty());
}

#[test]
fn paces_are_a_normal_belief_about_logarithms() {
    let took = |work, minutes| Took { work, of: String::new(), minutes };
    let looks = [2.0, 1.5, 1.2, 0.9].map(|minutes| took(Work::Look, minutes));
    let mut job = Closed { took: looks.to_vec(), ..closed("heater:open", false) };
    // A pause, two things recorded at once, and a repair of which nothing usual is known.
    job.took.extend([took(Work::Look, 45.0), took(Work::Look, 0.0), took(Work::Repair, 12.0)]);
    let usual = |machine: &str, took: &Took| (machine == "dryer" && took.work == Work::Look).then_some(1.0);
    let paces = paces(&[job], &usual);
    let look = paces[&Work::Look];
    near(look.times, 1.087_595_747_254_420_7, 1e-9);
    assert_eq!((look.cases, look.aside, paces.len()), (4, 2, 1));
}

#[test]
fn figures_and_records_leave_names_out() {
    let mut jobs = vec![closed("heater:open", false); 3];
    jobs.push(closed("fuse:open", true));
    let of: Vec<&Closed> = jobs.iter().collect();
    let all = learning::figures(&of);
    assert_eq!((all.jobs, all.first_visit, all.came_back, all.needless_parts), (4, 3, 1, 1));
    let (share, low, high) = all.share(all.first_visit).unwrap();
    assert!(low < share && share < high && share > 0.74);
    let said = learning::report("2026-03", &all, &learning::Figures::default());
    assert!(said[1].contains("3 of 4, 75 %"), "{said:?}");
    let rows = learning::ords::csv(&jobs, "demo", "US", |_| "electric dryer".to_owned()).unwrap();
    let lines: Vec<&str> = rows.lines().collect();
    // SOURCE: ORDS, field reference and code lists.
    assert_eq!(
        lines[1],
        "1,electric dryer,Large home electrical,17,,2019,7,heater: open,Fixed,,demo,2026-03-02,demo,USA"
    );
    assert!(lines[4].contains(",Unknown,"));
}
