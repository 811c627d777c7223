//! Putting back, handing over, and how a call ends. No end leaves a dangerous fault open.

use crate::ask::{About, Ask, Sort, Wants};
use crate::now::{Telephone, WayOut};
use crate::rates::{show_money, total, without_charge};
use crate::session::{Next, Said, Session};
use crate::stages::{arrive, find, route};
use book::{CallEnded, Charge, Decision, End, FaultFound, JobClosed, Outcome, Role, Stage};
use danger::StepRequest;

/// Puts the machine back together on the way out, and leaves it safe.
pub(crate) fn put_back(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.handed_over {
        return None;
    }
    let usable = matches!(s.now.way_out, Some(WayOut::Explained | WayOut::NotReproduced)) && !s.now.dangerous();
    if let Some(off) = super::pursue::clips_off(s) {
        return Some(off);
    }
    if let Some(close) = route::close_up(s, true, usable, Stage::HandOver) {
        return Some(close);
    }
    if usable {
        return route::energise(s, "to leave it in use", Stage::HandOver);
    }
    if s.now.did("tag") {
        return None;
    }
    if let Some(isolate) = route::isolate(s, Stage::HandOver) {
        return Some(isolate);
    }
    let say = "Leave it off and tag it: what is wrong, the date, your name.";
    Next::ask(arrive::line("tag", Stage::HandOver, say))
}

/// Hands over: the cause, what it costs, a name; then the end.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    if !s.now.fault_found && (s.now.way_out.is_none() || matches!(s.now.way_out, Some(WayOut::Explained))) {
        return Next::due(Said::job(fault_found(s)));
    }
    if let Some(close) = route::close_up(s, true, s.now.way_out.is_none(), Stage::HandOver) {
        return Some(close);
    }
    if let Err(refusal) = s.permit(StepRequest::End(gate_end(s))) {
        let words = refusal.say(s.machine());
        let ask = arrive::line("disconnect", Stage::HandOver, "Disconnect it and tag it.").line(Sort::Notice, words);
        return Next::ask(ask);
    }
    if !s.now.handed_over {
        return Next::ask(hand_over(s));
    }
    Next::due(Said::call(CallEnded { end: end(s), minutes: None, present: Some(Role::Customer), note: None }))
}

fn hand_over(s: &Session<'_, '_>) -> Ask {
    let charges = charges(s);
    let say = "Go through the record with the customer. Who signs? Name, `refused`, or `nobody`.";
    let mut ask = Ask::new(About::HandOver, Stage::HandOver, say, Wants::Signature);
    for change in &s.now.changes {
        ask = ask.line(Sort::Plain, format!("done: {}", s.machine()[change.repair].say));
    }
    ask = ask.line(Sort::Plain, format!("ends: {}", end_words(&end(s))));
    for (_, hazard) in &s.now.hazards {
        ask = ask.line(Sort::Notice, format!("hazard told to {}: {}", hazard.told_to, hazard.what));
    }
    ask = ask.lines(Sort::Plain, charges.iter().map(super::agree::line));
    let sum = total(&charges, s.settings.rates.currency);
    ask = ask.line(Sort::Plain, format!("total: {}", show_money(&sum)));
    let waiting = s.machine().proofs.iter().filter(|proof| {
        matches!(s.now.proofs.get(&proof.id), Some(Outcome::NotDecided { .. } | Outcome::Deferred { .. }))
    });
    ask.lines(Sort::Plain, waiting.map(|proof| format!("still to be proved: {}", proof.say)))
}

/// Lists what is charged: the call, and the lines of every approved repair that was done.
pub(crate) fn charges(s: &Session<'_, '_>) -> Vec<Charge> {
    let quoted = s.now.quotes.iter().flat_map(|quote| &quote.given.charges);
    let said = quoted.into_iter().find(|line| line.sort == book::ChargeSort::Diagnosis);
    let mut call_out = [s.settings.rates.call_out_line()];
    if let Some(why) = super::agree::free_of_charge(s) {
        without_charge(&mut call_out, why);
    }
    let [call_out] = call_out;
    let mut all = vec![said.cloned().unwrap_or(call_out)];
    let done = |repair| s.now.changes.iter().any(|change| change.repair == repair);
    for quote in s.now.quotes.iter().filter(|quote| quote.decision == Some(Decision::Approved) && done(quote.repair)) {
        let lines = quote.given.charges.iter().filter(|line| line.sort != book::ChargeSort::Diagnosis);
        all.extend(lines.cloned());
    }
    all
}

fn fault_found(s: &Session<'_, '_>) -> FaultFound {
    let cures: Vec<book::FaultName> = s.now.changes.iter().flat_map(|change| change.cures.clone()).collect();
    let named = cures.iter().filter_map(|cure| {
        let fault = s.machine().fault(&format!("{}:{}", cure.part, cure.fault)).ok()?;
        let part = &s.machine()[s.machine()[fault].part];
        Some(format!("{}: {}", part.name, s.machine()[fault].say))
    });
    let words = named.collect::<Vec<_>>().join("; ");
    let words = if words.is_empty() { "nothing wrong with the machine".to_owned() } else { words };
    let shown = Some(find::shown(s, words.clone(), None));
    FaultFound { faults: cures, words, shown }
}

/// Says how this call ends.
pub(crate) fn end(s: &Session<'_, '_>) -> End {
    match &s.now.way_out {
        None => {
            let unproved: Vec<&str> = s
                .machine()
                .proofs
                .iter()
                .filter(|proof| s.now.proofs.get(&proof.id) == Some(&Outcome::Failed))
                .map(|proof| proof.say.as_str())
                .collect();
            if unproved.is_empty() { End::Proved } else { End::Referred { why: unproved.join("; ") } }
        }
        Some(WayOut::Declined) => {
            let charged = Some(total(&charges(s), s.settings.rates.currency));
            End::Declined { put_back: s.now.opened.is_empty(), made_safe: s.now.did("tag"), charged }
        }
        Some(WayOut::Referred(why)) => End::Referred { why: why.clone() },
        Some(WayOut::AwaitingPart(repair)) => {
            let parts = super::fit::parts_of(s, *repair).into_iter().map(|part| s.machine()[part].id.clone()).collect();
            End::AwaitingPart { parts, expected: None }
        }
        Some(WayOut::Explained) => End::UseExplained,
        Some(WayOut::NotReproduced) => End::NotReproduced,
        Some(WayOut::Stopped(why)) => End::MadeSafe { why: why.clone() },
    }
}

/// Says an end in words.
#[must_use]
pub(crate) fn end_words(end: &End) -> String {
    match end {
        End::Proved => "repaired and proved".to_owned(),
        End::NotReproduced => "the complaint did not show".to_owned(),
        End::UseExplained => "the use was explained".to_owned(),
        End::Declined { .. } => "declined; put back and made safe".to_owned(),
        End::Referred { why } => format!("referred: {why}"),
        End::MadeSafe { why } => format!("made safe: {why}"),
        End::AwaitingPart { parts, .. } => format!("waits for a part: {}", parts.join(", ")),
        End::VisitPromised => "a visit was promised".to_owned(),
        End::SettledByTelephone { how } => format!("settled on the telephone: {how}"),
    }
}

fn gate_end(s: &Session<'_, '_>) -> danger::End {
    match end(s) {
        End::Proved => danger::End::Proved,
        End::NotReproduced => danger::End::NotReproduced,
        End::UseExplained | End::SettledByTelephone { .. } => danger::End::UseExplained,
        End::Declined { .. } => danger::End::Declined,
        End::Referred { .. } => danger::End::Referred,
        End::MadeSafe { .. } => danger::End::Disconnected,
        End::AwaitingPart { .. } | End::VisitPromised => danger::End::AwaitingPart,
    }
}

/// Gas ends the call outside: nothing else is done.
pub(crate) fn end_of_gas(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.ended {
        return None;
    }
    let end = End::MadeSafe { why: "gas smelled: everyone out, called from outside".to_owned() };
    Next::due(Said::call(CallEnded { end, minutes: None, present: None, note: None }))
}

/// Closes the job once nothing keeps it open: a part to come, a proof put off.
pub(crate) fn close(s: &Session<'_, '_>) -> Option<Next> {
    let waits = matches!(s.now.way_out, Some(WayOut::AwaitingPart(_)))
        || s.now.telephone == Some(Telephone::Promised)
        || s.now.proofs.values().any(|outcome| matches!(outcome, Outcome::Deferred { .. }))
        || s.now.gas == Some(true);
    if s.now.closed || waits {
        return None;
    }
    Next::due(Said::job(JobClosed { why: None }))
}
