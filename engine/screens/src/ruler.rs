//! The ruler: what the meter may show, on the scale of its quantity, with a hill for each suspect or group of suspects
//! that the reading cannot tell apart.
//!
//! Volts and amperes lie linear, ohms by their logarithm from 0.1 ohm up to the meter's limit, over-range beyond it.

use crate::desk::Desk;
use crate::screen::{Hill, Mark, Ruler};
use diagnosis::{Evidence, Measured, Suspect, words};
use prediction::{Prediction, Predictor, Quantity, Reading};

/// Most suspects whose predictions are drawn, and the least share of one.
const MOST: usize = 24;
const LEAST: f64 = 0.004;
/// Most hills drawn.
const MOST_HILLS: usize = 6;
/// Where over-range begins, and where a reading of it stands.
const OVER: f64 = 0.92;
const OVER_MIDDLE: f64 = 0.96;
/// Least ohms and farads of the scale.
const LEAST_OHMS: f64 = 0.1;
const LEAST_FARADS: f64 = 1e-9;
/// Marks of the logarithmic scales: figure and label.
const OHMS: [(f64, &str); 9] = [
    (0.1, "0.1"),
    (1.0, "1"),
    (10.0, "10"),
    (100.0, "100"),
    (1e3, "1k"),
    (1e4, "10k"),
    (1e5, "100k"),
    (1e6, "1M"),
    (1e7, "10M"),
];
const FARADS: [(f64, &str); 6] =
    [(1e-9, "1n"), (1e-8, "10n"), (1e-7, "100n"), (1e-6, "1u"), (1e-5, "10u"), (1e-4, "100u")];
/// Narrowest hill, so that it can be seen.
const NARROWEST: f64 = 0.008;
/// Share of the narrower hill within the other from which two cannot be told apart.
const ALIKE: f64 = 0.5;

/// Gives the ruler of a reading that is asked for.
pub(crate) fn asked(desk: &Desk<'_, '_>, reading: &Reading) -> Ruler {
    let belief = desk.session.belief();
    let shares = belief.shares().into_iter().map(|(suspect, share)| (suspect.clone(), share)).collect();
    build(belief.predictor(), reading, shares, None)
}

/// Gives the last thing found on its ruler, where it was a reading: the suspects as they stood before it.
pub(crate) fn last(desk: &Desk<'_, '_>) -> Option<Ruler> {
    let belief = desk.session.belief();
    let Evidence::Read { reading, measured } = &belief.evidence().last()?.item else { return None };
    let (_, before) = desk.past.last()?;
    let mut shares: Vec<(Suspect, f64)> = before.iter().map(|(suspect, share)| (suspect.clone(), *share)).collect();
    shares.sort_by(|(a, x), (b, y)| y.total_cmp(x).then_with(|| a.cmp(b)));
    Some(build(belief.predictor(), reading, shares, Some(*measured)))
}

/// Gives the ruler of a reading on a machine of which nothing is suspected.
pub(crate) fn sound(predictor: &Predictor<'_>, reading: &Reading) -> Ruler {
    build(predictor, reading, Vec::new(), None)
}

fn build(
    predictor: &Predictor<'_>,
    reading: &Reading,
    shares: Vec<(Suspect, f64)>,
    measured: Option<Measured>,
) -> Ruler {
    let (machine, meter, quantity) = (predictor.machine(), predictor.meter(), reading.quantity);
    let leading: Vec<(Suspect, f64, Prediction)> = shares
        .into_iter()
        .take(MOST)
        .filter(|(_, share)| *share >= LEAST)
        .map(|(suspect, share)| {
            let predicted = predictor.predict(reading, &suspect.0);
            (suspect, share, predicted)
        })
        .collect();
    let sound = predictor.predict(reading, &[]);
    let ends = |of: &Prediction| of.interval(quantity, meter);
    let value = measured.map(|of| if let Measured::Value(value) = of { value } else { f64::INFINITY });
    let figures = leading.iter().map(|(_, _, of)| ends(of).1).chain([ends(&sound).1]).chain(value);
    let highest = figures.filter(|figure| figure.is_finite()).fold(0.0, f64::max);
    let scale = Scale::of(predictor, quantity, highest);
    let span = |(low, high): (f64, f64)| {
        let (from, to) = (scale.place(low), scale.place(high));
        let widen = (0.5 * (NARROWEST - (to - from))).max(0.0);
        ((from - widen).max(0.0), (to + widen).min(1.0))
    };
    let plumb = value.map(|value| if value.is_finite() { scale.place(value) } else { OVER_MIDDLE });
    let mut hills: Vec<Hill> = Vec::new();
    let mut behind: Vec<usize> = Vec::new();
    for (suspect, share, predicted) in &leading {
        let (from, to) = span(ends(predicted));
        let shared = |hill: &Hill| (hill.to.min(to) - hill.from.max(from)) / (hill.to - hill.from).min(to - from);
        if let Some(at) = hills.iter().position(|hill| shared(hill) > ALIKE) {
            let hill = &mut hills[at];
            hill.share += share;
            (hill.from, hill.to) = (hill.from.min(from), hill.to.max(to));
            behind[at] += 1;
        } else {
            let label = words::suspect(machine, suspect);
            let say = words::expected(predicted, quantity, meter);
            hills.push(Hill { from, to, share: *share, label, say, missed: false });
            behind.push(0);
        }
    }
    for (hill, more) in hills.iter_mut().zip(&behind) {
        if *more > 0 {
            hill.label = format!("{} and {more} more", hill.label);
        }
        hill.missed = plumb.is_some_and(|at| at < hill.from || at > hill.to);
    }
    let explained = hills.iter().any(|hill| !hill.missed);
    hills.sort_by(|a, b| b.share.total_cmp(&a.share));
    hills.truncate(MOST_HILLS);
    let say = measured.map(|of| {
        let read = words::measured(of, quantity);
        if explained {
            format!("you read {read}")
        } else {
            format!("you read {read}: none of the suspects explains this")
        }
    });
    Ruler {
        title: format!("{}, {}", words::probe(machine, reading.probe), words::condition(machine, reading)),
        marks: scale.marks(),
        healthy: span(ends(&sound)),
        healthy_say: words::expected(&sound, quantity, meter),
        hills,
        plumb,
        say,
    }
}

/// A scale: from a figure to a place between 0 and 1.
struct Scale {
    quantity: Quantity,
    top: f64,
}

impl Scale {
    fn of(predictor: &Predictor<'_>, quantity: Quantity, highest: f64) -> Self {
        let top = match quantity {
            Quantity::Ohms => predictor.meter().ohms_limit,
            Quantity::Volts => (1.1 * predictor.supply_volts()).max(1.05 * highest),
            Quantity::Amps => (1.2 * highest).max(1.0),
            Quantity::Farads => (10.0 * highest).max(1e-6),
        };
        Self { quantity, top }
    }

    fn place(&self, figure: f64) -> f64 {
        let by_logarithm = |least: f64, width: f64| {
            width * (libm::log(figure.max(least) / least) / libm::log(self.top / least)).clamp(0.0, 1.0)
        };
        match self.quantity {
            Quantity::Ohms if !figure.is_finite() => 1.0,
            Quantity::Ohms => by_logarithm(LEAST_OHMS, OVER),
            Quantity::Farads => by_logarithm(LEAST_FARADS, 1.0),
            Quantity::Volts | Quantity::Amps => (figure / self.top).clamp(0.0, 1.0),
        }
    }

    /// Gives the marks; the unit stands beside the healthy band.
    fn marks(&self) -> Vec<Mark> {
        let at = |figure: f64, label: String| Mark { at: self.place(figure), label };
        let decades = |figures: &[(f64, &str)]| {
            let within = figures.iter().filter(|(figure, _)| *figure < self.top);
            within.map(|(figure, label)| at(*figure, (*label).to_owned())).collect::<Vec<_>>()
        };
        match self.quantity {
            Quantity::Ohms => {
                let mut marks = decades(&OHMS);
                marks.push(Mark { at: OVER_MIDDLE, label: "OL".to_owned() });
                marks
            }
            Quantity::Farads => decades(&FARADS),
            Quantity::Volts => {
                let figures = (0..8).map(|n| 60.0 * f64::from(n)).filter(|volts| *volts <= self.top);
                figures.map(|volts| at(volts, format!("{volts:.0}"))).collect()
            }
            Quantity::Amps => {
                let places = usize::from(self.top < 4.0);
                let figures = (0..=4).map(|quarter| 0.25 * f64::from(quarter) * self.top);
                figures.map(|amps| at(amps, format!("{amps:.places$}"))).collect()
            }
        }
    }
}
