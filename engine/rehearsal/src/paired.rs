//! A rival against the tool, call by call: both met the same units, so the differences are taken before the mean.

use crate::visit::Visit;

/// How much more a rival took than the tool, a mean over the same calls, each with its standard error.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Paired {
    /// Minutes to the start of the repair that cured, the rival's less the tool's.
    pub minutes_more: f64,
    /// Its standard error.
    pub minutes_more_error: f64,
    /// Needless parts for 100 calls, likewise.
    pub needless_more_per_100: f64,
    /// Its standard error.
    pub needless_more_per_100_error: f64,
    /// Share of calls right at the first visit, the tool's less the rival's.
    pub right_less: f64,
    /// Its standard error.
    pub right_less_error: f64,
}

impl Paired {
    /// Compares visit by visit; both lists are of the same calls in the same order.
    #[must_use]
    pub fn of(tool: &[Visit], rival: &[Visit]) -> Self {
        let differ = |figure: &dyn Fn(&Visit) -> f64| {
            let all: Vec<f64> = tool.iter().zip(rival).map(|(ours, theirs)| figure(theirs) - figure(ours)).collect();
            mean_and_error(&all)
        };
        let (minutes_more, minutes_more_error) = differ(&|visit| visit.minutes);
        let (needless_more_per_100, needless_more_per_100_error) =
            differ(&|visit| 100.0 * f64::from(visit.needless_parts));
        let (right_less, right_less_error) = differ(&|visit| -f64::from(u8::from(visit.right)));
        Self {
            minutes_more,
            minutes_more_error,
            needless_more_per_100,
            needless_more_per_100_error,
            right_less,
            right_less_error,
        }
    }
}

/// Gives the mean and its standard error; no error for fewer than two.
pub(crate) fn mean_and_error(list: &[f64]) -> (f64, f64) {
    let count = list.len() as f64;
    if list.is_empty() {
        return (0.0, 0.0);
    }
    let mean = list.iter().sum::<f64>() / count;
    let squares: f64 = list.iter().map(|x| (x - mean) * (x - mean)).sum();
    (mean, if list.len() > 1 { (squares / (count - 1.0) / count).sqrt() } else { 0.0 })
}

#[cfg(test)]
mod tests {
    use super::mean_and_error;

    #[test]
    fn error_of_a_mean_is_as_by_hand() {
        // 1, 3, 5: mean 3, squares 4 + 0 + 4, variance 4, error sqrt(4 / 3).
        let (mean, error) = mean_and_error(&[1.0, 3.0, 5.0]);
        assert!((mean - 3.0).abs() < 1e-12 && (error - (4.0_f64 / 3.0).sqrt()).abs() < 1e-12, "{mean} {error}");
        assert_eq!(mean_and_error(&[2.0]), (2.0, 0.0));
    }
}
