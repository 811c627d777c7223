//! Intake: who, what appliance, gas, water, what works and what does not. Nothing blocks on what nobody knows.

use crate::ask::{About, Answer, Ask, Choice, Sort, Wants};
use crate::session::{Next, Said, Session};
use book::{Complaint, JobOpened, Purpose, Stage};
use danger::StepRequest;
use machine::model::{ObservationId, StateId};

/// Opens customer, appliance, job and visit.
pub(crate) fn open(s: &Session<'_, '_>) -> Option<Next> {
    let now = &s.now;
    let Some(customer) = now.customer else {
        let say = "Who is the customer? Name, address, telephone, how to get in.";
        let ask = Ask::new(About::Customer, Stage::Intake, say, Wants::Person)
            .line(Sort::Plain, "Sealed under a key of the customer's own; it stands nowhere else in the book.");
        return Next::ask(ask.on_enter(Answer::Words(String::new())));
    };
    if now.appliance.is_none() {
        let say = format!("How old is the {}, and is it under warranty?", s.machine().kind);
        let ask = Ask::new(About::Appliance, Stage::Intake, say, Wants::Appliance);
        return Next::ask(ask.on_enter(Answer::Appliance { age_months: None, warranty: None }));
    }
    if now.job.is_none() {
        let complaint = Complaint::default();
        let opened = JobOpened { customer, appliance: now.appliance, complaint, callback_of: None, shown: None };
        return Next::due(Said::shop(opened));
    }
    if now.call.is_none() {
        return Next::due(Said::job(book::CallOpened { purpose: Purpose::First, promised: None }));
    }
    None
}

/// The line that keeps whether it comes and goes.
pub(crate) const COMES_AND_GOES: &str = "intake/comes-and-goes";

/// Gas comes before everything.
pub(crate) fn gas(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.gas.is_none() && !s.now.did("intake/gas") {
        let ask = Ask::new(About::Gas, Stage::Intake, "Does anyone smell gas?", Wants::YesNo);
        return Next::ask(ask.on_enter(Answer::YesNo(false)));
    }
    let evacuated = s.now.hazards.iter().any(|(_, hazard)| hazard.kind == machine::access::Hazard::FuelGas);
    if s.now.gas != Some(true) {
        return None;
    }
    if !evacuated {
        let say = "Gas. Switch nothing, everyone out, call from outside.";
        let cautions = s.permit(StepRequest::Evacuate).map(|permit| permit.cautions().to_vec()).unwrap_or_default();
        let ask = Ask::new(About::Evacuate, s.stage(), say, Wants::Done).caution(cautions);
        let ask = ask.lines(
            Sort::Do,
            [
                "no switch, no flame, no telephone inside",
                "everyone out, doors open behind you",
                "call the gas company from outside",
            ],
        );
        return Next::ask(ask.on_enter(Answer::Done));
    }
    crate::stages::hand_over::end_of_gas(s)
}

/// What the customer tells.
pub(crate) fn next(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.calls > 1 {
        return None;
    }
    None.or_else(|| water(s))
        .or_else(|| touched(s))
        .or_else(|| since(s))
        .or_else(|| comes_and_goes(s))
        .or_else(|| uses(s))
}

fn water(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.water.is_none() && !s.now.did("intake/water") {
        let ask = Ask::new(About::Water, Stage::Intake, "Does water stand in it or under it?", Wants::YesNo);
        return Next::ask(ask.on_enter(Answer::YesNo(false)));
    }
    None
}

fn touched(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.touched || s.now.did("intake/touched") {
        return None;
    }
    let choices = vec![
        Choice::new("nobody", "nobody"),
        Choice::new("owner", "the owner or a friend"),
        Choice::new("technician", "another technician"),
        Choice::new("mover", "whoever moved or installed it"),
    ];
    let ask = Ask::new(About::TouchedLast, Stage::Intake, "Who worked on it last?", Wants::Choice(choices));
    Next::ask(ask.on_enter(Answer::Choice("nobody".to_owned())))
}

fn since(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.since.is_some() || s.now.did("intake/since") {
        return None;
    }
    let ask = Ask::new(About::Since, Stage::Intake, "Since when? Sudden or bit by bit?", Wants::Words);
    Next::ask(ask.on_enter(Answer::Skip))
}

fn comes_and_goes(s: &Session<'_, '_>) -> Option<Next> {
    if s.now.did(COMES_AND_GOES) {
        return None;
    }
    let choices = vec![Choice::new("every-time", "every time"), Choice::new("comes-and-goes", "it comes and goes")];
    let say = "Is it so every time, or does it come and go?";
    Next::ask(Ask::new(About::ComesAndGoes, Stage::Intake, say, Wants::Choice(choices)).on_enter(Answer::Skip))
}

fn uses(s: &Session<'_, '_>) -> Option<Next> {
    if let Some(&state) = s.now.uses.last()
        && let Some(what) = observations(s, state).into_iter().find(|what| !s.now.reports.contains_key(&(state, *what)))
    {
        return Next::ask(report(s, state, what));
    }
    if s.now.did("intake/uses") {
        return None;
    }
    let choices = s.predictor.state_ids().filter(|state| !s.now.uses.contains(state));
    let mut choices: Vec<Choice> = choices
        .filter(|state| !observations(s, *state).is_empty())
        .map(|state| Choice::new(&s.machine()[state].id, &s.machine()[state].say))
        .collect();
    // What would tell most comes first.
    let worth = if s.now.uses.is_empty() { None } else { repair::intake::next_use(&s.belief, &s.now.uses) };
    choices.sort_by_key(|choice| worth.is_none_or(|(state, _)| s.machine()[state].id != choice.id));
    choices.push(Choice::new("none", "nothing more"));
    let say = if s.now.uses.is_empty() { "Which use does the customer complain of?" } else { "Another use?" };
    let why = worth.map(|(state, _)| format!("worth asking: {}", s.machine()[state].say));
    let ask = Ask::new(About::Use, Stage::Intake, say, Wants::Choice(choices)).lines(Sort::Why, why);
    Next::ask(ask.on_enter(Answer::Choice("none".to_owned())))
}

/// Gives what can be told of a state: what differs under some single fault.
pub(crate) fn observations(s: &Session<'_, '_>, state: StateId) -> Vec<ObservationId> {
    let sound = s.predictor.observe(state, &[]);
    let ids = (0..).map(ObservationId).zip(&s.machine().observations);
    let here = ids.filter(|(_, observation)| observation.states.contains(&state)).map(|(id, _)| id);
    let can_differ = |what: &ObservationId| {
        let own = sound.iter().find(|seen| seen.what == *what);
        s.predictor
            .fault_ids()
            .any(|fault| s.predictor.observe(state, &[fault]).iter().find(|seen| seen.what == *what) != own)
    };
    here.filter(can_differ).collect()
}

fn report(s: &Session<'_, '_>, state: StateId, what: ObservationId) -> Ask {
    let machine = s.machine();
    let values = &machine[what].values;
    let choices = values.iter().map(|value| Choice::new(&value.id, &value.say)).collect();
    let say = format!("{}: what does the customer say?", capital(&machine[state].say));
    Ask::new(About::Report(state, what), Stage::Intake, say, Wants::Choice(choices)).on_enter(Answer::Skip)
}

/// Puts the first letter in capitals.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
