//! Describing a machine: off the sheet in its cabinet, laid over a near relative, or as a whole text; checked at every change and kept
//! in the shop's book once nothing is wrong.

use crate::screen::{Choice, Field, Fields, Setting};
use crate::shelf;
use book::MachineDescribed;
use call::{Refused, Shop};
use machine::sheet::{Mains, Sheet, from_sheet};
use machine::{Nameplate, Rating, ratings};
use prediction::{Meter, Predictor};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What it is taken from, besides the id of a machine that it is laid over.
const SHEET: &str = "sheet";
const WHOLE: &str = "text";
/// Volts of a sheet for one line of 230 V, and of any other.
const LINE_230: &str = "230";
const LEGS_120: &str = "120";
/// How the field of a part's rating, and that which opens a machine of one's own, begin.
const RATING: &str = "watts-of-";
const OPEN: &str = "open-";

/// A machine on its way into the book, as typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Draft {
    id: String,
    title: String,
    /// [`SHEET`], [`WHOLE`], or the id of the machine that it is laid over.
    from: String,
    volts: String,
    watts: String,
    hertz: String,
    /// Watts of parts that differ, by part.
    ratings: BTreeMap<String, String>,
    /// The sheet's lines, the whole text, or what else is laid over.
    lines: String,
}

impl Default for Draft {
    fn default() -> Self {
        let empty = String::new;
        Self {
            id: empty(),
            title: empty(),
            from: SHEET.to_owned(),
            volts: empty(),
            watts: empty(),
            hertz: empty(),
            ratings: BTreeMap::new(),
            lines: empty(),
        }
    }
}

/// What a change of the draft led to.
pub(super) enum Done {
    /// It is another draft.
    Changed,
    /// It is to be kept.
    Keep(MachineDescribed),
}

/// Gives the fields, with all that is wrong.
pub(super) fn fields(draft: &Draft, shop: &Shop) -> Vec<Fields> {
    let field = |id: &str, say: &str, value: &str, note: &str, set: Setting| Field {
        id: id.to_owned(),
        say: say.to_owned(),
        value: value.to_owned(),
        note: note.to_owned(),
        set,
    };
    let mut what = vec![field("from", "taken from", &draft.from, "", Setting::OneOf(sources(shop)))];
    if draft.from != WHOLE {
        let id_note = "small letters, digits and hyphens";
        what.push(field("id", "its id", &draft.id, id_note, Setting::Words));
        what.push(field("title", "what it is, in one line", &draft.title, "", Setting::Words));
    }
    if draft.from == SHEET {
        let mains = if draft.volts == LINE_230 { LINE_230 } else { LEGS_120 };
        let choice = |answer: &str, say: &str| Choice { answer: answer.to_owned(), say: say.to_owned() };
        let choices = vec![choice(LEGS_120, "120/240 V"), choice(LINE_230, "230 V")];
        what.push(field("volts", "the house gives", mains, "", Setting::Choices(choices)));
    }
    let mut groups = vec![Fields { title: "What it is".to_owned(), note: None, fields: what }];
    if let Some(base) = base(draft, shop) {
        groups.push(Fields {
            title: "Its plate".to_owned(),
            note: Some(PLATE.to_owned()),
            fields: plate(draft, &base, shop),
        });
    }
    let (title, note) = match draft.from.as_str() {
        SHEET => ("As it is read off the sheet", SHEET_NOTE),
        WHOLE => ("Its description", WHOLE_NOTE),
        _ => ("What else differs", LAID_NOTE),
    };
    let lines = field("lines", title, &draft.lines, "", Setting::Lines);
    groups.push(Fields { title: title.to_owned(), note: Some(note.to_owned()), fields: vec![lines] });
    groups.push(match checked(draft, shop) {
        Ok(described) => {
            let keep = field("keep", &format!("keep `{}`", described.machine), "", "", Setting::Act);
            Fields { title: "Checked".to_owned(), note: Some("nothing wrong found".to_owned()), fields: vec![keep] }
        }
        Err(wrong) => Fields { title: "To mend".to_owned(), note: Some(wrong.join("\n")), fields: Vec::new() },
    });
    let own = shop.machines.keys();
    let kept: Vec<Field> =
        own.map(|id| field(&format!("{OPEN}{id}"), &format!("open `{id}`"), "", "", Setting::Act)).collect();
    if !kept.is_empty() {
        groups.push(Fields { title: "Your own machines".to_owned(), note: None, fields: kept });
    }
    groups
}

/// Takes a change.
pub(super) fn set(draft: &mut Draft, shop: &Shop, id: &str, value: &str) -> Result<Done, Refused> {
    let of = match id {
        "keep" => {
            return checked(draft, shop)
                .map(Done::Keep)
                .map_err(|wrong| Refused::new(wrong.join("; "), "mend it first"));
        }
        "from" => {
            if !sources(shop).iter().any(|source| source.answer == value) {
                return Err(Refused::new(format!("there is no machine `{value}`"), "take one that is listed"));
            }
            draft.ratings.clear();
            draft.volts.clear();
            &mut draft.from
        }
        "id" => &mut draft.id,
        "title" => &mut draft.title,
        "volts" => &mut draft.volts,
        "watts" => &mut draft.watts,
        "hertz" => &mut draft.hertz,
        "lines" => &mut draft.lines,
        _ => {
            if let Some(part) = id.strip_prefix(RATING) {
                draft.ratings.entry(part.to_owned()).or_default()
            } else if let Some(text) = id.strip_prefix(OPEN).and_then(|id| shop.machines.get(id)) {
                *draft = Draft { from: WHOLE.to_owned(), lines: text.clone(), ..Draft::default() };
                return Ok(Done::Changed);
            } else {
                return Err(Refused::new(format!("there is no field `{id}`"), "take one that is listed"));
            }
        }
    };
    let value = if id == "lines" { value } else { value.trim() };
    value.clone_into(of);
    Ok(Done::Changed)
}

const PLATE: &str = "what its rating plate says; left empty it is as on the machine that it is laid over";
const SHEET_NOTE: &str = "one path in a line, as the finger goes: L1 - fuse - thermostat 250F - heater 5400W - L2. Where paths branch, write \
                          a point such as @a. After a contact, in brackets, the states that close it: switch [heat].";
const WHOLE_NOTE: &str = "the whole text of a description, such as a file from somebody else";
const LAID_NOTE: &str =
    "parts, leads and values as they are written in a description, only what differs; may be left empty";

fn sources(shop: &Shop) -> Vec<Choice> {
    let source = |answer: &str, say: &str| Choice { answer: answer.to_owned(), say: say.to_owned() };
    let mut all = vec![source(SHEET, "the sheet in its cabinet"), source(WHOLE, "a whole text")];
    all.extend(shelf::choices(shop).into_iter().map(|of| Choice { say: format!("like: {}", of.say), ..of }));
    all
}

/// Gives the text of the machine that the draft is laid over, if it is.
fn base(draft: &Draft, shop: &Shop) -> Option<String> {
    if [SHEET, WHOLE].contains(&draft.from.as_str()) { None } else { shelf::text(shop, &draft.from) }
}

fn plate(draft: &Draft, base: &str, shop: &Shop) -> Vec<Field> {
    let typed = |id: String, say: String, value: &str, note: String| Field {
        id,
        say,
        value: value.to_owned(),
        note,
        set: Setting::Typed,
    };
    let of_machine = shelf::read(shop, &draft.from).ok();
    let was = |figure: Option<f64>, unit: &str| {
        figure.map_or_else(|| unit.to_owned(), |figure| format!("{unit} (there {figure:.0})"))
    };
    let plate = [
        ("volts", &draft.volts, was(of_machine.as_ref().map(|of| of.plate_volts), "V")),
        ("watts", &draft.watts, was(of_machine.as_ref().map(|of| of.plate_watts), "W")),
        ("hertz", &draft.hertz, was(of_machine.as_ref().map(|of| of.hertz), "Hz")),
    ];
    let mut fields: Vec<Field> =
        plate.into_iter().map(|(id, value, note)| typed(id.to_owned(), id.to_owned(), value, note)).collect();
    fields.extend(ratings(base, &|id| shelf::text(shop, id)).into_iter().map(|of| {
        let value = draft.ratings.get(&of.part).map_or("", String::as_str);
        typed(format!("{RATING}{}", of.part), of.name.clone(), value, was(Some(of.watts), "W"))
    }));
    fields
}

/// Gives the description, or all that is wrong with it in words.
fn checked(draft: &Draft, shop: &Shop) -> Result<MachineDescribed, Vec<String>> {
    let text = text(draft, shop).map_err(|wrong| vec![wrong])?;
    let read = shelf::read_text(shop, &text);
    let whole = draft.from == WHOLE;
    let said = |of: &machine::Diagnostic| {
        let at = if whole { format!("line {}: ", of.line) } else { String::new() };
        format!("{at}{}; {}", of.message, of.hints.join("; "))
    };
    let mut wrong: Vec<String> = read.diagnostics.iter().map(said).collect();
    let Some(machine) = read.machine else { return Err(wrong) };
    let simulated = Predictor::new(&machine, Meter::ordinary()).check();
    wrong.extend(simulated.into_iter().map(|of| format!("{}; {}", of.message, of.hints.join("; "))));
    if shipped::find(&machine.id).is_some() || [SHEET, WHOLE].contains(&machine.id.as_str()) {
        wrong.push(format!("the id `{}` is taken; give it another", machine.id));
    }
    if wrong.is_empty() { Ok(MachineDescribed { machine: machine.id, text }) } else { Err(wrong) }
}

/// Gives the text that the draft comes to.
fn text(draft: &Draft, shop: &Shop) -> Result<String, String> {
    if draft.from == WHOLE {
        return Ok(draft.lines.clone());
    }
    if draft.id.is_empty() {
        return Err("it has no id yet; write a short one, such as `attic-heater`".to_owned());
    }
    let title = (!draft.title.is_empty()).then(|| draft.title.clone());
    let Some(base) = base(draft, shop) else {
        let mains = if draft.volts == LINE_230 { Mains::Line230 } else { Mains::Legs120 };
        let sheet = Sheet { id: draft.id.clone(), title: title.unwrap_or_else(|| draft.id.clone()), mains };
        return from_sheet(&sheet, &draft.lines).map_err(|wrong| wrong.to_string());
    };
    let mut changed = Vec::new();
    for rating in ratings(&base, &|id| shelf::text(shop, id)) {
        let typed = draft.ratings.get(&rating.part).map_or("", String::as_str);
        if let Some(watts) = figure(&rating.name, typed)? {
            changed.push(Rating { watts, ..rating });
        }
    }
    let plate = Nameplate {
        id: draft.id.clone(),
        title,
        based_on: draft.from.clone(),
        volts: figure("volts", &draft.volts)?,
        watts: figure("watts", &draft.watts)?,
        hertz: figure("hertz", &draft.hertz)?,
        ratings: changed,
    };
    Ok(format!("{}\n{}", plate.text(), draft.lines))
}

/// Reads a figure above 0; none where nothing was typed.
fn figure(of: &str, typed: &str) -> Result<Option<f64>, String> {
    if typed.is_empty() {
        return Ok(None);
    }
    let figure = typed.replace(',', ".").parse::<f64>().ok().filter(|figure| figure.is_finite() && *figure > 0.0);
    figure.map(Some).ok_or_else(|| format!("{of}: `{typed}` is no number above 0; write one such as 5400"))
}
