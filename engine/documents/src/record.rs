//! The record of a job: what was wrong, what was done, readings with their limits, proofs, hazards, money, a signature.

use crate::page::{Block, Page};
use crate::{Heading, words};
use billing::{bill, total};
use book::{
    ApprovalRecorded, CallEnded, CallOpened, ComplaintAdded, CoverOpened, Decision, Fact, FaultFound, HandedOver, Job,
    LookTaken, MadeSafe, Outcome, PartChanged, ReadingTaken, Report, Signature, StepProposed, SupplyChecked, TryTaken,
    Verdict,
};

/// Makes the record of a job.
#[must_use]
pub fn record_page(job: &Job, heading: &Heading) -> Page {
    let mut page = Page::new("Record of service");
    head(&mut page, job, heading);
    if job.at_once {
        let say = "two phones worked on this call without knowing of each other; both accounts are put together here";
        page.blocks.push(Block::Warning(say.to_owned()));
    }
    complaint(&mut page, job, heading);
    cause(&mut page, job);
    done(&mut page, job, heading);
    hazards(&mut page, job, heading);
    proofs(&mut page, job, heading);
    readings(&mut page, job, heading);
    seen(&mut page, job, heading);
    costs(&mut page, job);
    sign(&mut page, job, heading);
    page
}

fn head(page: &mut Page, job: &Job, heading: &Heading) {
    page.line(heading.shop.clone());
    page.blocks.extend(heading.note.clone().map(Block::Small));
    if let Some(customer) = &heading.customer {
        page.named("Customer", customer.name.clone());
        for line in &customer.address {
            page.line(line.clone());
        }
    } else {
        page.named("Customer", "details are not at hand here");
    }
    page.named("Appliance", heading.appliance.clone());
    let visits: Vec<String> = job.all::<CallOpened>().map(|(entry, _)| words::time(&entry.at)).collect();
    page.named(if visits.len() > 1 { "Visits" } else { "Visit" }, visits.join("; "));
    for (_, ended) in job.all::<CallEnded>() {
        page.named("Ended", words::end(&ended.end, heading));
    }
}

fn complaint(page: &mut Page, job: &Job, heading: &Heading) {
    page.heading("Complaint");
    let opened = job.opened.iter().map(|opened| &opened.fact.complaint);
    let all: Vec<_> = opened.chain(job.all::<ComplaintAdded>().map(|(_, added)| &added.complaint)).collect();
    let reports: Vec<&Report> =
        all.iter().flat_map(|complaint| &complaint.reports).filter(|report| !report.value.is_empty()).collect();
    let mut any = !reports.is_empty();
    for (state, said) in by_state(&reports, heading) {
        page.line(if state.is_empty() { said } else { format!("{state}: {said}") });
    }
    for complaint in all {
        if let Some(since) = &complaint.since {
            page.named("Since", since.clone());
        }
        if let Some(role) = &complaint.touched_last {
            page.named("Worked on last by", words::role(*role));
        }
        if let Some(code) = &complaint.code_shown {
            page.named("Code shown", code.clone());
        }
        if complaint.gas_smell == Some(true) {
            page.blocks.push(Block::Warning("gas was smelled".to_owned()));
            any = true;
        }
        if complaint.standing_water == Some(true) {
            page.blocks.push(Block::Warning("water was standing".to_owned()));
        }
    }
    if !any {
        page.line("nothing was told");
    }
}

/// What was reported, a line a state, in the order in which the states were first spoken of.
fn by_state(reports: &[&Report], heading: &Heading) -> Vec<(String, String)> {
    let mut lines: Vec<(String, String)> = Vec::new();
    for report in reports {
        let state = report.state.as_deref().map_or("", |state| heading.say(state));
        let said = heading.say(&format!("{}={}", report.observation, report.value)).to_owned();
        match lines.iter_mut().find(|(of, _)| of == state) {
            Some((_, line)) => line.push_str(&format!(", {said}")),
            None => lines.push((state.to_owned(), said)),
        }
    }
    lines
}

fn cause(page: &mut Page, job: &Job) {
    let found: Vec<&FaultFound> = job.all::<FaultFound>().map(|(_, found)| found).collect();
    if found.is_empty() {
        return;
    }
    page.heading("What was wrong");
    for found in found {
        page.line(found.words.clone());
    }
}

fn done(page: &mut Page, job: &Job, heading: &Heading) {
    page.heading("What was done");
    let before = page.blocks.len();
    for (_, changed) in job.all::<PartChanged>() {
        let name = heading.say(&changed.part);
        page.line(match &changed.spare {
            Some(spare) => format!("replaced: {spare}"),
            None => format!("mended, cleaned or set right: {name}"),
        });
    }
    let made_safe = job.all::<MadeSafe>().count();
    if made_safe > 0 {
        let times = if made_safe == 1 { "once".to_owned() } else { format!("{made_safe} times") };
        page.line(format!("isolated, secured and proved dead with the meter proved before and after, {times}"));
    }
    let covers: Vec<&str> = job.all::<CoverOpened>().map(|(_, cover)| heading.say(&cover.cover)).collect();
    if !covers.is_empty() {
        let state = if job.covers_open.is_empty() { "all back on" } else { "not all back on" };
        page.line(format!("opened: {}; {state}", covers.join("; ")));
    }
    for missing in &job.screws_missing {
        let cover = heading.say(&missing.cover);
        page.line(format!("fasteners, {cover}: {} came out, {} went back", missing.out, missing.back));
    }
    if page.blocks.len() == before {
        page.line("nothing was opened or changed");
    }
}

fn hazards(page: &mut Page, job: &Job, heading: &Heading) {
    if job.hazards.is_empty() {
        return;
    }
    page.heading("Hazards found");
    for hazard in &job.hazards {
        let found = &hazard.found.fact;
        let told: Vec<&str> = found.told.iter().map(|role| words::role(*role)).collect();
        let told = if told.is_empty() { "nobody".to_owned() } else { told.join(", ") };
        let cleared = hazard.cleared.as_ref().map(|cleared| format!("; gone: {}", cleared.fact.how));
        let text = format!(
            "{}; {}; told: {told}; {}{}",
            found.what,
            words::action(found.action),
            words::signature(found.signature),
            cleared.clone().unwrap_or_default()
        );
        page.blocks.push(if found.dangerous && cleared.is_none() { Block::Warning(text) } else { Block::Line(text) });
        signed(page, heading, "Told", found.signature);
    }
}

fn proofs(page: &mut Page, job: &Job, heading: &Heading) {
    if job.proofs.is_empty() {
        return;
    }
    page.heading("Proofs");
    let rows = job.proofs.values().map(|entry| {
        let proof = &entry.fact;
        let read = proof.readings.iter().map(words::parsed).collect::<Vec<_>>().join(", ");
        vec![
            heading.say(&format!("proof:{}", proof.proof)).to_owned(),
            format!("{} ({})", proof.limit, proof.source),
            read,
            words::outcome(&proof.outcome),
        ]
    });
    page.table(&["Proof", "Limit and its source", "Read", "Result"], rows.collect(), false);
    let open = job.proofs.values().filter(|entry| !matches!(entry.fact.outcome, Outcome::Passed));
    let open: Vec<String> = open.map(|entry| heading.say(&format!("proof:{}", entry.fact.proof)).to_owned()).collect();
    if !open.is_empty() {
        page.named("Still to be proved", open.join("; "));
    }
}

fn readings(page: &mut Page, job: &Job, heading: &Heading) {
    let rows: Vec<Vec<String>> = job
        .all::<ReadingTaken>()
        .map(|(_, taken)| {
            let asked = taken.answers.and_then(|event| {
                job.all::<StepProposed>()
                    .find(|(entry, _)| entry.event == event)
                    .map(|(_, step)| step.shown.sentence.clone())
            });
            let sound = asked.as_deref().and_then(expected).unwrap_or_default();
            let reading = &taken.reading;
            vec![words::places(reading, heading), words::how(reading, heading), words::parsed(reading), sound]
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    page.heading("Readings");
    for (_, checked) in job.all::<SupplyChecked>() {
        page.named(
            "Supply",
            match &checked.verdict {
                Verdict::Good => "as it must be".to_owned(),
                Verdict::Bad { what } => what.clone(),
                Verdict::NotDecided => "not checked".to_owned(),
            },
        );
    }
    page.table(&["Between", "How", "Shown", "A sound machine"], rows, false);
}

/// Takes what a sound machine shows out of the sentence that was shown.
fn expected(sentence: &str) -> Option<String> {
    let (_, after) = sentence.split_once("A sound machine shows ")?;
    after
        .split_once(". ")
        .map_or(after, |(expected, _)| expected)
        .strip_suffix('.')
        .or_else(|| after.split(". ").next())
        .map(str::to_owned)
}

fn seen(page: &mut Page, job: &Job, heading: &Heading) {
    let mut rows = Vec::new();
    for entry in &job.timeline {
        match &entry.fact {
            Fact::Call(book::CallFact::TryTaken(tried)) => rows.push(tried_row(tried, heading)),
            Fact::Call(book::CallFact::LookTaken(look)) => rows.extend(look_row(look, heading)),
            _ => {}
        }
    }
    if !rows.is_empty() {
        page.heading("Seen");
        page.table(&["What", "Seen"], rows, false);
    }
}

fn tried_row(tried: &TryTaken, heading: &Heading) -> Vec<String> {
    let seen =
        tried.observed.iter().map(|report| heading.say(&format!("{}={}", report.observation, report.value)).to_owned());
    vec![format!("run: {}", heading.say(&tried.state)), seen.collect::<Vec<_>>().join(", ")]
}

fn look_row(look: &LookTaken, heading: &Heading) -> Option<Vec<String>> {
    if look.look.starts_with("proof:") {
        return None;
    }
    let found = if look.found == "damage" { "looks damaged" } else { "looks sound" };
    Some(vec![format!("look: {}", heading.say(&look.look)), found.to_owned()])
}

fn costs(page: &mut Page, job: &Job) {
    let lines = bill(job);
    if lines.is_empty() {
        return;
    }
    page.heading("Charges");
    let mut rows: Vec<Vec<String>> = lines.iter().map(words::charge_row).collect();
    rows.extend(total(&lines).iter().map(|sum| vec!["total".to_owned(), words::money(sum)]));
    page.table(&["What", "Amount"], rows, true);
}

fn sign(page: &mut Page, job: &Job, heading: &Heading) {
    let mut owed = true;
    for (_, approval) in job.all::<ApprovalRecorded>().filter(|(_, of)| of.decision == Decision::Approved) {
        signed(page, heading, "Repair approved", approval.signature);
    }
    for (_, handed) in job.all::<HandedOver>() {
        if let Some(signature) = handed.signature {
            page.named("Record", format!("{} ({})", words::signature(signature), words::role(handed.to)));
            owed &= !signed(page, heading, "Record received", signature);
        }
    }
    if owed {
        page.blocks.push(Block::Signature("Signature, name, date".to_owned()));
    }
    let shown = job.all::<StepProposed>().map(|(_, step)| &step.shown).last();
    if let Some(shown) = shown {
        let short: String = shown.machine.hash.chars().take(12).collect();
        let text = format!("Proposals by engine {}, description `{}` {short}.", shown.engine, shown.machine.machine);
        page.blocks.push(Block::Small(text));
    }
}

/// Shows who signed, if that could be opened; says whether a hand wrote it.
fn signed(page: &mut Page, heading: &Heading, what: &str, signature: Signature) -> bool {
    let (Signature::Signed { record } | Signature::Remote { record }) = signature else { return false };
    let Some(signed) = heading.signed.get(&record) else { return false };
    page.blocks.push(Block::Signed(what.to_owned(), signed.clone()));
    signed.strokes.is_some()
}
