//! Whether what was claimed of repairs came true as often as it was claimed.

use crate::visit::Claim;

/// Claims against what was so.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Calibration {
    /// Mean square of the claim less what was so (1 or 0); 0 for no claims.
    ///
    /// SOURCE: Brier (1950), Monthly Weather Review 78, 1-3, in its form for one event.
    pub brier: f64,
    /// Ten bins of a tenth each, the last with 1 in it.
    pub bins: Vec<Bin>,
}

/// Claims between two shares.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Bin {
    /// From, this share included.
    pub from: f64,
    /// Claims in it.
    pub count: usize,
    /// Mean of the claims; 0 for none.
    pub claimed: f64,
    /// Share of them that were so; 0 for none.
    pub cured: f64,
}

const BINS: usize = 10;

impl Calibration {
    /// Weighs the claims.
    #[must_use]
    pub fn of(claims: &[Claim]) -> Self {
        let mut bins: Vec<Bin> = (0..BINS).map(|at| Bin { from: at as f64 / BINS as f64, ..Bin::default() }).collect();
        let mut squares = 0.0;
        for claim in claims {
            let so = f64::from(u8::from(claim.cures));
            squares += (claim.share - so) * (claim.share - so);
            let at = bins.iter().rposition(|bin| claim.share >= bin.from).unwrap_or(0);
            bins[at].count += 1;
            bins[at].claimed += claim.share;
            bins[at].cured += so;
        }
        for bin in bins.iter_mut().filter(|bin| bin.count > 0) {
            bin.claimed /= bin.count as f64;
            bin.cured /= bin.count as f64;
        }
        Self { brier: if claims.is_empty() { 0.0 } else { squares / claims.len() as f64 }, bins }
    }
}

#[cfg(test)]
mod tests {
    use super::{Calibration, Claim};

    #[test]
    fn claims_are_binned_and_scored_as_by_hand() {
        let claim = |share, cures| Claim { share, cures };
        let told = Calibration::of(&[claim(0.9, true), claim(1.0, true), claim(0.8, false), claim(0.05, false)]);
        // 0.01 + 0 + 0.64 + 0.0025, over 4.
        assert!((told.brier - 0.163_125).abs() < 1e-12, "{told:?}");
        let counts: Vec<usize> = told.bins.iter().map(|bin| bin.count).collect();
        assert_eq!(counts, [1, 0, 0, 0, 0, 0, 0, 0, 1, 2]);
        assert!((told.bins[9].claimed - 0.95).abs() < 1e-12 && told.bins[9].cured > 0.99 && told.bins[8].cured < 0.01);
    }
}
