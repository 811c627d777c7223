//! The energies of a machine as a vector: each feed, charge, gas, water, heat, springs. Holds only what hands did and
//! meters showed; there is no place in it for a belief.

use crate::dead::DEAD_LIMIT_VOLTS;
use machine::access::Hazard;
use machine::model::{Branch, BranchId, Law, Machine, PartKind, PlaceId, TerminalId};
use std::collections::BTreeSet;

/// The electrical feed of the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Feed {
    /// On, or not known to be off.
    On,
    /// Switched off or pulled by this means.
    Off(Isolator),
}

/// What separates the machine from its feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Isolator {
    /// The plug, out of its receptacle: a gap one sees.
    Plug,
    /// The disconnect of a machine that is wired in.
    Disconnect,
    /// The breaker of the circuit. Labels lie and contacts weld: it parts nothing until it is measured.
    Breaker,
}

/// What keeps others from restoring the feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Secured {
    /// The plug stays in sight and in reach of the one who works, who alone can put it back.
    ///
    /// SOURCE: 29 CFR 1910.147(a)(2)(iii)(A), cord and plug under exclusive control; from memory.
    PlugInSight,
    /// Locked and tagged.
    LockedAndTagged,
}

/// Something that holds a charge after isolation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Store {
    /// A described capacitor.
    Capacitor(BranchId),
    /// A place that warns of stored charge with a board in it, or without a drawn capacitor: a bus, a filter.
    Bus(PlaceId),
}

/// Fuel gas at the machine's valve.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Valve {
    /// On, or not known.
    On,
    /// Shut at the valve.
    Shut,
}

/// Water at the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Water {
    /// On, or not known.
    On,
    /// Shut at the valves.
    Shut,
    /// Shut and drained.
    Drained,
}

/// Heat of surfaces and water.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Heat {
    /// Hot, or not known.
    MayBeHot,
    /// Felt or measured cool.
    Cool,
}

/// Springs, weights and what coasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Springs {
    /// Under load, or not known.
    Loaded,
    /// Let down or blocked.
    Blocked,
}

/// What is not so that it could be noted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WhyNotDone {
    /// The feed is on.
    FeedOn,
    /// The feed is off and nothing keeps it off.
    NotSecured,
    /// The way of securing does not fit the isolator: a breaker cannot be watched.
    DoesNotFit,
    /// The store still shows more than [`DEAD_LIMIT_VOLTS`], or the reading is none.
    StillCharged,
}

/// The state of every energy. Starts at the worst; only hands and meters better it.
///
/// INVARIANT: `epoch` rises whenever the machine was, or may have been, energised or charged; a proof of deadness
/// carries the epoch of its readings and is spent when the epoch moves on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Energy {
    feed: Feed,
    secured: Option<Secured>,
    bled: BTreeSet<Store>,
    gas: Valve,
    water: Water,
    heat: Heat,
    springs: Springs,
    epoch: u64,
}

impl Default for Energy {
    fn default() -> Self {
        Self::found()
    }
}

impl Energy {
    /// The machine as it is found: everything taken as on, hot and charged.
    #[must_use]
    pub fn found() -> Self {
        Self {
            feed: Feed::On,
            secured: None,
            bled: BTreeSet::new(),
            gas: Valve::On,
            water: Water::On,
            heat: Heat::MayBeHot,
            springs: Springs::Loaded,
            epoch: 0,
        }
    }

    /// Notes that the feed was parted here. Not yet secured, not yet dead.
    pub fn isolate(&mut self, by: Isolator) {
        if self.feed != Feed::Off(by) {
            self.feed = Feed::Off(by);
            self.secured = None;
        }
    }

    /// Notes what keeps the feed off.
    ///
    /// # Errors
    /// [`WhyNotDone::FeedOn`], or [`WhyNotDone::DoesNotFit`] for a plug in sight where the isolator is no plug.
    pub fn secure(&mut self, by: Secured) -> Result<(), WhyNotDone> {
        match (self.feed, by) {
            (Feed::On, _) => Err(WhyNotDone::FeedOn),
            (Feed::Off(Isolator::Disconnect | Isolator::Breaker), Secured::PlugInSight) => Err(WhyNotDone::DoesNotFit),
            (Feed::Off(_), _) => {
                self.secured = Some(by);
                Ok(())
            }
        }
    }

    /// Notes that the machine was energised: everything is taken as hot and charged again.
    pub fn energise(&mut self) {
        self.feed = Feed::On;
        self.secured = None;
        self.heat = Heat::MayBeHot;
        self.springs = Springs::Loaded;
        self.recharge();
    }

    /// Notes that the technician was out of sight of the machine. Without a lock others may have restored the feed.
    pub fn left_alone(&mut self) {
        if self.secured != Some(Secured::LockedAndTagged) {
            self.energise();
        }
    }

    /// Notes that a test put charge into the machine, as an insulation tester does.
    pub fn charged_by_test(&mut self) {
        self.recharge();
    }

    /// Notes what the meter showed across a store after it was discharged through a resistor.
    ///
    /// # Errors
    /// [`WhyNotDone`] when the feed is not parted and secured, or the store is not down.
    pub fn discharged(&mut self, store: Store, volts: f64) -> Result<(), WhyNotDone> {
        self.require_secured()?;
        // No figure is no reading: it proves nothing down.
        let down = volts.abs() <= DEAD_LIMIT_VOLTS;
        if !down {
            self.bled.remove(&store);
            return Err(WhyNotDone::StillCharged);
        }
        self.bled.insert(store);
        Ok(())
    }

    /// Notes the gas valve.
    pub fn set_gas(&mut self, valve: Valve) {
        self.gas = valve;
    }

    /// Notes the water.
    pub fn set_water(&mut self, water: Water) {
        self.water = water;
    }

    /// Notes heat as felt or measured.
    pub fn set_heat(&mut self, heat: Heat) {
        self.heat = heat;
    }

    /// Notes springs and what coasts.
    pub fn set_springs(&mut self, springs: Springs) {
        self.springs = springs;
    }

    /// Gives the feed.
    #[must_use]
    pub fn feed(&self) -> Feed {
        self.feed
    }

    /// Says what keeps the feed off, if anything.
    #[must_use]
    pub fn secured(&self) -> Option<Secured> {
        self.secured
    }

    /// Says whether the feed is parted and kept so. No proof of deadness.
    #[must_use]
    pub fn isolated_and_secured(&self) -> bool {
        self.require_secured().is_ok()
    }

    /// Says whether the feed is parted, by something that this machine has, and kept so. No proof of deadness either.
    #[must_use]
    pub fn is_isolated(&self, machine: &Machine) -> bool {
        self.require_isolated(machine).is_ok()
    }

    /// Says whether the plug is out: the one gap that one sees. A machine that is wired in has none.
    #[must_use]
    pub fn plug_is_out(&self, machine: &Machine) -> bool {
        self.feed == Feed::Off(Isolator::Plug) && machine.supply.receptacle.is_some()
    }

    /// Says whether the store was discharged and measured in this epoch.
    #[must_use]
    pub fn is_bled(&self, store: Store) -> bool {
        self.bled.contains(&store)
    }

    /// Gives the gas valve.
    #[must_use]
    pub fn gas(&self) -> Valve {
        self.gas
    }

    /// Gives the water.
    #[must_use]
    pub fn water(&self) -> Water {
        self.water
    }

    /// Gives the heat.
    #[must_use]
    pub fn heat(&self) -> Heat {
        self.heat
    }

    /// Gives the springs.
    #[must_use]
    pub fn springs(&self) -> Springs {
        self.springs
    }

    /// Numbers the stretch since the machine was last energised.
    #[must_use]
    pub fn epoch(&self) -> u64 {
        self.epoch
    }

    pub(crate) fn require_isolated(&self, machine: &Machine) -> Result<(), WhyNotDone> {
        if self.feed == Feed::Off(Isolator::Plug) && !self.plug_is_out(machine) {
            return Err(WhyNotDone::FeedOn);
        }
        self.require_secured()
    }

    fn require_secured(&self) -> Result<(), WhyNotDone> {
        match (self.feed, self.secured) {
            (Feed::On, _) => Err(WhyNotDone::FeedOn),
            (_, None) => Err(WhyNotDone::NotSecured),
            _ => Ok(()),
        }
    }

    fn recharge(&mut self) {
        self.bled.clear();
        self.epoch = self.epoch.saturating_add(1);
    }
}

/// Kind of an energy.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum EnergyKind {
    /// The electrical feed.
    Feed,
    /// Stored charge.
    Charge(Store),
    /// Fuel gas.
    Gas,
    /// Water.
    Water,
    /// Heat.
    Heat,
    /// Springs, weights, what coasts.
    Springs,
}

/// One energy with its isolator, its proof, and who could bring it back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EnergySource {
    /// Kind.
    pub kind: EnergyKind,
    /// What parts or drains it, in words.
    pub isolator: String,
    /// How that is proved, in words.
    pub proof: String,
    /// Who or what could restore it, in words.
    pub restored_by: String,
}

/// Lists the energies of the machine: the feed, every store, and what its hazards speak of.
#[must_use]
pub fn energy_sources(machine: &Machine) -> Vec<EnergySource> {
    let isolator = if machine.supply.receptacle.is_some() {
        "pull the plug and keep it in sight, or switch the breaker off, lock and tag it"
    } else {
        "switch the disconnect or the breaker off, lock and tag it"
    };
    let anyone = "anyone who plugs in or switches on";
    let mut all = vec![source(EnergyKind::Feed, isolator, "measure dead at the work point", anyone)];
    for store in stores(machine) {
        let restored = "energising the machine, or an insulation test";
        let proof = "measure DC volts across it";
        all.push(source(EnergyKind::Charge(store), "discharge through a resistor", proof, restored));
    }
    let has = |hazards: &[Hazard]| speaks_of(machine, hazards);
    if has(&[Hazard::FuelGas]) {
        all.push(source(EnergyKind::Gas, "shut the valve of the machine", "burner stays out", "anyone at the valve"));
    }
    if has(&[Hazard::Water, Hazard::Scald]) {
        all.push(source(
            EnergyKind::Water,
            "shut both valves, then drain",
            "no flow at the hose",
            "anyone at the valves",
        ));
    }
    if has(&[Hazard::HotSurface, Hazard::Scald]) {
        all.push(source(
            EnergyKind::Heat,
            "let it cool",
            "thermometer, or the back of the hand",
            "running the machine",
        ));
    }
    if has(&[Hazard::MovingParts]) {
        let proof = "push by hand: it does not move";
        all.push(source(EnergyKind::Springs, "let springs down, block what can move", proof, "running the machine"));
    }
    all
}

fn source(kind: EnergyKind, isolator: &str, proof: &str, restored_by: &str) -> EnergySource {
    EnergySource { kind, isolator: isolator.into(), proof: proof.into(), restored_by: restored_by.into() }
}

/// Says whether some place or cover of the machine warns of one of these.
pub(crate) fn speaks_of(machine: &Machine, hazards: &[Hazard]) -> bool {
    let places = machine.access.places.iter().flat_map(|place| &place.hazards);
    let covers = machine.access.steps.iter().flat_map(|cover| &cover.hazards);
    places.chain(covers).any(|hazard| hazards.contains(hazard))
}

/// Lists everything that may hold a charge: drawn capacitors, then places that warn of a charge which is not drawn.
#[must_use]
pub fn stores(machine: &Machine) -> Vec<Store> {
    let mut all: Vec<Store> = branch_ids(machine)
        .filter(|&id| machine.branches.get(id.index()).is_some_and(|b| holds_charge(machine, id, b)))
        .map(Store::Capacitor)
        .collect();
    for (index, place) in machine.access.places.iter().enumerate() {
        let Ok(index) = u16::try_from(index) else { break };
        let id = PlaceId(index);
        if place.hazards.contains(&Hazard::StoredCharge) && !drawn_elsewhere(machine, id) {
            all.push(Store::Bus(id));
        }
    }
    all
}

/// A capacitance up to which a plug's pins need no discharge, farads: IEC 60335-1, 22.5, from memory.
const HARMLESS_FARADS: f64 = 1e-7;

/// Says whether a branch may hold a charge that can hurt: a capacitor, and not what insulation or a small filter leaks
/// through to the frame, or what leaks in the house.
fn holds_charge(machine: &Machine, id: BranchId, branch: &Branch) -> bool {
    let Law::Capacitor { farads, .. } = branch.law else { return false };
    let house = machine.parts.get(branch.part.index()).is_some_and(|part| part.installation);
    !house && (!machine.leaks.contains(&id) || farads.is_nan() || farads > HARMLESS_FARADS)
}

/// Terminals across which the store's charge stands.
pub(crate) fn store_terminals(machine: &Machine, store: Store) -> Vec<TerminalId> {
    match store {
        Store::Capacitor(id) => machine.branches.get(id.index()).map(|b| vec![b.from, b.to]).unwrap_or_default(),
        Store::Bus(place) => terminal_ids(machine).filter(|&t| place_of(machine, t) == Some(place)).collect(),
    }
}

/// The warning at a place is met by a capacitor that sits there, unless a board, whose bus is not drawn, sits there too.
///
/// WHY NOT by branches: one more branch could then take a store away, and the live map would shrink.
fn drawn_elsewhere(machine: &Machine, place: PlaceId) -> bool {
    let here = |kind: PartKind| machine.parts.iter().any(|part| part.place == place && part.kind == kind);
    here(PartKind::Capacitor) && !here(PartKind::Control)
}

pub(crate) fn place_of(machine: &Machine, terminal: TerminalId) -> Option<PlaceId> {
    machine.terminals.get(terminal.index()).map(|terminal| terminal.place)
}

pub(crate) fn kind_of(machine: &Machine, terminal: TerminalId) -> Option<PartKind> {
    let terminal = machine.terminals.get(terminal.index())?;
    machine.parts.get(terminal.part.index()).map(|part| part.kind)
}

pub(crate) fn terminal_ids(machine: &Machine) -> impl Iterator<Item = TerminalId> + use<> {
    (0..machine.terminals.len()).map_while(|index| u16::try_from(index).ok()).map(TerminalId)
}

pub(crate) fn branch_ids(machine: &Machine) -> impl Iterator<Item = BranchId> + use<> {
    (0..machine.branches.len()).map_while(|index| u16::try_from(index).ok()).map(BranchId)
}

/// Belongs to the installation in front of the plug, true earth with it.
pub(crate) fn of_house(machine: &Machine, terminal: TerminalId) -> bool {
    terminal == machine.supply.earth
        || matches!(kind_of(machine, terminal), Some(PartKind::House | PartKind::Breaker | PartKind::Receptacle))
}
