//! Meters against arithmetic worked by hand from what "percent of reading plus digits" means in every meter's manual.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use prediction::{Accuracy, Condition, Meter, Prediction, Predictor, Probe, Quantity, Reading, Shown};

fn shows(value: f64) -> Prediction {
    Prediction { shown: Shown::Value { value, phase_deg: 0.0, sigma: 0.0 } }
}

fn near(got: f64, wanted: f64) {
    assert!((got - wanted).abs() <= 1e-9 * wanted.abs().max(1.0), "{got} instead of {wanted}");
}

#[test]
fn percent_and_digits_add_up() {
    // 0.9 % + 3 digits at 240.0 V, 0.1 V a digit: 2.16 V + 0.3 V.
    let volts = Accuracy { share: 0.009, digits: 3.0, resolution: 0.1, counts: None };
    near(volts.half_width(240.0), 2.46);
    // The digits alone at nothing.
    near(volts.half_width(0.0), 0.3);
    // A sign is no matter.
    near(volts.half_width(-240.0), 2.46);
}

#[test]
fn a_digit_grows_with_the_range() {
    // 6000 counts of 0.1 ohm: ranges of 600 ohm, 6 kohm, 60 kohm; a digit is 0.1, 1, 10 ohm.
    let ohms = Accuracy { share: 0.01, digits: 5.0, resolution: 0.1, counts: Some(6000.0) };
    near(ohms.half_width(10.0), 0.1 + 0.5);
    near(ohms.half_width(600.0), 6.0 + 0.5);
    near(ohms.half_width(2_400.0), 24.0 + 5.0);
    near(ohms.half_width(10_500.0), 105.0 + 50.0);
}

#[test]
fn sigma_is_half_of_the_manual_s_figure_where_nothing_else_counts() {
    let mut meter = Meter::ordinary();
    meter.volts = Accuracy { share: 0.01, digits: 5.0, resolution: 0.1, counts: None };
    meter.volts_floor = 0.0;
    // 1 % of 120 V and 5 digits of 0.1 V: 1.2 V + 0.5 V.
    near(shows(120.0).sigma(Quantity::Volts, &meter), 0.85);
    let (low, high) = shows(120.0).interval(Quantity::Volts, &meter);
    near(low, 118.3);
    near(high, 121.7);
}

#[test]
fn the_ordinary_meter_is_as_it_was() {
    // 1.2 % of 240 V is 2.88 V, beside it half a volt; halved, in quadrature.
    let meter = Meter::ordinary();
    near(shows(240.0).sigma(Quantity::Volts, &meter), (1.44_f64 * 1.44 + 0.25 * 0.25).sqrt());
    // 1.2 % of 10 ohm is 0.12 ohm, beside it leads of 0.2 ohm.
    near(shows(10.0).sigma(Quantity::Ohms, &meter), (0.06_f64 * 0.06 + 0.1 * 0.1).sqrt());
    assert!(meter.takes(Quantity::Volts) && meter.takes(Quantity::Ohms) && !meter.takes(Quantity::Amps));
}

#[test]
fn zeroed_leads_add_nothing_and_leave_a_quarter_of_their_spread() {
    let mut meter = Meter::ordinary();
    near(meter.lead_shown(), 0.2);
    meter.lead_zeroed = true;
    near(meter.lead_shown(), 0.0);
    near(meter.least(Quantity::Ohms), 0.05);
}

#[test]
fn a_low_input_shows_next_to_nothing_across_islands() {
    let mut meter = Meter::ordinary();
    assert_eq!(meter.across_islands(240.0), Shown::Ghost { highest: 240.0 });
    meter.volts_input_ohms = 3_000.0;
    // 240 V over 3 kohm and 1 nF in series at 60 Hz (2.653 Mohm): 240 * 3000 / 2652584 = 0.2714 V.
    let Shown::Value { value, sigma, .. } = meter.across_islands(240.0) else { unreachable!("a figure") };
    near(value, 0.0);
    assert!((2.0 * sigma - 0.2714).abs() < 1e-4, "{sigma}");
    // Nothing is known of the neighbours: nothing is said.
    assert_eq!(meter.across_islands(f64::INFINITY), Shown::Ghost { highest: f64::INFINITY });
}

#[test]
fn the_buzzer_sounds_up_to_its_threshold() {
    let mut meter = Meter::ordinary();
    meter.continuity_ohms = Some(30.0);
    assert_eq!(meter.sounds(shows(30.0).shown), Some(true));
    assert_eq!(meter.sounds(shows(30.1).shown), Some(false));
    assert_eq!(meter.sounds(Shown::OverRange), Some(false));
    assert_eq!(meter.sounds(Shown::Ghost { highest: 120.0 }), None);
    meter.continuity_ohms = None;
    assert_eq!(meter.sounds(shows(1.0).shown), None);
}

#[test]
fn a_floating_point_of_the_dryer_fools_only_the_high_input() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../machines/dryer-timer-240.toml");
    let machine = machine::read(&std::fs::read_to_string(path).unwrap()).machine.unwrap();
    let heat = machine.state("heat").unwrap_or(machine::model::StateId(1));
    let high = Predictor::new(&machine, Meter::ordinary());
    let low = Predictor::new(&machine, Meter { volts_input_ohms: 3_000.0, ..Meter::ordinary() });
    // Unplugged, the two legs of the receptacle side are live and the machine floats against them.
    let mut ghosts = 0;
    for a in 0..machine.terminals.len() {
        let id = |at: usize| machine::model::TerminalId(u16::try_from(at).unwrap());
        for b in 0..a {
            let probe = Probe::Across(id(a), id(b));
            let condition = Condition { plugged: false, ..Condition::running(heat) };
            let reading = Reading { quantity: Quantity::Volts, probe, condition };
            match high.predict(&reading, &[]).shown {
                Shown::Ghost { highest } if highest.is_finite() && highest > 100.0 => {}
                _ => continue,
            }
            ghosts += 1;
            let (_, most) = low.predict(&reading, &[]).interval(Quantity::Volts, low.meter());
            assert!(most < 1.0, "{most} V");
        }
    }
    assert!(ghosts > 0, "no two points float against each other");
}
