//! Meters as the text of a file, which [`crate::read`] reads back as the same meters.

use crate::kit::{Meters, Own};
use prediction::Accuracy;
use std::fmt::{Display, Write};

/// Writes meters as the text of a meters file.
#[must_use]
pub fn write(meters: &Meters) -> String {
    let mut text = "callwright-meters = 1\n".to_owned();
    meters.meters.iter().for_each(|own| meter(&mut text, own));
    text
}

fn meter(text: &mut String, own: &Own) {
    text.push_str("\n[[meter]]\n");
    line(text, "id", quoted(&own.id));
    line(text, "say", quoted(&own.say));
    for volts in &own.volts {
        text.push_str("\n[[meter.volts]]\n");
        accuracy(text, &volts.accuracy);
        line(text, "input_ohms", number(volts.input_ohms));
        line(text, "least_volts", number(volts.least_volts));
    }
    if let Some(ohms) = &own.ohms {
        text.push_str("\n[meter.ohms]\n");
        accuracy(text, &ohms.accuracy);
        line(text, "limit_ohms", number(ohms.limit_ohms));
        line(text, "test_amps", number(ohms.test_amps));
        line(text, "lead_ohms", number(ohms.lead_ohms));
        line(text, "lead_zeroed", ohms.lead_zeroed);
    }
    if let Some(buzzer) = &own.continuity {
        text.push_str("\n[meter.continuity]\n");
        line(text, "threshold_ohms", number(buzzer.threshold_ohms));
    }
    if let Some(clamp) = &own.clamp {
        text.push_str("\n[meter.clamp]\n");
        accuracy(text, &clamp.accuracy);
        line(text, "least_amps", number(clamp.least_amps));
    }
    if let Some(capacitance) = &own.capacitance {
        text.push_str("\n[meter.capacitance]\n");
        accuracy(text, &capacitance.accuracy);
    }
    if let Some(temperature) = &own.temperature {
        text.push_str("\n[meter.temperature]\n");
        accuracy(text, &temperature.accuracy);
    }
    if let Some(insulation) = &own.insulation {
        text.push_str("\n[meter.insulation]\n");
        line(text, "test_volts", number(insulation.test_volts));
        line(text, "limit_ohms", number(insulation.limit_ohms));
    }
}

fn accuracy(text: &mut String, of: &Accuracy) {
    // Nine places: what the change to percent leaves behind is below them.
    line(text, "percent", number((of.share * 1e11).round() / 1e9));
    line(text, "digits", number(of.digits));
    line(text, "resolution", number(of.resolution));
    if let Some(counts) = of.counts {
        line(text, "counts", number(counts));
    }
}

fn line(text: &mut String, key: &str, value: impl Display) {
    // Writing into a text cannot fail.
    let _ = writeln!(text, "{key} = {value}");
}

/// Writes a number with a point in it, the shortest that reads back as the same.
fn number(number: f64) -> String {
    format!("{number:?}")
}

/// Writes a basic string of TOML: the signs that must be escaped are, and no others.
fn quoted(text: &str) -> String {
    let mut quoted = "\"".to_owned();
    for sign in text.chars() {
        match sign {
            '"' => quoted.push_str("\\\""),
            '\\' => quoted.push_str("\\\\"),
            sign if sign.is_control() => {
                let _ = write!(quoted, "\\u{:04X}", u32::from(sign));
            }
            sign => quoted.push(sign),
        }
    }
    quoted.push('"');
    quoted
}
