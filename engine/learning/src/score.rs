//! How well stated shares came true. SOURCE: the Brier score and its reliability diagram, any textbook of forecasting, from
//! memory.

/// Stated shares that lie near each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Share from and to.
    pub range: (f64, f64),
    /// What was stated on average.
    pub stated: f64,
    /// The share that came true.
    pub came_true: f64,
    /// How many statements.
    pub count: u32,
}

/// How well stated shares came true.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// Mean of the squared error: 0 is perfect; always stating a half has 0.25.
    pub brier: f64,
    /// The same if everybody had always stated the share that came true in all.
    pub brier_of_rate: f64,
    /// Bins of a tenth each that hold anything.
    pub bins: Vec<Bin>,
    /// How many statements.
    pub count: u32,
}

/// Scores statements: the share stated, and whether it came true. `None` where there are none.
#[must_use]
pub fn score(statements: &[(f64, bool)]) -> Option<Score> {
    if statements.is_empty() {
        return None;
    }
    let truth = |came: bool| if came { 1.0 } else { 0.0 };
    let mean = |of: &dyn Fn(&(f64, bool)) -> f64, all: &[&(f64, bool)]| {
        all.iter().map(|statement| of(statement)).sum::<f64>() / number(all.len())
    };
    let all: Vec<&(f64, bool)> = statements.iter().collect();
    let rate = mean(&|(_, came)| truth(*came), &all);
    let squared = |stated: f64, came: bool| (stated - truth(came)) * (stated - truth(came));
    let bins = (0..10_u32).filter_map(|tenth| {
        let range = (f64::from(tenth) / 10.0, f64::from(tenth + 1) / 10.0);
        let last = tenth == 9;
        let within: Vec<&(f64, bool)> =
            all.iter().filter(|(stated, _)| *stated >= range.0 && (*stated < range.1 || last)).copied().collect();
        (!within.is_empty()).then(|| Bin {
            range,
            stated: mean(&|(stated, _)| *stated, &within),
            came_true: mean(&|(_, came)| truth(*came), &within),
            count: u32::try_from(within.len()).unwrap_or(u32::MAX),
        })
    });
    Some(Score {
        brier: mean(&|(stated, came)| squared(*stated, *came), &all),
        brier_of_rate: mean(&|(_, came)| squared(rate, *came), &all),
        bins: bins.collect(),
        count: u32::try_from(all.len()).unwrap_or(u32::MAX),
    })
}

fn number(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::MAX, f64::from)
}
