//! Practice: a call on a unit with a hidden fault, taken by a learner who picks every step himself, and its review.
//!
//! A lesson is played by its acts alone: the same acts give the same unit, readings and minutes again, so a shell keeps the
//! list of acts and nothing else. The review sets each act beside what the tool would have done there, and beside what it
//! was worth: how many minutes shorter it made what was left, as the tool expected before and after it.

mod typed;

pub use typed::read_act;

use crate::technician::{Decisions, Event, Move, Policy, Technician, Tool};
use crate::trace::{Line, Trace};
use crate::visit::{self, End, Visit};
use crate::{Case, Rehearsal, RehearsalError, Settings, Strategy, all_knowing_minutes};
use diagnosis::Belief;
use machine::model::RepairId;
use repair::advise::sentence;
use repair::plan::ProblemError;
use repair::{Act, Bench, advise};
use serde::{Deserialize, Serialize};
use truth::Dice;

/// How hard a lesson is, by what the complaint leaves open.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Difficulty {
    /// One steady fault, its repair among the three likeliest after the complaint.
    Plain,
    /// One steady fault, its repair further down.
    Usual,
    /// Two faults, or one that comes and goes.
    Hard,
}

impl Difficulty {
    /// All of them, the easiest first.
    pub const ALL: [Self; 3] = [Self::Plain, Self::Usual, Self::Hard];

    /// Gives its word.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Usual => "usual",
            Self::Hard => "hard",
        }
    }
}

/// Repairs that the complaint may leave before a lesson is no longer plain.
const PLAIN: usize = 3;
/// Calls drawn until one is of the difficulty asked for.
const MOST_DRAWN: usize = 300;
/// Words that keep the streams of chance apart.
const LESSON: u64 = 61;

/// One hidden fault to find.
#[derive(Debug)]
pub struct Lesson<'r, 'p, 'm> {
    rehearsal: &'r Rehearsal<'p, 'm>,
    case: Case<'m>,
    difficulty: Difficulty,
}

/// What a lesson has come to after some acts.
#[derive(Clone, Debug)]
pub struct Played {
    /// Everything that was done and what came of it; watching on after a repair included.
    pub lines: Vec<Line>,
    /// Minutes since arrival.
    pub minutes: f64,
    /// The visit, once it has ended.
    pub ended: Option<Visit>,
}

/// One act of the learner, looked back upon.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Reviewed {
    /// What he did.
    pub did: String,
    /// What it took, minutes, with what came off and danger turned into minutes.
    pub minutes: f64,
    /// How much shorter it made what was left, as the tool expected before and after it, minutes; below 0 where it came out
    /// badly.
    pub worth: f64,
    /// How much less was open after it, bits: the entropy of the suspects before less that after.
    pub bits: f64,
    /// What the tool would have done there; `None` where it is what he did.
    pub tool: Option<String>,
}

/// A lesson looked back upon.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Review {
    /// The hidden faults by id.
    pub truth: Vec<String>,
    /// He left it right.
    pub right: bool,
    /// Parts fitted that cured nothing.
    pub needless_parts: u32,
    /// Minutes of his visit.
    pub minutes: f64,
    /// Readings clipped on dead and taken standing clear of the energised machine.
    pub clipped_readings: u32,
    /// Minutes of the tool's visit to the same unit.
    pub tool_minutes: f64,
    /// What the tool would have done from the start, with what came of it.
    pub tool_steps: Vec<String>,
    /// Minutes of one who knows the fault from the start.
    pub all_knowing_minutes: f64,
    /// Each of his acts.
    pub acts: Vec<Reviewed>,
}

/// Gives the settings that a lesson is held with: nothing planted, figures as the meter shows them.
#[must_use]
pub fn settings() -> Settings {
    Settings { planted: 0.0, read_off: 0.0, ..Settings::default() }
}

impl<'r, 'p, 'm> Lesson<'r, 'p, 'm> {
    /// Draws a lesson of this difficulty; `None` where the machine has none among the calls drawn.
    #[must_use]
    pub fn draw(rehearsal: &'r Rehearsal<'p, 'm>, difficulty: Difficulty, seed: u64) -> Option<Self> {
        let mut dice = Dice::of(seed, &[LESSON]);
        let cases = (0..MOST_DRAWN).map(|_| rehearsal.case(dice.word()));
        let case = cases.into_iter().find(|case| difficulty_of(rehearsal, case) == difficulty)?;
        Some(Self { rehearsal, case, difficulty })
    }

    /// Gives the difficulty.
    #[must_use]
    pub fn difficulty(&self) -> Difficulty {
        self.difficulty
    }

    /// Says what the customer says.
    #[must_use]
    pub fn complaint(&self) -> Vec<String> {
        Trace::of(&self.case).complaint
    }

    /// Plays these acts from the start.
    ///
    /// # Errors
    /// Never for a learner's own acts; the type is that of any visit.
    pub fn play(&self, acts: &[Act]) -> Result<Played, RehearsalError> {
        let mut learner = Learner { acts, done: 0, mended: false };
        let mut trace = Trace::of(&self.case);
        let visit = self.send(&mut learner, Some(&mut trace))?;
        let minutes = visit.minutes_in_all;
        Ok(Played { lines: trace.lines, minutes, ended: (visit.end != End::Waiting).then_some(visit) })
    }

    /// Looks back on these acts, as far as they went.
    ///
    /// Work: a plan by the tool before each act and after the last.
    ///
    /// # Errors
    /// A problem that cannot be planned.
    pub fn review(&self, acts: &[Act]) -> Result<Review, RehearsalError> {
        let settings = &self.rehearsal.settings;
        let decisions = Decisions::default();
        let tool = Tool::new(&self.rehearsal.prior, &self.case.complaint, settings, Policy::Advice, &decisions);
        let learner = Learner { acts, done: 0, mended: false };
        let mut beside = Beside { learner, tool, settings, views: Vec::new() };
        let visit = self.send(&mut beside, None)?;
        let mut views = beside.views;
        if visit.end != End::Waiting {
            views.push(View::default());
        }
        let (by_tool, told) = self.rehearsal.trace(&self.case, Strategy::Tool)?;
        let steps = told.lines.iter().map(|line| format!("{}: {}", line.act, line.shown)).collect();
        let called_for = self.case.called_for();
        Ok(Review {
            truth: told.truth,
            right: visit.right,
            needless_parts: visit.needless_parts,
            minutes: visit.minutes_in_all,
            clipped_readings: visit.counts.clipped_readings,
            tool_minutes: by_tool.minutes_in_all,
            tool_steps: steps,
            all_knowing_minutes: all_knowing_minutes(&called_for, &settings.prices),
            acts: self.looked_back(acts, &views)?,
        })
    }

    fn looked_back(&self, acts: &[Act], views: &[View]) -> Result<Vec<Reviewed>, RehearsalError> {
        let pairs = acts.iter().zip(views.windows(2)).enumerate();
        let of = |(at, (act, pair)): (usize, (&Act, &[View]))| {
            let (before, after) = (&pair[0], &pair[1]);
            let minutes = self.play(&acts[..=at])?.minutes - self.play(&acts[..at])?.minutes;
            Ok(Reviewed {
                did: before.did.clone(),
                minutes,
                worth: before.expected - after.expected,
                bits: before.bits - after.bits,
                tool: before.best.as_ref().filter(|(best, _)| best != act).map(|(_, say)| say.clone()),
            })
        };
        pairs.map(of).collect()
    }

    fn send(&self, technician: &mut dyn Technician, trace: Option<&mut Trace>) -> Result<Visit, RehearsalError> {
        let Rehearsal { predictor, settings, .. } = self.rehearsal;
        Ok(visit::make(&self.case, predictor, settings, technician, trace)?)
    }
}

fn difficulty_of(rehearsal: &Rehearsal<'_, '_>, case: &Case<'_>) -> Difficulty {
    let faults = case.unit.faults();
    let (1, false, Some(fault)) = (faults.len(), case.complaint.comes_and_goes, faults.first()) else {
        return Difficulty::Hard;
    };
    let mut belief = rehearsal.prior.clone();
    case.complaint.all().into_iter().for_each(|seen| belief.take(diagnosis::Evidence::Reported(seen)));
    let repair = belief.machine().faults[fault.index()].repair;
    let leading: Vec<RepairId> = belief.repair_shares().into_iter().take(PLAIN).map(|(repair, _)| repair).collect();
    if leading.contains(&repair) { Difficulty::Plain } else { Difficulty::Usual }
}

/// A learner who has decided on these acts so far.
struct Learner<'a> {
    acts: &'a [Act],
    done: usize,
    mended: bool,
}

impl Technician for Learner<'_> {
    /// Gives his next act. Once a repair has helped, everything is run and proved without his saying so.
    fn next(&mut self, _bench: &Bench) -> Result<Move, ProblemError> {
        if std::mem::take(&mut self.mended) {
            return Ok(Move::Prove);
        }
        let act = self.acts.get(self.done).cloned();
        self.done += usize::from(act.is_some());
        Ok(act.map_or(Move::Wait, Move::Do))
    }

    fn learn(&mut self, event: &Event) {
        self.mended = matches!(event, Event::Tried { works: true });
    }

    fn top(&mut self, _count: usize) -> Vec<(String, f64)> {
        Vec::new()
    }
}

/// What the tool thinks before an act.
#[derive(Default)]
struct View {
    /// Minutes it expects to the end.
    expected: f64,
    /// Entropy of its suspects, bits.
    bits: f64,
    /// What it would do, and how it says so.
    best: Option<(Act, String)>,
    /// The learner's own act in its words.
    did: String,
}

/// The tool beside a learner: it learns what he learns, and is asked before each of his acts.
struct Beside<'r, 'a, 'p, 'm> {
    learner: Learner<'a>,
    tool: Tool<'r, 'p, 'm>,
    settings: &'r Settings,
    views: Vec<View>,
}

impl Technician for Beside<'_, '_, '_, '_> {
    fn next(&mut self, bench: &Bench) -> Result<Move, ProblemError> {
        let next = self.learner.next(bench)?;
        if next != Move::Prove {
            let belief = self.tool.weigh();
            let best = advise(belief, bench, &self.settings.prices, self.settings.nodes)?.into_iter().next();
            self.views.push(View {
                expected: best.as_ref().map_or(0.0, |step| step.expected),
                bits: bits(belief),
                best: best.map(|step| (step.act, step.say)),
                did: if let Move::Do(act) = &next { sentence(belief, act) } else { String::new() },
            });
        }
        Ok(next)
    }

    fn learn(&mut self, event: &Event) {
        self.learner.learn(event);
        self.tool.learn(event);
    }

    fn top(&mut self, count: usize) -> Vec<(String, f64)> {
        self.tool.top(count)
    }
}

/// Gives the entropy of the suspects, bits.
fn bits(belief: &Belief<'_, '_>) -> f64 {
    let shares = belief.shares().into_iter().map(|(_, share)| share).filter(|share| *share > 0.0);
    shares.map(|share| -share * libm::log2(share)).sum()
}
