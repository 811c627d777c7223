//! Type K thermocouples by the ITS-90 reference function, both ways. Knows no meter.
//!
//! E(t) = Σ cᵢ tⁱ, from 0 °C up plus a0 exp(a1 (t - a2)²), in millivolts with the reference junction at 0 °C.
//! SOURCE: NIST Monograph 175, type K (coefficients from memory, checked against values two libraries agree on).

use crate::quantities::Celsius;

const BELOW_ZERO: [f64; 11] = [
    0.0,
    0.394_501_280_25e-1,
    0.236_223_735_98e-4,
    -0.328_589_067_84e-6,
    -0.499_048_287_77e-8,
    -0.675_090_591_73e-10,
    -0.574_103_274_28e-12,
    -0.310_888_728_94e-14,
    -0.104_516_093_65e-16,
    -0.198_892_668_78e-19,
    -0.163_226_974_86e-22,
];
const ABOVE_ZERO: [f64; 10] = [
    -0.176_004_136_86e-1,
    0.389_212_049_75e-1,
    0.185_587_700_32e-4,
    -0.994_575_928_74e-7,
    0.318_409_457_19e-9,
    -0.560_728_448_89e-12,
    0.560_750_590_59e-15,
    -0.320_207_200_03e-18,
    0.971_511_471_52e-22,
    -0.121_047_212_75e-25,
];
const BUMP: [f64; 3] = [0.118_597_6, -0.118_343_2e-3, 126.9686];

/// The range of the reference function, in °C.
const DEFINED: (f64, f64) = (-270.0, 1372.0);

/// Gives the voltage in millivolts with the reference junction at 0 °C; `None` outside -270 to 1372 °C.
#[must_use]
pub fn millivolts(at: Celsius) -> Option<f64> {
    (DEFINED.0..=DEFINED.1).contains(&at.0).then(|| reference(at.0))
}

fn reference(t: f64) -> f64 {
    let polynomial = |coefficients: &[f64]| coefficients.iter().rev().fold(0.0, |sum, c| sum * t + c);
    if t < 0.0 {
        return polynomial(&BELOW_ZERO);
    }
    let [a0, a1, a2] = BUMP;
    polynomial(&ABOVE_ZERO) + a0 * libm::exp(a1 * (t - a2) * (t - a2))
}

/// Gives the hot junction's temperature from what is measured at terminals of a known temperature; `None` out of range.
#[must_use]
pub fn temperature(measured_millivolts: f64, terminals: Celsius) -> Option<Celsius> {
    let wanted = measured_millivolts + millivolts(terminals)?;
    let (mut low, mut high) = DEFINED;
    if !(reference(low)..=reference(high)).contains(&wanted) {
        return None;
    }
    // The function rises all the way; sixty halvings pass the last bit of a float.
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if reference(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(Celsius(f64::midpoint(low, high)))
}

/// A tolerance class of IEC 60584-1 for type K.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// 1.5 K or 0.4 %, the larger.
    One,
    /// 2.5 K or 0.75 %, the larger.
    Two,
}

impl Class {
    /// The permitted error either way, in kelvins, from 0 °C up.
    #[must_use]
    pub fn tolerance_kelvins(self, at: Celsius) -> f64 {
        match self {
            Self::One => (0.004 * at.0).max(1.5),
            Self::Two => (0.0075 * at.0).max(2.5),
        }
    }
}
