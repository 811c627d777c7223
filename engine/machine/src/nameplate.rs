//! A machine that differs from a described one by its rating plate: what of it can be asked, and the description that says
//! so. Knows no circuits.

use crate::based_on::{BaseOf, Sources};
use crate::raw::{self, Body};
use crate::reader::Reader;
use std::fmt::Write as _;

/// A heater or lamp with its rating.
#[derive(Clone, Debug, PartialEq)]
pub struct Rating {
    /// The part's id.
    pub part: String,
    /// What a person calls it.
    pub name: String,
    /// Rated watts.
    pub watts: f64,
    /// Rated volts.
    pub volts: f64,
    /// A heater, whose watts go with the plate's; a lamp's do not.
    pub heats: bool,
}

/// What is laid over a described machine.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Nameplate {
    /// Id of the new description.
    pub id: String,
    /// One line for a person; that of the base if left out.
    pub title: Option<String>,
    /// Id of the description it builds on.
    pub based_on: String,
    /// Volts of the plate, where they differ.
    pub volts: Option<f64>,
    /// Watts of the plate, where they differ.
    pub watts: Option<f64>,
    /// Hertz of the plate, where they differ.
    pub hertz: Option<f64>,
    /// Heaters and lamps that differ.
    pub ratings: Vec<Rating>,
}

impl Nameplate {
    /// Gives the text of the description.
    #[must_use]
    pub fn text(&self) -> String {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let mut text =
            format!("# Laid over `{}` from a rating plate.\n\ncallwright = 1\n\n[based_on]\n", self.based_on);
        let _ = writeln!(text, "machine = {}\n\n[machine]\nid = {}", quoted(&self.based_on), quoted(&self.id));
        if let Some(title) = &self.title {
            let _ = writeln!(text, "title = {}", quoted(title));
        }
        let plate = [("volts", self.volts), ("watts", self.watts), ("hertz", self.hertz)];
        if plate.iter().any(|(_, value)| value.is_some()) {
            text.push_str("\n[plate]\n");
            for (key, value) in plate {
                let _ = value.map(|value| writeln!(text, "{key} = {value}"));
            }
        }
        for rating in &self.ratings {
            let (watts, volts) = (rating.watts, rating.volts);
            let _ = writeln!(text, "\n[[part]]\nid = {}\nwatts = {watts}\nvolts = {volts}", quoted(&rating.part));
        }
        text
    }
}

/// Gives the heaters and lamps of a description with their ratings, in its order; none of one that cannot be read.
#[must_use]
pub fn ratings(text: &str, base_of: BaseOf<'_>) -> Vec<Rating> {
    let sources = Sources::of(text, base_of);
    let joined = sources.joined();
    let mut reader = Reader::over(&joined, &sources);
    let file = raw::read_file(&mut reader, &sources);
    let parts = file.iter().flat_map(|file| file.part.iter());
    parts
        .filter_map(|part| {
            let (watts, volts, heats) = match &part.body {
                Body::Heater(body) => (**body.watts, **body.volts, true),
                Body::Lamp(body) => (**body.watts, **body.volts, false),
                _ => return None,
            };
            let id = part.common.id.0.clone();
            let name = part.common.name.as_ref().map_or_else(|| id.clone(), |name| name.value.clone());
            Some(Rating { part: id, name, watts, volts, heats })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Nameplate, Rating, ratings};
    use crate::read_with;

    #[test]
    fn what_is_written_is_read_with_its_ratings_in_place() {
        let base = include_str!("../tests/good/fan-heater.toml");
        let base_of = |id: &str| (id == "fan-heater").then(|| base.to_owned());
        let known = ratings(base, &|_| None);
        let low = known.iter().find(|rating| rating.part == "element-low").unwrap();
        assert_eq!((low.name.as_str(), low.watts, low.volts), ("first element", 700.0, 120.0));
        let plate = Nameplate {
            id: "small".to_owned(),
            title: Some("A \"small\" heater".to_owned()),
            based_on: "fan-heater".to_owned(),
            watts: Some(1100.5),
            ratings: vec![Rating { watts: 350.5, ..low.clone() }],
            ..Nameplate::default()
        };
        let read = read_with(&plate.text(), &base_of);
        assert!(read.diagnostics.is_empty(), "{:#?}", read.diagnostics);
        let machine = read.machine.unwrap();
        assert_eq!((machine.title.as_str(), machine.plate_watts), ("A \"small\" heater", 1100.5));
        let after = ratings(&plate.text(), &base_of);
        assert_eq!(after.len(), known.len());
        assert_eq!(after.iter().find(|rating| rating.part == "element-low"), plate.ratings.first());
    }
}
