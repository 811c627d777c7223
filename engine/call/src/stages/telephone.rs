//! What can be done before anybody drives: what the customer can see to himself, a visit promised, a job settled.

use crate::ask::{Ask, Refused, Sort};
use crate::now::Telephone;
use crate::session::{Next, Said, Session};
use crate::stages::{agree, find};
use book::{CallEnded, End, FaultFound, FaultName, VisitPromised, ZonedTime};
use machine::model::FaultId;

/// Share from which a customer is asked to see to something; common practice, no source.
const WORTH_ASKING: f64 = 0.02;

/// Ends a call that was one on the telephone.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    s.now.call?;
    let end = match s.now.telephone.as_ref()? {
        Telephone::Promised => End::VisitPromised,
        Telephone::Settled(how) => match fault_of(s, how) {
            fault if !s.now.fault_found => return Next::due(Said::job(found(s, how, fault))),
            fault => End::SettledByTelephone { how: say(s, how, fault) },
        },
    };
    Next::due(Said::call(CallEnded { end, minutes: None, present: None, note: None }))
}

/// Adds what the customer can see to himself, the likeliest first, and what else can be said before anybody drives.
pub(crate) fn before_leaving(s: &Session<'_, '_>, ask: Ask) -> Ask {
    if s.now.calls != 1 {
        return ask;
    }
    let machine = s.machine();
    let easy = s.belief.repair_shares().into_iter().filter(|(of, share)| *share >= WORTH_ASKING && agree::free(s, *of));
    let each = easy.map(|(of, share)| {
        format!("before you drive, have them see to this: {} ({})", machine[of].say, find::odds(share))
    });
    let ask = ask.lines(Sort::Otherwise, each.collect::<Vec<_>>());
    let mut ask = ask.line(
        Sort::Plain,
        "not there yet? `later 2026-12-01 9:00-12:00` promises a visit, `settled WHAT` ends it here",
    );
    ask.telephone = true;
    ask
}

/// Promises a visit: `DATE FROM-TO` in the time of the place where the complaint was taken.
pub(crate) fn promise(s: &Session<'_, '_>, window: &str) -> Result<Said, Refused> {
    let now =
        s.now.at.as_ref().ok_or_else(|| Refused::new("no time is known here", "say who the customer is first"))?;
    window_of(window, now).map(|window| Said::job(VisitPromised { window }))
}

/// Reads a window, such as `2026-12-01 9:00-12:00`, with the offset of a time that is known.
///
/// # Errors
/// [`Refused`] says how it is written.
pub fn window_of(text: &str, like: &ZonedTime) -> Result<(ZonedTime, ZonedTime), Refused> {
    let wrong = || Refused::new(format!("`{text}` is no window"), "write it as `2026-12-01 9:00-12:00`");
    let (day, hours) = text.trim().split_once(' ').ok_or_else(wrong)?;
    let (from, to) = hours.trim().split_once('-').ok_or_else(wrong)?;
    let offset = offset_of(like).ok_or_else(wrong)?;
    let time = |hour: &str| {
        let (hour, minute) = hour.trim().split_once(':').unwrap_or((hour.trim(), "00"));
        format!("{day}T{hour:0>2}:{minute}:00{offset}").parse::<ZonedTime>().map_err(|_| wrong())
    };
    let (from, to) = (time(from)?, time(to)?);
    if from.moment() >= to.moment() {
        return Err(Refused::new("a window ends after it begins", "write it as `2026-12-01 9:00-12:00`"));
    }
    Ok((from, to))
}

/// The offset of a time, as it stands in its text: `Z`, `+01:00`.
fn offset_of(time: &ZonedTime) -> Option<&str> {
    let text = time.as_str().split('[').next()?;
    let clock = text.get(11..)?;
    let at = clock.find(['Z', '+', '-'])?;
    clock.get(at..)
}

/// Settles a job: a fault by its name that the customer saw to, or what it was in words.
pub(crate) fn settle(s: &Session<'_, '_>, how: &str) -> Result<Said, Refused> {
    if s.now.dangerous() {
        return Err(Refused::new("a dangerous fault is open", "promise a visit, and have it left off until then"));
    }
    if how.trim().is_empty() {
        return Err(Refused::new("nothing was said", "say what it was: `settled cord:unplugged`"));
    }
    Ok(Said::done("intake/settled", Some(how.trim())))
}

fn fault_of(s: &Session<'_, '_>, how: &str) -> Option<FaultId> {
    s.machine().fault(how).ok()
}

fn say(s: &Session<'_, '_>, how: &str, fault: Option<FaultId>) -> String {
    let machine = s.machine();
    fault.map_or_else(
        || how.to_owned(),
        |fault| format!("{}: {}", machine[machine[fault].part].name, machine[fault].say),
    )
}

fn found(s: &Session<'_, '_>, how: &str, fault: Option<FaultId>) -> FaultFound {
    let machine = s.machine();
    let name = |fault: FaultId| {
        let (part, mode) = machine[fault].id.split_once(':').unwrap_or_default();
        FaultName { part: part.to_owned(), fault: mode.to_owned() }
    };
    let words = say(s, how, fault);
    let shown = Some(find::shown(s, words.clone(), None));
    FaultFound { faults: fault.map(name).into_iter().collect(), words, shown }
}
