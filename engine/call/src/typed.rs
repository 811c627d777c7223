//! From a typed line to an answer: numbers of choices, words, readings. Understands; decides nothing.

use crate::ask::{Answer, Ask, Choice, Learned, Observed, OwnWay, Refused, Wants};
use book::{HazardAction, Person, Role, Signature};
use machine::model::Machine;

/// Understands a typed line as an answer to what is asked. A person's details and names come back as
/// [`Answer::Words`]: whoever drives the session seals them first.
///
/// # Errors
/// [`Refused`] says what could be typed.
pub fn read_line(machine: &Machine, ask: &Ask, text: &str) -> Result<Answer, Refused> {
    let text = text.trim();
    if text.is_empty() {
        return ask.enter.clone().ok_or_else(|| Refused::new("nothing was typed", hint(ask)));
    }
    if text == "skip" {
        return Ok(Answer::Skip);
    }
    if let Some(way) = own_way(machine, ask, text)? {
        return Ok(Answer::OwnWay(way));
    }
    match &ask.wants {
        Wants::Done => done(text),
        Wants::YesNo => yes_no(text).map(Answer::YesNo),
        Wants::Choice(choices) => choice(choices, text).map(Answer::Choice),
        Wants::Reading(_) => Ok(Answer::Reading(text.to_owned())),
        Wants::Seen(wanted) => seen(machine, wanted, text),
        Wants::Count(_) => count(text),
        Wants::Words | Wants::Person => Ok(Answer::Words(text.to_owned())),
        Wants::Appliance => appliance(text),
        Wants::Signature => Ok(signature(text)),
        Wants::Hazard => hazard(text),
        Wants::Nothing => Err(Refused::new("nothing is asked", "press Enter")),
    }
}

/// Says what could be typed.
fn hint(ask: &Ask) -> &'static str {
    match ask.wants {
        Wants::Done => "press Enter when it is done",
        Wants::YesNo => "type `yes` or `no`",
        Wants::Choice(_) => "type a number of the list",
        Wants::Reading(_) => "type what the meter shows, such as `15.2` or `OL`",
        Wants::Seen(_) => "type what you see as `drum=yes heats=none`, or `ok` if all is as it should",
        Wants::Count(_) => "type how many",
        Wants::Words | Wants::Person => "type it in words",
        Wants::Appliance => "type years, such as `9`, and `warranty` if somebody owes it",
        Wants::Signature => "type a name, `refused` or `nobody`",
        Wants::Hazard => "type `disconnected`, `tagged` or `told`, then the name of the one told, or `refused`",
        Wants::Nothing => "press Enter",
    }
}

fn done(text: &str) -> Result<Answer, Refused> {
    match text.to_ascii_lowercase().as_str() {
        "done" | "ok" | "y" | "yes" => Ok(Answer::Done),
        _ => Err(Refused::new(format!("`{text}` is not understood here"), "press Enter when it is done")),
    }
}

fn yes_no(text: &str) -> Result<bool, Refused> {
    match text.to_ascii_lowercase().as_str() {
        "y" | "yes" => Ok(true),
        "n" | "no" => Ok(false),
        _ => Err(Refused::new(format!("`{text}` is neither yes nor no"), "type `yes` or `no`")),
    }
}

fn choice(choices: &[Choice], text: &str) -> Result<String, Refused> {
    let by_number = text.parse::<usize>().ok().and_then(|number| choices.get(number.checked_sub(1)?));
    let by_id = choices.iter().find(|choice| choice.id.eq_ignore_ascii_case(text));
    let found = by_number.or(by_id).map(|choice| choice.id.clone());
    found.ok_or_else(|| Refused::new(format!("`{text}` is none of the choices"), "type a number of the list"))
}

fn seen(machine: &Machine, wanted: &[Observed], text: &str) -> Result<Answer, Refused> {
    if matches!(text.to_ascii_lowercase().as_str(), "ok" | "all ok") {
        let all = wanted.iter().map(|of| (machine[of.what].id.clone(), of.sound.clone()));
        return Ok(Answer::Seen(all.collect()));
    }
    let mut seen = Vec::new();
    for word in text.split([' ', ',']).filter(|word| !word.is_empty()) {
        let Some((what, value)) = word.split_once('=') else {
            return Err(Refused::new(format!("`{word}` is not understood"), "type it as `drum=yes heats=none`"));
        };
        seen.push((what.to_owned(), value.to_owned()));
    }
    Ok(Answer::Seen(seen))
}

fn count(text: &str) -> Result<Answer, Refused> {
    let (number, short) = match text.strip_prefix("missing ") {
        Some(number) => (number, true),
        None => (text, false),
    };
    match number.trim().parse() {
        Ok(count) => Ok(Answer::Count { count, short }),
        Err(_) => Err(Refused::new(format!("`{text}` is no count"), "type how many fasteners")),
    }
}

fn appliance(text: &str) -> Result<Answer, Refused> {
    let lower = text.to_ascii_lowercase();
    let warranty = match lower.as_str() {
        _ if lower.contains("no warranty") => Some(false),
        _ if lower.contains("warranty") => Some(true),
        _ => None,
    };
    let figure: Option<f64> = lower.split_whitespace().find_map(|word| word.parse().ok());
    let months = if lower.contains("month") { 1.0 } else { 12.0 };
    let age_months = match figure {
        Some(age) if (0.0..=100.0).contains(&age) => {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 1200 months")]
            let age = (age * months).round() as u32;
            Some(age)
        }
        Some(age) => return Err(Refused::new(format!("`{age}` is no age of an appliance"), "type years, such as `9`")),
        None if warranty.is_none() => {
            return Err(Refused::new(format!("`{text}` is no age"), "type years, such as `9`, or press Enter"));
        }
        None => None,
    };
    Ok(Answer::Appliance { age_months, warranty })
}

fn signature(text: &str) -> Answer {
    match text.to_ascii_lowercase().as_str() {
        "refused" => Answer::Signature(Signature::Refused),
        "nobody" => Answer::Signature(Signature::NobodyThere),
        _ => Answer::Words(text.to_owned()),
    }
}

/// `disconnected refused`; with a name instead of `refused` the words come back to be sealed.
fn hazard(text: &str) -> Result<Answer, Refused> {
    let (action, who) = text.split_once(' ').unwrap_or((text, "nobody"));
    let action = action_of(action)?;
    let (told, signature) = match who.trim().to_ascii_lowercase().as_str() {
        "refused" => (vec![Role::Customer], Signature::Refused),
        "nobody" => (vec![Role::OtherPresent], Signature::NobodyThere),
        _ => return Ok(Answer::Words(text.to_owned())),
    };
    Ok(Answer::Hazard { told, action, signature })
}

/// Understands what was done about a hazard.
///
/// # Errors
/// [`Refused`] says what could be typed.
pub fn action_of(word: &str) -> Result<HazardAction, Refused> {
    match word.to_ascii_lowercase().as_str() {
        "disconnected" => Ok(HazardAction::Disconnected),
        "tagged" => Ok(HazardAction::Tagged),
        "both" => Ok(HazardAction::DisconnectedAndTagged),
        "told" | "none" => Ok(HazardAction::None),
        _ => Err(Refused::new(
            format!("`{word}` is not understood"),
            "type `disconnected`, `tagged`, `both` or `told`, then the name of the one told, or `refused`",
        )),
    }
}

/// Understands a person's details: name, address and the rest, separated by commas as typed.
#[must_use]
pub fn person(words: &str) -> Person {
    let mut parts = words.split(',').map(str::trim).filter(|part| !part.is_empty()).map(str::to_owned);
    let name = parts.next().unwrap_or_default();
    let (telephone, address): (Vec<String>, Vec<String>) = parts.partition(|part| looks_like_number(part));
    Person { name, address, telephone, ..Person::default() }
}

fn looks_like_number(part: &str) -> bool {
    let digits = part.chars().filter(char::is_ascii_digit).count();
    digits >= 6 && part.chars().all(|c| c.is_ascii_digit() || " +-()/.".contains(c))
}

fn own_way(machine: &Machine, ask: &Ask, text: &str) -> Result<Option<OwnWay>, Refused> {
    let words: Vec<&str> = text.split_whitespace().collect();
    let rest = |count: usize| words.iter().skip(count).copied().collect::<Vec<_>>().join(" ");
    let rest_state = machine.states.first().map_or("off", |state| state.id.as_str());
    Ok(Some(match words.as_slice() {
        ["danger", ..] if words.len() > 1 => OwnWay::Danger(rest(1)),
        ["later", _, ..] if ask.telephone => OwnWay::Later(rest(1)),
        ["settled", _, ..] if ask.telephone => OwnWay::Settled(rest(1)),
        _ if !ask.own_way => return Ok(None),
        ["ohms", a, b] => OwnWay::Instead(format!("ohms:{a},{b}@{rest_state}")),
        ["ohms", a, b, state] => OwnWay::Instead(format!("ohms:{a},{b}@{state}")),
        ["volts", a, b, state] => OwnWay::Instead(format!("volts:{a},{b}@{state}")),
        ["another", "reading", a, b] => OwnWay::Instead(format!("ohms:{a},{b}@{rest_state}")),
        ["look", part] => OwnWay::Instead(format!("look:{part}")),
        ["try", state] => OwnWay::Instead(format!("try:{state}")),
        ["cannot", "reach", ..] => OwnWay::CannotReach(words.iter().skip(2).map(|&name| name.to_owned()).collect()),
        ["opinion", part] => OwnWay::Opinion { part: (*part).to_owned(), times: 3.0 },
        ["opinion", part, times] => {
            let times = times
                .parse()
                .map_err(|_| Refused::new(format!("`{times}` is no weight"), "3 is three times likelier"))?;
            OwnWay::Opinion { part: (*part).to_owned(), times }
        }
        ["not", "built", "like", "this", ..] => OwnWay::NotBuiltLikeThis(rest(4)),
        ["unit", variant, way] => {
            OwnWay::Learned(Learned::Unit { variant: (*variant).to_owned(), way: (*way).to_owned() })
        }
        ["label", point, _, ..] => OwnWay::Learned(Learned::Label { point: (*point).to_owned(), text: rest(2) }),
        ["plate", entry, _, ..] => OwnWay::Learned(Learned::Plate { entry: (*entry).to_owned(), text: rest(2) }),
        ["papers", entry, _, ..] => OwnWay::Learned(Learned::Papers { entry: (*entry).to_owned(), text: rest(2) }),
        ["moved", part] => OwnWay::Moved((*part).to_owned()),
        ["ran", "warm"] => OwnWay::RanWarm,
        ["thermometer", shows, minutes, zone @ ..] if zone.len() < 2 => OwnWay::Thermometer {
            shows: (*shows).to_owned(),
            minutes: minutes.parse().map_err(|_| {
                Refused::new(format!("`{minutes}` is no count of minutes"), "type it as `thermometer 310F 10`")
            })?,
            zone: zone.first().map(|zone| (*zone).to_owned()),
        },
        ["stop"] => OwnWay::Stop,
        _ => return Ok(None),
    }))
}
