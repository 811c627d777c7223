//! Practice in the app: a hidden fault, readings of the learner's own in the drawing, and a review. A lesson is its acts
//! alone, so what is kept of it is what was typed.

use crate::drawn::Drawn;
use crate::probing::Probing;
use crate::screen::{Choice, Drawing, Line, Notice, Place, Review, Reviewed, Screen, Sort, Way};
use crate::touch::Touch;
use drawing::Layers;
use machine::model::{Machine, StateId};
use rehearsal::practice::{self, Difficulty, Lesson, Played, read_act};
use repair::Act;
use serde::{Deserialize, Serialize};

/// What a lesson is played again from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Script {
    /// The machine's id.
    pub machine: String,
    /// How hard.
    pub difficulty: Difficulty,
    /// Which hidden fault.
    pub seed: u64,
    /// What was done, as typed.
    pub acts: Vec<String>,
    /// The learner has ended it and looks back.
    pub over: bool,
}

impl Script {
    /// Begins a lesson.
    #[must_use]
    pub fn fresh(machine: &str, difficulty: Difficulty, seed: u64) -> Self {
        Self { machine: machine.to_owned(), difficulty, seed, acts: Vec::new(), over: false }
    }
}

/// A lesson under way.
#[derive(Debug)]
pub struct Practice<'l, 'r, 'p, 'm> {
    lesson: &'l Lesson<'r, 'p, 'm>,
    machine: &'m Machine,
    script: Script,
    acts: Vec<Act>,
    played: Played,
    review: Option<practice::Review>,
    probing: Probing,
    notice: Option<Notice>,
}

impl<'l, 'r, 'p, 'm> Practice<'l, 'r, 'p, 'm> {
    /// Takes a lesson up where its script has got to; an act that no longer reads ends what is taken up.
    ///
    /// # Errors
    /// A problem that cannot be planned, in words: a fault of the program.
    pub fn of(lesson: &'l Lesson<'r, 'p, 'm>, machine: &'m Machine, mut script: Script) -> Result<Self, String> {
        let acts: Vec<Act> = script.acts.iter().map_while(|typed| read_act(machine, typed).ok()).collect();
        script.acts.truncate(acts.len());
        let played = lesson.play(&acts).map_err(|error| error.to_string())?;
        let probing = Probing::folded(false);
        let mut practice = Self { lesson, machine, script, acts, played, review: None, probing, notice: None };
        practice.look_back()?;
        Ok(practice)
    }

    /// Gives what the lesson can be played again from.
    #[must_use]
    pub fn script(&self) -> &Script {
        &self.script
    }

    /// Takes a touch: an answer is an act as it is typed for [`read_act`], or `give up`.
    ///
    /// # Errors
    /// A problem that cannot be planned, in words: a fault of the program.
    pub fn touch(&mut self, touch: &Touch) -> Result<(), String> {
        self.notice = None;
        if self.probing.touch(self.machine, touch) || self.review.is_some() {
            return Ok(());
        }
        match touch {
            Touch::Answer(text) if text.trim() == GIVE_UP => self.script.over = true,
            Touch::Answer(text) => match read_act(self.machine, text) {
                Ok(act) => {
                    self.acts.push(act);
                    self.script.acts.push(text.trim().to_owned());
                    self.probing.probes.clear();
                }
                Err(say) => {
                    self.notice = Some(Notice { say, mend: "take it from the lists".to_owned() });
                    return Ok(());
                }
            },
            Touch::Undo => {
                self.acts.pop();
                self.script.acts.pop();
            }
            _ => return Ok(()),
        }
        self.played = self.lesson.play(&self.acts).map_err(|error| error.to_string())?;
        self.look_back()
    }

    /// Looks back once the visit has ended, or the learner has ended it.
    fn look_back(&mut self) -> Result<(), String> {
        if self.script.over || self.played.ended.is_some() {
            self.script.over = true;
            self.review = Some(self.lesson.review(&self.acts).map_err(|error| error.to_string())?);
        }
        Ok(())
    }

    /// Gives everything that is shown.
    #[must_use]
    pub fn screen(&self) -> Screen {
        let mut screen = Screen::of(Place::Practice);
        screen.top.machine.clone_from(&self.machine.title);
        screen.notice.clone_from(&self.notice);
        screen.history = self
            .played
            .lines
            .iter()
            .rev()
            .map(|line| format!("{:.1} min: {} -> {}", line.minutes, line.act, line.shown))
            .collect();
        match &self.review {
            Some(review) => {
                "Looking back".clone_into(&mut screen.say);
                screen.review = Some(looked_back(self.machine, review, self.played.ended.is_some()));
            }
            None => {
                "Find what is wrong.".clone_into(&mut screen.say);
                let plain = |say: String| Line { sort: Sort::Plain, say };
                screen.lines =
                    self.lesson.complaint().into_iter().map(|say| plain(format!("the customer: {say}"))).collect();
                screen.lines.push(plain(format!("{:.0} minutes so far", self.played.minutes)));
                screen.drawing = Some(self.drawing());
                screen.ways = self.ways();
                screen.undo = !self.acts.is_empty();
            }
        }
        screen
    }

    fn state(&self) -> StateId {
        self.probing.state.unwrap_or(StateId(0))
    }

    fn drawing(&self) -> Drawing {
        let (machine, state) = (self.machine, self.state());
        let layers = Layers { state: Some(machine[state].say.clone()), ..Layers::default() };
        let mut take = Vec::new();
        if let [red, black] = self.probing.probes[..] {
            let [red, black] = [red, black].map(|at| machine[at].name.clone());
            let (id, said) = (&machine[state].id, &machine[state].say);
            take.push(Choice {
                answer: format!("ohms {red} {black} in {id}"),
                say: "read ohms here, unplugged".to_owned(),
            });
            take.push(Choice {
                answer: format!("volts {red} {black} in {id}"),
                say: format!("read volts here, clipped on dead, then: {said}"),
            });
        }
        let note = "Tap two terminals to read there. The state that is drawn is the one volts are read in.";
        let (asked, matters) = (Vec::new(), Vec::new());
        Drawn { machine, probing: &self.probing, state, layers, asked, matters, note }.show(Vec::new(), take)
    }

    /// What can be done beside reading between two terminals.
    fn ways(&self) -> Vec<Way> {
        let way = |group: &str, say: &str, answer: String| Way {
            say: say.to_owned(),
            answer,
            words: None,
            group: Some(group.to_owned()),
        };
        let machine = self.machine;
        let runs = machine.states.iter().map(|of| way("run it", &of.say, format!("run {}", of.id)));
        let looks = machine.parts.iter().map(|part| way("look closely at", &part.name, format!("look {}", part.id)));
        let repairs = machine.repairs.iter().map(|of| way("repair", &of.say, format!("change {}", of.id)));
        let rest = [
            way("end the visit", "nothing is wrong: explain the use", "explain".to_owned()),
            way("end the visit", "refer it to one licensed for it", "refer".to_owned()),
            way("end the visit", "stop and look back", GIVE_UP.to_owned()),
        ];
        runs.chain(looks).chain(repairs).chain(rest).collect()
    }
}

/// What ends a lesson.
const GIVE_UP: &str = "give up";

fn looked_back(machine: &Machine, review: &practice::Review, ended: bool) -> Review {
    let verdict = match (ended, review.right) {
        (false, _) => "You ended it before it was found.",
        (true, true) => "You left it right.",
        (true, false) => "The trouble is still there, or it was handed on without need.",
    };
    let step = |act: &practice::Reviewed| {
        let way = if act.worth < 0.0 { "longer" } else { "shorter" };
        Reviewed {
            did: act.did.clone(),
            worth: format!("took {:.1} min, made the rest {:.1} min {way}", act.minutes, act.worth.abs()),
            tool: act.tool.clone(),
        }
    };
    let fault = |id: &String| {
        let known = machine.faults.iter().find(|fault| fault.id == *id);
        known.map_or(id.clone(), |fault| format!("the {}, {}", machine[fault.part].name, fault.say))
    };
    let truth: Vec<String> = review.truth.iter().map(fault).collect();
    Review {
        verdict: format!("It was {}. {verdict}", truth.join(" and ")),
        figures: vec![
            format!("your minutes, proofs and last runs included: {:.0}", review.minutes),
            format!("the tool's minutes, the same included: {:.0}", review.tool_minutes),
            format!("minutes to the repair for one who knows it from the start: {:.0}", review.all_knowing_minutes),
            format!("parts for nothing: {}", review.needless_parts),
            format!("readings on the energised machine: {}", review.clipped_readings),
        ],
        steps: review.acts.iter().map(step).collect(),
        tool: review.tool_steps.clone(),
    }
}
