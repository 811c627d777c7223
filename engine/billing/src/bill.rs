//! What a job costs so far, from the quotes that were approved and the work that followed. Sums are exact.

use book::{ApprovalRecorded, CallFact, Charge, ChargeSort, Decision, Fact, Job, JobFact, QuoteGiven};

/// Lists what is charged: the call once, and the lines of every approved quote after which a part was changed.
#[must_use]
pub fn bill(job: &Job) -> Vec<Charge> {
    let mut lines: Vec<Charge> = Vec::new();
    let diagnosis =
        job.all::<QuoteGiven>().flat_map(|(_, quote)| &quote.charges).find(|line| line.sort == ChargeSort::Diagnosis);
    lines.extend(diagnosis.cloned());
    for (at, (entry, quote)) in job.all::<QuoteGiven>().enumerate() {
        let approved = job
            .all::<ApprovalRecorded>()
            .any(|(_, answer)| answer.quote == entry.event && answer.decision == Decision::Approved);
        if approved && work_followed(job, at) {
            lines.extend(quote.charges.iter().filter(|line| line.sort != ChargeSort::Diagnosis).cloned());
        }
    }
    lines
}

/// A part was changed after this quote and before the next.
fn work_followed(job: &Job, quote: usize) -> bool {
    let mut seen = 0;
    for entry in &job.timeline {
        match &entry.fact {
            Fact::Job(JobFact::QuoteGiven(_)) => seen += 1,
            Fact::Call(CallFact::PartChanged(_)) if seen == quote + 1 => return true,
            _ => {}
        }
    }
    false
}
