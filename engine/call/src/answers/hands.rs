//! Answers to what hands do: isolate, open, read, look, run, change. Each asks the gate; a dead test that is not dead,
//! a meter that does not show its source, screws that do not add up are refused with why.

use crate::ask::{About, Answer, Ask, Refused, Wants};
use crate::now::{function, kept, kept_insulation, kept_proving, no_more_than, parsed_from, store_id, value_of};
use crate::session::{Said, Session};
use crate::stages::{fit, prove, pursue, route};
use book::{
    Answers, CoverClosed, CoverOpened, Energised, FaultName, LeadsLifted, LeadsRefitted, LookTaken, OldPart, Parsed,
    PartChanged, Place, ReadingTaken, Report, TryTaken,
};
use danger::{Against, DEAD_LIMIT_VOLTS, IsolatedReading, Isolator, Refusal, StepRequest};
use machine::access::Cover;
use machine::faults::RepairKind;
use machine::model::{BranchId, CoverId, RepairId, StateId, TerminalId};
use prediction::{Probe, Reading};
use quantity::{Unit, show};
use repair::Hands;

pub(super) fn fact(s: &Session<'_, '_>, ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    match &ask.about {
        About::Isolate => isolate(s, answer),
        About::Energise { why } => energise(s, why, answer),
        About::KnownSource { at, expected } => known_source(s, *at, *expected, answer),
        About::Earth => earth(s, answer),
        About::DeadTest(all) => dead_test(s, all, answer),
        About::Discharge(store) => discharge(s, *store, answer),
        About::Read(reading) => read(s, reading, answer),
        About::Insulation(at) => insulation(s, *at, answer),
        About::Look(part) => look(s, *part, answer),
        About::Try(state) => tried(s, ask, *state, answer),
        About::Open(cover) => open(s, *cover, answer),
        About::Close(cover) => close(s, *cover, answer),
        About::Lift(at, lead) => lift(s, *at, *lead, answer),
        About::Refit => done(answer).map(|()| refit(s)),
        About::Change(repair) => change(s, *repair, answer),
        _ => Err(Refused::new("nothing is asked here", "press Enter")),
    }
}

pub(super) fn gate(s: &Session<'_, '_>, request: StepRequest) -> Result<(), Refused> {
    s.permit(request).map(|_| ()).map_err(|refusal: Refusal| Refused::of_gate(&refusal.say(s.machine())))
}

fn done(answer: &Answer) -> Result<(), Refused> {
    match answer {
        Answer::Done | Answer::YesNo(true) => Ok(()),
        _ => Err(Refused::new("it is not done yet", "do it, then press Enter")),
    }
}

fn proposal(s: &Session<'_, '_>) -> Answers {
    s.now.goal.as_ref().and_then(|goal| goal.proposal)
}

fn isolate(s: &Session<'_, '_>, answer: &Answer) -> Result<Said, Refused> {
    done(answer)?;
    let by = route::isolator(s);
    gate(s, StepRequest::Isolate(by))?;
    let word = match by {
        Isolator::Plug => "plug",
        Isolator::Disconnect => "disconnect",
        Isolator::Breaker => "breaker",
    };
    Ok(Said::done("isolate", Some(word)))
}

fn energise(s: &Session<'_, '_>, why: &str, answer: &Answer) -> Result<Said, Refused> {
    done(answer)?;
    let request = match why.strip_prefix("to read ").map(|id| crate::steps::act_of(s.machine(), id)) {
        Some(Ok(Some(repair::Act::Read(reading, _)))) => clipped_request(&reading),
        _ => {
            let covers = teardown::must_close_to_run(&s.machine().access, &s.now.open());
            StepRequest::Energise { standing_clear: !covers.is_empty() }
        }
    };
    gate(s, request)?;
    Ok(Said::call(Energised { sources: vec!["mains".to_owned()], why: why.to_owned() }))
}

fn clipped_request(reading: &Reading) -> StepRequest {
    let state = reading.condition.state;
    match reading.probe {
        Probe::Across(from, to) => StepRequest::ReadClipped { from, to, state },
        Probe::Around(branch) => StepRequest::Clamp { branch, state },
    }
}

/// Understands a reading as typed.
fn typed(answer: &Answer, unit: Unit) -> Result<(String, Parsed), Refused> {
    let Answer::Reading(text) = answer else {
        return Err(Refused::new("a reading is wanted", "type what the meter shows, such as `15.2` or `OL`"));
    };
    match parsed_from(text, unit) {
        Ok(Some(parsed)) => Ok((text.trim().to_owned(), parsed)),
        Ok(None) => Err(Refused::new("nothing was typed", "type what the meter shows, such as `15.2` or `OL`")),
        Err(error) => Err(Refused::of_gate(&error.to_string())),
    }
}

/// Understands volts as typed; over-range is none.
fn volts(answer: &Answer) -> Result<(String, Parsed, f64), Refused> {
    let (text, parsed) = typed(answer, Unit::Volt)?;
    match &parsed {
        Parsed::Value(value) => {
            let volts = value.amount.get();
            Ok((text, parsed, volts))
        }
        _ => Err(Refused::new(format!("`{text}` is no voltage"), "set the meter to volts and type the figure")),
    }
}

fn known_source(
    s: &Session<'_, '_>,
    at: Option<(TerminalId, TerminalId)>,
    expected: f64,
    answer: &Answer,
) -> Result<Said, Refused> {
    gate(s, StepRequest::ProveMeter)?;
    let (text, parsed, read) = volts(answer)?;
    if (read - expected).abs() > 0.1 * expected {
        return Err(Refused::new(
            format!(
                "the meter shows `{text}` on a source of {}; a meter that does not show it proves nothing",
                show(expected, Unit::Volt)
            ),
            "look at its range, leads and battery, or take another source or meter",
        ));
    }
    let places = match at {
        Some((a, b)) => vec![Place::at(&s.machine()[a].name), Place::at(&s.machine()[b].name)],
        None => vec![Place::at("known live source elsewhere")],
    };
    let range = Some(format!("expected={expected:.0} V"));
    let mut reading = kept_proving(function::KNOWN, places, range, &text, parsed);
    reading.energised = true;
    Ok(Said::call(ReadingTaken { reading, answers: None }))
}

fn earth(s: &Session<'_, '_>, answer: &Answer) -> Result<Said, Refused> {
    gate(s, StepRequest::ProveMeter)?;
    let (text, parsed, read) = volts(answer)?;
    let leg = s.machine().plate_volts / 2.0;
    if read < 0.8 * leg {
        return Err(Refused::new(
            format!("a live leg shows `{text}` to it; that is no earth"),
            "take another earth: the ground of another receptacle, a metal cold-water pipe",
        ));
    }
    let mut reading = kept_proving(function::EARTH, vec![Place::at("earth measured to")], None, &text, parsed);
    reading.energised = true;
    Ok(Said::call(ReadingTaken { reading, answers: None }))
}

fn dead_test(s: &Session<'_, '_>, all: &[TerminalId], answer: &Answer) -> Result<Said, Refused> {
    for pair in danger::required_measurements(&danger::WorkPoint::at(s.machine(), all)) {
        if !matches!(pair.ends().1, Against::Earth) {
            gate(s, StepRequest::ProveDead(pair))?;
        }
    }
    let (text, parsed, highest) = volts(answer)?;
    if highest > DEAD_LIMIT_VOLTS {
        return Err(Refused::new(
            format!("`{text}` is not dead: more than {}", show(DEAD_LIMIT_VOLTS, Unit::Volt)),
            "hands off; find out what feeds it: plug, breaker, a charge, a neighbour's circuit; then measure again",
        ));
    }
    let mut places: Vec<Place> = all.iter().map(|&at| Place::at(&s.machine()[at].name)).collect();
    places.push(Place::at("proven earth"));
    let reading = kept_proving(function::DEAD, places, None, &text, no_more_than(parsed));
    Ok(Said::call(ReadingTaken { reading, answers: None }))
}

fn discharge(s: &Session<'_, '_>, store: danger::Store, answer: &Answer) -> Result<Said, Refused> {
    gate(s, StepRequest::Discharge(store))?;
    let (text, parsed, read) = volts(answer)?;
    if read > DEAD_LIMIT_VOLTS {
        return Err(Refused::of_gate(&danger::WhyNotDone::StillCharged.to_string()));
    }
    let places = vec![Place::at(&store_id(s.machine(), store))];
    Ok(Said::call(ReadingTaken {
        reading: kept_proving(function::DISCHARGE, places, None, &text, parsed),
        answers: None,
    }))
}

/// How a reading is taken, from how the machine stands for it.
fn hands_of(s: &Session<'_, '_>, reading: &Reading) -> Hands {
    let slot = |at: TerminalId| s.machine().supply.slots.iter().any(|(_, slot)| *slot == at);
    match reading.probe {
        _ if reading.condition.plugged => Hands::Clipped,
        Probe::Across(a, b) if slot(a) && slot(b) => Hands::Supply,
        _ => Hands::Isolated,
    }
}

fn read(s: &Session<'_, '_>, reading: &Reading, answer: &Answer) -> Result<Said, Refused> {
    let hands = hands_of(s, reading);
    if matches!(answer, Answer::Skip) {
        return skip_reading(s, reading, hands);
    }
    match (reading.probe, hands) {
        (Probe::Across(from, to), Hands::Isolated) => {
            gate(s, StepRequest::ReadIsolated { from, to, how: IsolatedReading::Ohms })?;
        }
        (Probe::Across(from, to), Hands::Supply) => gate(s, StepRequest::ReadSupply { from, to })?,
        // Clips and clamp passed the gate when they were put on; here nobody touches anything.
        _ => {}
    }
    let (text, parsed) = typed(answer, reading.quantity.unit())?;
    if reading.quantity == prediction::Quantity::Amps && matches!(parsed, Parsed::OverRange) {
        return Err(Refused::new(format!("`{text}` is no current"), "choose a higher range of the clamp"));
    }
    let reading = kept(s.machine(), reading, hands, &text, parsed);
    Ok(Said::call(ReadingTaken { reading, answers: proposal(s) }))
}

fn insulation(s: &Session<'_, '_>, at: usize, answer: &Answer) -> Result<Said, Refused> {
    let of_proof = s.machine().proofs.get(at).and_then(|proof| prove::reading_of(s, proof));
    let tester = s.predictor.meter().insulation;
    let (Some((reading, _)), Some(tester)) = (of_proof, tester) else {
        return Err(Refused::new("no insulation tester is owned", "list it in your meters file"));
    };
    if let Probe::Across(from, to) = reading.probe {
        gate(s, StepRequest::ReadIsolated { from, to, how: IsolatedReading::Insulation })?;
    }
    let (text, parsed) = typed(answer, Unit::Ohm)?;
    let reading = kept_insulation(s.machine(), &reading, tester.test_volts, &text, parsed);
    Ok(Said::call(ReadingTaken { reading, answers: None }))
}

/// A supply reading may be left out, a doubtful one kept.
fn skip_reading(s: &Session<'_, '_>, reading: &Reading, hands: Hands) -> Result<Said, Refused> {
    let taken = s.now.taken.iter().any(|taken| taken.reading == *reading);
    if hands == Hands::Supply && s.now.supply.is_none() {
        let id = crate::steps::id_of_reading(s.machine(), reading, hands);
        return Ok(Said::done(&format!("skip/{id}"), Some("skipped")));
    }
    if let Some(index) = s.belief.to_take_again().filter(|_| taken && s.now.goal.is_none()) {
        return Ok(Said::done(&format!("again/{index}"), Some("kept")));
    }
    Err(Refused::new("a reading is wanted", "type what the meter shows, or `cannot reach`"))
}

fn look(s: &Session<'_, '_>, part: machine::model::PartId, answer: &Answer) -> Result<Said, Refused> {
    let part_of = &s.machine()[part];
    gate(s, StepRequest::Look(part_of.place))?;
    let found = match answer {
        Answer::YesNo(true) => "damage",
        Answer::YesNo(false) => "sound",
        _ => return Err(Refused::new("that is neither yes nor no", "type `yes` if it looks damaged, `no` if not")),
    };
    Ok(Said::call(LookTaken {
        look: part_of.id.clone(),
        places: vec![Place::at(&part_of.id)],
        found: found.to_owned(),
        photos: Vec::new(),
        answers: proposal(s),
    }))
}

fn tried(s: &Session<'_, '_>, ask: &Ask, state: StateId, answer: &Answer) -> Result<Said, Refused> {
    if matches!(answer, Answer::Skip) {
        return if s.now.supply.is_none() && s.now.changes.is_empty() && s.now.goal.is_none() {
            Ok(Said::done("arrive/see", Some("skipped")))
        } else {
            Err(Refused::new("what is seen is wanted", "run it and type what you see, or `cannot reach`"))
        };
    }
    let covers = teardown::must_close_to_run(&s.machine().access, &s.now.open());
    gate(s, StepRequest::Try { state, standing_clear: !covers.is_empty() })?;
    let (Answer::Seen(seen), Wants::Seen(wanted)) = (answer, &ask.wants) else {
        return Err(Refused::new(
            "what is seen is wanted",
            "type it as `drum=yes heats=none`, or `ok` if all is as it should",
        ));
    };
    if seen.is_empty() {
        return Err(Refused::new("nothing was seen", "type at least one, such as `drum=yes`"));
    }
    let machine = s.machine();
    let mut observed = Vec::new();
    for (what, value) in seen {
        let known =
            wanted.iter().find(|of| machine[of.what].id == *what && value_of(machine, of.what, value).is_some());
        if known.is_none() {
            return Err(Refused::new(
                format!("`{what}={value}` is none of what can be seen here"),
                "take a name and a value of the list",
            ));
        }
        observed.push(Report { observation: what.clone(), value: value.clone(), state: None });
    }
    let (state, made_ready) = (machine[state].id.clone(), Vec::new());
    Ok(Said::call(TryTaken { state, made_ready, observed, ran: None, answers: proposal(s) }))
}

fn cover<'m>(s: &Session<'_, 'm>, id: CoverId) -> Result<&'m Cover, Refused> {
    s.machine().access.steps.get(id.index()).ok_or_else(|| Refused::new("there is no such cover", "go on"))
}

fn open(s: &Session<'_, '_>, id: CoverId, answer: &Answer) -> Result<Said, Refused> {
    gate(s, StepRequest::OpenCover(id))?;
    let Answer::Count { count, .. } = answer else {
        return Err(Refused::new("a count is wanted", "type how many fasteners came out, or press Enter for all"));
    };
    Ok(Said::call(CoverOpened { cover: cover(s, id)?.id.clone(), screws_out: *count, answers: proposal(s) }))
}

fn close(s: &Session<'_, '_>, id: CoverId, answer: &Answer) -> Result<Said, Refused> {
    gate(s, StepRequest::CloseCover(id))?;
    let Answer::Count { count, short } = answer else {
        return Err(Refused::new("a count is wanted", "type how many fasteners went in, or press Enter for all"));
    };
    let out = s.now.opened.iter().find(|(of, _)| *of == id).map_or(0, |(_, out)| *out);
    if *count != out && !short {
        return Err(Refused::new(
            format!("{out} came out and {count} went in"),
            format!("find what is missing before it is closed, or type `missing {count}` if it cannot be found"),
        ));
    }
    Ok(Said::call(CoverClosed { cover: cover(s, id)?.id.clone(), screws_in: *count }))
}

fn lift(s: &Session<'_, '_>, at: TerminalId, lead: BranchId, answer: &Answer) -> Result<Said, Refused> {
    done(answer)?;
    gate(s, StepRequest::LiftLead { lead: s.machine()[lead].part, at })?;
    let leads = vec![Place::at(&format!("{}@{}", s.machine()[lead].name, s.machine()[at].name))];
    Ok(Said::call(LeadsLifted { leads, photos: Vec::new(), answers: proposal(s) }))
}

fn refit(s: &Session<'_, '_>) -> Said {
    let machine = s.machine();
    let leads =
        s.now.lifted.iter().map(|(at, lead)| Place::at(&format!("{}@{}", machine[*lead].name, machine[*at].name)));
    Said::call(LeadsRefitted { leads: leads.collect() })
}

fn change(s: &Session<'_, '_>, id: RepairId, answer: &Answer) -> Result<Said, Refused> {
    done(answer)?;
    gate(s, StepRequest::Repair(id))?;
    let machine = s.machine();
    let repair = &machine[id];
    let parts = fit::parts_of(s, id);
    let names: Vec<&str> = parts.iter().map(|&part| machine[part].name.as_str()).collect();
    let replaced = repair.kind == RepairKind::Replace;
    let touched = parts.iter().flat_map(|&part| machine[part].terminals.clone()).flat_map(|at| machine.leads_at(at));
    let leads_touched =
        if replaced { touched.map(|lead| Place::at(&machine[lead].name)).collect() } else { Vec::new() };
    let price = s.settings.rates.price(&s.machine()[repair.part].id, repair.price);
    Ok(Said::call(PartChanged {
        part: machine[repair.part].id.clone(),
        spare: replaced.then(|| names.join(", ")),
        cures: cures(s, id),
        leads_touched,
        old_part: if replaced { OldPart::LeftWithCustomer } else { OldPart::FittedAgain },
        price: Some(price),
        answers: proposal(s),
    }))
}

/// The faults that this repair is most likely to cure: the likeliest suspect that it cures at all.
fn cures(s: &Session<'_, '_>, id: RepairId) -> Vec<FaultName> {
    let machine = s.machine();
    let shares = s.belief.shares();
    let best = shares.iter().map(|(suspect, _)| *suspect).find(|suspect| suspect.repairs(machine).contains(&id));
    let faults = best.map(|suspect| suspect.0.to_vec()).unwrap_or_default();
    faults
        .into_iter()
        .filter(|&fault| machine[fault].repair == id)
        .filter_map(|fault| {
            let (part, mode) = machine[fault].id.split_once(':')?;
            Some(FaultName { part: part.to_owned(), fault: mode.to_owned() })
        })
        .collect()
}

/// Gives the terminals of the step that is asked for.
pub(super) fn asked_points(s: &Session<'_, '_>, ask: &Ask) -> Vec<TerminalId> {
    match (&ask.about, s.now.goal.as_ref().map(|goal| &goal.act)) {
        (About::Read(reading), _) => pursue::points(s, reading),
        (_, Some(repair::Act::Read(reading, _))) => pursue::points(s, reading),
        _ => Vec::new(),
    }
}
