//! Repair or replace, as a picture that a customer understands, with what is assumed to be changed beside it.

use crate::screen::{Curve, Field, Fields, Mark, Plot, Setting};
use call::{Refused, Supposed, Weighed};

/// Most that anything assumed may be.
const MOST: f64 = 100_000.0;

/// Gives what repairing, referring where a price for that is known, and replacing come to, year by year: what is paid until then on average.
#[must_use]
pub fn worth(of: &Weighed, currency: &str) -> Plot {
    let years = f64::from(of.assumed.years.max(1));
    let ways = of.ways();
    let top = ways.iter().flat_map(|(.., cost)| &cost.paid).fold(1.0_f64, |top, paid| top.max(*paid));
    let curve = |label: &str, paid: &[f64]| Curve {
        label: label.to_owned(),
        points: (0_u32..).zip(paid).map(|(year, paid)| (f64::from(year) / years, paid / top)).collect(),
    };
    let mark = |at: f64, label: String| Mark { at, label };
    Plot {
        title: "Repair or replace?".to_owned(),
        across: "years from now".to_owned(),
        upward: format!("paid until then on average, {currency}"),
        marks_across: vec![
            mark(0.0, "0".to_owned()),
            mark(0.5, format!("{:.0}", years / 2.0)),
            mark(1.0, format!("{years:.0}")),
        ],
        marks_upward: [0.0, 0.5, 1.0].map(|at| mark(at, format!("{:.0}", at * top))).to_vec(),
        curves: ways.iter().map(|(what, _, cost)| curve(what, &cost.paid)).collect(),
        dots: Vec::new(),
        // A line for each curve, in their order: they are drawn as its key.
        words: ways
            .iter()
            .map(|(what, _, cost)| format!("{what}: {currency} {:.0} a year on average", cost.a_year))
            .chain(of.say(currency))
            .chain(of.assumptions.iter().map(|say| format!("assumed: {say}")))
            .collect(),
    }
}

/// Gives what is assumed as fields; an empty one stands as it is reckoned without being told.
pub(crate) fn fields(of: &Weighed, supposed: &Supposed) -> Fields {
    let noted = |id: &str, say: &str, value: Option<f64>, note: &str| {
        Field::new(id, say, value.map_or_else(String::new, |value| value.to_string()), note, Setting::Words)
    };
    let typed = |id: &str, say: &str, value: Option<f64>, used: f64, unit: &str| {
        noted(id, say, value, &format!("{used:.0} {unit}"))
    };
    let assumed = &of.assumed;
    let fields = vec![
        typed("age", "its age", supposed.age, assumed.age, "years"),
        typed("life", "such appliances last", supposed.life, assumed.life.mean(), "years on average"),
        typed("new", "a new one, delivered", supposed.new_price, assumed.new_price, ""),
        noted("refer", "somebody else repairs it for", supposed.referred, "where it may be referred"),
        typed("kwh-more", "the old one uses more electricity, a year", supposed.kwh_more, 0.0, "kWh"),
        noted("energy", "electricity, a kWh", supposed.energy_price, &format!("{:.2}", of.energy_price)),
        typed("uses-more", "it uses more besides, a year", supposed.uses_more, 0.0, ""),
        typed("repairs", "further repairs, a year", supposed.repairs, assumed.repairs, ""),
        typed("warranty", "warranty of a new one", supposed.warranty, assumed.warranty, "years"),
        typed("interest", "interest, a year", supposed.interest, 100.0 * assumed.interest, "%"),
        typed("years", "looking ahead", supposed.years.map(f64::from), f64::from(assumed.years), "years"),
    ];
    let note = "say what you know better; an empty field stands as it is reckoned".to_owned();
    Fields { title: "What this rests on".to_owned(), note: Some(note), fields }
}

/// Takes what is known better.
pub(crate) fn set(supposed: &mut Supposed, id: &str, value: &str) -> Result<(), Refused> {
    let value = value.trim();
    let read = value.parse::<f64>().ok().filter(|number| (0.0..=MOST).contains(number));
    if !value.is_empty() && read.is_none() {
        return Err(Refused::new(format!("`{value}` is no amount"), "write a number from 0 up, or nothing"));
    }
    match id {
        "age" => supposed.age = read,
        "life" => supposed.life = read.filter(|years| *years > 0.0),
        "new" => supposed.new_price = read,
        "refer" => supposed.referred = read,
        "kwh-more" => supposed.kwh_more = read,
        "energy" => supposed.energy_price = read,
        "uses-more" => supposed.uses_more = read,
        "warranty" => supposed.warranty = read,
        "repairs" => supposed.repairs = read,
        "interest" => supposed.interest = read,
        "years" => supposed.years = value.parse().ok(),
        _ => return Err(Refused::new(format!("there is no `{id}` here"), "take one that is listed")),
    }
    Ok(())
}
