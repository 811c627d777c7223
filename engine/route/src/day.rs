//! One van's day: the order of its calls that is best in expectation, and how sure each promised window is.
//!
//! A visit begins when one is there and the window is open; minutes at each are a distribution, apart from the others. What
//! an order costs is the minutes driven and waited, the minutes late at a window on average, and those after hours. The
//! routing library searches with sure minutes, some of them stretched so that it leaves room; the best of what it finds, of
//! the order by windows and of the nearest-next one is then improved by moving and swapping calls until nothing helps.

use crate::NoPlan;
use crate::fleet::{self, Task, Van};
use crate::spread::Spread;

/// A call of the day.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Its place, by the row of the travel table.
    pub place: usize,
    /// Earliest and latest start that was promised, minutes of the day; any time where nothing was.
    pub window: Option<(f64, f64)>,
    /// How long it takes.
    pub minutes: Spread,
}

/// A day to be planned.
#[derive(Clone, Debug, PartialEq)]
pub struct Day {
    /// Minutes of travel from place to place.
    pub travel: Vec<Vec<f64>>,
    /// Where the van is.
    pub from: usize,
    /// Where it goes at the end.
    pub home: usize,
    /// When it leaves, minutes of the day.
    pub leaves: f64,
    /// When it should be back.
    pub back_by: f64,
    /// The calls.
    pub stops: Vec<Stop>,
}

/// What minutes are worth against each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights {
    /// A minute late at a promised window, in minutes driven.
    pub late: f64,
    /// A minute after hours, in minutes driven.
    pub after_hours: f64,
    /// A minute waited, in minutes driven.
    pub waited: f64,
}

/// A minute late as dear as ten driven, one after hours as two, one waited as a half. Common practice, no source.
impl Default for Weights {
    fn default() -> Self {
        Self { late: 10.0, after_hours: 2.0, waited: 0.5 }
    }
}

/// One visit of a plan; times in minutes of the day.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// The call, by its place in the list.
    pub stop: usize,
    /// Minutes driven to it.
    pub drive: f64,
    /// When one is there: on average, and with a chance of one in ten earlier and later.
    pub there: (f64, f64, f64),
    /// Minutes waited for the window, on average.
    pub waits: f64,
    /// Chance of coming after the window has closed, 0 to 1.
    pub late: f64,
    /// Minutes late, on average.
    pub minutes_late: f64,
    /// When it is done, on average.
    pub done: f64,
}

/// A planned day.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The visits in order.
    pub visits: Vec<Visit>,
    /// Minutes driven, the way home with them.
    pub driven: f64,
    /// When one is home: on average, and with a chance of one in ten later.
    pub home: (f64, f64),
    /// Chance of being home after hours, 0 to 1.
    pub after_hours: f64,
    /// What it costs in all, in minutes driven.
    pub cost: f64,
}

/// Generations of the library's search for a day: more find nothing better in the tests' days.
const GENERATIONS: usize = 60;
/// By how many deviations minutes are stretched for the library, to leave room.
const STRETCHED: [f64; 3] = [0.0, 0.7, 1.4];

/// Plans a day.
///
/// # Errors
/// What is handed in is no day, in words.
pub fn plan(day: &Day, weights: &Weights) -> Result<Plan, NoPlan> {
    let order = order_of(day, weights)?;
    Ok(walk(day, &order, weights))
}

/// Gives the best order found, as places in the list of calls.
///
/// # Errors
/// What is handed in is no day, in words.
pub fn order_of(day: &Day, weights: &Weights) -> Result<Vec<usize>, NoPlan> {
    let mut begin = vec![by_windows(day), nearest_next(day)];
    for stretched in STRETCHED {
        begin.push(searched(day, stretched)?);
    }
    let improved = begin.into_iter().map(|order| improve(day, order, weights));
    let best = improved.min_by(|one, other| one.1.total_cmp(&other.1).then_with(|| one.0.cmp(&other.0)));
    Ok(best.map(|(order, _)| order).unwrap_or_default())
}

/// Walks the calls in this order, with every minute uncertain.
#[must_use]
pub fn walk(day: &Day, order: &[usize], weights: &Weights) -> Plan {
    let mut at = day.from;
    let mut clock = Spread::sure(day.leaves);
    let mut visits = Vec::new();
    for &stop in order {
        let of = &day.stops[stop];
        let drive = day.travel[at][of.place];
        let there = clock.then(&Spread::sure(drive));
        let (opens, closes) = of.window.unwrap_or((0.0, f64::INFINITY));
        let begins = there.not_before(opens);
        clock = begins.then(&of.minutes);
        visits.push(Visit {
            stop,
            drive,
            there: (there.mean(), there.quantile(0.1), there.quantile(0.9)),
            waits: begins.mean() - there.mean(),
            late: there.over(closes),
            minutes_late: there.beyond(closes),
            done: clock.mean(),
        });
        at = of.place;
    }
    let back = day.travel[at][day.home];
    let home = clock.then(&Spread::sure(back));
    let driven = visits.iter().map(|visit| visit.drive).sum::<f64>() + back;
    let sum = |of: fn(&Visit) -> f64| visits.iter().map(of).sum::<f64>();
    let cost = driven
        + weights.waited * sum(|visit| visit.waits)
        + weights.late * sum(|visit| visit.minutes_late)
        + weights.after_hours * home.beyond(day.back_by);
    Plan { driven, home: (home.mean(), home.quantile(0.9)), after_hours: home.over(day.back_by), cost, visits }
}

fn by_windows(day: &Day) -> Vec<usize> {
    let mut order: Vec<usize> = (0..day.stops.len()).collect();
    let closes = |stop: usize| day.stops[stop].window.map_or(f64::INFINITY, |(_, closes)| closes);
    order.sort_by(|one, other| closes(*one).total_cmp(&closes(*other)));
    order
}

fn nearest_next(day: &Day) -> Vec<usize> {
    let mut left: Vec<usize> = (0..day.stops.len()).collect();
    let (mut order, mut at) = (Vec::new(), day.from);
    while !left.is_empty() {
        let way = |stop: &usize| {
            day.travel.get(at).and_then(|row| row.get(day.stops[*stop].place)).copied().unwrap_or(f64::INFINITY)
        };
        let nearest =
            (0..left.len()).min_by(|one, other| way(&left[*one]).total_cmp(&way(&left[*other]))).unwrap_or_default();
        let stop = left.remove(nearest);
        at = day.stops[stop].place;
        order.push(stop);
    }
    order
}

/// Asks the library, with minutes stretched by so many deviations. What keeps no window is put where it costs least.
fn searched(day: &Day, stretched: f64) -> Result<Vec<usize>, NoPlan> {
    let task = |stop: &Stop| Task {
        place: stop.place,
        window: stop.window.unwrap_or((0.0, 2880.0)),
        minutes: stop.minutes.mean() + stretched * stop.minutes.deviation(),
        skill: None,
    };
    let tasks: Vec<Task> = day.stops.iter().map(task).collect();
    let van = Van { from: day.from, back_to: Some(day.home), hours: (day.leaves, 2880.0), skills: Vec::new() };
    let found = fleet::search(&day.travel, &tasks, std::slice::from_ref(&van), GENERATIONS)?;
    let mut order: Vec<usize> = found.tours.into_iter().flat_map(|(_, order)| order).collect();
    for left in found.left_over {
        let places = (0..=order.len()).map(|at| {
            let mut with = order.clone();
            with.insert(at, left);
            (walk(day, &with, &Weights::default()).cost, with)
        });
        if let Some((_, with)) = places.min_by(|one, other| one.0.total_cmp(&other.0)) {
            order = with;
        }
    }
    Ok(order)
}

/// Moves and swaps calls while that makes the day better.
fn improve(day: &Day, mut order: Vec<usize>, weights: &Weights) -> (Vec<usize>, f64) {
    let mut cost = walk(day, &order, weights).cost;
    loop {
        let better = neighbours(&order).into_iter().map(|other| (walk(day, &other, weights).cost, other));
        match better.min_by(|one, other| one.0.total_cmp(&other.0)) {
            Some((less, other)) if less < cost - 1e-9 => (order, cost) = (other, less),
            _ => return (order, cost),
        }
    }
}

/// Every order in which one call is moved, two are swapped, or a stretch is turned round.
fn neighbours(order: &[usize]) -> Vec<Vec<usize>> {
    let mut all = Vec::new();
    for from in 0..order.len() {
        for to in 0..order.len() {
            if from != to {
                let mut moved = order.to_vec();
                let stop = moved.remove(from);
                moved.insert(to, stop);
                all.push(moved);
            }
            if from < to {
                let mut swapped = order.to_vec();
                swapped.swap(from, to);
                all.push(swapped);
                let mut turned = order.to_vec();
                turned[from..=to].reverse();
                all.push(turned);
            }
        }
    }
    all
}
