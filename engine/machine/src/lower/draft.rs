//! The machine while it is being put together: lists that grow, names that are looked up, faults not yet final.

use crate::diagnostic::{DUPLICATE_ID, LEAD_TO_ITSELF, TOO_BIG, UNKNOWN_NAME};
use crate::faults::{Effect, RepairKind};
use crate::model::{
    Branch, BranchId, CodeRule, Flag, FlagId, FlagRule, Law, Need, Part, PartId, PlaceId, StateId, Terminal,
    TerminalId, Zone, ZoneId,
};
use crate::raw::{Cause, Common, File, IntermittentWords, SupplyWord};
use crate::reader::{At, Label, Reader, Span, Text, list_words};
use std::collections::BTreeMap;

/// Terminals, branches, flags or faults of one machine.
const MOST_OF_A_SORT: usize = 20_000;
/// What settles by itself, each a bit of a configuration of 64.
const MOST_FLAGS: usize = 64;
/// Ids that the supply section or the frame takes without being a part.
const TAKEN: [&str; 3] = ["plug", "CH", "EARTH"];
/// Stands for the index of an id that is taken and is no part.
const NO_PART: u16 = u16::MAX;

/// Ids of one sort, in the order in which they were declared.
#[derive(Debug)]
pub(crate) struct Register {
    what: &'static str,
    by_name: BTreeMap<String, (u16, Span)>,
}

impl Register {
    fn new(what: &'static str) -> Self {
        Self { what, by_name: BTreeMap::new() }
    }

    /// Takes an id in; complains if it is taken already.
    pub(crate) fn declare(&mut self, reader: &mut Reader<'_>, name: &str, span: &Span, index: u16) {
        if let Some((_, first)) = self.by_name.get(name) {
            let hint = match reader.line(first.start) {
                _ if first.is_empty() => format!("`{name}` is taken by the supply section: choose another"),
                line => format!("the first one is in line {line}: give this one another id"),
            };
            reader.error(DUPLICATE_ID, span, format!("there are two of `{name}`"), &hint);
            reader.note_broken(name);
            return;
        }
        self.by_name.insert(name.to_owned(), (index, span.clone()));
    }

    /// Looks an id up without complaint.
    pub(crate) fn get(&self, name: &str) -> Option<u16> {
        self.by_name.get(name).map(|(index, _)| *index).filter(|index| *index != NO_PART)
    }

    /// Looks a name up; complains with the nearest known one if there is none.
    pub(crate) fn find(&self, reader: &mut Reader<'_>, name: &Text) -> Option<u16> {
        let found = self.get(name);
        if found.is_none() {
            reader.unknown_name(self.what, name, self.by_name.keys().map(String::as_str));
        }
        found
    }
}

/// A usual fault of a kind, as a line of the kind's table.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Usual {
    /// The mode; behind the way's or the pin's name for a part that has several.
    pub(crate) mode: &'static str,
    /// Prior weight.
    pub(crate) weight: f64,
    /// Chance that a look shows it.
    pub(crate) visible: f64,
    /// Can hurt someone if handed back.
    pub(crate) dangerous: bool,
    /// In words, after the part's name; `{}` stands for the contact's or the pin's name.
    pub(crate) say: &'static str,
}

impl Usual {
    /// A fault that no look shows and that hurts nobody.
    pub(crate) const fn new(mode: &'static str, weight: f64, say: &'static str) -> Self {
        Self { mode, weight, visible: 0.0, dangerous: false, say }
    }

    /// The same, shown by a look with this chance.
    pub(crate) const fn seen(self, visible: f64) -> Self {
        Self { visible, ..self }
    }

    /// The same, able to hurt someone.
    pub(crate) const fn dangerous(self) -> Self {
        Self { dangerous: true, ..self }
    }
}

/// A fault before causes and repairs are known.
#[derive(Debug)]
pub(crate) struct DraftFault<'f> {
    pub(crate) part: PartId,
    pub(crate) mode: String,
    pub(crate) say: String,
    pub(crate) weight: f64,
    pub(crate) effects: Vec<Effect>,
    pub(crate) visible: f64,
    pub(crate) dangerous: bool,
    /// How it is cured, if not as the part is.
    pub(crate) mend: Option<RepairKind>,
    pub(crate) causes: &'f [Cause],
    /// Weibull shape of its life, as the file says.
    pub(crate) wear: Option<f64>,
    /// How it comes and goes, as the file says.
    pub(crate) intermittent: Option<&'f IntermittentWords>,
}

/// What draws rated power: heater, lamp, timer motor.
#[derive(Clone, Debug)]
pub(crate) struct Load {
    pub(crate) branches: Vec<BranchId>,
    pub(crate) watts: f64,
    pub(crate) volts: f64,
}

/// What a control's display says about it.
#[derive(Clone, Debug)]
pub(crate) struct ControlNeeds {
    pub(crate) supply: Need,
    pub(crate) senses: Vec<Need>,
    /// Codes by rule, with what is shown; the values are numbered where they are observed.
    pub(crate) rules: Vec<(String, CodeRule)>,
    pub(crate) alive: FlagId,
    pub(crate) display: bool,
}

/// A way through a part between two of its terminals, made of branches in series.
#[derive(Debug)]
pub(crate) struct Way {
    pub(crate) ends: (TerminalId, TerminalId),
    pub(crate) branches: Vec<BranchId>,
}

/// The machine under construction.
#[derive(Debug)]
pub(crate) struct Draft<'f, 'r, 't> {
    pub(crate) reader: &'r mut Reader<'t>,
    pub(crate) file: &'f File,
    pub(crate) parts: Vec<Part>,
    /// Where each part is described; empty for the supply's parts.
    pub(crate) part_spans: Vec<Span>,
    pub(crate) terminals: Vec<Terminal>,
    pub(crate) branches: Vec<Branch>,
    pub(crate) flags: Vec<Flag>,
    pub(crate) faults: Vec<DraftFault<'f>>,
    pub(crate) ways: BTreeMap<PartId, Vec<Way>>,
    pub(crate) loads: BTreeMap<PartId, Load>,
    pub(crate) motors: BTreeMap<PartId, FlagId>,
    pub(crate) controls: BTreeMap<PartId, ControlNeeds>,
    pub(crate) frame: TerminalId,
    /// Every lead has both its ends.
    pub(crate) leads_resolved: bool,
    pub(crate) zone_names: Register,
    pub(crate) place_names: Register,
    pub(crate) cover_names: Register,
    pub(crate) part_names: Register,
    pub(crate) state_names: Register,
    terminal_ids: BTreeMap<String, TerminalId>,
    /// More terminals, branches or faults than ids are kept for.
    pub(crate) too_big: bool,
}

impl<'f, 'r, 't> Draft<'f, 'r, 't> {
    pub(crate) fn new(reader: &'r mut Reader<'t>, file: &'f File) -> Self {
        let mut draft = Self {
            reader,
            file,
            parts: Vec::new(),
            part_spans: Vec::new(),
            terminals: Vec::new(),
            branches: Vec::new(),
            flags: Vec::new(),
            faults: Vec::new(),
            ways: BTreeMap::new(),
            loads: BTreeMap::new(),
            motors: BTreeMap::new(),
            controls: BTreeMap::new(),
            frame: TerminalId(0),
            leads_resolved: false,
            zone_names: Register::new("zone"),
            place_names: Register::new("place"),
            cover_names: Register::new("cover"),
            part_names: Register::new("part"),
            state_names: Register::new("state"),
            terminal_ids: BTreeMap::new(),
            too_big: false,
        };
        for name in TAKEN {
            draft.part_names.by_name.insert(name.to_owned(), (NO_PART, 0..0));
        }
        for (index, zone) in (0..).zip(draft.file.zone.iter().flatten()) {
            draft.zone_names.declare(draft.reader, &zone.id, &zone.id.span, index);
        }
        for (index, state) in (0..).zip(draft.file.state.iter()) {
            draft.state_names.declare(draft.reader, &state.id, &state.id.span, index);
        }
        draft
    }

    /// Says whether a list of so many is as long as it may be; complains once.
    pub(crate) fn is_full(&mut self, len: usize) -> bool {
        let full = len >= MOST_OF_A_SORT;
        if full && !self.too_big {
            self.too_big = true;
            let span = self.file.machine.id.span.clone();
            let message = format!("the machine has more than {MOST_OF_A_SORT} terminals, branches or faults");
            self.reader.error(TOO_BIG, &span, message, "leave some out");
        }
        full
    }

    /// Takes the length of a list as the next id.
    pub(crate) fn next_id(&mut self, len: usize) -> u16 {
        self.is_full(len);
        u16::try_from(len).unwrap_or(u16::MAX)
    }

    pub(crate) fn hertz(&self) -> f64 {
        self.file.plate.hertz.as_ref().map_or(60.0, |hertz| ***hertz)
    }

    /// Volts between a leg and neutral.
    pub(crate) fn leg_volts(&self) -> f64 {
        match self.file.supply.kind.value {
            SupplyWord::SinglePhase => **self.file.plate.volts,
            SupplyWord::SplitPhase | SupplyWord::TwoOfThreePhases => 120.0,
        }
    }

    /// Gives the zones, still without their heat.
    pub(crate) fn zones(&self) -> Vec<Zone> {
        let zones = self.file.zone.iter().flatten();
        let rest_c = |zone: &crate::raw::Zone| zone.rest_c.as_ref().map_or(22.0, |c| ***c);
        zones.map(|zone| Zone { id: zone.id.0.clone(), rest_c: rest_c(zone), heat: None }).collect()
    }

    pub(crate) fn zone(&mut self, name: &Text) -> ZoneId {
        ZoneId(self.zone_names.find(self.reader, name).unwrap_or(0))
    }

    pub(crate) fn place(&mut self, name: &Text) -> PlaceId {
        PlaceId(self.place_names.find(self.reader, name).unwrap_or(0))
    }

    pub(crate) fn state(&mut self, name: &Text) -> Option<StateId> {
        self.state_names.find(self.reader, name).map(StateId)
    }

    pub(crate) fn part(&mut self, name: &Text) -> Option<PartId> {
        self.part_names.find(self.reader, name).map(PartId)
    }

    /// Takes a part in, under its id.
    pub(crate) fn add_part(&mut self, part: Part, span: &Span) -> PartId {
        let id = self.next_id(self.parts.len());
        self.part_names.declare(self.reader, &part.id, span, id);
        self.parts.push(part);
        self.part_spans.push(span.clone());
        PartId(id)
    }

    /// Adds a terminal under its full name.
    pub(crate) fn add_terminal(&mut self, part: PartId, full_name: &str, place: PlaceId, hidden: bool) -> TerminalId {
        let id = TerminalId(self.next_id(self.terminals.len()));
        self.terminals.push(Terminal { name: full_name.to_owned(), part, place, hidden, printed: None });
        self.terminal_ids.insert(full_name.to_owned(), id);
        if let Some(part) = self.parts.get_mut(part.index()).filter(|_| !hidden) {
            part.terminals.push(id);
        }
        id
    }

    fn id_of(&self, part: PartId) -> &str {
        self.parts.get(part.index()).map_or("", |part| part.id.as_str())
    }

    /// Gives the part's terminal of this label, adding it if it is new.
    pub(crate) fn own_terminal(&mut self, part: PartId, label: &str) -> TerminalId {
        let full = format!("{}.{label}", self.id_of(part));
        if let Some(id) = self.terminal_ids.get(&full) {
            return *id;
        }
        let place = self.parts.get(part.index()).map_or(PlaceId(0), |part| part.place);
        self.add_terminal(part, &full, place, false)
    }

    /// Adds a point inside the part that no probe reaches.
    pub(crate) fn hidden_terminal(&mut self, part: PartId, label: &str) -> TerminalId {
        let full = format!("{}.{label}", self.id_of(part));
        let place = self.parts.get(part.index()).map_or(PlaceId(0), |part| part.place);
        self.add_terminal(part, &full, place, true)
    }

    /// Gives the two terminals of a kind that has `1` and `2`, under the labels that the file gives them.
    pub(crate) fn two_ends(&mut self, part: PartId, common: &Common) -> (TerminalId, TerminalId) {
        let labels: Vec<&str> = common.terminals.iter().flatten().map(|label| &***label).collect();
        let (one, two) = match (labels.as_slice(), common.terminals.as_ref()) {
            ([one, two], _) if one != two => (*one, *two),
            (_, None) => ("1", "2"),
            (given, Some(list)) => {
                let message = format!("`terminals` names {} of the two terminals", given.len());
                let span = list.first().map_or(&common.id.span, |label| &label.span);
                self.reader.error(DUPLICATE_ID, span, message, "name two different ones, such as `[\"1\", \"2\"]`");
                ("1", "2")
            }
        };
        (self.own_terminal(part, one), self.own_terminal(part, two))
    }

    /// Declares the labels that the file lists, so that they stand in that order.
    pub(crate) fn list_ends(&mut self, part: PartId, common: &Common) {
        for label in common.terminals.iter().flatten() {
            self.own_terminal(part, label);
        }
    }

    /// Gives the two terminals that a contact, winding or output names; complains about one that is not listed.
    pub(crate) fn named_ends(
        &mut self,
        part: PartId,
        common: &Common,
        from: &At<Label>,
        to: &At<Label>,
    ) -> (TerminalId, TerminalId) {
        if from.value == to.value {
            let message = format!("both ends are `{}`", from.value.0);
            self.reader.error(LEAD_TO_ITSELF, &to.span, message, "name the terminal at the other end");
        }
        for end in [from, to] {
            let listed = common.terminals.as_ref().is_none_or(|list| list.iter().any(|label| label.value == end.value));
            if !listed {
                let known = list_words(common.terminals.iter().flatten().map(|label| &***label));
                let message = format!("there is no terminal `{}` among the part's `terminals`", end.value.0);
                self.reader.error(UNKNOWN_NAME, &end.span, message, &format!("known: {known}"));
            }
        }
        (self.own_terminal(part, from), self.own_terminal(part, to))
    }

    /// Looks a full terminal name up; complains if there is none.
    pub(crate) fn terminal(&mut self, name: &Text) -> Option<TerminalId> {
        let found = self.terminal_ids.get(name.as_str()).copied();
        let found = found.filter(|id| self.terminals.get(id.index()).is_some_and(|terminal| !terminal.hidden));
        if found.is_none() && !self.reader.is_full() {
            self.complain_about_terminal(name);
        }
        found
    }

    /// Names the part that is not there, or the terminal that the part does not have.
    fn complain_about_terminal(&mut self, name: &Text) {
        let open = self.terminals.iter().filter(|terminal| !terminal.hidden).map(|terminal| terminal.name.as_str());
        let owner = name.split_once('.').map(|(owner, _)| owner);
        let mine: Vec<&str> = match owner {
            Some(owner) => open.clone().filter(|full| full.split_once('.').is_some_and(|(o, _)| o == owner)).collect(),
            None => Vec::new(),
        };
        match owner {
            Some(owner) if mine.is_empty() && self.part_names.get(owner).is_none() => {
                let offset = name.span.start + 1;
                let span = offset..(offset + owner.len()).min(name.span.end);
                let part = At::new(owner.to_owned(), &span);
                self.reader.unknown_name("part", &part, self.part_names.by_name.keys().map(String::as_str));
            }
            Some(_) if !mine.is_empty() => self.reader.unknown_name("terminal", name, mine),
            _ => self.reader.unknown_name("terminal", name, open),
        }
    }

    /// Looks a full terminal name up without complaint.
    pub(crate) fn quiet_terminal(&self, name: &str) -> Option<TerminalId> {
        self.terminal_ids.get(name).copied()
    }

    /// Adds a branch, named after the part and, if given, what of the part it is.
    pub(crate) fn branch(&mut self, part: PartId, what: &str, ends: (TerminalId, TerminalId), law: Law) -> BranchId {
        let id = BranchId(self.next_id(self.branches.len()));
        let owner = self.id_of(part);
        let name = if what.is_empty() { owner.to_owned() } else { format!("{owner}:{what}") };
        self.branches.push(Branch { name, part, from: ends.0, to: ends.1, law });
        id
    }

    /// Adds a branch that is the whole way between its ends.
    pub(crate) fn way(&mut self, part: PartId, what: &str, ends: (TerminalId, TerminalId), law: Law) -> BranchId {
        let id = self.branch(part, what, ends, law);
        self.ways.entry(part).or_default().push(Way { ends, branches: vec![id] });
        id
    }

    /// Adds a flag.
    pub(crate) fn flag(&mut self, part: PartId, what: &str, rule: FlagRule) -> FlagId {
        let id = FlagId(self.next_id(self.flags.len()));
        if self.flags.len() >= MOST_FLAGS && !self.too_big {
            self.too_big = true;
            let span = self.part_spans.get(part.index()).cloned().unwrap_or_default();
            let message = format!("more than {MOST_FLAGS} coils, motors and outputs settle by themselves");
            self.reader.error(TOO_BIG, &span, message, "describe the machine in two files, or leave some out");
        }
        let name = format!("{}:{what}", self.id_of(part));
        self.flags.push(Flag { name, part, rule });
        id
    }

    /// Adds a usual fault.
    pub(crate) fn usual(&mut self, part: PartId, usual: &Usual, effects: Vec<Effect>) {
        self.usual_of(part, "", "", usual, effects);
    }

    /// Adds a usual fault of one contact or pin: `key` goes before the mode, `what` into the sentence.
    pub(crate) fn usual_of(&mut self, part: PartId, key: &str, what: &str, usual: &Usual, effects: Vec<Effect>) {
        if self.is_full(self.faults.len()) {
            return;
        }
        let mode = if key.is_empty() { usual.mode.to_owned() } else { format!("{key}-{}", usual.mode) };
        self.faults.push(DraftFault {
            part,
            mode,
            say: usual.say.replace("{}", what),
            weight: usual.weight,
            effects,
            visible: usual.visible,
            dangerous: usual.dangerous,
            mend: None,
            causes: &[],
            wear: None,
            intermittent: None,
        });
    }

    /// Says how the fault added last is cured, if not as its part is.
    pub(crate) fn mend_last(&mut self, kind: RepairKind) {
        if let Some(fault) = self.faults.last_mut() {
            fault.mend = Some(kind);
        }
    }

    /// Complains about a second thing of the same id.
    pub(crate) fn complain_twice(&mut self, id: &str, span: &Span) {
        self.reader.error(DUPLICATE_ID, span, format!("there are two of `{id}`"), "give this one another id");
    }

    /// Says a terminal as a person would.
    pub(crate) fn say_terminal(&self, id: TerminalId) -> String {
        let terminal = self.terminals.get(id.index());
        let part = terminal.and_then(|terminal| self.parts.get(terminal.part.index()));
        match (terminal, part) {
            (Some(terminal), Some(part)) => crate::find::say_terminal(terminal, part),
            _ => String::new(),
        }
    }

    /// Writes a way's ends as `A-B`.
    pub(crate) fn say_ends(&self, ends: (TerminalId, TerminalId)) -> String {
        let label = |id: TerminalId| {
            let name = self.terminals.get(id.index()).map_or("", |terminal| terminal.name.as_str());
            name.split_once('.').map_or(name, |(_, label)| label)
        };
        format!("{}-{}", label(ends.0), label(ends.1))
    }
}
