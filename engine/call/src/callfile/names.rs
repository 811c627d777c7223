//! From the words of a record to the machine's ids; collects every name that is not known.

use super::Touched;
use super::text::{BenchForm, Found, Word, diagnostic};
use diagnosis::{Evidence, Measured, Stirred};
use machine::Diagnostic;
use machine::model::{BranchId, CoverId, Machine, ObservationId, PartId, RepairId, StateId, TerminalId, ZoneId};
use prediction::{Condition, Probe, Quantity, Reading, Seen, ZoneReading};
use quantity::{Typed, parse_reading};
use repair::Bench;
use std::ops::Range;

/// Resolves names and remembers what was wrong.
pub(super) struct Names<'a> {
    machine: &'a Machine,
    text: &'a str,
    pub(super) troubles: Vec<Diagnostic>,
}

impl<'a> Names<'a> {
    pub(super) fn new(machine: &'a Machine, text: &'a str) -> Self {
        Self { machine, text, troubles: Vec::new() }
    }

    pub(super) fn found(&mut self, found: &Found, evidence: &mut Vec<Evidence>) {
        if found.claims() != 1 {
            let span = found.place();
            self.complain(
                "c004-one-thing",
                span,
                "an item of `found` says one thing: volts, ohms, amps, farads, temperature, look, try, repaired, unit, opinion, moved, warmed or again"
                    .to_owned(),
                "make an item of its own for each".to_owned(),
            );
            return;
        }
        if let Some(part) = &found.look {
            evidence.extend(self.part(part).map(|part| Evidence::Looked { part, damage: found.damage }));
        } else if let Some(zone) = &found.temperature {
            evidence.extend(self.warmed(zone, found));
        } else if let Some(state) = &found.r#try {
            self.tried(state, found, evidence);
        } else if let Some(repair) = &found.repaired {
            evidence.extend(self.repair(repair).map(Evidence::Repaired));
        } else if let Some(variant) = &found.unit {
            evidence.extend(self.built(variant, found.way.as_ref()));
        } else if let Some(part) = &found.opinion {
            let times = found.times.as_ref().map_or(3.0, |t| *t.get_ref());
            if times > 0.0 && times.is_finite() {
                evidence.extend(self.part(part).map(|part| Evidence::Opinion { part, times }));
            } else {
                let span = found.times.as_ref().map_or(part.span(), toml::Spanned::span);
                self.complain(
                    "c005-times",
                    span,
                    "`times` must be over 0".to_owned(),
                    "3 is three times likelier".to_owned(),
                );
            }
        } else if let Some(part) = &found.moved {
            evidence.extend(self.part(part).map(|part| Evidence::Stirred(Stirred::Moved(part))));
        } else if found.warmed || found.again {
            let stirred = if found.warmed { Stirred::Warmed } else { Stirred::Again };
            evidence.push(Evidence::Stirred(stirred));
        } else {
            evidence.extend(self.reading(found));
        }
    }

    fn built(&mut self, variant: &Word, way: Option<&Word>) -> Option<Evidence> {
        let named = way.map_or("", |way| way.get_ref());
        match self.machine.variant_way(variant.get_ref(), named) {
            Ok((variant, option)) => Some(Evidence::Built { variant, option }),
            Err(known) => {
                let mend = if known.is_empty() { "it has no variants".to_owned() } else { known };
                let span = way.unwrap_or(variant).span();
                self.complain("c013-unit", span, "the machine has no such variant and way".to_owned(), mend);
                None
            }
        }
    }

    fn tried(&mut self, state: &Word, found: &Found, evidence: &mut Vec<Evidence>) {
        for (observe, value) in &found.seen {
            let what = toml::Spanned::new(value.span(), observe.clone());
            evidence.extend(self.seen(state, &what, value).map(Evidence::Watched));
        }
        if found.seen.is_empty() {
            self.complain(
                "c006-nothing-seen",
                state.span(),
                "a try without anything seen".to_owned(),
                "add `seen = { drum = \"yes\" }` with what was watched".to_owned(),
            );
        }
    }

    fn reading(&mut self, found: &Found) -> Option<Evidence> {
        let (quantity, probe) = if let Some(part) = &found.amps {
            (Quantity::Amps, Probe::Around(self.branch(part)?))
        } else {
            let (quantity, points) = match (&found.volts, &found.ohms, &found.farads) {
                (Some(points), _, _) => (Quantity::Volts, points),
                (None, Some(points), _) => (Quantity::Ohms, points),
                (None, None, Some(points)) => (Quantity::Farads, points),
                (None, None, None) => return None,
            };
            let [a, b] = points.get_ref().as_slice() else {
                let message = "a reading is taken between two terminals".to_owned();
                self.complain(
                    "c007-two-points",
                    points.span(),
                    message,
                    "name two: [\"heater.1\", \"heater.2\"]".to_owned(),
                );
                return None;
            };
            let (a, b) = (self.terminal(a), self.terminal(b));
            (quantity, Probe::Across(a?, b?))
        };
        let plugged = !found.isolated.unwrap_or(quantity.isolated_only());
        if quantity.isolated_only() && plugged {
            let message = "ohms and farads are read on the isolated machine only".to_owned();
            self.complain("c010-ohms-live", found.place(), message, "drop `isolated = false`".to_owned());
            return None;
        }
        let state = found.state.as_ref().map_or(Some(StateId(0)), |state| self.state(state))?;
        let mut lifted: Vec<BranchId> = Vec::new();
        for terminal in &found.lifted {
            lifted.extend(self.terminal(terminal).map(|t| self.machine.leads_at(t)).unwrap_or_default());
        }
        lifted.sort_unstable();
        lifted.dedup();
        let measured = self.measured(found, quantity)?;
        let reading = Reading { quantity, probe, condition: Condition { state, plugged, lifted } };
        Some(Evidence::Read { reading, measured })
    }

    /// A thermometer in a zone, so many minutes after a state was switched on.
    fn warmed(&mut self, zone: &Word, found: &Found) -> Option<Evidence> {
        let known: Vec<String> =
            self.machine.zones.iter().filter(|zone| zone.heat.is_some()).map(|zone| zone.id.clone()).collect();
        self.position("zone with `heat`", zone, &known)?;
        let zone_id = self.machine.zones.iter().position(|z| z.id == *zone.get_ref())?;
        let (Some(after), Some(state)) = (&found.after, &found.state) else {
            let message = "a temperature without the minutes since the start and the state that runs".to_owned();
            let hint = "add `after = 6` and `state = \"...\"`".to_owned();
            self.complain("c012-after", zone.span(), message, hint);
            return None;
        };
        let zone_id = ZoneId(u16::try_from(zone_id).ok()?);
        let state = self.state(state)?;
        let Some(reading) = ZoneReading::after_minutes(state, zone_id, *after.get_ref()) else {
            let message = format!("`after = {}` is no time in minutes", after.get_ref());
            self.complain("c012-after", after.span(), message, "give minutes from 0 to 1440".to_owned());
            return None;
        };
        let shows = found.shows.as_ref();
        let Some(celsius) = shows.and_then(|shows| quantity::parse_celsius(shows.get_ref())) else {
            let span = shows.map_or_else(|| found.place(), toml::Spanned::span);
            let message = "a temperature without what the thermometer showed".to_owned();
            let hint = "write `shows = \"142C\"`, `shows = \"288F\"` or plain °C".to_owned();
            self.complain("c008-no-value", span, message, hint);
            return None;
        };
        Some(Evidence::Warmed { reading, celsius: celsius.0 })
    }

    fn measured(&mut self, found: &Found, quantity: Quantity) -> Option<Measured> {
        let Some(shows) = &found.shows else {
            let message = "a reading without what the meter showed".to_owned();
            self.complain(
                "c008-no-value",
                found.place(),
                message,
                "add `shows = \"15.2\"` or `shows = \"OL\"`".to_owned(),
            );
            return None;
        };
        match parse_reading(shows.get_ref(), Some(quantity.unit())) {
            Ok(typed) => measured(typed, quantity).or_else(|| {
                let message = format!("`{}` is of another unit than the reading", shows.get_ref());
                self.complain("c009-bad-value", shows.span(), message, "give it in the reading's own unit".to_owned());
                None
            }),
            Err(error) => {
                self.complain(
                    "c009-bad-value",
                    shows.span(),
                    error.to_string(),
                    "type it as the meter shows it".to_owned(),
                );
                None
            }
        }
    }

    pub(super) fn seen(&mut self, state: &Word, observe: &Word, value: &Word) -> Option<Seen> {
        let state = self.state(state);
        let known: Vec<String> = self.machine.observations.iter().map(|o| o.id.clone()).collect();
        let what = self.position("observation", observe, &known)?;
        let observation = &self.machine.observations[usize::from(what)];
        let values: Vec<String> = observation.values.iter().map(|v| v.id.clone()).collect();
        let value = self.position("value", value, &values)?;
        Some(Seen { state: state?, what: ObservationId(what), value: u8::try_from(value).unwrap_or(u8::MAX) })
    }

    pub(super) fn bench(&mut self, form: &BenchForm) -> Bench {
        let mut bench = Bench { isolated: form.isolated, ..Bench::default() };
        let covers: Vec<String> = self.machine.access.steps.iter().map(|c| c.id.clone()).collect();
        for cover in &form.open {
            if let Some(cover) = self.position("cover", cover, &covers) {
                bench.open.opened(CoverId(cover));
            }
        }
        for terminal in &form.out_of_reach {
            bench.out_of_reach.extend(self.terminal(terminal));
        }
        for repair in &form.not_on_van {
            bench.not_on_van.extend(self.repair(repair));
        }
        bench
    }

    pub(super) fn touched(&mut self, word: &Word) -> Option<Touched> {
        let known = ["owner", "technician", "mover"].map(str::to_owned);
        let which = self.position("one who touched it", word, &known)?;
        [Touched::Owner, Touched::Technician, Touched::Mover].get(usize::from(which)).copied()
    }

    fn state(&mut self, word: &Word) -> Option<StateId> {
        let known: Vec<String> = self.machine.states.iter().map(|s| s.id.clone()).collect();
        self.position("state", word, &known).map(StateId)
    }

    fn terminal(&mut self, word: &Word) -> Option<TerminalId> {
        let known: Vec<String> = self.machine.terminals.iter().map(|t| t.name.clone()).collect();
        self.position("terminal", word, &known).map(TerminalId)
    }

    fn part(&mut self, word: &Word) -> Option<PartId> {
        let known: Vec<String> = self.machine.parts.iter().map(|p| p.id.clone()).collect();
        self.position("part", word, &known).map(PartId)
    }

    fn repair(&mut self, word: &Word) -> Option<RepairId> {
        let known: Vec<String> = self.machine.repairs.iter().map(|r| r.id.clone()).collect();
        self.position("repair", word, &known).map(RepairId)
    }

    fn branch(&mut self, word: &Word) -> Option<BranchId> {
        let known: Vec<String> = self.machine.branches.iter().map(|b| b.name.clone()).collect();
        if let Some(index) = known.iter().position(|k| k == word.get_ref()) {
            return Some(BranchId(u16::try_from(index).ok()?));
        }
        let part = self.part(word)?;
        let index = self.machine.branches.iter().position(|b| b.part == part)?;
        Some(BranchId(u16::try_from(index).ok()?))
    }

    fn position(&mut self, what: &str, word: &Word, known: &[String]) -> Option<u16> {
        let name = word.get_ref();
        let found = known.iter().position(|k| k == name).and_then(|index| u16::try_from(index).ok());
        if found.is_none() {
            let near = known
                .iter()
                .map(|k| (strsim::jaro_winkler(k, name), k))
                .max_by(|a, b| a.0.total_cmp(&b.0))
                .map_or_else(String::new, |(_, k)| format!("did you mean `{k}`"));
            self.complain("c011-unknown-name", word.span(), format!("there is no {what} `{name}`"), near);
        }
        found
    }

    fn complain(&mut self, code: &'static str, span: Range<usize>, message: String, hint: String) {
        self.troubles.push(diagnostic(self.text, code, span, message, vec![hint]));
    }
}

/// Turns what was typed into a measured value of the quantity; `None` for another unit.
#[must_use]
pub(super) fn measured(typed: Typed, quantity: Quantity) -> Option<Measured> {
    match typed {
        Typed::Blank => None,
        Typed::OverRange => Some(Measured::OverRange),
        value @ Typed::Value { .. } => value.value_in(quantity.unit()).map(Measured::Value),
    }
}

impl Found {
    /// Gives the span of the first word of an item, for a complaint about the whole of it.
    fn place(&self) -> Range<usize> {
        let words = [
            &self.amps,
            &self.temperature,
            &self.look,
            &self.r#try,
            &self.repaired,
            &self.unit,
            &self.opinion,
            &self.moved,
            &self.shows,
            &self.state,
        ];
        let points = [&self.volts, &self.ohms, &self.farads];
        let spans = words.into_iter().flatten().map(toml::Spanned::span);
        let spans = spans.chain(points.into_iter().flatten().map(toml::Spanned::span));
        spans.min_by_key(|span| span.start).unwrap_or(0..0)
    }
}
