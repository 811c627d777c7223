//! Prints readings as the reference has them. Knows its rounding and what it writes as nothing.

use circuit::magnitude;

use crate::folder::Analysis;
use crate::readings::{Reading, Shown};

/// Ohms above which the display says OL.
const OVER_RANGE_OHMS: f64 = 60e6;

/// Is one reading as it stands in a row.
#[derive(Debug, PartialEq)]
pub(crate) struct Row {
    pub(crate) quantity: &'static str,
    pub(crate) unit: &'static str,
    pub(crate) magnitude: f64,
    /// Given only where the magnitude is ten times what is written as zero.
    pub(crate) degrees: Option<f64>,
    pub(crate) display: String,
}

/// Rounds away what the reference does not write.
pub(crate) fn row(shown: Shown) -> Row {
    let phasor = |quantity, unit, value: circuit::Complex64, least: f64| {
        let size = magnitude(value);
        Row {
            quantity,
            unit,
            magnitude: if size < least { 0.0 } else { size },
            degrees: (size >= 10.0 * least).then(|| libm::atan2(value.im, value.re).to_degrees()),
            display: String::new(),
        }
    };
    match shown {
        Shown::Volts(volts) => phasor("V", "V", volts, 5e-3),
        Shown::Amperes(amperes) => phasor("I", "A", amperes, 1e-6),
        Shown::Ohms(ohms) => Row {
            quantity: "R",
            unit: "ohm",
            magnitude: ohms,
            degrees: None,
            display: if ohms.abs() > OVER_RANGE_OHMS { "OL".to_owned() } else { significant(ohms, 4) },
        },
    }
}

/// Prints the header and a row for each reading.
pub(crate) fn print(readings: &[Reading]) -> String {
    let mut text = "analysis,state,fault,fault_kind,quantity,probe,magnitude,phase_deg,unit,display\r\n".to_owned();
    for reading in readings {
        let row = row(reading.shown);
        let analysis = match reading.analysis {
            Analysis::Energised => "ac",
            Analysis::Resistance => "dc",
        };
        let fields = [
            analysis,
            &quoted(&reading.state),
            &quoted(&reading.fault),
            &quoted(&reading.kind),
            row.quantity,
            &quoted(&reading.probe),
            &significant(row.magnitude, 7),
            &row.degrees.map_or_else(String::new, |d| format!("{d:.3}")),
            row.unit,
            &row.display,
        ];
        text.push_str(&fields.join(","));
        text.push_str("\r\n");
    }
    text
}

fn quoted(field: &str) -> String {
    if field.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", field.replace('"', "\"\""))
    } else {
        field.to_owned()
    }
}

/// Prints a number to so many significant digits, without trailing zeros, as C's `%g` does.
pub(crate) fn significant(value: f64, digits: usize) -> String {
    let scientific = format!("{value:.*e}", digits.saturating_sub(1));
    let Some((mantissa, exponent)) = scientific.split_once('e') else { return scientific };
    let power: i32 = exponent.parse().unwrap_or(0);
    let trim = |text: &str| {
        if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text.to_owned() }
    };
    let last = i32::try_from(digits).unwrap_or(i32::MAX);
    if (-4..last).contains(&power) {
        let places = usize::try_from(last - 1 - power).unwrap_or(0);
        trim(&format!("{value:.places$}"))
    } else {
        let sign = if power < 0 { '-' } else { '+' };
        format!("{}e{sign}{:02}", trim(mantissa), power.abs())
    }
}
