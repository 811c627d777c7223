//! What a person can notice, with its sentences made.

use super::Draft;
use crate::diagnostic::{MISSING_KEY, NOT_JUDGED, UNKNOWN_NAME, WRONG_KIND};
use crate::model::{CodeRule, Need, Observation, Observed, ObservedValue, PartId, PartKind, StateId};
use crate::raw::{Observe, ObserveWord, SupplyWord};
use crate::reader::{Map, Span, Text, list_words};

pub(crate) fn lower(draft: &mut Draft<'_, '_, '_>) -> Vec<Observation> {
    let file = draft.file;
    let mut ids: Vec<&str> = Vec::new();
    let mut found = Vec::new();
    for raw in file.observe.iter().flatten() {
        if ids.contains(&raw.id.0.as_str()) {
            draft.complain_twice(&raw.id.value.0, &raw.id.span);
        }
        ids.push(&raw.id.0);
        found.extend(lower_one(draft, raw));
    }
    found
}

fn lower_one(draft: &mut Draft<'_, '_, '_>, raw: &Observe) -> Option<Observation> {
    let states = states_of(draft, raw);
    let (of, name) = observed(draft, raw)?;
    let name = raw.name.as_ref().map_or(name, |name| name.value.clone());
    let mut values = sentences(draft, &of, &name);
    overlay(draft, raw.say.as_ref(), &mut values);
    Some(Observation { id: raw.id.0.clone(), of, states, values })
}

/// States in which it is looked for: those named, else every state but the rest state.
fn states_of(draft: &mut Draft<'_, '_, '_>, raw: &Observe) -> Vec<StateId> {
    match &raw.states {
        Some(names) => names.iter().filter_map(|name| draft.state(name)).collect(),
        None => (1..draft.file.state.len()).filter_map(|at| u16::try_from(at).ok()).map(StateId).collect(),
    }
}

/// Looks up what is observed, and what it is called if the file gives no name.
fn observed(draft: &mut Draft<'_, '_, '_>, raw: &Observe) -> Option<(Observed, String)> {
    match raw.what.value {
        ObserveWord::Trips => {
            let asked = match &raw.part {
                Some(_) => subject(draft, raw, &[PartKind::Breaker])?.0,
                None => PartId(draft.part_names.get("breaker")?),
            };
            let flag = draft.flags.iter().position(|flag| flag.part == asked)?;
            let name = format!("the {}", draft.parts.get(asked.index())?.name);
            Some((Observed::Trips(crate::model::FlagId(u16::try_from(flag).ok()?)), name))
        }
        ObserveWord::Tingles => Some((Observed::Tingles, "the frame".to_owned())),
        ObserveWord::Heats => heats(draft, raw),
        ObserveWord::Turns => {
            let (part, name) =
                subject(draft, raw, &[PartKind::Drum, PartKind::Motor, PartKind::Belt, PartKind::Blower])?;
            Some((Observed::Turns(part), name))
        }
        ObserveWord::Blows => {
            let (part, name) = subject(draft, raw, &[PartKind::Blower, PartKind::Vent])?;
            Some((Observed::Blows(part), name))
        }
        ObserveWord::Flows => {
            let kinds =
                [PartKind::Pipe, PartKind::Pump, PartKind::Valve, PartKind::Tap, PartKind::Blower, PartKind::Vent];
            let (part, name) = subject(draft, raw, &kinds)?;
            Some((Observed::Flows(part), name))
        }
        ObserveWord::Works => {
            let (part, name) = subject(draft, raw, &[PartKind::Winding, PartKind::Assembly])?;
            Some((Observed::Flows(part), name))
        }
        ObserveWord::Burns => {
            let (burner, name) = subject(draft, raw, &[PartKind::Burner])?;
            Some((Observed::Burns { burner }, name))
        }
        ObserveWord::Sounds => {
            let (part, name) = subject(draft, raw, &[PartKind::Motor])?;
            Some((Observed::Sounds(*draft.motors.get(&part)?), name))
        }
        ObserveWord::Lights => {
            let (part, name) = subject(draft, raw, &[PartKind::Lamp, PartKind::Timer])?;
            let load = load_of(draft, part, raw.part.as_ref().map_or(&raw.id.span, |part| &part.span))?;
            Some((Observed::Lights { branch: *load.branches.first()?, rated_watts: load.watts }, name))
        }
        ObserveWord::Shows => shows(draft, raw),
        ObserveWord::Warms => warms(draft, raw),
    }
}

/// Looks up `part` and sees that it is of a kind that can be observed so.
fn subject(draft: &mut Draft<'_, '_, '_>, raw: &Observe, kinds: &[PartKind]) -> Option<(PartId, String)> {
    let Some(name) = &raw.part else {
        let message = format!("`part` is missing in observe `{}`", &**raw.id);
        draft.reader.error(MISSING_KEY, &raw.id.span, message, "add `part = \"...\"`");
        return None;
    };
    let id = draft.part(name)?;
    check_kind(draft, id, name, kinds)?;
    Some((id, format!("the {}", draft.parts.get(id.index())?.name)))
}

fn check_kind(draft: &mut Draft<'_, '_, '_>, id: PartId, name: &Text, kinds: &[PartKind]) -> Option<()> {
    let kind = draft.parts.get(id.index())?.kind;
    if kinds.contains(&kind) {
        return Some(());
    }
    if draft.reader.is_broken(name) {
        return None;
    }
    let known: Vec<String> = kinds.iter().map(ToString::to_string).collect();
    let message = format!("`{}` is a {kind}, of which this cannot be observed", name.value);
    draft.reader.error(WRONG_KIND, &name.span, message, &format!("name a {}", known.join(" or a ")));
    None
}

fn load_of(draft: &mut Draft<'_, '_, '_>, part: PartId, span: &Span) -> Option<super::Load> {
    let load = draft.loads.get(&part).cloned();
    if load.is_none() {
        draft.reader.error(
            WRONG_KIND,
            span,
            "this part draws no power of its own",
            "name a lamp, or a timer with a `motor`",
        );
    }
    load
}

fn heats(draft: &mut Draft<'_, '_, '_>, raw: &Observe) -> Option<(Observed, String)> {
    let names: Vec<&Text> = raw.parts.iter().flatten().chain(raw.part.as_ref()).collect();
    if names.is_empty() {
        let message = format!("`parts` is missing in observe `{}`", &**raw.id);
        draft.reader.error(MISSING_KEY, &raw.id.span, message, "add `parts = [\"...\"]` with the heaters");
        return None;
    }
    let mut branches = Vec::new();
    let mut watts = 0.0;
    for name in names {
        let Some(id) = draft.part(name) else { continue };
        if check_kind(draft, id, name, &[PartKind::Heater]).is_none() {
            continue;
        }
        if let Some(load) = draft.loads.get(&id) {
            watts += load.watts * supply_share(draft, load.volts);
            branches.extend(load.branches.iter().copied());
        }
    }
    let air = match &raw.air {
        Some(name) => {
            draft.part(name).filter(|id| check_kind(draft, *id, name, &[PartKind::Vent, PartKind::Blower]).is_some())
        }
        None => None,
    };
    let rated_watts = raw.rated_watts.as_ref().map_or(watts, |watts| ***watts);
    Some((Observed::Heats { branches, rated_watts, air }, "the machine".to_owned()))
}

/// Share of its rated watts that a heater gives on this supply: one rated for 240 V gets 208 V from two of three phases.
fn supply_share(draft: &Draft<'_, '_, '_>, rated_volts: f64) -> f64 {
    let between_legs = 120.0 * 3.0_f64.sqrt();
    let weaker = draft.file.supply.kind.value == SupplyWord::TwoOfThreePhases && rated_volts > between_legs;
    if weaker { (between_legs / rated_volts) * (between_legs / rated_volts) } else { 1.0 }
}

fn shows(draft: &mut Draft<'_, '_, '_>, raw: &Observe) -> Option<(Observed, String)> {
    let (part, _) = subject(draft, raw, &[PartKind::Control])?;
    let control = draft.controls.get(&part)?.clone();
    if !control.display {
        let span = raw.part.as_ref().map_or(&raw.id.span, |part| &part.span);
        draft.reader.error(WRONG_KIND, span, "this control has no display", "take `display = false` out of it");
    }
    let coded = |need: &Need| matches!(need, Need::Sense { code: Some(_), .. });
    let senses: Vec<Need> = control.senses.into_iter().filter(coded).collect();
    let mut shown = sense_codes(&senses);
    let mut rules = Vec::new();
    for (code, rule) in control.rules {
        // Two rules may show one code, and a rule the code of a sense.
        let at = shown.iter().position(|known| *known == code).unwrap_or_else(|| {
            shown.push(code);
            shown.len() - 1
        });
        let value = u8::try_from(at).unwrap_or(u8::MAX).saturating_add(Observed::NORMAL + 1);
        rules.push(CodeRule { value, ..rule });
    }
    let of = Observed::Shows { supply: control.supply, senses, rules, codes: shown, alive: control.alive };
    Some((of, "the display".to_owned()))
}

/// Times the sound machine's time from which a zone is slow: common practice, no source.
const SLOW_TIMES: f64 = 1.25;
/// Times the sound machine's time from which nobody waits for it: common practice, no source.
const NEVER_TIMES: f64 = 4.0;

fn warms(draft: &mut Draft<'_, '_, '_>, raw: &Observe) -> Option<(Observed, String)> {
    let (Some(name), Some(to_c)) = (&raw.zone, &raw.to_c) else {
        let message = format!("observe `{}` needs `zone` and `to_c`", &**raw.id);
        draft.reader.error(NOT_JUDGED, &raw.id.span, message, "add `zone = \"...\"` and `to_c = 175`, say");
        return None;
    };
    let zone = crate::model::ZoneId(draft.zone_names.find(draft.reader, name)?);
    let described = draft.file.zone.iter().flatten().nth(zone.index())?;
    if described.heat.is_none() {
        let message = format!("zone `{}` does not say how it warms up", name.value);
        draft.reader.error(NOT_JUDGED, &name.span, message, "give the zone its `heat`");
        return None;
    }
    if ***to_c <= described.rest_c.as_ref().map_or(22.0, |c| ***c) {
        let message = format!("zone `{}` is at `to_c` already when it rests", name.value);
        draft.reader.error(NOT_JUDGED, &to_c.span, message, "name a temperature above its `rest_c`");
        return None;
    }
    let slow_times = raw.slow_times.as_ref().map_or(SLOW_TIMES, |times| ***times);
    let never_times = raw.never_times.as_ref().map_or(NEVER_TIMES, |times| ***times);
    if slow_times <= 1.0 || never_times <= slow_times {
        let span = raw.slow_times.as_ref().or(raw.never_times.as_ref()).map_or(&raw.id.span, |times| &times.span);
        let message = "`slow_times` must lie above 1 and below `never_times`".to_owned();
        draft.reader.error(NOT_JUDGED, span, message, "leave both out for 1.25 and 4");
        return None;
    }
    Some((Observed::Warms { zone, to_c: ***to_c, slow_times, never_times }, format!("the {}", name.value)))
}

/// Makes the values and their sentences, in the order that the model fixes for each.
fn sentences(draft: &Draft<'_, '_, '_>, of: &Observed, name: &str) -> Vec<ObservedValue> {
    let timer = match of {
        Observed::Lights { branch, .. } => draft
            .branches
            .get(branch.index())
            .and_then(|branch| draft.parts.get(branch.part.index()))
            .is_some_and(|part| part.kind == PartKind::Timer),
        _ => false,
    };
    let pairs: Vec<(&str, String)> = match of {
        Observed::Turns(_) => vec![("no", format!("{name} does not turn")), ("yes", format!("{name} turns"))],
        Observed::Sounds(_) => vec![
            ("silent", format!("{name} is silent")),
            ("hums", format!("{name} hums and does not start")),
            ("runs", format!("{name} runs")),
        ],
        Observed::Heats { .. } => vec![
            ("none", format!("{name} does not heat")),
            ("weak", format!("{name} heats weakly")),
            ("full", format!("{name} heats as it should")),
        ],
        Observed::Lights { .. } if timer => vec![
            ("no", format!("{name} does not advance")),
            ("dim", format!("{name} advances unsteadily")),
            ("yes", format!("{name} advances")),
        ],
        Observed::Lights { .. } => vec![
            ("no", format!("{name} does not light")),
            ("dim", format!("{name} is dim")),
            ("yes", format!("{name} lights")),
        ],
        Observed::Blows(_) => vec![
            ("none", format!("{name} moves no air")),
            ("weak", format!("{name} moves little air")),
            ("strong", format!("{name} moves plenty of air")),
        ],
        Observed::Flows(part) if draft.parts.get(part.index()).is_some_and(|part| part.kind.works_unseen()) => vec![
            ("none", format!("{name} does not work")),
            ("weak", format!("{name} works weakly")),
            ("strong", format!("{name} works as it should")),
        ],
        Observed::Flows(_) => vec![
            ("none", format!("{name} does not run")),
            ("weak", format!("{name} runs weakly")),
            ("strong", format!("{name} runs as it should")),
        ],
        Observed::Burns { .. } => vec![
            ("none", format!("{name} does not light")),
            ("unlit", format!("{name} lets gas out and does not light")),
            ("weak", format!("{name} burns weakly")),
            ("full", format!("{name} burns as it should")),
        ],
        Observed::Trips(_) => vec![("holds", format!("{name} holds")), ("trips", format!("{name} trips"))],
        Observed::Tingles => {
            vec![("no", format!("{name} does not tingle")), ("yes", format!("{name} tingles to the touch"))]
        }
        Observed::Shows { codes, .. } => return shown(codes, name),
        Observed::Warms { .. } => vec![
            ("never", format!("{name} does not get hot")),
            ("slow", format!("{name} takes too long to get hot")),
            ("short", format!("{name} stops heating before it is hot enough")),
            ("normal", format!("{name} gets hot in its usual time")),
        ],
    };
    pairs.into_iter().map(|(id, say)| ObservedValue { id: id.to_owned(), say }).collect()
}

/// Gives the codes of senses in the order of their values.
fn sense_codes(senses: &[Need]) -> Vec<String> {
    let codes = senses.iter().flat_map(|need| match need {
        Need::Sense { code, code_low, .. } => [code.clone(), code_low.clone()],
        Need::Volts { .. } | Need::Works { .. } => [None, None],
    });
    codes.flatten().collect()
}

fn shown(codes: &[String], name: &str) -> Vec<ObservedValue> {
    let codes = codes.iter().map(|code| (code.clone(), format!("{name} shows `{code}`")));
    [
        ("dark".to_owned(), format!("{name} is dark")),
        ("normal".to_owned(), format!("{name} shows what it always shows")),
    ]
    .into_iter()
    .chain(codes)
    .map(|(id, say)| ObservedValue { id, say })
    .collect()
}

/// Lays the file's own sentences over the made ones.
fn overlay(draft: &mut Draft<'_, '_, '_>, say: Option<&Map<Text>>, values: &mut [ObservedValue]) {
    for (id, sentence) in say.iter().flat_map(|map| &map.0) {
        if let Some(value) = values.iter_mut().find(|value| value.id == id.value) {
            value.say.clone_from(&sentence.value);
            continue;
        }
        let known = list_words(values.iter().map(|value| value.id.as_str()));
        let message = format!("this observation has no value `{}`", id.value);
        draft.reader.error(UNKNOWN_NAME, &id.span, message, &format!("known: {known}"));
    }
}
