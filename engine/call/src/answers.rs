//! From an answer to its fact, or to why it is not taken. Every hands-on step passes the gate here once more.

mod hands;
mod own_way;

use crate::ask::{About, Answer, Ask, Learned, Refused, Wants};
use crate::now::value_of;
use crate::session::{Said, Session};
use crate::stages::{hazards, intake, prove};
use book::{
    ApplianceAdded, ApprovalRecorded, Arrived, Complaint, ComplaintAdded, CustomerAdded, Decision, HandedOver,
    HazardCleared, HazardFound, Report, Role, Warranty,
};
use machine::model::{ObservationId, Observed, StateId};
use std::collections::BTreeMap;

/// Gives the fact of an answer.
pub(crate) fn fact(s: &Session<'_, '_>, ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    if let Answer::OwnWay(way) = answer {
        return own_way::fact(s, ask, way);
    }
    match &ask.about {
        About::Customer => customer(answer),
        About::Appliance => appliance(s, answer),
        About::Gas => complaint(answer, |told, yes| told.gas_smell = Some(yes)),
        About::Water => complaint(answer, |told, yes| told.standing_water = Some(yes)),
        About::Since => since(answer),
        About::ComesAndGoes => comes_and_goes(ask, answer),
        About::TouchedLast => touched(ask, answer),
        About::Use => used(ask, answer),
        About::Report(state, what) => report(s, *state, *what, answer),
        About::Evacuate => evacuated(),
        About::Arrive => {
            Ok(Said::call(Arrived { complaint_seen: None, floor_protected: done(answer), photos: Vec::new() }))
        }
        About::Unit(variant) => unit(s, variant, ask, answer),
        About::Line(id) => line(s, id, ask, answer),
        About::Hazard(index) => hazard(s, *index, answer),
        About::HazardGone(index) => gone(s, *index, answer),
        About::Choose => chosen(ask, answer).map(|id| Said::done("agree/choice", Some(&id))),
        About::Approve => approve(s, answer),
        About::ProofLook(at) => proof_look(s, *at, answer),
        About::Explain => chosen(ask, answer).map(|id| Said::done("explain", Some(&id))),
        About::HandOver => handed_over(answer),
        About::Ended => Err(Refused::new("this call has ended", "begin another")),
        _ => hands::fact(s, ask, answer),
    }
}

fn done(answer: &Answer) -> bool {
    !matches!(answer, Answer::Skip | Answer::YesNo(false))
}

fn customer(answer: &Answer) -> Result<Said, Refused> {
    match answer {
        Answer::Person { key, record } => Ok(Said::shop(CustomerAdded { key: *key, record: *record, listed: false })),
        _ => {
            Err(Refused::new("the customer's details must be sealed first", "type name and address, or Enter for none"))
        }
    }
}

fn appliance(s: &Session<'_, '_>, answer: &Answer) -> Result<Said, Refused> {
    let (age_months, owed) = match answer {
        Answer::Appliance { age_months, warranty } => (*age_months, *warranty),
        Answer::Skip => (None, None),
        _ => return Err(Refused::new("that is no age", "type years, such as `9`, and `warranty` if somebody owes it")),
    };
    let warranty = match owed {
        Some(true) => Warranty::Owed { by: Role::Maker, until: None },
        Some(false) => Warranty::None,
        None => Warranty::NotKnown,
    };
    let customer = s.now.customer.ok_or_else(|| Refused::new("no customer yet", "say who the customer is first"))?;
    let machine = Some(s.settings.file.clone());
    Ok(Said::shop(ApplianceAdded { customer, machine, plate: BTreeMap::new(), serial: None, age_months, warranty }))
}

fn unit(s: &Session<'_, '_>, variant: &str, ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    if matches!(answer, Answer::Skip) {
        return Ok(Said::done(&format!("unit/{variant}"), Some("not told")));
    }
    let way = chosen(ask, answer)?;
    own_way::learned(s, &Learned::Unit { variant: variant.to_owned(), way })
}

fn complaint(answer: &Answer, set: impl FnOnce(&mut Complaint, bool)) -> Result<Said, Refused> {
    let yes = match answer {
        Answer::YesNo(yes) => *yes,
        Answer::Skip => false,
        _ => return Err(Refused::new("that is neither yes nor no", "type `yes` or `no`")),
    };
    let mut told = Complaint::default();
    set(&mut told, yes);
    Ok(Said::job(ComplaintAdded { complaint: told }))
}

fn since(answer: &Answer) -> Result<Said, Refused> {
    match answer {
        Answer::Words(words) if !words.trim().is_empty() => {
            let told = Complaint { since: Some(words.trim().to_owned()), ..Complaint::default() };
            Ok(Said::job(ComplaintAdded { complaint: told }))
        }
        _ => Ok(Said::done("intake/since", None)),
    }
}

fn comes_and_goes(ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    match answer {
        Answer::Skip => Ok(Said::done(intake::COMES_AND_GOES, None)),
        _ => chosen(ask, answer).map(|id| Said::done(intake::COMES_AND_GOES, Some(&id))),
    }
}

fn touched(ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    let role = match answer {
        Answer::Skip => return Ok(Said::done("intake/touched", None)),
        _ => match chosen(ask, answer)?.as_str() {
            "owner" => Role::Customer,
            "technician" => Role::AnotherTechnician,
            "mover" => Role::OtherPresent,
            _ => return Ok(Said::done("intake/touched", Some("nobody"))),
        },
    };
    let told = Complaint { touched_last: Some(role), ..Complaint::default() };
    Ok(Said::job(ComplaintAdded { complaint: told }))
}

fn used(ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    if matches!(answer, Answer::Skip) {
        return Ok(Said::done("intake/uses", None));
    }
    let id = chosen(ask, answer)?;
    Ok(if id == "none" { Said::done("intake/uses", None) } else { Said::done("intake/use", Some(&id)) })
}

fn report(s: &Session<'_, '_>, state: StateId, what: ObservationId, answer: &Answer) -> Result<Said, Refused> {
    let machine = s.machine();
    let value = match answer {
        Answer::Skip => String::new(),
        Answer::Choice(id) if value_of(machine, what, id).is_some() => id.clone(),
        _ => return Err(Refused::new("that is none of the choices", "type its number, or Enter if nobody knows")),
    };
    let mut told = Complaint::default();
    let state = Some(machine[state].id.clone());
    let a_code = matches!(machine[what].of, Observed::Shows { .. })
        && value_of(machine, what, &value).is_some_and(|at| at > Observed::NORMAL);
    told.code_shown = a_code.then(|| value.clone());
    told.reports.push(Report { observation: machine[what].id.clone(), value, state });
    Ok(Said::job(ComplaintAdded { complaint: told }))
}

fn evacuated() -> Result<Said, Refused> {
    Ok(Said::job(HazardFound {
        kind: book::HazardKind::FuelGas,
        what: "gas smelled".to_owned(),
        places: Vec::new(),
        dangerous: true,
        told: vec![Role::Customer, Role::Utility],
        action: book::HazardAction::None,
        signature: book::Signature::NobodyThere,
    }))
}

/// Gives the id of the choice that was meant.
fn chosen(ask: &Ask, answer: &Answer) -> Result<String, Refused> {
    let Wants::Choice(choices) = &ask.wants else {
        return Err(Refused::new("nothing is to be chosen here", "press Enter"));
    };
    match answer {
        Answer::Choice(id) if choices.iter().any(|choice| choice.id == *id) => Ok(id.clone()),
        _ => Err(Refused::new("that is none of the choices", "type a number of the list")),
    }
}

fn line(s: &Session<'_, '_>, id: &str, ask: &Ask, answer: &Answer) -> Result<Said, Refused> {
    let goal = || s.now.goal.as_ref().map(|goal| crate::steps::id_of(s.machine(), &goal.act)).unwrap_or_default();
    match &ask.wants {
        Wants::Choice(_) => {
            let said = chosen(ask, answer)?;
            Ok(match (id, said.as_str()) {
                ("refer", "refer") => Said::done("refer", Some(&ask.say)),
                ("refer", _) => Said::done("set-aside", Some(&goal())),
                _ => Said::done(id, Some(&said)),
            })
        }
        _ if id == "set-aside" => Ok(Said::done(id, Some(&goal()))),
        _ if matches!(answer, Answer::Skip) => Ok(Said::done(id, Some("skipped"))),
        _ => Ok(Said::done(id, None)),
    }
}

fn hazard(s: &Session<'_, '_>, index: usize, answer: &Answer) -> Result<Said, Refused> {
    let Answer::Hazard { told, action, signature } = answer else {
        return Err(Refused::new("a hazard must be told", "say what you did and who signs, or `refused` or `nobody`"));
    };
    let noticed = hazards::noticed(s);
    let noticed = noticed.get(index).ok_or_else(|| Refused::new("there is no such hazard", "go on"))?;
    Ok(Said::job(HazardFound {
        kind: noticed.kind,
        what: noticed.what.clone(),
        places: Vec::new(),
        dangerous: noticed.dangerous,
        told: told.clone(),
        action: *action,
        signature: *signature,
    }))
}

fn gone(s: &Session<'_, '_>, index: usize, answer: &Answer) -> Result<Said, Refused> {
    let (id, _) = s.now.hazards.get(index).ok_or_else(|| Refused::new("there is no such hazard", "go on"))?;
    match answer {
        Answer::YesNo(true) => {
            let last = s.now.changes.last().map_or("", |change| s.machine()[change.repair].say.as_str());
            Ok(Said::job(HazardCleared { hazard: *id, how: last.to_owned() }))
        }
        Answer::YesNo(false) => Ok(Said::done(&format!("gone/{}/{id}", s.now.changes.len()), Some("no"))),
        _ => Err(Refused::new("that is neither yes nor no", "type `yes` or `no`")),
    }
}

fn approve(s: &Session<'_, '_>, answer: &Answer) -> Result<Said, Refused> {
    let Answer::Signature(signature) = answer else {
        return Err(Refused::new("a name is needed for the record", "type who says so, or `refused`, or `nobody`"));
    };
    let quote =
        s.now.quotes.last().map(|quote| quote.event).ok_or_else(|| Refused::new("no quote was given", "go on"))?;
    let named = !matches!(signature, book::Signature::Refused | book::Signature::NobodyThere);
    let repair = s.now.said("agree/choice") == Some("repair");
    if repair && !named {
        return Err(Refused::new(
            "no part is changed without a name under the approval",
            "type who approves it, or `undo` and choose otherwise",
        ));
    }
    let decision = if repair { Decision::Approved } else { Decision::Declined };
    Ok(Said::job(ApprovalRecorded { quote, decision, signature: *signature }))
}

fn proof_look(s: &Session<'_, '_>, at: usize, answer: &Answer) -> Result<Said, Refused> {
    let found = match answer {
        Answer::YesNo(true) => "yes",
        Answer::YesNo(false) => "no",
        _ => return Err(Refused::new("that is neither yes nor no", "type `yes` or `no`")),
    };
    let proof = s.machine().proofs.get(at).map_or("", |proof| proof.id.as_str());
    let look = format!("{}{proof}", prove::LOOK);
    Ok(Said::call(book::LookTaken {
        look,
        places: Vec::new(),
        found: found.to_owned(),
        photos: Vec::new(),
        answers: None,
    }))
}

fn handed_over(answer: &Answer) -> Result<Said, Refused> {
    let signature = match answer {
        Answer::Signature(signature) => *signature,
        Answer::Skip => book::Signature::NobodyThere,
        _ => return Err(Refused::new("a name is needed for the record", "type it, or `refused`, or `nobody`")),
    };
    let (papers, to) = (vec!["record".to_owned()], Role::Customer);
    Ok(Said::job(HandedOver { papers, to, hash: None, copy: None, signature: Some(signature) }))
}
