//! Refusals and their like in words. Decides nothing.

use crate::dead::{Against, Pair, WhyNot};
use crate::energy::{Store, WhyNotDone};
use crate::found::EndRefusal;
use crate::gate::refusal::Refusal;
use machine::model::{CoverId, Machine, PartId, PlaceId, TerminalId};
use std::fmt;

impl Refusal {
    /// Says it with the names of the machine, and what to do instead.
    #[must_use]
    pub fn say(&self, machine: &Machine) -> String {
        match self {
            Self::NotProvedDead(terminals) => {
                format!(
                    "{} not proved dead; measure each to every other and to a proven earth",
                    names(machine, terminals)
                )
            }
            Self::NotExposed(place) => format!("`{}` is behind covers; open them first", place_name(machine, *place)),
            Self::CoverHeld(cover) => {
                format!("`{}` cannot come off yet; take off first what holds it", cover_name(machine, *cover))
            }
            Self::CoverIsOn(cover) => format!("`{}` is on already; go to the next cover", cover_name(machine, *cover)),
            Self::Hidden(terminal) => {
                format!("no probe reaches {}; read at a terminal outside the part", name(machine, *terminal))
            }
            Self::CloseFirst(covers) => {
                let list: Vec<String> = covers.iter().map(|&id| format!("`{}`", cover_name(machine, id))).collect();
                format!("open covers: {}; close them, or see that everyone stands clear", list.join(", "))
            }
            Self::BareEnds(ends) => format!("leads hang bare at {}; cap them or put them back", names(machine, ends)),
            Self::HighVoltage(terminal) => {
                format!("charge or high voltage at {}; isolate, discharge and test it dead", name(machine, *terminal))
            }
            Self::NotASupplyTerminal(terminal) => {
                format!("{} is no slot of the supply; read at the receptacle or disconnect", name(machine, *terminal))
            }
            Self::LiftBoards(parts) => {
                let list: Vec<String> = parts.iter().map(|&id| part_name(machine, id)).collect();
                format!("{} would take the test volts; lift its leads first", list.join(", "))
            }
            Self::NoBoardEvidence(part) => format!(
                "nothing measured speaks against {}; measure its supplies, the request, and the output under load",
                part_name(machine, *part)
            ),
            Self::Licensed(part) => {
                format!("{} is for those licensed for it; refer it", part_name(machine, *part))
            }
            other => other.to_string(),
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::GasSmelled => "gas is smelled; switch nothing, everyone out, call from outside",
            Self::Unknown => "the machine has no such thing; take one of its own",
            Self::NotIsolated => "the machine is on; pull the plug or switch the breaker off",
            Self::NotSecured => "nothing keeps it off; keep the plug in sight, or lock and tag the breaker",
            Self::NotProvedDead(_) => "not proved dead; measure every conductor to every other and to a proven earth",
            Self::NotExposed(_) => "the place is behind covers; open them first",
            Self::CoverHeld(_) => "the cover cannot come off yet; take off first what holds it",
            Self::CoverIsOn(_) => "the cover is on already; go to the next cover",
            Self::Hidden(_) => "no probe reaches it; read at a terminal outside the part",
            Self::SamePoint => "both probes on one point; choose two",
            Self::CloseFirst(_) => "covers are open; close them, or see that everyone stands clear",
            Self::PeopleNotClear => "someone could be hurt; tell everyone and see that they stand clear",
            Self::BareEnds(_) => "leads hang bare; cap them or put them back",
            Self::Wet => "water stands there; switch the breaker off from the dry and dry it up first",
            Self::HighVoltage(_) => "charge or high voltage; isolate, discharge and test it dead",
            Self::NoReason => "no reason given; say why no dead test tells and why no clips can go on",
            Self::NotEnergised => "the machine is off; test it dead",
            Self::NotASupplyTerminal(_) => "no slot of the supply; read at the receptacle or disconnect",
            Self::NotItsEnd => "the lead has no such end; take one of its two",
            Self::LiftBoards(_) => "a board would take the test volts; lift its leads first",
            Self::NoBoardEvidence(_) => {
                "nothing measured speaks against the board; measure supplies, request and output"
            }
            Self::Licensed(_) => "for those licensed for it; refer it",
            Self::ShutGas => "gas is on; shut the valve of the machine",
            Self::NoSuchStore(_) => "nothing there holds a charge; take one of the machine's stores",
            Self::DangerousHazard(_) => "a dangerous hazard is open; mend it or disconnect the machine",
            Self::End(EndRefusal::DisconnectInstead(_)) => "a dangerous hazard is open; disconnect it instead",
            Self::End(EndRefusal::TellFirst(_)) => "nobody was told of a hazard; tell, and ask for a signature",
        })
    }
}

impl std::error::Error for Refusal {}

impl WhyNot {
    /// Says it with the names of the machine.
    #[must_use]
    pub fn say(&self, machine: &Machine) -> String {
        match self {
            Self::FeedOn => "the machine is on; pull the plug or switch the breaker off".to_owned(),
            Self::NotSecured => "nothing keeps it off; keep the plug in sight, or lock and tag the breaker".to_owned(),
            Self::Stale => "the machine was on since; measure again".to_owned(),
            Self::MeterNotProvedBefore => "prove the meter on a known source before you measure".to_owned(),
            Self::MeterNotProvedAfter => "prove the meter on a known source again after you measured".to_owned(),
            Self::EarthNotProved => "prove the earth: a live leg must show its volts to it".to_owned(),
            Self::Charged(store) => format!("discharge {} through a resistor and measure it", store.say(machine)),
            Self::Missing(pair) => format!("measure {}, AC and DC", pair.say(machine)),
            Self::Live { pair, volts } => {
                format!("{} shows {volts:.1} V; it is not dead, find out what feeds it", pair.say(machine))
            }
        }
    }
}

impl fmt::Display for WhyNotDone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::FeedOn => "the machine is on; pull the plug or switch the breaker off",
            Self::NotSecured => "nothing keeps it off; keep the plug in sight, or lock and tag the breaker",
            Self::DoesNotFit => "a breaker cannot be watched from the machine; lock and tag it",
            Self::StillCharged => "still charged; hold the resistor on longer and measure again",
        })
    }
}

impl std::error::Error for WhyNotDone {}

impl Store {
    /// Names it.
    #[must_use]
    pub fn say(self, machine: &Machine) -> String {
        match self {
            Self::Capacitor(id) => {
                let part = machine.branches.get(id.index()).map(|branch| branch.part);
                part.map_or_else(|| "the capacitor".to_owned(), |part| part_name(machine, part))
            }
            Self::Bus(place) => format!("what holds a charge {}", place_words(machine, place)),
        }
    }
}

impl Pair {
    /// Names its ends.
    #[must_use]
    pub fn say(self, machine: &Machine) -> String {
        let (a, b) = self.ends();
        match b {
            Against::Terminal(b) => format!("{} to {}", name(machine, a), name(machine, b)),
            Against::Earth => format!("{} to the proven earth", name(machine, a)),
        }
    }
}

fn name(machine: &Machine, terminal: TerminalId) -> String {
    machine.terminals.get(terminal.index()).map_or_else(|| "?".to_owned(), |terminal| format!("`{}`", terminal.name))
}

fn names(machine: &Machine, terminals: &[TerminalId]) -> String {
    terminals.iter().map(|&id| name(machine, id)).collect::<Vec<_>>().join(", ")
}

fn place_name(machine: &Machine, place: PlaceId) -> &str {
    machine.access.places.get(place.index()).map_or("?", |place| &place.id)
}

fn place_words(machine: &Machine, place: PlaceId) -> &str {
    machine.access.places.get(place.index()).map_or("there", |place| &place.say)
}

fn cover_name(machine: &Machine, cover: CoverId) -> &str {
    machine.access.steps.get(cover.index()).map_or("?", |cover| &cover.id)
}

pub(crate) fn part_name(machine: &Machine, part: PartId) -> String {
    machine.parts.get(part.index()).map_or_else(|| "the part".to_owned(), |part| format!("the {}", part.name))
}
