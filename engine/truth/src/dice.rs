//! Chance from a seed and a list of words: the same draw for the same words, in whatever order draws are made.
//!
//! So two technicians who take the same reading of one unit see the same figure, whatever else each has done.

/// A stream of chance.
///
/// SOURCE: SplitMix64, Steele, Lea, Flood, OOPSLA 2014 (constants of the public-domain reference version).
#[derive(Clone, Copy, Debug)]
pub struct Dice(u64);

impl Dice {
    /// Starts a stream for a seed and the words that say what is drawn.
    #[must_use]
    pub fn of(seed: u64, words: &[u64]) -> Self {
        let mut dice = Self(seed);
        for &word in words {
            dice.0 = dice.word() ^ word;
        }
        // One more turn, so that neighbouring last words start far apart.
        dice.0 = dice.word();
        dice
    }

    /// Draws 64 bits.
    pub fn word(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Draws a number from 0 up to, and without, 1.
    pub fn share(&mut self) -> f64 {
        // 53 bits are exact as f64; so is the power of two.
        (self.word() >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// Says yes with this chance.
    pub fn chance(&mut self, chance: f64) -> bool {
        self.share() < chance
    }

    /// Draws a number between two others.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    /// Draws from the standard normal distribution, cut at `most` either way.
    ///
    /// SOURCE: Box and Muller, Annals of Mathematical Statistics 29(2), 1958.
    pub fn normal(&mut self, most: f64) -> f64 {
        loop {
            let radius = (-2.0 * libm::log(1.0 - self.share())).sqrt();
            let z = radius * libm::cos(2.0 * std::f64::consts::PI * self.share());
            if z.abs() <= most {
                return z;
            }
        }
    }

    /// Draws a place in a list by weight; `None` where no weight is above 0.
    pub fn pick(&mut self, weights: &[f64]) -> Option<usize> {
        let total: f64 = weights.iter().sum();
        let mut left = self.share() * total;
        let mut last = None;
        for (index, &weight) in weights.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
            last = Some(index);
            if left < weight {
                break;
            }
            left -= weight;
        }
        last
    }

    /// Draws a place in a list of `count`; `None` for an empty list.
    pub fn one_of(&mut self, count: usize) -> Option<usize> {
        self.pick(&vec![1.0; count])
    }
}

#[cfg(test)]
mod tests {
    use super::Dice;

    #[test]
    fn first_words_are_those_of_the_reference_version() {
        // SOURCE: outputs of the public-domain splitmix64.c for seed 1234567, as listed on Rosetta Code
        // (Pseudo-random numbers/Splitmix64).
        let mut dice = Dice(1_234_567);
        assert_eq!(dice.word(), 6_457_827_717_110_365_317);
        assert_eq!(dice.word(), 3_203_168_211_198_807_973);
        assert_eq!(dice.word(), 9_817_491_932_198_370_423);
    }

    #[test]
    fn normal_has_mean_0_and_spread_1_and_is_cut() {
        let mut dice = Dice::of(7, &[1]);
        let draws: Vec<f64> = (0..20_000).map(|_| dice.normal(3.0)).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let square = draws.iter().map(|z| z * z).sum::<f64>() / 20_000.0;
        // Cut at 3 the variance is 0.973 (from the density of the standard normal at 3, 0.004432).
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((square - 0.973).abs() < 0.03, "{square}");
        assert!(draws.iter().all(|z| z.abs() <= 3.0));
    }

    #[test]
    fn picks_by_weight() {
        let mut dice = Dice::of(7, &[2]);
        let mut counts = [0_u32; 3];
        for _ in 0..10_000 {
            counts[dice.pick(&[1.0, 0.0, 3.0]).unwrap()] += 1;
        }
        assert_eq!(counts[1], 0);
        assert!((2300..2700).contains(&counts[0]), "{counts:?}");
        assert_eq!(dice.pick(&[0.0]), None);
    }
}
