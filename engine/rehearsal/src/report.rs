//! What a rehearsal came to, as numbers and as a table.

use crate::visit::{End, Visit};
use std::fmt::Write as _;

/// What one technician's visits came to; every figure is a mean over the calls.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Measures {
    /// Share of calls that were right at the first visit, 0 to 1.
    pub first_visit_fix: f64,
    /// Parts fitted that cured nothing, for 100 calls.
    pub needless_parts_per_100: f64,
    /// Minutes from arrival until the repair that cured was decided on; of a call that was not right all its minutes.
    pub minutes_to_find: f64,
    /// Minutes from arrival to the start of the repair that cured, the way in and wrong changes included; of a call
    /// that was not right all its minutes.
    pub minutes: f64,
    /// Standard error of that mean.
    pub minutes_error: f64,
    /// Minutes from arrival to leaving, everything proved and closed.
    pub minutes_in_all: f64,
    /// Readings by hand inside the open energised machine, for each call.
    pub open_energised_probing: f64,
    /// Supply readings and proofs of dead, for each call.
    pub supply_and_proving_readings: f64,
    /// Readings on the isolated machine, for each call.
    pub readings: f64,
    /// Readings clipped on dead and read standing clear, for each call.
    pub clipped_readings: f64,
    /// Looks, for each call.
    pub looks: f64,
    /// States run and watched, for each call, proofs included.
    pub tries: f64,
    /// Covers taken off, for each call.
    pub covers_off: f64,
    /// Calls left as sound that were not, for 100 calls.
    pub callbacks_per_100: f64,
    /// Calls handed on, rightly or wrongly, for 100 calls.
    pub referred_per_100: f64,
}

/// The rivals' measures.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Rivals {
    /// The frozen flowchart; `None` for a machine without one.
    pub checklist: Option<Measures>,
    /// Value of information one step ahead, set-up ignored.
    pub value_of_information: Measures,
}

/// What a rehearsal came to: the tool's measures at the top, its rivals' below.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Report {
    /// The machine's id.
    pub machine: String,
    /// Calls.
    pub calls: usize,
    /// Seed.
    pub seed: u64,
    /// The tool.
    #[serde(flatten)]
    pub tool: Measures,
    /// Minutes to the start of the repair that cures for one who knows the truth.
    pub all_knowing_minutes: f64,
    /// The tool's minutes over the checklist's, all calls.
    pub minutes_over_checklist: Option<f64>,
    /// The same over the calls that both did right.
    pub minutes_over_checklist_where_both_right: Option<f64>,
    /// The rivals.
    pub rivals: Rivals,
}

/// Visits as they come in.
#[derive(Debug, Default)]
pub(crate) struct Gathered {
    pub(crate) all_knowing: Vec<f64>,
    pub(crate) tool: Vec<Visit>,
    pub(crate) value: Vec<Visit>,
    pub(crate) checklist: Vec<Visit>,
}

impl Gathered {
    pub(crate) fn report(&self, machine: &str, seed: u64) -> Report {
        let tool = Measures::of(&self.tool);
        let checklist = (!self.checklist.is_empty()).then(|| Measures::of(&self.checklist));
        let both: Vec<(&Visit, &Visit)> =
            self.tool.iter().zip(&self.checklist).filter(|(a, b)| a.right && b.right).collect();
        let ours: f64 = both.iter().map(|(ours, _)| ours.minutes).sum();
        let theirs: f64 = both.iter().map(|(_, theirs)| theirs.minutes).sum();
        Report {
            machine: machine.to_owned(),
            calls: self.tool.len(),
            seed,
            tool,
            all_knowing_minutes: mean(&self.all_knowing),
            minutes_over_checklist: checklist.map(|c| tool.minutes / c.minutes),
            minutes_over_checklist_where_both_right: (theirs > 0.0).then(|| ours / theirs),
            rivals: Rivals { checklist, value_of_information: Measures::of(&self.value) },
        }
    }
}

impl Measures {
    /// Takes the means over visits; all 0 for none.
    #[must_use]
    pub fn of(visits: &[Visit]) -> Self {
        let average = |figure: &dyn Fn(&Visit) -> f64| mean(&visits.iter().map(figure).collect::<Vec<_>>());
        let share = |is: &dyn Fn(&Visit) -> bool| average(&|visit| f64::from(u8::from(is(visit))));
        let to_start = average(&|v| v.minutes);
        let squares: f64 = visits.iter().map(|v| (v.minutes - to_start) * (v.minutes - to_start)).sum();
        let count = visits.len() as f64;
        let error = if count > 1.0 { (squares / (count - 1.0) / count).sqrt() } else { 0.0 };
        Self {
            first_visit_fix: share(&|v| v.right),
            needless_parts_per_100: 100.0 * average(&|v| f64::from(v.needless_parts)),
            minutes_to_find: average(&|v| v.minutes_to_find),
            minutes: to_start,
            minutes_error: error,
            minutes_in_all: average(&|v| v.minutes_in_all),
            open_energised_probing: average(&|v| f64::from(v.counts.open_energised_probing)),
            supply_and_proving_readings: average(&|v| f64::from(v.counts.supply_and_proving_readings)),
            readings: average(&|v| f64::from(v.counts.readings)),
            clipped_readings: average(&|v| f64::from(v.counts.clipped_readings)),
            looks: average(&|v| f64::from(v.counts.looks)),
            tries: average(&|v| f64::from(v.counts.tries)),
            covers_off: average(&|v| f64::from(v.counts.covers_off)),
            callbacks_per_100: 100.0 * share(&|v| v.callback),
            referred_per_100: 100.0 * share(&|v| matches!(v.end, End::Referred | End::ReferredWith(_))),
        }
    }
}

fn mean(list: &[f64]) -> f64 {
    if list.is_empty() { 0.0 } else { list.iter().sum::<f64>() / list.len() as f64 }
}

impl Report {
    /// Gives the measures as a table in plain text.
    #[must_use]
    pub fn table(&self) -> String {
        let mut columns = vec![("tool", self.tool)];
        columns.extend(self.rivals.checklist.map(|c| ("checklist", c)));
        columns.push(("value of inf.", self.rivals.value_of_information));
        let mut text = format!("{}: {} calls, seed {}\n{:34}", self.machine, self.calls, self.seed, "");
        for (name, _) in &columns {
            let _ = write!(text, "{name:>15}");
        }
        for (name, figure) in ROWS {
            let _ = write!(text, "\n{name:34}");
            for (_, measures) in &columns {
                let _ = write!(text, "{:15.2}", figure(measures));
            }
        }
        let _ = write!(
            text,
            "\n\nAll-knowing technician: {:.2} minutes to the start of the cure.",
            self.all_knowing_minutes
        );
        if let (Some(all), Some(both)) = (self.minutes_over_checklist, self.minutes_over_checklist_where_both_right) {
            let _ = write!(
                text,
                "\nMinutes to the start of the cure over the checklist's: {all:.2}; over the calls that both did right: {both:.2}."
            );
        }
        text
    }
}

/// One row of the table: its name and the figure it shows.
type Row = (&'static str, fn(&Measures) -> f64);

const ROWS: [Row; 15] = [
    ("right at the first visit, %", |m| 100.0 * m.first_visit_fix),
    ("needless parts for 100 calls", |m| m.needless_parts_per_100),
    ("minutes to find", |m| m.minutes_to_find),
    ("minutes to the start of the cure", |m| m.minutes),
    ("  standard error", |m| m.minutes_error),
    ("minutes in all", |m| m.minutes_in_all),
    ("probing by hand, open and live", |m| m.open_energised_probing),
    ("supply and proving readings", |m| m.supply_and_proving_readings),
    ("readings, isolated", |m| m.readings),
    ("readings, clipped", |m| m.clipped_readings),
    ("looks", |m| m.looks),
    ("runs", |m| m.tries),
    ("covers off", |m| m.covers_off),
    ("callbacks for 100 calls", |m| m.callbacks_per_100),
    ("handed on for 100 calls", |m| m.referred_per_100),
];
