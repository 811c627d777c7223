//! The builds of a machine: every common way in which a unit may be, all its variants together, and what is left once some
//! of them are settled on the unit at hand.

use crate::faults::Effect;
use crate::model::{BranchId, Machine, PlaceId, VariantId};

/// Something in which units of one machine commonly differ.
#[derive(Clone, Debug, PartialEq)]
pub struct Variant {
    /// Its id.
    pub id: String,
    /// What differs: `the cord`.
    pub say: String,
    /// How the described machine has it.
    pub described: String,
    /// Where a look tells which it is.
    pub look: Option<PlaceId>,
    /// The other ways; their shares sum to less than 1.
    pub options: Vec<VariantOption>,
}

/// One way of a variant: an option by its place, `None` as described.
pub type Way = Option<usize>;

impl Variant {
    /// Says a way of it.
    #[must_use]
    pub fn say_of(&self, way: Way) -> &str {
        way.and_then(|at| self.options.get(at)).map_or(&self.described, |option| &option.say)
    }

    /// Gives the id of a way of it: `described`, or the option's own.
    #[must_use]
    pub fn id_of(&self, way: Way) -> &str {
        way.and_then(|at| self.options.get(at)).map_or(DESCRIBED, |option| &option.id)
    }

    /// Lists its ways, as described first.
    pub fn ways(&self) -> impl Iterator<Item = Way> + use<> {
        std::iter::once(None).chain((0..self.options.len()).map(Some))
    }
}

/// One other way in which units have it.
#[derive(Clone, Debug, PartialEq)]
pub struct VariantOption {
    /// Its id.
    pub id: String,
    /// In words.
    pub say: String,
    /// Share of units.
    pub share: f64,
    /// What is otherwise than described.
    pub effects: Vec<Effect>,
}

/// One way in which a whole unit may be.
#[derive(Clone, Debug, PartialEq)]
pub struct Build {
    /// Share among the builds that are kept; they sum to 1.
    pub share: f64,
    /// Of each variant the option it has; `None` is as described.
    pub options: Vec<Way>,
    /// What is otherwise than described.
    pub effects: Vec<Effect>,
}

impl Build {
    /// Gives what heaters or lamps of so many described watts are rated for in this build: watts fall as ohms rise.
    ///
    /// *Approximate because* heaters of different watts that differ by different factors count alike.
    #[must_use]
    pub fn rated(&self, branches: &[BranchId], described_watts: f64) -> f64 {
        let times = |branch: &BranchId| {
            let own = self.effects.iter().filter_map(|effect| match *effect {
                Effect::Scale(of, factor) if of == *branch => Some(factor),
                _ => None,
            });
            1.0 / own.product::<f64>()
        };
        let count = branches.iter().map(|_| 1.0).sum::<f64>().max(1.0);
        described_watts * branches.iter().map(times).sum::<f64>() / count
    }
}

/// The id of the described way of any variant.
pub const DESCRIBED: &str = "described";
/// Share below which a build is not thought of.
const LEAST_SHARE: f64 = 0.01;
/// Builds that are kept, the likeliest first: each is weighed with every suspect.
const MOST_BUILDS: usize = 8;
/// As many builds as there can be of the least share: a file whose shares are wrong has no more either.
const MOST_AT_ONCE: usize = 100;

/// Lists the builds of variants of which some are settled, by variant, and the share that is left out.
///
/// The first is as described, where nothing settled says otherwise; then the likeliest first. What falls below the least
/// share is left out at once: with further variants it only gets rarer, and there are a hundred others at most.
pub(crate) fn builds(variants: &[Variant], settled: &[Option<Way>]) -> (Vec<Build>, f64) {
    let mut all = vec![Build { share: 1.0, options: Vec::new(), effects: Vec::new() }];
    for (at, variant) in variants.iter().enumerate() {
        let with = |build: &Build, option: Way, share: f64| {
            let own = option.and_then(|at| variant.options.get(at)).map_or(&[][..], |option| &option.effects);
            let options = build.options.iter().copied().chain([option]).collect();
            Build { share: build.share * share, options, effects: [&build.effects[..], own].concat() }
        };
        all = match settled.get(at).copied().flatten() {
            Some(option) => all.iter().map(|build| with(build, option, 1.0)).collect(),
            None => {
                let others: f64 = variant.options.iter().map(|option| option.share).sum();
                let ways = || variant.options.iter().enumerate().map(|(at, option)| (Some(at), option.share));
                let each = |build| ways().chain([(None, 1.0 - others)]).map(move |(o, share)| with(build, o, share));
                all.iter().flat_map(each).collect()
            }
        };
        let described = |build: &Build| build.effects.is_empty();
        all.sort_by(|a, b| described(b).cmp(&described(a)).then(b.share.total_cmp(&a.share)));
        let kept = all.iter().skip(1).take_while(|build| build.share >= LEAST_SHARE).take(MOST_AT_ONCE).count() + 1;
        all.truncate(kept);
    }
    all.truncate(MOST_BUILDS);
    let held: f64 = all.iter().map(|build| build.share).sum();
    all.iter_mut().for_each(|build| build.share /= held);
    (all, (1.0 - held).max(0.0))
}

impl Machine {
    /// Settles variants on the unit at hand: for each the option it has, `None` as described. What was settled before
    /// and is not named stays so.
    pub fn settle(&mut self, settled: &[(VariantId, Way)]) {
        for (variant, option) in settled {
            if let Some(known) = self.settled.get_mut(variant.index()) {
                *known = Some(*option);
            }
        }
        (self.builds, self.builds_left_out) = builds(&self.variants, &self.settled);
    }

    /// Finds a variant and one of its ways by their ids.
    ///
    /// # Errors
    /// In words, the variants with their ways; empty where the machine has none.
    pub fn variant_way(&self, variant: &str, way: &str) -> Result<(VariantId, Way), String> {
        let mut all = (0..).map(VariantId).zip(&self.variants).filter(|(_, known)| known.id == variant);
        let found = all.find_map(|(id, known)| Some((id, known.ways().find(|&of| known.id_of(of) == way)?)));
        found.ok_or_else(|| {
            let ways = |of: &Variant| of.ways().map(|way| of.id_of(way).to_owned()).collect::<Vec<_>>().join(", ");
            self.variants.iter().map(|of| format!("`{}` is {}", of.id, ways(of))).collect::<Vec<_>>().join("; ")
        })
    }

    /// Lists the variants that are not settled.
    pub fn open_variants(&self) -> impl Iterator<Item = (VariantId, &Variant)> {
        let all = (0..).map(VariantId).zip(&self.variants).zip(&self.settled);
        all.filter(|(_, settled)| settled.is_none()).map(|(variant, _)| variant)
    }
}

#[cfg(test)]
mod tests {
    use super::{Variant, VariantOption, builds};
    use crate::faults::Effect;
    use crate::model::BranchId;

    fn variant(shares: &[f64]) -> Variant {
        let option = |(at, share): (u16, &f64)| VariantOption {
            id: format!("o{at}"),
            say: String::new(),
            share: *share,
            effects: vec![Effect::Open(BranchId(at))],
        };
        let options = (0..).zip(shares).map(option).collect();
        Variant { id: String::new(), say: String::new(), described: String::new(), look: None, options }
    }

    #[test]
    fn builds_multiply_out_as_independent_variants_do() {
        let (all, left_out) = builds(&[variant(&[0.3]), variant(&[0.2, 0.1])], &[None, None]);
        // 0.7 x 0.7, 0.3 x 0.7, 0.7 x 0.2, 0.7 x 0.1, 0.3 x 0.2, 0.3 x 0.1: nothing is rare enough to be left out.
        let shares: Vec<f64> = all.iter().map(|build| build.share).collect();
        for (share, expected) in shares.iter().zip([0.49, 0.21, 0.14, 0.07, 0.06, 0.03]) {
            assert!((share - expected).abs() < 1e-12, "{shares:?}");
        }
        assert!(all[0].effects.is_empty() && left_out.abs() < 1e-12);
    }

    #[test]
    fn what_is_rare_is_left_out_and_its_share_is_told() {
        let (all, left_out) = builds(&[variant(&[0.05]), variant(&[0.05])], &[None, None]);
        assert_eq!(all.len(), 3);
        assert!((left_out - 0.0025).abs() < 1e-12);
        assert!((all.iter().map(|build| build.share).sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_settled_is_in_every_build() {
        let (all, _) = builds(&[variant(&[0.3]), variant(&[0.2])], &[Some(Some(0)), None]);
        assert_eq!(all.len(), 2);
        assert!(all.iter().all(|build| build.options[0] == Some(0) && !build.effects.is_empty()));
    }
}
