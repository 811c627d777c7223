//! What a rehearsal came to, as numbers and as a table.

use crate::Strategy;
use crate::calibration::Calibration;
use crate::dangers::Dangers;
use crate::paired::{Paired, mean_and_error};
use crate::van::Van;
use crate::visit::{Claim, End, Visit};
use machine::Machine;
use std::collections::BTreeMap;
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
    /// Work points proved dead, for each call.
    pub proved_dead: f64,
    /// Share of calls right at the first visit with every part that was fitted on the van, 0 to 1.
    pub completed_from_van: f64,
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
    /// The likeliest part changed first.
    pub likeliest_part_first: Measures,
    /// Most information, cost ignored.
    pub information: Measures,
    /// Most information for a minute.
    pub information_per_minute: Measures,
}

/// Each rival against the tool, call by call.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct PairedRivals {
    /// The frozen flowchart; `None` for a machine without one.
    pub checklist: Option<Paired>,
    /// Value of information one step ahead, set-up ignored.
    pub value_of_information: Paired,
    /// The likeliest part changed first.
    pub likeliest_part_first: Paired,
    /// Most information, cost ignored.
    pub information: Paired,
    /// Most information for a minute.
    pub information_per_minute: Paired,
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
    /// The same for one who must confirm before he changes; see [`crate::confirming_minutes`].
    pub confirming_minutes: f64,
    /// What the tool claimed of the repairs it decided on, against what was so.
    pub calibration: Calibration,
    /// What the tool stated of its leading suspect before each step.
    pub calibration_of_leading: Calibration,
    /// What it stated of every suspect of a hundredth or more before each step.
    pub calibration_of_suspects: Calibration,
    /// The tool's minutes over the checklist's, all calls.
    pub minutes_over_checklist: Option<f64>,
    /// The same over the calls that both did right.
    pub minutes_over_checklist_where_both_right: Option<f64>,
    /// The tool's minutes over the all-knowing technician's.
    pub minutes_over_all_knowing: f64,
    /// The tighter bound: over the minutes of one who is obliged to confirm.
    pub minutes_over_confirming: f64,
    /// The danger counts of the tool.
    #[serde(flatten)]
    pub dangers: Dangers,
    /// The rivals.
    pub rivals: Rivals,
    /// The rivals less the tool, call by call.
    pub paired: PairedRivals,
}

/// Every visit of a rehearsal.
#[derive(Clone, Debug)]
pub struct Gathered<'m> {
    machine: &'m Machine,
    seed: u64,
    van: Van,
    /// The all-knowing technician's minutes, by call.
    pub all_knowing: Vec<f64>,
    /// The same, obliged to confirm first.
    pub confirming: Vec<f64>,
    /// Visits of each technician, by call.
    pub visits: BTreeMap<Strategy, Vec<Visit>>,
}

impl<'m> Gathered<'m> {
    pub(crate) fn new(machine: &'m Machine, seed: u64, van: Van) -> Self {
        let (all_knowing, confirming, visits) = Default::default();
        Self { machine, seed, van, all_knowing, confirming, visits }
    }

    fn of(&self, strategy: Strategy) -> &[Visit] {
        self.visits.get(&strategy).map_or(&[], Vec::as_slice)
    }

    /// Gives what the tool lost here against another rehearsal of the same calls, minutes to the start of the cure: mean
    /// over calls and its standard error.
    #[must_use]
    pub fn lost_against(&self, other: &Self) -> (f64, f64) {
        let pairs = self.of(Strategy::Tool).iter().zip(other.of(Strategy::Tool));
        let lost: Vec<f64> = pairs.map(|(here, there)| here.minutes - there.minutes).collect();
        let (mean, count) = (mean(&lost), lost.len() as f64);
        let squares: f64 = lost.iter().map(|l| (l - mean) * (l - mean)).sum();
        (mean, if count > 1.0 { (squares / (count - 1.0) / count).sqrt() } else { 0.0 })
    }

    /// Takes the means.
    #[must_use]
    pub fn report(&self) -> Report {
        let measures = |strategy| self.measures(strategy);
        let paired = |strategy| Paired::of(self.of(Strategy::Tool), self.of(strategy));
        let (ours, theirs) = (self.of(Strategy::Tool), self.of(Strategy::Checklist));
        let tool = measures(Strategy::Tool);
        let checklist = (!theirs.is_empty()).then(|| measures(Strategy::Checklist));
        let of = |claims: fn(&Visit) -> &Vec<Claim>| {
            Calibration::of(&ours.iter().map(|visit| claims(visit).clone()).collect::<Vec<_>>())
        };
        let (calibration, calibration_of_leading) = (of(|visit| &visit.claims), of(|visit| &visit.leading));
        let calibration_of_suspects = of(|visit| &visit.suspects);
        let calls = ours.len();
        let dangers = Dangers::of(self.machine, ours);
        let (all_knowing, confirming) = (mean(&self.all_knowing), mean(&self.confirming));
        let over = |least: f64| if least > 0.0 { tool.minutes / least } else { 1.0 };
        let both: Vec<(&Visit, &Visit)> = ours.iter().zip(theirs).filter(|(a, b)| a.right && b.right).collect();
        let ours: f64 = both.iter().map(|(ours, _)| ours.minutes).sum();
        let theirs: f64 = both.iter().map(|(_, theirs)| theirs.minutes).sum();
        Report {
            machine: self.machine.id.clone(),
            calls,
            seed: self.seed,
            tool,
            all_knowing_minutes: all_knowing,
            confirming_minutes: confirming,
            minutes_over_all_knowing: over(all_knowing),
            minutes_over_confirming: over(confirming),
            dangers,
            calibration,
            calibration_of_leading,
            calibration_of_suspects,
            minutes_over_checklist: checklist.map(|c| tool.minutes / c.minutes),
            minutes_over_checklist_where_both_right: (theirs > 0.0).then(|| ours / theirs),
            rivals: Rivals {
                checklist,
                value_of_information: measures(Strategy::ValueOfInformation),
                likeliest_part_first: measures(Strategy::LikeliestPartFirst),
                information: measures(Strategy::Information),
                information_per_minute: measures(Strategy::InformationPerMinute),
            },
            paired: PairedRivals {
                checklist: checklist.map(|_| paired(Strategy::Checklist)),
                value_of_information: paired(Strategy::ValueOfInformation),
                likeliest_part_first: paired(Strategy::LikeliestPartFirst),
                information: paired(Strategy::Information),
                information_per_minute: paired(Strategy::InformationPerMinute),
            },
        }
    }

    fn measures(&self, strategy: Strategy) -> Measures {
        let visits = self.of(strategy);
        let completed = |visit: &Visit| visit.right && visit.repairs.iter().all(|r| self.van.has(self.machine, *r));
        let completed: Vec<f64> = visits.iter().map(|visit| f64::from(u8::from(completed(visit)))).collect();
        Measures { completed_from_van: mean(&completed), ..Measures::of(visits) }
    }
}

impl Measures {
    /// Takes the means over visits; all 0 for none.
    #[must_use]
    pub fn of(visits: &[Visit]) -> Self {
        let average = |figure: &dyn Fn(&Visit) -> f64| mean(&visits.iter().map(figure).collect::<Vec<_>>());
        let share = |is: &dyn Fn(&Visit) -> bool| average(&|visit| f64::from(u8::from(is(visit))));
        let (to_start, error) = mean_and_error(&visits.iter().map(|visit| visit.minutes).collect::<Vec<_>>());
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
            proved_dead: average(&|v| f64::from(v.counts.proved_dead)),
            // Known where the van is known.
            completed_from_van: 0.0,
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
    /// Gives each technician's name and measures, the tool first.
    #[must_use]
    pub fn columns(&self) -> Vec<(&'static str, Measures)> {
        let mut columns = vec![(Strategy::Tool.name(), self.tool)];
        columns.extend(self.rivals.checklist.map(|c| (Strategy::Checklist.name(), c)));
        columns.push((Strategy::ValueOfInformation.name(), self.rivals.value_of_information));
        columns.push((Strategy::LikeliestPartFirst.name(), self.rivals.likeliest_part_first));
        columns.push((Strategy::Information.name(), self.rivals.information));
        columns.push((Strategy::InformationPerMinute.name(), self.rivals.information_per_minute));
        columns
    }

    /// Gives each rival's name and its differences from the tool, call by call.
    #[must_use]
    pub fn paired_rivals(&self) -> Vec<(&'static str, Paired)> {
        let mut all: Vec<(&'static str, Paired)> = Vec::new();
        all.extend(self.paired.checklist.map(|paired| (Strategy::Checklist.name(), paired)));
        all.push((Strategy::ValueOfInformation.name(), self.paired.value_of_information));
        all.push((Strategy::LikeliestPartFirst.name(), self.paired.likeliest_part_first));
        all.push((Strategy::Information.name(), self.paired.information));
        all.push((Strategy::InformationPerMinute.name(), self.paired.information_per_minute));
        all
    }

    /// Gives what the tool stated, set against the truth, by name.
    #[must_use]
    pub fn calibrations(&self) -> [(&'static str, &Calibration); 3] {
        [
            ("the repairs decided on", &self.calibration),
            ("the leading suspect before each step", &self.calibration_of_leading),
            ("every suspect of 1 % or more before each step", &self.calibration_of_suspects),
        ]
    }

    /// Gives the measures as a table in plain text.
    #[must_use]
    pub fn table(&self) -> String {
        let columns = self.columns();
        let mut text = format!("{}: {} calls, seed {}\n{:34}", self.machine, self.calls, self.seed, "");
        for (name, _) in &columns {
            let _ = write!(text, "{name:>17}");
        }
        for (name, figure) in ROWS {
            let _ = write!(text, "\n{name:34}");
            for (_, measures) in &columns {
                let _ = write!(text, "{:17.2}", figure(measures));
            }
        }
        let _ = write!(
            text,
            "\n\nAll-knowing technician: {:.2} minutes to the start of the cure; obliged to confirm first: {:.2}.",
            self.all_knowing_minutes, self.confirming_minutes
        );
        let _ = write!(
            text,
            "\nThe tool's minutes over these: {:.2} and {:.2}.",
            self.minutes_over_all_knowing, self.minutes_over_confirming
        );
        for line in self.dangers.lines(self.calls) {
            let _ = write!(text, "\n{line}");
        }
        for (name, paired) in self.paired_rivals() {
            let _ = write!(
                text,
                "\n{name} less the tool, call by call: {:.2} minutes (s.e. {:.2}), {:.1} needless parts for 100 calls ({:.1}).",
                paired.minutes_more,
                paired.minutes_more_error,
                paired.needless_more_per_100,
                paired.needless_more_per_100_error
            );
        }
        for (name, told) in self.calibrations() {
            let _ = write!(text, "\nBrier score of {name}: {:.4} ± {:.4}.", told.brier, told.brier_error);
            for bin in told.bins.iter().filter(|bin| bin.count > 0) {
                let (from, to) = (100.0 * bin.from, 100.0 * bin.from + 10.0);
                let (claimed, cured) = (100.0 * bin.claimed, 100.0 * bin.cured);
                let _ = write!(
                    text,
                    "\n  {from:3.0} to {to:3.0} %: {:4} stated, {claimed:5.1} % claimed, {cured:5.1} % so",
                    bin.count
                );
            }
        }
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

const ROWS: [Row; 17] = [
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
    ("work points proved dead", |m| m.proved_dead),
    ("completed from the van, %", |m| 100.0 * m.completed_from_van),
    ("looks", |m| m.looks),
    ("runs", |m| m.tries),
    ("covers off", |m| m.covers_off),
    ("callbacks for 100 calls", |m| m.callbacks_per_100),
    ("handed on for 100 calls", |m| m.referred_per_100),
];
