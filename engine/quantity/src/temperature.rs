//! Reading a temperature that a person typed: `350F`, `175 °C`, a plain number of degrees Celsius.

use crate::{Celsius, Fahrenheit};

/// Reads a temperature; `None` for what is none, or lies below absolute zero.
#[must_use]
pub fn parse_celsius(text: &str) -> Option<Celsius> {
    let plain = text.trim().replace('°', "").to_uppercase();
    let (number, fahrenheit) = match (plain.strip_suffix('F'), plain.strip_suffix('C')) {
        (Some(number), _) => (number, true),
        (_, Some(number)) => (number, false),
        _ => (plain.as_str(), false),
    };
    let degrees = number.trim().parse::<f64>().ok().filter(|degrees| degrees.is_finite())?;
    let celsius = if fahrenheit { Celsius::from(Fahrenheit(degrees)) } else { Celsius(degrees) };
    Some(celsius).filter(|celsius| celsius.0 >= -273.15)
}

#[cfg(test)]
mod tests {
    use super::parse_celsius;

    #[test]
    fn temperatures_are_read_in_both_scales_and_nothing_else_is() {
        // 32 °F is 0 °C and 212 °F is 100 °C by definition of the scales.
        for (text, celsius) in [("32F", 0.0), ("212 °F", 100.0), ("175", 175.0), ("-3.5c", -3.5)] {
            assert!((parse_celsius(text).unwrap().0 - celsius).abs() < 1e-9, "{text}");
        }
        for text in ["", "hot", "F", "1e999", "-300", "12 K"] {
            assert_eq!(parse_celsius(text), None, "{text}");
        }
    }
}
