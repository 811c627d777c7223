//! Minutes as a distribution over whole minutes.

/// Minutes with their chances. They add up to 1.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// The least minutes that may be.
    first: usize,
    /// The chance of just so many minutes, from the least on.
    chances: Vec<f64>,
}

/// Most minutes that are told apart: two days.
const MOST: usize = 2880;

impl Spread {
    /// Gives minutes that are sure, to the nearest whole one.
    #[must_use]
    pub fn sure(minutes: f64) -> Self {
        Self { first: whole(minutes), chances: vec![1.0] }
    }

    /// Gives a mixture: each of these minutes with its weight, and each drawn out by a share of itself to either side, as
    /// minutes of handwork are. Weights need not add up to 1; `None` where they come to nothing or are no weights.
    ///
    /// Each is a triangle from `m (1 - out)` over `m` to `m (1 + out)`, its minutes weighed in whole ones; so its mean is `m`
    /// but for the rounding.
    #[must_use]
    pub fn mixed(of: &[(f64, f64)], out: f64) -> Option<Self> {
        let sound = |value: f64| value.is_finite() && value >= 0.0;
        let sum: f64 = of.iter().map(|(_, weight)| weight).sum();
        let all_sound = of.iter().all(|(minutes, weight)| sound(*minutes) && sound(*weight));
        if !(sum > 0.0 && all_sound && (0.0..=1.0).contains(&out)) {
            return None;
        }
        let mut chances = Vec::new();
        for (minutes, weight) in of {
            add(&mut chances, &triangle(minutes.min(1440.0), out), weight / sum);
        }
        Some(Self { first: 0, chances }.trimmed())
    }

    /// Gives the mean, minutes.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.each().map(|(minutes, chance)| minutes * chance).sum()
    }

    /// Gives the standard deviation, minutes.
    #[must_use]
    pub fn deviation(&self) -> f64 {
        let mean = self.mean();
        self.each().map(|(minutes, chance)| chance * (minutes - mean) * (minutes - mean)).sum::<f64>().max(0.0).sqrt()
    }

    /// Gives the least minutes that are not exceeded with this probability.
    #[must_use]
    pub fn quantile(&self, probability: f64) -> f64 {
        let mut sum = 0.0;
        for (minutes, chance) in self.each() {
            sum += chance;
            if sum >= probability - 1e-12 {
                return minutes;
            }
        }
        self.each().last().map_or(0.0, |(minutes, _)| minutes)
    }

    /// Gives the chance of more than these minutes.
    #[must_use]
    pub fn over(&self, limit: f64) -> f64 {
        self.each().filter(|(minutes, _)| *minutes > limit).map(|(_, chance)| chance).sum()
    }

    /// Gives how far it is beyond a limit on average, minutes; nothing where it is not.
    #[must_use]
    pub fn beyond(&self, limit: f64) -> f64 {
        self.each().map(|(minutes, chance)| (minutes - limit).max(0.0) * chance).sum()
    }

    /// Gives this and then that, apart from each other.
    #[must_use]
    pub fn then(&self, other: &Self) -> Self {
        let first = (self.first + other.first).min(MOST);
        let length = (self.chances.len() + other.chances.len()).saturating_sub(1).clamp(1, MOST + 1 - first);
        let mut chances = vec![0.0; length];
        for (one, share) in self.chances.iter().enumerate() {
            for (two, more) in other.chances.iter().enumerate() {
                chances[(one + two).min(length - 1)] += share * more;
            }
        }
        Self { first, chances }.trimmed()
    }

    /// Gives the same but never before a limit: what comes earlier waits for it.
    #[must_use]
    pub fn not_before(&self, limit: f64) -> Self {
        let early = whole(limit).saturating_sub(self.first);
        if early == 0 {
            return self.clone();
        }
        let (before, after) = self.chances.split_at(early.min(self.chances.len()));
        let mut chances = after.to_vec();
        if chances.is_empty() {
            chances.push(0.0);
        }
        chances[0] += before.iter().sum::<f64>();
        Self { first: self.first + early, chances }
    }

    fn each(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.chances.iter().zip(self.first..).map(|(chance, minutes)| (count(minutes), *chance))
    }

    /// Leaves out ends so thin that no minute hangs on them; what they hold goes to their neighbour.
    fn trimmed(mut self) -> Self {
        let thin = |chance: &f64| *chance < THIN;
        let front = self.chances.iter().take_while(|chance| thin(chance)).count();
        let back = self.chances.iter().rev().take_while(|chance| thin(chance)).count();
        if front + back >= self.chances.len() {
            return self;
        }
        let lost: f64 = self.chances[..front].iter().sum();
        let late: f64 = self.chances[self.chances.len() - back..].iter().sum();
        self.chances.truncate(self.chances.len() - back);
        self.chances.drain(..front);
        self.first += front;
        if let Some(least) = self.chances.first_mut() {
            *least += lost;
        }
        if let Some(most) = self.chances.last_mut() {
            *most += late;
        }
        self
    }
}

/// Chance of a single minute under which an end is left out.
const THIN: f64 = 1e-7;

fn triangle(minutes: f64, out: f64) -> Vec<f64> {
    let half = minutes * out;
    let last = whole(minutes + half);
    let weight = |at: usize| {
        let away = (count(at) - minutes).abs();
        if half < 1.0 { 0.0 } else { (1.0 - away / half).max(0.0) }
    };
    let mut chances: Vec<f64> = (0..=last).map(weight).collect();
    let sum: f64 = chances.iter().sum();
    if sum <= 0.0 {
        let at = whole(minutes);
        let mut sure = vec![0.0; at + 1];
        sure[at] = 1.0;
        return sure;
    }
    chances.iter_mut().for_each(|chance| *chance /= sum);
    chances
}

fn add(chances: &mut Vec<f64>, of: &[f64], share: f64) {
    if chances.len() < of.len() {
        chances.resize(of.len(), 0.0);
    }
    chances.iter_mut().zip(of).for_each(|(sum, more)| *sum += share * more);
}

/// The nearest whole minute; none under 0, none beyond what is told apart.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded to 0..=MOST on the line before")]
fn whole(minutes: f64) -> usize {
    let bounded = if minutes.is_finite() { minutes.round().clamp(0.0, 2880.0) } else { 0.0 };
    bounded as usize
}

fn count(minutes: usize) -> f64 {
    u32::try_from(minutes).map_or(f64::MAX, f64::from)
}
