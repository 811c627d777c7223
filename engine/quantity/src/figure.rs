//! A decimal figure exactly as somebody wrote it: digits and a power of ten. Knows no units.

/// Holds `digits` times ten to the `power`, so that `0.30` and `0.3` stay two different readings.
///
/// INVARIANT: at most [`Figure::MOST_DIGITS`] digits, and a power from -30 to 12, so that no operation overflows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Figure {
    digits: i64,
    power: i8,
}

impl Figure {
    /// The most significant digits a figure can carry; every such figure survives the trip through `f64`.
    pub const MOST_DIGITS: usize = 15;

    /// Makes a figure; `None` outside the invariant.
    #[must_use]
    pub fn new(digits: i64, power: i8) -> Option<Self> {
        let fits = digits.unsigned_abs() < 1_000_000_000_000_000 && (-30..=12).contains(&power);
        fits.then_some(Self { digits, power })
    }

    /// The digits as a whole number, with their sign.
    #[must_use]
    pub fn digits(self) -> i64 {
        self.digits
    }

    /// The power of ten of the last digit.
    #[must_use]
    pub fn power(self) -> i8 {
        self.power
    }

    /// The nearest `f64`, correctly rounded.
    #[must_use]
    pub fn value(self) -> f64 {
        // Going through text rounds once, where a product of two floats would round twice.
        f64_from_decimal(self.digits, self.power)
    }

    /// The worth of one count in the last digit: 0.1 for `15.2`, 0.01 for `0.30`.
    #[must_use]
    pub fn last_digit(self) -> f64 {
        f64_from_decimal(1, self.power)
    }

    /// Power of ten of the first digit that is not zero; the last digit's for zero.
    pub(crate) fn leading_power(self) -> i8 {
        let mut rest = self.digits.unsigned_abs() / 10;
        let mut power = self.power;
        while rest > 0 {
            rest /= 10;
            power += 1;
        }
        power
    }

    /// Writes the figure counted in units of ten to the `scale`, neither adding nor dropping a digit.
    ///
    /// A `scale` below the last digit pads with zeros, which does add digits: callers pick a scale at or above it.
    pub(crate) fn text(self, scale: i8) -> String {
        let sign = if self.digits < 0 { "-" } else { "" };
        let mut digits = self.digits.unsigned_abs().to_string();
        let shift = i32::from(self.power) - i32::from(scale);
        if shift >= 0 {
            if self.digits != 0 {
                digits.extend((0..shift).map(|_| '0'));
            }
            return format!("{sign}{digits}");
        }
        let decimals = usize::try_from(-shift).unwrap_or(0);
        let padded = format!("{digits:0>width$}", width = decimals + 1);
        let point = padded.len() - decimals;
        let whole: String = padded.chars().take(point).collect();
        let part: String = padded.chars().skip(point).collect();
        format!("{sign}{whole}.{part}")
    }
}

fn f64_from_decimal(digits: i64, power: i8) -> f64 {
    // `<whole>e<whole>` always reads as a number; the fallback is never taken.
    format!("{digits}e{power}").parse().unwrap_or(f64::NAN)
}
