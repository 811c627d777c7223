//! Money over years. SOURCE: engineering economics, any textbook, from memory; checked against `numpy_financial`.

/// Gives the yearly amount that an outlay now comes to over so many years at this rate of interest.
#[must_use]
pub fn a_year(outlay: f64, rate: f64, years: f64) -> f64 {
    if rate.abs() < 1e-12 { outlay / years } else { outlay * rate / (1.0 - libm::pow(1.0 + rate, -years)) }
}
