//! Money over years. SOURCE: engineering economics, any textbook, from memory; checked against `numpy_financial`.

/// Gives the yearly amount that an outlay now comes to over so many years at this rate of interest.
#[must_use]
pub fn a_year(outlay: f64, rate: f64, years: f64) -> f64 {
    if rate.abs() < 1e-12 { outlay / years } else { outlay * rate / (1.0 - libm::pow(1.0 + rate, -years)) }
}

/// Gives what yearly amounts are worth now, the first of them now.
#[must_use]
pub fn worth_now(flows: &[f64], rate: f64) -> f64 {
    flows.iter().rev().fold(0.0, |later, flow| flow + later / (1.0 + rate))
}

/// Gives the rate at which yearly amounts are worth nothing now; `None` where no rate between -99 % and 1000 % does that.
#[must_use]
pub fn own_rate(flows: &[f64]) -> Option<f64> {
    let (mut low, mut high) = (-0.99, 10.0);
    let at = |rate: f64| worth_now(flows, rate);
    if at(low) * at(high) > 0.0 {
        return None;
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if at(low) * at(middle) <= 0.0 { high = middle } else { low = middle }
    }
    Some(0.5 * (low + high))
}
