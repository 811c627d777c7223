//! Whether what was stated came true as often as it was stated.

use crate::visit::Claim;

/// Claims against what was so.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Calibration {
    /// Claims weighed.
    pub count: usize,
    /// Mean square of the claim less what was so (1 or 0); 0 for no claims.
    ///
    /// SOURCE: Brier (1950), Monthly Weather Review 78, 1-3, in its form for one event.
    pub brier: f64,
    /// Standard error of that mean. Calls are independent, the claims within one are not: each call counts as one draw.
    pub brier_error: f64,
    /// The part of the Brier score that comes of claims that are off: mean square of claimed less so, by bins; 0 is best.
    ///
    /// SOURCE: Murphy (1973), Journal of Applied Meteorology 12(4): Brier = reliability - resolution + uncertainty, from
    /// memory; exact where a bin's claims are equal.
    pub reliability: f64,
    /// What claims of different size gain by being so differently often; higher is better.
    pub resolution: f64,
    /// What is left to chance when only the share of all is known.
    pub uncertainty: f64,
    /// What the bins hide: the Brier score less the three above. Small where bins are narrow.
    pub within: f64,
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
    /// Standard error of what was so less what was claimed, calls as draws; at least that of as many independent claims.
    pub error: f64,
}

const BINS: usize = 10;

impl Calibration {
    /// Weighs the claims, given call by call.
    #[must_use]
    pub fn of(calls: &[Vec<Claim>]) -> Self {
        let all = || calls.iter().flatten();
        let count = all().count();
        if count == 0 {
            return Self { bins: (0..BINS).map(empty).collect(), ..Self::default() };
        }
        let whole = count as f64;
        let brier = all().map(square).sum::<f64>() / whole;
        let share = all().map(so).sum::<f64>() / whole;
        let bins: Vec<Bin> = (0..BINS).map(|at| bin(calls, at)).collect();
        let weighed = |of: &dyn Fn(&Bin) -> f64| bins.iter().map(|b| b.count as f64 * of(b)).sum::<f64>() / whole;
        let reliability = weighed(&|b| (b.claimed - b.cured) * (b.claimed - b.cured));
        let resolution = weighed(&|b| (b.cured - share) * (b.cured - share));
        let uncertainty = share * (1.0 - share);
        Self {
            count,
            brier,
            brier_error: clustered(calls, |claim| square(claim) - brier),
            reliability,
            resolution,
            uncertainty,
            within: brier - (reliability - resolution + uncertainty),
            bins,
        }
    }

    /// Gives the bin whose claims are furthest off, in standard errors: over 0 if less was so than was claimed. `None`
    /// for no bin with at least this many claims.
    #[must_use]
    pub fn furthest_off(&self, least: usize) -> Option<(f64, f64)> {
        let full = self.bins.iter().filter(|bin| bin.count >= least.max(1) && bin.error > 0.0);
        let off = full.map(|bin| (bin.from, (bin.claimed - bin.cured) / bin.error));
        off.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    }
}

fn so(claim: &Claim) -> f64 {
    f64::from(u8::from(claim.cures))
}

fn square(claim: &Claim) -> f64 {
    (claim.share - so(claim)) * (claim.share - so(claim))
}

fn empty(at: usize) -> Bin {
    Bin { from: at as f64 / BINS as f64, ..Bin::default() }
}

fn bin(calls: &[Vec<Claim>], at: usize) -> Bin {
    let bin = empty(at);
    let last = at + 1 == BINS;
    let to = (at + 1) as f64 / BINS as f64;
    let within = |claim: &&Claim| claim.share >= bin.from && (last || claim.share < to);
    let inside: Vec<Vec<Claim>> = calls
        .iter()
        .map(|call| call.iter().filter(within).copied().collect())
        .filter(|c: &Vec<_>| !c.is_empty())
        .collect();
    let count = inside.iter().map(Vec::len).sum::<usize>();
    if count == 0 {
        return bin;
    }
    let whole = count as f64;
    let claimed = inside.iter().flatten().map(|claim| claim.share).sum::<f64>() / whole;
    let cured = inside.iter().flatten().map(so).sum::<f64>() / whole;
    let off = |claim: &Claim| so(claim) - claim.share - (cured - claimed);
    // Where all came out alike the spread between calls says nothing; chance alone would still spread them this much.
    let alone = (claimed * (1.0 - claimed)).max(0.0).sqrt() / whole.sqrt();
    Bin { count, claimed, cured, error: clustered(&inside, off).max(alone), ..bin }
}

/// Standard error of a mean over claims whose residuals are given, each call one draw.
///
/// SOURCE: Liang and Zeger (1986), Biometrika 73(1): the variance by sums over clusters, from memory.
fn clustered(calls: &[Vec<Claim>], residual: impl Fn(&Claim) -> f64) -> f64 {
    let draws = calls.iter().filter(|call| !call.is_empty()).count() as f64;
    let count = calls.iter().map(Vec::len).sum::<usize>() as f64;
    if draws < 2.0 {
        return 0.0;
    }
    let sums = calls.iter().map(|call| call.iter().map(&residual).sum::<f64>());
    (sums.map(|sum| sum * sum).sum::<f64>() * draws / (draws - 1.0)).sqrt() / count
}

#[cfg(test)]
mod tests {
    use super::{Calibration, Claim};

    fn claim(share: f64, cures: bool) -> Claim {
        Claim { share, cures }
    }

    #[test]
    fn claims_are_binned_and_scored_as_by_hand() {
        let told =
            Calibration::of(&[vec![claim(0.9, true), claim(1.0, true)], vec![claim(0.8, false), claim(0.05, false)]]);
        // 0.01 + 0 + 0.64 + 0.0025, over 4.
        assert!((told.brier - 0.163_125).abs() < 1e-12, "{told:?}");
        let counts: Vec<usize> = told.bins.iter().map(|bin| bin.count).collect();
        assert_eq!(counts, [1, 0, 0, 0, 0, 0, 0, 0, 1, 2]);
        assert!((told.bins[9].claimed - 0.95).abs() < 1e-12 && told.bins[9].cured > 0.99 && told.bins[8].cured < 0.01);
        // Sums of residuals by call: 0.01 - 2 x 0.163125 and the same with the other sign; two draws, four claims.
        assert!((told.brier_error - 0.316_25 * 2.0 / 4.0).abs() < 1e-12, "{told:?}");
    }

    #[test]
    fn brier_score_falls_into_its_three_parts_where_a_bin_holds_one_claim() {
        // 3 of 4 so at 0.7, 1 of 5 so at 0.3; by hand: reliability (4 x 0.0025 + 5 x 0.01) / 9, uncertainty 4/9 x 5/9,
        // resolution (4 x (3/4 - 4/9)^2 + 5 x (1/5 - 4/9)^2) / 9.
        let at = |share: f64, so: usize, of: usize| (0..of).map(move |i| vec![claim(share, i < so)]);
        let told = Calibration::of(&at(0.7, 3, 4).chain(at(0.3, 1, 5)).collect::<Vec<_>>());
        assert!((told.reliability - 0.06 / 9.0).abs() < 1e-12, "{told:?}");
        assert!((told.uncertainty - 20.0 / 81.0).abs() < 1e-12, "{told:?}");
        assert!((told.resolution - 0.074_691_358_024_691_4).abs() < 1e-12, "{told:?}");
        assert!(told.within.abs() < 1e-12, "{told:?}");
    }

    /// Calls of some statements each, every one so with its own chance; `stated` says what is claimed of that chance.
    fn drawn(stated: impl Fn(f64) -> f64) -> Calibration {
        let mut seed = 7u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / 9_007_199_254_740_992.0
        };
        let mut one = || {
            let chance = next();
            claim(stated(chance), next() < chance)
        };
        Calibration::of(&(0..600).map(|call| (0..=call % 5).map(|_| one()).collect()).collect::<Vec<_>>())
    }

    #[test]
    fn overconfident_statements_are_caught_and_honest_ones_are_not() {
        let honest = drawn(|chance| chance);
        // Odds squared: 0.8 is claimed as 0.94, 0.2 as 0.06.
        let over = drawn(|chance| chance * chance / (chance * chance + (1.0 - chance) * (1.0 - chance)));
        let off = |told: &Calibration| told.furthest_off(20).unwrap().1;
        // Ten bins: three standard errors by chance alone once in some forty rehearsals.
        assert!(off(&honest).abs() < 3.0, "{honest:?}");
        assert!(off(&over).abs() > 4.0, "{over:?}");
        assert!(over.reliability > 4.0 * honest.reliability, "{} and {}", over.reliability, honest.reliability);
        assert!(over.bins[9].claimed > over.bins[9].cured + 3.0 * over.bins[9].error, "{over:?}");
    }

    #[test]
    fn nothing_stated_is_nothing_to_judge() {
        let told = Calibration::of(&[Vec::new(), Vec::new()]);
        assert_eq!((told.count, told.bins.len(), told.furthest_off(1)), (0, 10, None));
    }
}
