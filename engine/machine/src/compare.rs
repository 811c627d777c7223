//! What differs between two descriptions, key by key, each laid over what it builds on. Knows no circuits and judges nothing.

use crate::based_on::{BaseOf, Sources, id_of};
use crate::reader::Reader;
use crate::{Diagnostic, too_big};
use serde::Serialize;
use std::collections::BTreeSet;
use toml::de::{DeTable, DeValue};

/// One thing that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Difference {
    /// Section of the file: `part`, `lead`, `plate`.
    pub section: String,
    /// Id of the one thing of that section; `None` where the section is one thing.
    pub id: Option<String>,
    /// Key within it, such as `watts` or `motor.volts`; empty for the whole thing.
    pub key: String,
    /// What the first has there, as TOML writes it; `None` where it has nothing.
    pub one: Option<String>,
    /// What the second has there.
    pub other: Option<String>,
}

/// Compares two descriptions in the order of the first one's sections. What they are called, how they are built up and the
/// order of their keys are no differences, and numbers are compared as numbers.
///
/// # Errors
/// Which text is no TOML or lacks its base, with what is wrong with it.
pub fn compare(one: (&str, BaseOf<'_>), other: (&str, BaseOf<'_>)) -> Result<Vec<Difference>, WrongText> {
    let one = Laid::read(one).map_err(WrongText::One)?;
    let other = Laid::read(other).map_err(WrongText::Other)?;
    let mut found = Vec::new();
    for section in one.sections.iter().chain(other.sections.iter().filter(|name| !one.sections.contains(name))) {
        if IN_NAME_ONLY.contains(&section.as_str()) {
            continue;
        }
        let things = |laid: &Laid| laid.things.iter().filter(|thing| &thing.section == section).cloned().collect();
        let (ones, others): (Vec<Thing>, Vec<Thing>) = (things(&one), things(&other));
        let added = others.iter().filter(|thing| !ones.iter().any(|one| one.id == thing.id));
        for thing in ones.iter().chain(added) {
            let of = |things: &[Thing]| things.iter().find(|other| other.id == thing.id).cloned();
            found.extend(differences(section, &thing.id, of(&ones), of(&others)));
        }
    }
    Ok(found)
}

/// The text that cannot be compared, with what is wrong with it.
#[derive(Clone, Debug)]
pub enum WrongText {
    /// The first.
    One(Vec<Diagnostic>),
    /// The second.
    Other(Vec<Diagnostic>),
}

/// Sections and keys that name a description and say nothing of the machine.
const IN_NAME_ONLY: [&str; 2] = ["callwright", "based_on"];
const NAMES: [&str; 3] = ["id", "title", "note"];

/// One description: its sections in order, and the things in them.
struct Laid {
    sections: Vec<String>,
    things: Vec<Thing>,
}

/// One thing of a section, with its keys and what they hold.
#[derive(Clone)]
struct Thing {
    section: String,
    id: Option<String>,
    keys: Vec<(String, String)>,
}

impl Laid {
    fn read((text, base_of): (&str, BaseOf<'_>)) -> Result<Self, Vec<Diagnostic>> {
        if let Some(wrong) = too_big(text) {
            return Err(wrong);
        }
        let sources = Sources::of(text, base_of);
        let joined = sources.joined();
        let mut reader = Reader::over(&joined, &sources);
        let spaced = sources.spaced();
        let table = sources.table(&mut reader, &spaced);
        let Some(table) = table.filter(|_| !reader.has_errors()) else { return Err(reader.finish()) };
        let mut sections: Vec<(usize, String)> =
            table.get_ref().iter().map(|(key, value)| (value.span().start, key.get_ref().to_string())).collect();
        sections.sort();
        let things = table.get_ref().iter().flat_map(|(key, value)| things(key.get_ref(), value.get_ref())).collect();
        Ok(Self { sections: sections.into_iter().map(|(_, name)| name).collect(), things })
    }
}

/// Gives the things of a section: each of a list by its id, or the section itself.
fn things(section: &str, value: &DeValue<'_>) -> Vec<Thing> {
    let thing = |id: Option<&str>, value: &DeValue<'_>| {
        let mut keys = Vec::new();
        flatten(&mut keys, "", value);
        keys.retain(|(key, _)| key != "id" && (section != "machine" || !NAMES.contains(&key.as_str())));
        Thing { section: section.to_owned(), id: id.map(str::to_owned), keys }
    };
    match value {
        DeValue::Array(list) if list.iter().all(|one| id_of(one).is_some()) => {
            list.iter().map(|one| thing(id_of(one), one.get_ref())).collect()
        }
        other => vec![thing(None, other)],
    }
}

/// Lists what a value holds, a table's keys joined by points.
fn flatten(keys: &mut Vec<(String, String)>, path: &str, value: &DeValue<'_>) {
    match value {
        DeValue::Table(table) => {
            for (key, value) in table {
                let key = key.get_ref();
                let path = if path.is_empty() { key.to_string() } else { format!("{path}.{key}") };
                flatten(keys, &path, value.get_ref());
            }
        }
        other => keys.push((path.to_owned(), written(other))),
    }
}

/// Writes a value as TOML does, numbers in the shortest way.
fn written(value: &DeValue<'_>) -> String {
    let number = |text: &str| text.parse::<f64>().map_or_else(|_| text.to_owned(), |number| number.to_string());
    match value {
        DeValue::String(text) => toml::Value::String(text.to_string()).to_string(),
        DeValue::Integer(whole) => number(whole.as_str()),
        DeValue::Float(float) => number(float.as_str()),
        DeValue::Boolean(so) => so.to_string(),
        DeValue::Datetime(time) => time.to_string(),
        DeValue::Array(list) => {
            let all: Vec<String> = list.iter().map(|one| written(one.get_ref())).collect();
            format!("[{}]", all.join(", "))
        }
        DeValue::Table(table) => in_braces(table),
    }
}

fn in_braces(table: &DeTable<'_>) -> String {
    let all: Vec<String> =
        table.iter().map(|(key, value)| format!("{} = {}", key.get_ref(), written(value.get_ref()))).collect();
    format!("{{ {} }}", all.join(", "))
}

fn differences(section: &str, id: &Option<String>, one: Option<Thing>, other: Option<Thing>) -> Vec<Difference> {
    let differs = |key: &str, one: Option<String>, other: Option<String>| Difference {
        section: section.to_owned(),
        id: id.clone(),
        key: key.to_owned(),
        one,
        other,
    };
    let in_line = |thing: Thing| {
        let all: Vec<String> = thing.keys.iter().map(|(key, value)| format!("{key} = {value}")).collect();
        all.join(", ")
    };
    match (one, other) {
        (Some(one), Some(other)) => {
            let keys: BTreeSet<&String> = one.keys.iter().chain(&other.keys).map(|(key, _)| key).collect();
            let of = |thing: &Thing, key: &str| {
                thing.keys.iter().find(|(known, _)| known == key).map(|(_, value)| value.clone())
            };
            let both = keys.into_iter().map(|key| (key, of(&one, key), of(&other, key)));
            both.filter(|(_, one, other)| one != other).map(|(key, one, other)| differs(key, one, other)).collect()
        }
        (one, other) => vec![differs("", one.map(in_line), other.map(in_line))],
    }
}

#[cfg(test)]
mod tests {
    use super::{Difference, compare};

    const BASE: &str = include_str!("../tests/good/fan-heater.toml");

    fn base_of(id: &str) -> Option<String> {
        (id == "fan-heater").then(|| BASE.to_owned())
    }

    fn found(other: &str) -> Vec<(String, Option<String>, Option<String>)> {
        let all = compare((BASE, &base_of), (other, &base_of)).unwrap();
        let path = |d: &Difference| [Some(d.section.clone()), d.id.clone(), Some(d.key.clone())];
        all.iter()
            .map(|d| (path(d).into_iter().flatten().collect::<Vec<_>>().join(" "), d.one.clone(), d.other.clone()))
            .collect()
    }

    #[test]
    fn a_description_is_like_itself_whatever_it_is_called_and_however_its_numbers_are_written() {
        assert_eq!(found(BASE), []);
        let written = BASE.replace("watts = 700", "watts = 700.0");
        assert_ne!(written, BASE);
        assert_eq!(found(&written), []);
        let named = "callwright = 1\n[based_on]\nmachine = \"fan-heater\"\n[machine]\nid = \"other\"\n";
        assert_eq!(found(named), []);
    }

    #[test]
    fn what_is_laid_over_and_left_out_is_what_differs() {
        let laid = "callwright = 1\n[based_on]\nmachine = \"fan-heater\"\nwithout = [\"proof.bond\"]\n\
                    [machine]\nid = \"other\"\n[[part]]\nid = \"element-low\"\nwatts = 800\n";
        let all = found(laid);
        let watts = all.iter().find(|(path, ..)| path == "part element-low watts").unwrap();
        assert_eq!((watts.1.as_deref(), watts.2.as_deref()), (Some("700"), Some("800")));
        let gone: Vec<_> = all.iter().filter(|(.., other)| other.is_none()).collect();
        assert!(gone.len() == 1 && gone[0].0.starts_with("proof bond"), "{all:?}");
        assert_eq!(all.len(), 2, "{all:?}");
    }

    #[test]
    fn a_text_that_is_none_is_said_to_be_which() {
        let wrong = compare((BASE, &base_of), ("[machine", &base_of)).unwrap_err();
        assert!(matches!(wrong, super::WrongText::Other(all) if !all.is_empty()));
    }
}
