//! The danger counts of a rehearsal: what was planted and found, what the judge of safety saw, and what that bounds.

use crate::planted::PlantedEnd;
use crate::safety::Violation;
use crate::visit::Visit;
use machine::Machine;
use std::collections::BTreeMap;

/// What came of danger in one technician's visits; every figure is a count over the calls unless it says otherwise.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize)]
pub struct Dangers {
    /// Calls with an unrelated dangerous fault planted.
    pub planted: usize,
    /// Of these, found before handing back: mended, named to those licensed, or shown by a proof and disconnected.
    pub planted_found: usize,
    /// Of these, jobs handed on before anything was proved: nothing was handed back for use.
    pub planted_handed_on: usize,
    /// Of these, handed back with the proof that would tell it left open by the technician's meter, and recorded so.
    pub planted_not_decided: usize,
    /// Of these, handed back because nothing that the machine's proofs and runs ask for tells it on that unit.
    pub planted_untold: usize,
    /// Of these, handed back though a proof or run tells it.
    pub planted_missed: usize,
    /// Found, as a share of all planted ones that came to handing back, 0 to 1.
    pub planted_found_share: f64,
    /// Found, as a share of those that came to handing back and that a reading or run asked for tells with this meter.
    pub planted_found_share_where_told: f64,
    /// The planted faults that were handed back: id and why, with how often.
    pub planted_handed_back: BTreeMap<String, usize>,
    /// Things done by hand, each seen by the judge of safety.
    pub hands_judged: u64,
    /// What was done against safety, by that judge.
    pub violations: usize,
    /// The same by kind.
    pub violations_by_kind: BTreeMap<Violation, usize>,
    /// Calls with any of it.
    pub calls_with_violations: usize,
    /// With 95 % confidence no larger share of calls has any of it: 3 over the calls where none had.
    ///
    /// SOURCE: rule of three, Hanley and Lippman-Hand, JAMA 249(13), 1983; `None` where some had.
    pub violations_share_at_most: Option<f64>,
    /// Reasons for probing by hand in the open, energised machine, with how often.
    pub probing_reasons: BTreeMap<String, usize>,
}

impl Dangers {
    /// Counts over visits of one machine.
    #[must_use]
    pub fn of(machine: &Machine, visits: &[Visit]) -> Self {
        let mut all = Self::default();
        for visit in visits {
            all.add(machine, visit);
        }
        all.close(visits.len());
        all
    }

    fn add(&mut self, machine: &Machine, visit: &Visit) {
        self.hands_judged += u64::from(visit.hands);
        self.violations += visit.violations.len();
        self.calls_with_violations += usize::from(!visit.violations.is_empty());
        for kind in &visit.violations {
            *self.violations_by_kind.entry(*kind).or_default() += 1;
        }
        for reason in &visit.probing_reasons {
            *self.probing_reasons.entry(reason.clone()).or_default() += 1;
        }
        let Some(planted) = visit.planted else { return };
        self.planted += 1;
        self.planted_found += usize::from(planted.end.found());
        let (count, why) = match planted.end {
            PlantedEnd::Mended | PlantedEnd::Named | PlantedEnd::Disconnected => return,
            PlantedEnd::HandedOn => {
                self.planted_handed_on += 1;
                return;
            }
            PlantedEnd::NotDecided => (&mut self.planted_not_decided, "not decided with this meter"),
            PlantedEnd::Untold => (&mut self.planted_untold, "nothing that is asked for tells it"),
            PlantedEnd::Missed => (&mut self.planted_missed, "missed"),
        };
        *count += 1;
        let id = &machine.faults[planted.fault.index()].id;
        *self.planted_handed_back.entry(format!("{id}: {why}")).or_default() += 1;
    }

    /// Adds another machine's counts, over so many calls of both together.
    pub fn join(&mut self, other: &Self, calls: usize) {
        self.planted += other.planted;
        self.planted_found += other.planted_found;
        self.planted_handed_on += other.planted_handed_on;
        self.planted_not_decided += other.planted_not_decided;
        self.planted_untold += other.planted_untold;
        self.planted_missed += other.planted_missed;
        self.hands_judged += other.hands_judged;
        self.violations += other.violations;
        self.calls_with_violations += other.calls_with_violations;
        let add = |(here, there): (&mut BTreeMap<String, usize>, &BTreeMap<String, usize>)| {
            for (word, count) in there {
                *here.entry(word.clone()).or_default() += count;
            }
        };
        add((&mut self.planted_handed_back, &other.planted_handed_back));
        add((&mut self.probing_reasons, &other.probing_reasons));
        for (kind, count) in &other.violations_by_kind {
            *self.violations_by_kind.entry(*kind).or_default() += count;
        }
        self.close(calls);
    }

    fn close(&mut self, calls: usize) {
        let came = self.planted - self.planted_handed_on;
        let told = came - self.planted_untold - self.planted_not_decided;
        let share = |of: usize| if of == 0 { 1.0 } else { self.planted_found as f64 / of as f64 };
        (self.planted_found_share, self.planted_found_share_where_told) = (share(came), share(told));
        let none = self.calls_with_violations == 0 && calls > 0;
        self.violations_share_at_most = none.then(|| (3.0 / calls as f64).min(1.0));
    }

    /// Says it in plain lines.
    #[must_use]
    pub fn lines(&self, calls: usize) -> Vec<String> {
        let mut lines = vec![
            format!(
                "Planted in {} of {calls} calls: {} found before handing back, {} jobs handed on before anything was \
                 proved, {} handed back ({} not decided with this meter, {} that nothing asked for tells, {} missed).",
                self.planted,
                self.planted_found,
                self.planted_handed_on,
                self.planted_not_decided + self.planted_untold + self.planted_missed,
                self.planted_not_decided,
                self.planted_untold,
                self.planted_missed
            ),
            format!(
                "Found of those that came to handing back: {:.1} %; of those that a reading or run tells: {:.1} %.",
                100.0 * self.planted_found_share,
                100.0 * self.planted_found_share_where_told
            ),
        ];
        let handed_back =
            self.planted_handed_back.iter().map(|(what, count)| format!("handed back {count} times: {what}"));
        lines.extend(handed_back);
        lines.push(match self.violations_share_at_most {
            Some(share) => format!(
                "Judge of safety: {} things done by hand, none against safety; at most {:.3} % of calls with 95 % confidence.",
                self.hands_judged,
                100.0 * share
            ),
            None => format!(
                "Judge of safety: {} things done by hand, {} against safety in {} calls: {:?}.",
                self.hands_judged, self.violations, self.calls_with_violations, self.violations_by_kind
            ),
        });
        let reasons = self.probing_reasons.iter().map(|(why, count)| format!("probed by hand {count} times: {why}"));
        lines.extend(reasons);
        lines
    }
}
