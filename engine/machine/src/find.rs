//! Looking things up in a machine by name, and what belongs to what.

use crate::faults::{Fault, Repair};
use crate::model::{
    Branch, BranchId, FaultId, Flag, FlagId, Machine, Observation, ObservationId, Part, PartId, PartKind, RepairId,
    State, StateId, Terminal, TerminalId,
};
use crate::reader::nearest;
use std::error::Error;
use std::fmt;
use std::ops::Index;

/// A name that the machine does not have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownName {
    /// What was looked for: `part`, `terminal`, `state`, `fault`.
    pub what: &'static str,
    /// The name as given.
    pub name: String,
    /// The known name nearest to it, if one is near enough to be meant.
    pub nearest: Option<String>,
}

impl fmt::Display for UnknownName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "there is no {} `{}`", self.what, self.name)?;
        match &self.nearest {
            Some(near) => write!(f, "; did you mean `{near}`?"),
            None => Ok(()),
        }
    }
}

impl Error for UnknownName {}

fn find<'m, T>(
    what: &'static str,
    list: &'m [T],
    name: &str,
    name_of: impl Fn(&'m T) -> Option<&'m str>,
) -> Result<u16, UnknownName> {
    match (0..).zip(list).find(|(_, item)| name_of(item) == Some(name)) {
        Some((at, _)) => Ok(at),
        None => {
            let near = nearest(name, list.iter().filter_map(name_of)).map(str::to_owned);
            Err(UnknownName { what, name: name.to_owned(), nearest: near })
        }
    }
}

impl Machine {
    /// Finds a part by its id.
    ///
    /// # Errors
    /// If no part has the id.
    pub fn part(&self, name: &str) -> Result<PartId, UnknownName> {
        find("part", &self.parts, name, |part| Some(&part.id)).map(PartId)
    }

    /// Finds a terminal that a probe can touch by its full name, such as `heater.1` or `CH`.
    ///
    /// # Errors
    /// If no such terminal has the name.
    pub fn terminal(&self, name: &str) -> Result<TerminalId, UnknownName> {
        let open = |terminal: &'_ Terminal| !terminal.hidden;
        find("terminal", &self.terminals, name, |t| open(t).then_some(t.name.as_str())).map(TerminalId)
    }

    /// Finds a state by its id.
    ///
    /// # Errors
    /// If no state has the id.
    pub fn state(&self, name: &str) -> Result<StateId, UnknownName> {
        find("state", &self.states, name, |state| Some(&state.id)).map(StateId)
    }

    /// Finds a fault by its id, `PART:MODE`.
    ///
    /// # Errors
    /// If no fault has the id.
    pub fn fault(&self, name: &str) -> Result<FaultId, UnknownName> {
        find("fault", &self.faults, name, |fault| Some(&fault.id)).map(FaultId)
    }

    /// Finds a repair by its id, such as `heater:replace`.
    ///
    /// # Errors
    /// If no repair has the id.
    pub fn repair(&self, name: &str) -> Result<RepairId, UnknownName> {
        find("repair", &self.repairs, name, |repair| Some(&repair.id)).map(RepairId)
    }

    /// Finds an observation by its id.
    ///
    /// # Errors
    /// If no observation has the id.
    pub fn observation(&self, name: &str) -> Result<ObservationId, UnknownName> {
        find("observation", &self.observations, name, |o| Some(&o.id)).map(ObservationId)
    }

    /// Finds a branch by its name, such as `heater:a` or `R1`.
    ///
    /// # Errors
    /// If no branch has the name.
    pub fn branch(&self, name: &str) -> Result<BranchId, UnknownName> {
        find("branch", &self.branches, name, |branch| Some(&branch.name)).map(BranchId)
    }

    /// Finds a flag by its name, such as `motor:runs`.
    ///
    /// # Errors
    /// If no flag has the name.
    pub fn flag(&self, name: &str) -> Result<FlagId, UnknownName> {
        find("flag", &self.flags, name, |flag| Some(&flag.name)).map(FlagId)
    }

    /// Lists the leads that end on a terminal, as branches.
    #[must_use]
    pub fn leads_at(&self, terminal: TerminalId) -> Vec<BranchId> {
        let ends = |branch: &Branch| branch.from == terminal || branch.to == terminal;
        self.branches_where(|branch| ends(branch) && self[branch.part].kind == PartKind::Lead)
    }

    /// Lists everything that ends on a terminal.
    #[must_use]
    pub fn branches_at(&self, terminal: TerminalId) -> Vec<BranchId> {
        self.branches_where(|branch| branch.from == terminal || branch.to == terminal)
    }

    /// Lists the branches of a part.
    #[must_use]
    pub fn branches_of(&self, part: PartId) -> Vec<BranchId> {
        self.branches_where(|branch| branch.part == part)
    }

    fn branches_where(&self, keep: impl Fn(&Branch) -> bool) -> Vec<BranchId> {
        (0..).zip(&self.branches).filter(|(_, branch)| keep(branch)).map(|(at, _)| BranchId(at)).collect()
    }

    /// Lists the faults of a part.
    #[must_use]
    pub fn faults_of(&self, part: PartId) -> Vec<FaultId> {
        (0..).zip(&self.faults).filter(|(_, fault)| fault.part == part).map(|(at, _)| FaultId(at)).collect()
    }

    /// Lists the faults that a repair cures.
    #[must_use]
    pub fn faults_of_repair(&self, repair: RepairId) -> Vec<FaultId> {
        (0..).zip(&self.faults).filter(|(_, fault)| fault.repair == repair).map(|(at, _)| FaultId(at)).collect()
    }

    /// Lists the terminals, hidden ones left out, that sit in the same place as this one, itself left out.
    #[must_use]
    pub fn terminals_near(&self, terminal: TerminalId) -> Vec<TerminalId> {
        let place = self[terminal].place;
        (0..)
            .map(TerminalId)
            .zip(&self.terminals)
            .filter(|(id, other)| *id != terminal && other.place == place && !other.hidden)
            .map(|(id, _)| id)
            .collect()
    }

    /// Says a terminal as a person would: `timer H`, `the frame`.
    #[must_use]
    pub fn say_terminal(&self, terminal: TerminalId) -> String {
        let terminal = &self[terminal];
        say_terminal(terminal, &self[terminal.part])
    }

    /// Gives a terminal's label: as it is printed on the unit at hand, else as the description has it.
    #[must_use]
    pub fn label(&self, terminal: TerminalId) -> &str {
        self[terminal].label()
    }

    /// Notes what is printed beside a terminal on the unit at hand; a name that there is none of is passed over.
    pub fn print_label(&mut self, name: &str, printed: &str) {
        if let Some(terminal) = self.terminals.iter_mut().find(|terminal| terminal.name == name) {
            terminal.printed = Some(printed.to_owned());
        }
    }
}

impl Terminal {
    fn label(&self) -> &str {
        let described = self.name.split_once('.').map_or(self.name.as_str(), |(_, label)| label);
        self.printed.as_deref().unwrap_or(described)
    }
}

/// Says a terminal of its part.
pub(crate) fn say_terminal(terminal: &Terminal, part: &Part) -> String {
    match (terminal.name.as_str(), terminal.name.split_once('.')) {
        ("CH", _) => "the frame".to_owned(),
        ("EARTH", _) => "earth".to_owned(),
        (_, Some(("plug", _))) => format!("plug {}", terminal.label()),
        (_, Some(_)) => format!("{} {}", part.name, terminal.label()),
        (full_name, None) => full_name.to_owned(),
    }
}

macro_rules! indexed {
    ($($id:ty => $list:ident: $item:ty,)*) => {
        $(impl Index<$id> for Machine {
            type Output = $item;
            /// Gives the thing that the id names.
            ///
            /// # Panics
            /// If the id is of another machine.
            fn index(&self, id: $id) -> &$item {
                &self.$list[id.index()]
            }
        })*
    };
}

indexed! {
    PartId => parts: Part,
    TerminalId => terminals: Terminal,
    BranchId => branches: Branch,
    FlagId => flags: Flag,
    StateId => states: State,
    ObservationId => observations: Observation,
    FaultId => faults: Fault,
    RepairId => repairs: Repair,
}
