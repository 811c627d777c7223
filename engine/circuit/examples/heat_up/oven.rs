//! Reads ovens from JSON and says when their cavities are warm: two elements, cavity, wall, room. Refuses to know
//! files and the thermostat.

use std::collections::BTreeMap;

use circuit::{Node, RcNetwork, Transient};

/// Is the temperature that is waited for, °C.
const TARGET_C: f64 = 175.0;
/// Is what the parameters must give; a case may give any of them anew.
const PARAMETERS: [&str; 10] = [
    "rated_V",
    "bake_W",
    "broil_W",
    "T_room",
    "C_element",
    "C_cavity",
    "C_wall",
    "G_element",
    "G_cavity_wall",
    "G_wall_room",
];
/// Is what only a case gives: the supply, and the share of each element's power that is left (1 if left out).
const OF_A_CASE: [&str; 3] = ["supply_V", "bake", "broil"];
/// Is the loss straight from the cavity to the room.
const LEAK: &str = "G_leak";

/// Holds one file: its parameters, and its cases by name.
#[derive(Debug, serde::Deserialize)]
pub(crate) struct Ovens {
    parameters: BTreeMap<String, f64>,
    cases: BTreeMap<String, BTreeMap<String, f64>>,
}

/// Is one case's oven, solved.
#[derive(Debug)]
pub(crate) struct Oven {
    pub(crate) cavity: Node,
    pub(crate) room_c: f64,
    pub(crate) transient: Transient,
}

impl Ovens {
    /// Reads the file's text. Other keys beside `parameters` and `cases`, and parameters of other models, are left.
    pub(crate) fn read(text: &str) -> Result<Self, String> {
        let ovens: Self = serde_json::from_str(text).map_err(said)?;
        let has = |key: &str| ovens.parameters.contains_key(key);
        if let Some(missing) = PARAMETERS.iter().chain([&LEAK]).find(|key| !has(key)) {
            return Err(format!("`parameters` has no `{missing}`: write it in"));
        }
        for (name, case) in &ovens.cases {
            let known = |key: &str| PARAMETERS.contains(&key) || OF_A_CASE.contains(&key) || key == LEAK;
            if let Some(key) = case.keys().find(|key| !known(key)) {
                let all = [&OF_A_CASE[..], &PARAMETERS[..], &[LEAK]].concat().join("`, `");
                return Err(format!("case `{name}` cannot have `{key}`: it can have `{all}`"));
            }
            if !case.contains_key("supply_V") {
                return Err(format!("case `{name}` has no `supply_V`: write the volts at the oven"));
            }
        }
        Ok(ovens)
    }

    /// Gives the names of the cases.
    pub(crate) fn names(&self) -> impl Iterator<Item = &str> {
        self.cases.keys().map(String::as_str)
    }

    /// Builds and solves a case's oven.
    pub(crate) fn oven(&self, name: &str) -> Result<Oven, String> {
        let case = self.cases.get(name).ok_or_else(|| format!("there is no case `{name}`"))?;
        let given = |key: &str| case.get(key).or_else(|| self.parameters.get(key)).copied();
        let value = |key: &str| given(key).ok_or_else(|| format!("`parameters` has no `{key}`: write it in"));
        let above = |key: &str| match value(key)? {
            number if number > 0.0 => Ok(number),
            number => Err(format!("case `{name}`: `{key}` is {number}, and must be above 0")),
        };
        let not_below = |key: &str| match value(key)? {
            number if number >= 0.0 => Ok(number),
            number => Err(format!("case `{name}`: `{key}` is {number}, and must not be below 0")),
        };
        let share = value("supply_V")? / above("rated_V")?;
        let mut network = RcNetwork::new();
        let cavity = network.add_node(above("C_cavity")?);
        let wall = network.add_node(above("C_wall")?);
        let refused = |error: circuit::TransientError| format!("case `{name}`: {error}");
        for (element, watts) in [("bake", "bake_W"), ("broil", "broil_W")] {
            let node = network.add_node(above("C_element")?);
            let left = case.get(element).copied().unwrap_or(1.0);
            network.feed(node, value(watts)? * left * share * share).map_err(refused)?;
            network.join(node, cavity, not_below("G_element")?);
        }
        network.join(cavity, wall, not_below("G_cavity_wall")?);
        network.join(wall, Node(0), not_below("G_wall_room")?);
        network.join(cavity, Node(0), not_below(LEAK)?);
        let transient = network.solve().map_err(refused)?;
        Ok(Oven { cavity, room_c: value("T_room")?, transient })
    }

    /// Gives the seconds to 175 °C of every case; `None` for one that never gets there.
    pub(crate) fn times(&self) -> Result<BTreeMap<String, Option<f64>>, String> {
        let time = |name: &str| Ok((name.to_owned(), self.oven(name)?.seconds_to(TARGET_C)?));
        self.names().map(time).collect()
    }
}

impl Oven {
    /// Gives the seconds from room temperature to a cavity temperature.
    pub(crate) fn seconds_to(&self, celsius: f64) -> Result<Option<f64>, String> {
        self.transient.first_time(&[0.0; 4], self.cavity, celsius - self.room_c).map_err(|error| error.to_string())
    }
}

/// Says what the JSON reader found, without a type's name.
#[expect(clippy::needless_pass_by_value, reason = "handed to map_err")]
fn said(error: serde_json::Error) -> String {
    error.to_string().replace("expected f64", "expected a number")
}

/// Writes the times as one JSON object.
pub(crate) fn print(times: &BTreeMap<String, Option<f64>>) -> String {
    let object: serde_json::Map<String, serde_json::Value> =
        times.iter().map(|(name, seconds)| (name.clone(), serde_json::json!({ "seconds_to_175C": seconds }))).collect();
    format!("{:#}", serde_json::Value::Object(object))
}
