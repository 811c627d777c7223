//! How values and ranges are shown to a technician.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first surprise")]

use quantity::{Amps, Celsius, Fahrenheit, Farads, Interval, Minutes, Ohms, Unit, Volts, Watts, show, show_range};

#[test]
fn values_show_the_digits_a_pocket_meter_would() {
    for (value, unit, shown) in [
        (9.6, Unit::Ohm, "9.6 ohm"),
        (9.142_857, Unit::Ohm, "9.14 ohm"),
        (22.153_846, Unit::Ohm, "22.2 ohm"),
        (16.0, Unit::Ohm, "16.0 ohm"),
        (470.0, Unit::Ohm, "470 ohm"),
        (352.666_67, Unit::Ohm, "353 ohm"),
        (1077.935, Unit::Ohm, "1.078 kohm"),
        (4700.0, Unit::Ohm, "4.7 kohm"),
        (107_094.868, Unit::Ohm, "107.1 kohm"),
        (300_000.0, Unit::Ohm, "300 kohm"),
        (2e6, Unit::Ohm, "2.0 Mohm"),
        (0.3, Unit::Ohm, "0.30 ohm"),
        (0.0, Unit::Ohm, "0.0 ohm"),
        (-0.001, Unit::Ohm, "0.00 ohm"),
        (999.96, Unit::Ohm, "1.0 kohm"),
        (f64::INFINITY, Unit::Ohm, "OL"),
        (120.0, Unit::Volt, "120 V"),
        (120.4, Unit::Volt, "120.4 V"),
        (240.0, Unit::Volt, "240 V"),
        (-0.3, Unit::Volt, "-0.30 V"),
        (0.012, Unit::Volt, "12.0 mV"),
        (10.833_333, Unit::Amp, "10.83 A"),
        (22.5, Unit::Amp, "22.5 A"),
        (0.35, Unit::Amp, "350 mA"),
        (0.0035, Unit::Amp, "3.5 mA"),
        (2600.0, Unit::Watt, "2600 W"),
        (1953.4, Unit::Watt, "1953 W"),
        (12_000.0, Unit::Watt, "12.0 kW"),
        (45e-6, Unit::Farad, "45.0 uF"),
        (12.4, Unit::Minute, "12 min"),
        (350.0, Unit::Fahrenheit, "350 F"),
        (20.531, Unit::Celsius, "20.5 C"),
    ] {
        assert_eq!(show(value, unit), shown);
    }
}

#[test]
fn ranges_share_their_unit_and_decimals() {
    for (low, high, unit, shown) in [
        (9.6, 11.2, Unit::Ohm, "9.6 to 11.2 ohm"),
        (21.098_901, 24.615_385, Unit::Ohm, "21.1 to 24.6 ohm"),
        (9.142_857, 10.666_667, Unit::Ohm, "9.14 to 10.67 ohm"),
        (1069.0, 1087.0, Unit::Ohm, "1.069 to 1.087 kohm"),
        (950.0, 1050.0, Unit::Ohm, "0.95 to 1.05 kohm"),
        (0.5, 4700.0, Unit::Ohm, "0.50 ohm to 4.7 kohm"),
        (0.0, 4700.0, Unit::Ohm, "0.0 to 4.7 kohm"),
        (114.0, 126.0, Unit::Volt, "114 to 126 V"),
        (0.0, 240.0, Unit::Volt, "0 to 240 V"),
        (5.0, 5.0, Unit::Ohm, "5.0 ohm"),
        (1e6, f64::INFINITY, Unit::Ohm, "1.0 Mohm or more"),
        (f64::INFINITY, f64::INFINITY, Unit::Ohm, "OL"),
        (f64::NAN, 3.0, Unit::Ohm, "?"),
        (15.0, 25.0, Unit::Minute, "15 to 25 min"),
    ] {
        assert_eq!(show_range(low, high, unit), shown);
    }
}

#[test]
fn newtypes_show_themselves_and_line_up_in_a_table() {
    assert_eq!(format!("{:>10}|", Ohms(9.6)), "   9.6 ohm|");
    assert_eq!(format!("{:<10}|", Volts(240.0)), "240 V     |");
    assert_eq!(Amps(0.35).to_string(), "350 mA");
    assert_eq!(Watts(2600.0).to_string(), "2600 W");
    assert_eq!(Farads(45e-6).to_string(), "45.0 uF");
    assert_eq!(Minutes(12.0).to_string(), "12 min");
    assert_eq!(Ohms(f64::INFINITY).to_string(), "OL");
}

#[test]
fn temperatures_convert_both_ways() {
    // 77 F is 25 C by definition of the two scales.
    assert!((Celsius::from(Fahrenheit(77.0)).value() - 25.0).abs() < 1e-12);
    assert!((Fahrenheit::from(Celsius(25.0)).value() - 77.0).abs() < 1e-12);
}

#[test]
fn an_interval_orders_its_ends_and_refuses_nothing_else() {
    let interval = Interval::new(11.2, 9.6).unwrap();
    assert!(interval.contains(9.6) && interval.contains(11.2) && !interval.contains(9.59));
    assert_eq!(interval.show(Unit::Ohm), "9.6 to 11.2 ohm");
    assert_eq!(Interval::around(240.0, 0.05).unwrap().show(Unit::Volt), "228 to 252 V");
    assert!(Interval::new(f64::NAN, 1.0).is_none());
}
