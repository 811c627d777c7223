//! `callwright warmup` as a script sees it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may fail loudly")]

use serde_json::Value;
use std::process::{Command, Output};

fn callwright(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_callwright")).arg("warmup").args(args).env("NO_COLOR", "1").output().unwrap()
}

fn json(args: &[&str]) -> Value {
    let output = callwright(&[args, &["--json"]].concat());
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn complaint(args: &[&str]) -> String {
    let output = callwright(args);
    assert_eq!(output.status.code(), Some(1), "{args:?}");
    String::from_utf8(output.stderr).unwrap()
}

const BAKE: [&str; 5] = ["range-control-240", "--state", "bake", "--to", "350F"];

fn at(warm: &Value, seconds: f64) -> f64 {
    let curve = warm["curve"].as_array().unwrap();
    curve.iter().find(|point| point[0].as_f64() == Some(seconds)).unwrap()[1].as_f64().unwrap()
}

#[test]
fn warmup_gives_the_time_and_a_curve_from_rest_to_the_target() {
    let warm = json(&BAKE);
    assert_eq!(warm["reached"], true);
    assert!((warm["celsius"].as_f64().unwrap() - 176.67).abs() < 0.01);
    let seconds = warm["seconds"].as_f64().unwrap();
    let curve = warm["curve"].as_array().unwrap();
    assert!((at(&warm, 0.0) - 22.0).abs() < 1e-9);
    let points: Vec<(f64, f64)> =
        curve.iter().map(|point| (point[0].as_f64().unwrap(), point[1].as_f64().unwrap())).collect();
    assert!(points.windows(2).all(|pair| pair[0].0 < pair[1].0 && pair[0].1 < pair[1].1));
    assert!(points.iter().all(|(t, celsius)| (*celsius < 176.6) == (*t < seconds) || (t - seconds).abs() < 1.0));
}

#[test]
fn degrees_are_taken_in_either_scale_and_plain() {
    let seconds = |to: &str| json(&["range-control-240", "--state", "bake", "--to", to])["seconds"].as_f64().unwrap();
    assert!((seconds("212F") - seconds("100C")).abs() < 1e-6);
    assert!((seconds("100") - seconds("100 °c")).abs() < 1e-9);
}

#[test]
fn low_supply_dead_element_and_sound_oven_are_told_apart() {
    let preheat = |more: &[&str]| json(&[&["range-control-240", "--state", "preheat", "--to", "175C"], more].concat());
    let (sound, low, dead) = (preheat(&[]), preheat(&["--supply", "208"]), preheat(&["--fault", "bake:open"]));
    let [a, b, c] = [&sound, &low, &dead].map(|warm| warm["seconds"].as_f64().unwrap());
    assert!(a + 60.0 < b && b + 60.0 < c, "{a} s, {b} s, {c} s");
    let [a, b, c] = [&sound, &low, &dead].map(|warm| at(warm, 300.0));
    assert!(a > b + 10.0 && b > c + 10.0, "{a}, {b}, {c} degrees after five minutes");
}

#[test]
fn element_that_is_open_never_warms_the_oven() {
    let cold = json(&[&BAKE[..], &["--fault", "bake:open"]].concat());
    assert_eq!(cold["reached"], false);
    assert!(cold["seconds"].is_null());
    assert!((cold["ends_celsius"].as_f64().unwrap() - 22.0).abs() < 0.5);
}

#[test]
fn text_says_watts_and_minutes() {
    let text = String::from_utf8(callwright(&BAKE).stdout).unwrap();
    assert!(text.contains("W of heat on 240 V"), "{text}");
    assert!(text.contains("to 177 °C (350 °F): "), "{text}");
    assert!(text.contains("0:00 min  22 °C (72 °F)"), "{text}");
}

#[test]
fn two_legs_of_three_phases_are_told_by_the_volts_and_the_watts() {
    let preheat = |more: &[&str]| json(&[&["range-control-240", "--state", "preheat", "--to", "175C"], more].concat());
    let (sound, wye) = (preheat(&[]), preheat(&["--fault", "house:two-of-three"]));
    // 120 V a third of a turn apart: the square root of 3 times 120 V, and three quarters of the watts; by hand.
    assert!((wye["supply_volts"].as_f64().unwrap() - 207.846).abs() < 1e-3, "{wye}");
    let share = wye["watts"].as_f64().unwrap() / sound["watts"].as_f64().unwrap();
    assert!((share - 0.75).abs() < 0.002, "{share}");
}

#[test]
fn drifted_sensor_says_where_the_heat_goes_off() {
    let args = ["range-control-240", "--state", "preheat", "--to", "175C", "--fault", "sensor:drifted"];
    assert_eq!(json(&args)["reached"], false);
    let text = String::from_utf8(callwright(&args).stdout).unwrap();
    assert!(text.contains("never gets to 175 °C (347 °F): the heat goes off at 142 °C (287 °F)"), "{text}");
}

#[test]
fn mistakes_say_the_mend() {
    assert!(
        complaint(&["range-control-240", "--state", "bake", "--to", "hot"]).contains("write it as `350F` or `175C`")
    );
    assert!(complaint(&["range-control-240", "--state", "bakes", "--to", "350F"]).contains("did you mean `bake`"));
    assert!(complaint(&[&BAKE[..], &["--zone", "ovn"]].concat()).contains("did you mean `oven`"));
    assert!(complaint(&[&BAKE[..], &["--supply=-5"]].concat()).contains("`-5` is no supply"));
    assert!(
        complaint(&["dryer-timer-240", "--state", "dry", "--to", "60C", "--zone", "box"])
            .contains("give the zone its `heat`")
    );
}
