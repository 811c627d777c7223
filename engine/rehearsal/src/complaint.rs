//! What the customer says: the one or two most striking symptoms, what the display shows (intake asks for it), some of
//! what works, and now and then something wrong.

use machine::model::{Machine, Observed, StateId};
use prediction::Seen;
use truth::{Dice, Unit};

/// How customers speak. The defaults are common practice, no source.
#[derive(Clone, Copy, Debug)]
pub struct Saying {
    /// Chance that an item is wrong.
    pub wrong: f64,
    /// Chance that a second symptom is named.
    pub second: f64,
    /// Chance that something that works is named, for each thing where the trouble shows.
    pub works: f64,
    /// Most things named that work.
    pub most_working: usize,
    /// Chance that he knows how a use went that he is asked about.
    pub tried: f64,
    /// Chance that he says so where the trouble comes and goes.
    pub comes_and_goes: f64,
    /// Uses that may be asked about before anyone sets out.
    pub most_asked: usize,
}

impl Default for Saying {
    fn default() -> Self {
        Self { wrong: 0.04, second: 0.8, works: 0.6, most_working: 4, tried: 0.7, comes_and_goes: 0.8, most_asked: 4 }
    }
}

/// Words that keep the streams of chance apart.
const COMPLAINT: u64 = 51;
const ANSWERS: u64 = 52;
const COMES_AND_GOES: u64 = 53;

/// What the customer says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Complaint {
    /// What is amiss, the most striking first: why he calls.
    pub troubles: Vec<Seen>,
    /// What works, as far as he says.
    pub works: Vec<Seen>,
    /// The trouble comes and goes, as he says.
    pub comes_and_goes: bool,
}

impl Complaint {
    /// Gives everything said, troubles first.
    #[must_use]
    pub fn all(&self) -> Vec<Seen> {
        self.troubles.iter().chain(&self.works).copied().collect()
    }
}

/// Gives what the customer of this unit says.
///
/// The first trouble always is one: nobody calls because all is well. What it is may still be wrong.
#[must_use]
pub fn complaint(unit: &Unit<'_>, seed: u64, saying: &Saying) -> Complaint {
    let mut dice = Dice::of(seed, &[COMPLAINT]);
    let machine = unit.machine();
    let all = everything(unit);
    let sound: Vec<Seen> = unit.state_ids().flat_map(|state| in_state(state, unit.sound_in(state))).collect();
    let mut amiss: Vec<Seen> = all.iter().copied().filter(|seen| !sound.contains(seen)).collect();
    amiss.sort_by_key(|seen| {
        (striking(machine, seen), std::cmp::Reverse(watched_there(machine, seen.state)), seen.state)
    });
    let Some(first) = amiss.first().copied().or_else(|| imagined(&sound, machine, &mut dice)) else {
        return Complaint::default();
    };
    let mut troubles = vec![first];
    let here = |seen: &&Seen| seen.state == first.state;
    let other = |seen: &&Seen| seen.what != first.what;
    let second = amiss.iter().filter(other).find(here).or_else(|| amiss.iter().find(other));
    troubles.extend(second.filter(|_| dice.chance(saying.second)));
    let mut troubles: Vec<Seen> = troubles.into_iter().map(|seen| from_the_start(machine, seen, &amiss)).collect();
    let mut works = working(machine, &all, &sound, first, saying, &mut dice);
    if let Some(shown) = shown_code(machine, &all, first.state) {
        // It is asked whatever the trouble.
        let told = troubles.contains(&shown) || works.contains(&shown);
        match sound.contains(&shown) {
            _ if told => {}
            true => works.push(shown),
            false => troubles.push(from_the_start(machine, shown, &amiss)),
        }
    }
    let mut said = |seen: Seen, first: bool| {
        if dice.chance(saying.wrong) { mistaken(machine, seen, first, &sound, &mut dice) } else { seen }
    };
    Complaint {
        troubles: troubles.into_iter().enumerate().map(|(index, seen)| said(seen, index == 0)).collect(),
        works: works.into_iter().map(|seen| said(seen, false)).collect(),
        comes_and_goes: says_it_comes_and_goes(unit, seed, saying),
    }
}

/// Says whether the customer says that it comes and goes: he knows it as a rule where it does, seldom says so where not.
fn says_it_comes_and_goes(unit: &Unit<'_>, seed: u64, saying: &Saying) -> bool {
    let so = !unit.come_and_go().is_empty();
    Dice::of(seed, &[COMES_AND_GOES]).chance(if so { saying.comes_and_goes } else { saying.wrong })
}

/// Tells a trouble as it shows first on the way to its state: a display that is dark from the start does not "go dark".
fn from_the_start(machine: &Machine, seen: Seen, amiss: &[Seen]) -> Seen {
    let mut earliest = seen;
    let mut before = machine.states[seen.state.index()].entered_from;
    // A ring of states is refused by the reader; the count only makes sure that the loop ends.
    for _ in 0..machine.states.len() {
        let Some(state) = before else { break };
        if amiss.contains(&Seen { state, ..seen }) {
            earliest.state = state;
        }
        before = machine.states[state.index()].entered_from;
    }
    earliest
}

/// Gives what the customer answers when asked about a state: nothing of what he never tried.
pub(crate) fn answers(unit: &Unit<'_>, seed: u64, state: StateId, saying: &Saying) -> Vec<Seen> {
    let mut dice = Dice::of(seed, &[ANSWERS, u64::from(state.0)]);
    if !dice.chance(saying.tried) {
        return Vec::new();
    }
    let (machine, sound) = (unit.machine(), in_state(state, unit.sound_in(state)));
    let mut said = |seen| {
        if dice.chance(saying.wrong) { mistaken(machine, seen, false, &sound, &mut dice) } else { seen }
    };
    in_state(state, unit.observe(state)).into_iter().map(&mut said).collect()
}

/// Gives what the display shows in that state, or where it can be read first: intake asks for it on every call.
fn shown_code(machine: &Machine, all: &[Seen], state: StateId) -> Option<Seen> {
    let shown = |seen: &&Seen| matches!(machine.observations[seen.what.index()].of, Observed::Shows { .. });
    all.iter().filter(shown).find(|seen| seen.state == state).or_else(|| all.iter().find(shown)).copied()
}

fn everything(unit: &Unit<'_>) -> Vec<Seen> {
    unit.state_ids().flat_map(|state| in_state(state, unit.observe(state))).collect()
}

/// Writes what is noticed in a state as the predictor writes it.
pub(crate) fn in_state(state: StateId, noticed: Vec<(machine::model::ObservationId, u8)>) -> Vec<Seen> {
    noticed.into_iter().map(|(what, value)| Seen { state, what, value }).collect()
}

/// Ranks what people call about; common practice, no source.
fn striking(machine: &Machine, seen: &Seen) -> u8 {
    match machine.observations[seen.what.index()].of {
        Observed::Trips(_) => 0,
        Observed::Tingles => 1,
        Observed::Turns(_) => 2,
        Observed::Heats { .. } => 3,
        Observed::Shows { .. } => 4,
        Observed::Sounds(_) => 5,
        Observed::Blows(_) | Observed::Flows(_) => 6,
        Observed::Burns { .. } => 3,
        Observed::Warms { .. } => 7,
        Observed::Lights { .. } => 8,
    }
}

/// Counts what can be noticed in a state: people speak of the state in which there is most to see.
pub(crate) fn watched_there(machine: &Machine, state: StateId) -> usize {
    machine.observations.iter().filter(|o| o.states.contains(&state)).count()
}

/// Names some of what works: where the trouble shows, and the like of it elsewhere.
fn working(
    machine: &Machine,
    all: &[Seen],
    sound: &[Seen],
    first: Seen,
    saying: &Saying,
    dice: &mut Dice,
) -> Vec<Seen> {
    let named = |seen: &Seen| {
        // Nobody says of his own accord that the breaker holds or that nothing tingles.
        !matches!(machine.observations[seen.what.index()].of, Observed::Tingles | Observed::Trips(_))
            && (seen.state == first.state || striking(machine, seen) <= striking(machine, &first))
    };
    let mut works: Vec<Seen> = all.iter().copied().filter(|seen| sound.contains(seen) && named(seen)).collect();
    works.sort_by_key(|seen| seen.state != first.state);
    works.retain(|seen| dice.chance(if seen.state == first.state { saying.works } else { 0.5 * saying.works }));
    works.truncate(saying.most_working);
    works
}

/// Makes up a trouble for a machine that has none: used wrongly, or gone again.
fn imagined(sound: &[Seen], machine: &Machine, dice: &mut Dice) -> Option<Seen> {
    let seen = sound[dice.one_of(sound.len())?];
    Some(mistaken(machine, seen, true, sound, dice))
}

/// Turns an item into something else that could have been said, still a trouble if it must be one.
fn mistaken(machine: &Machine, seen: Seen, must_be_amiss: bool, sound: &[Seen], dice: &mut Dice) -> Seen {
    let values = machine.observations[seen.what.index()].values.len();
    let others: Vec<Seen> = (0..values)
        .filter_map(|value| u8::try_from(value).ok())
        .map(|value| Seen { value, ..seen })
        .filter(|other| *other != seen && !(must_be_amiss && sound.contains(other)))
        .collect();
    dice.one_of(others.len()).map_or(seen, |index| others[index])
}
