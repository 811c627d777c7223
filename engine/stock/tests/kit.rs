//! The kit against full enumeration: every load within the limits, every way in which the needs may come true.

use rust_decimal::Decimal;
use stock::kit::expected_fixes;
use stock::{CallToCome, Limits, Loadable, Need, best_kit};

/// A seeded stream of numbers; SOURCE: the 64-bit linear congruential generator of Knuth's MMIX, from memory.
struct Stream(u64);

impl Stream {
    fn next(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % below
    }

    fn part(&mut self) -> usize {
        usize::try_from(self.next(4)).expect("below four")
    }

    fn share(&mut self) -> f64 {
        self.next(1000) as f64 / 1000.0
    }
}

fn part(price: u64, litres: f64, aboard: u32, at_most: u32) -> Loadable {
    Loadable { price: Decimal::from(price), litres, aboard, at_most }
}

fn need(chance: f64, parts: &[usize]) -> Need {
    Need { chance, parts: parts.to_vec() }
}

/// Works the calls in order under every combination of needs; nothing of the crate's own reckoning is used.
fn fixes_by_enumeration(stock: &[u32], calls: &[CallToCome]) -> f64 {
    let Some((first, rest)) = calls.split_first() else { return 0.0 };
    let mut sum = 0.0;
    let mut left = 1.0;
    for need in &first.needs {
        let mut after = stock.to_vec();
        let there = need.parts.iter().all(|&part| match after[part] {
            0 => false,
            _ => {
                after[part] -= 1;
                true
            }
        });
        let (fixed, after) = if there { (1.0, after) } else { (0.0, stock.to_vec()) };
        sum += need.chance * (fixed + fixes_by_enumeration(&after, rest));
        left -= need.chance;
    }
    sum + left * fixes_by_enumeration(stock, rest)
}

fn best_by_enumeration(parts: &[Loadable], calls: &[CallToCome], limits: &Limits) -> f64 {
    let mut best = 0.0_f64;
    let mut load = vec![0_u32; parts.len()];
    loop {
        let of = |each: fn(&Loadable) -> f64| -> f64 {
            parts.iter().zip(&load).map(|(part, count)| each(part) * f64::from(*count)).sum()
        };
        let price: Decimal = parts.iter().zip(&load).map(|(part, count)| part.price * Decimal::from(*count)).sum();
        if price <= limits.money && of(|part| part.litres) <= limits.litres + 1e-9 {
            let stock: Vec<u32> = parts.iter().zip(&load).map(|(part, count)| part.aboard + count).collect();
            best = best.max(fixes_by_enumeration(&stock, calls));
        }
        let Some(turn) = (0..load.len()).find(|&at| load[at] < parts[at].at_most) else { return best };
        load[turn] += 1;
        load[..turn].fill(0);
    }
}

fn drawn(stream: &mut Stream, several: bool) -> (Vec<Loadable>, Vec<CallToCome>, Limits) {
    let parts: Vec<Loadable> = (0..4)
        .map(|_| part(5 + stream.next(60), 0.5 + 6.0 * stream.share(), u32::from(stream.next(4) == 0), 2))
        .collect();
    let calls = (0..3)
        .map(|_| {
            let mut left = 1.0;
            let needs = (0..3).map(|_| {
                let chance = left * stream.share() * 0.8;
                left -= chance;
                let first = stream.part();
                let more = if several && stream.next(2) == 0 { vec![stream.part()] } else { Vec::new() };
                need(chance, &[vec![first], more].concat())
            });
            CallToCome { needs: needs.collect() }
        })
        .collect();
    (parts, calls, Limits { money: Decimal::from(30 + stream.next(100)), litres: 3.0 + 12.0 * stream.share() })
}

#[test]
fn the_kit_is_the_best_of_all_by_enumeration() {
    let mut stream = Stream(11);
    let (mut loaded, mut proved) = (0, 0);
    for round in 0..120 {
        let (parts, calls, limits) = drawn(&mut stream, round % 2 == 1);
        let kit = best_kit(&parts, &calls, &limits).unwrap();
        let stock: Vec<u32> = parts.iter().zip(&kit.load).map(|(part, count)| part.aboard + count).collect();
        let (own, best) = (fixes_by_enumeration(&stock, &calls), best_by_enumeration(&parts, &calls, &limits));
        assert!((kit.fixes - own).abs() < 1e-9, "round {round}: says {}, is {own}", kit.fixes);
        assert!(kit.gap > 0.0 || (own - best).abs() < 1e-6, "round {round}: {own} of {best}");
        assert!(best - own <= kit.gap + 1e-6, "round {round}: {own} of {best}, gap {}", kit.gap);
        proved += usize::from(kit.gap <= 0.0);
        loaded += kit.load.iter().sum::<u32>();
    }
    assert!(loaded > 100, "{loaded}");
    assert!(proved >= 114, "{proved}");
}

#[test]
fn what_a_part_adds_is_what_leaving_it_out_loses() {
    let parts = [part(20, 1.0, 0, 2), part(20, 1.0, 0, 2), part(20, 1.0, 0, 2)];
    let calls =
        [CallToCome { needs: vec![need(0.6, &[0]), need(0.3, &[1])] }, CallToCome { needs: vec![need(0.5, &[0])] }];
    let kit = best_kit(&parts, &calls, &Limits { money: Decimal::from(40), litres: 10.0 }).unwrap();
    // One of part 0: 1 - 0.4 * 0.5 = 0.8; a second: 0.3; part 1: 0.3. Either pair is best at 1.1.
    assert!((kit.fixes - 1.1).abs() < 1e-12, "{}", kit.fixes);
    assert_eq!(kit.load[2], 0);
    assert!(kit.adds[2].abs() < 1e-12);
    assert!((kit.adds[0] - if kit.load[0] == 2 { 0.3 } else { 0.8 }).abs() < 1e-12, "{:?}", kit.adds);
    assert!((expected_fixes(&[1, 1, 0], &calls) - 1.1).abs() < 1e-12);
}

#[test]
fn what_is_aboard_costs_nothing_and_what_is_useless_stays_here() {
    let parts = [part(20, 1.0, 1, 2), part(1, 1.0, 0, 2)];
    let calls = [CallToCome { needs: vec![need(0.9, &[0])] }];
    let kit = best_kit(&parts, &calls, &Limits { money: Decimal::from(100), litres: 10.0 }).unwrap();
    assert_eq!(kit.load, [0, 0]);
    assert!((kit.fixes - 0.9).abs() < 1e-12 && (kit.fixes_without - 0.9).abs() < 1e-12);
}

#[test]
fn wrong_input_is_refused_in_words() {
    let parts = [part(20, 1.0, 0, 1)];
    let limits = Limits { money: Decimal::from(10), litres: 1.0 };
    for (bad, word) in [(need(1.2, &[0]), "chances"), (need(f64::NAN, &[0]), "chances"), (need(0.2, &[3]), "list")] {
        let refused = best_kit(&parts, &[CallToCome { needs: vec![bad] }], &limits).unwrap_err();
        assert!(refused.to_string().contains(word), "{refused}");
    }
    assert!(best_kit(&[part(1, f64::NAN, 0, 1)], &[], &limits).is_err());
    assert!(best_kit(&parts, &[], &Limits { litres: f64::INFINITY, ..limits }).is_err());
}
