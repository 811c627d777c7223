//! The talk: what is due is recorded, what is asked is shown, what is typed is understood, made durable, then applied.

use crate::commands::call::keep::Keep;
use crate::commands::call::papers;
use crate::commands::call::show::{self, Voice};
use crate::failure::Failure;
use crate::output;
use book::{Body, CallOpened, Event, JobId, Role, Signature, Stage};
use call::demo::Demo;
use call::{About, Answer, Ask, Refused, Session, Settings, Waiting, machine_of, typed};
use prediction::Predictor;
use serde_json::json;
use std::io::BufRead;
use std::process::ExitCode;

/// Lines of answers.
#[derive(Debug)]
pub(crate) struct Lines {
    typed: bool,
}

impl Lines {
    /// Read from standard input.
    pub(crate) fn typed() -> Self {
        Self { typed: true }
    }

    /// Nobody types.
    pub(crate) fn none() -> Self {
        Self { typed: false }
    }

    /// Gives the next line; `None` when nobody types any more.
    pub(crate) fn next(&mut self, voice: &Voice, prompt: &str) -> Result<Option<String>, Failure> {
        if !self.typed {
            return Ok(None);
        }
        voice.prompt(prompt);
        let mut line = Vec::new();
        let read = std::io::stdin().lock().read_until(b'\n', &mut line);
        match read {
            Ok(0) => Ok(None),
            Ok(_) => {
                let text = String::from_utf8_lossy(&line);
                Ok(Some(text.trim_end_matches(['\n', '\r']).to_owned()))
            }
            Err(error) => Err(Failure::SetUp(format!("standard input cannot be read: {error}"))),
        }
    }
}

/// One call being talked through.
pub(crate) struct Talk<'p, 'm> {
    session: Session<'p, 'm>,
    settings: Settings,
    predictor: &'p Predictor<'m>,
    keep: Keep,
    lines: Lines,
    voice: Voice,
    demo: Option<Demo<'m>>,
    by_itself: bool,
    begin: Begin,
    refusals: usize,
}

/// How a call begins.
#[derive(Debug)]
pub(crate) enum Begin {
    /// A new job.
    Fresh,
    /// Where it was broken off.
    GoOn(Vec<Event>),
    /// Another visit of a job that waits.
    Visit(Waiting),
}

impl Begin {
    /// Gives what the book holds of the job.
    pub(crate) fn events(&self) -> &[Event] {
        match self {
            Self::Fresh => &[],
            Self::GoOn(events) => events,
            Self::Visit(waiting) => &waiting.events,
        }
    }
}

/// What became of one turn.
enum Turn {
    On,
    Ended,
    Left,
}

/// Refusals in a row after which the demo, playing by itself, is taken to be stuck.
const MOST_REFUSALS: usize = 3;

impl<'p, 'm> Talk<'p, 'm> {
    pub(crate) fn new(predictor: &'p Predictor<'m>, settings: Settings, keep: Keep, lines: Lines, quiet: bool) -> Self {
        let session = Session::new(predictor, settings.clone());
        let voice = Voice { quiet };
        let begin = Begin::Fresh;
        Self { session, settings, predictor, keep, lines, voice, demo: None, by_itself: false, begin, refusals: 0 }
    }

    /// Lets the demo answer on Enter, or always where nobody types.
    pub(crate) fn with_demo(mut self, demo: Demo<'m>, by_itself: bool) -> Self {
        self.demo = Some(demo);
        self.by_itself = by_itself;
        self
    }

    /// Begins otherwise than afresh.
    pub(crate) fn begin(mut self, begin: Begin) -> Self {
        self.begin = begin;
        self
    }

    /// Works through the call to its end, or until nobody types any more.
    pub(crate) fn run(mut self) -> Result<ExitCode, Failure> {
        self.greet()?;
        let mut stage = None;
        loop {
            match self.turn(&mut stage)? {
                Turn::On => {}
                Turn::Ended => return self.finish(),
                Turn::Left => return Ok(self.leave()),
            }
        }
    }

    fn greet(&mut self) -> Result<(), Failure> {
        self.voice.line(&output::bold(&self.session.machine().title));
        if self.demo.is_some() {
            self.voice.line(call::demo::SHOP);
            if !self.by_itself {
                self.voice.line("Press Enter to take what the demo's appliance shows and what its people say.");
            }
        }
        self.voice.line("Local codes and licensed practice come first. `help` says what can be typed.");
        for damage in &self.keep.damaged {
            output::complain(&format!("{damage}; the rest of the book is safe"));
        }
        let (events, purpose) = match std::mem::replace(&mut self.begin, Begin::Fresh) {
            Begin::Fresh => return Ok(()),
            Begin::GoOn(events) => (events, None),
            Begin::Visit(waiting) => (waiting.events, Some((waiting.job, waiting.purpose, waiting.promised))),
        };
        for event in &events {
            self.session.apply(event);
            if let Some(demo) = &mut self.demo {
                demo.note(event);
            }
        }
        if let Some(say) = self.session.at_once() {
            self.voice.line(&output::bold(say));
        }
        let file = machine_of(&events);
        if file.is_some_and(|file| file.hash != self.settings.file.hash) {
            self.voice
                .line("The description of this machine has changed since; what was shown then stays in the book.");
        }
        match purpose {
            Some((job, purpose, promised)) => self.keep_and_apply(&Body::job(job, CallOpened { purpose, promised })),
            None => {
                self.voice.line("Going on with the call that was broken off. Nothing was lost.");
                Ok(())
            }
        }
    }

    fn keep_and_apply(&mut self, body: &Body) -> Result<(), Failure> {
        for event in self.keep.record(std::slice::from_ref(body))? {
            self.session.apply(&event);
            if let Some(demo) = &mut self.demo {
                demo.note(&event);
            }
        }
        Ok(())
    }

    fn turn(&mut self, stage: &mut Option<Stage>) -> Result<Turn, Failure> {
        while let Some(body) = self.session.due() {
            if matches!(body, Body::NotUnderstood { .. }) {
                return Err(Failure::Bug("a fact was due before its job was open".to_owned()));
            }
            self.keep_and_apply(&body)?;
        }
        let ask = self.session.ask();
        if ask.about == About::Ended {
            return Ok(Turn::Ended);
        }
        show::ask(self.voice, &self.session, &ask, stage);
        if ask.about == About::Choose {
            self.write_quote()?;
        }
        let offered = self.demo.as_mut().map(|demo| demo.answer(&ask));
        let Some(text) = self.answer_text(offered.as_deref(), &ask)? else { return Ok(Turn::Left) };
        match text.trim() {
            "quit" => return Ok(Turn::Left),
            "undo" => self.undo()?,
            "why" => show::why(self.voice, &self.session),
            "suspects" => show::suspects(self.voice, &self.session),
            "help" | "?" => show::help(self.voice, &ask),
            text => self.take(&ask, text)?,
        }
        Ok(Turn::On)
    }

    /// Reads a line; Enter is what the demo or the ask itself offers.
    fn answer_text(&mut self, offered: Option<&str>, ask: &Ask) -> Result<Option<String>, Failure> {
        let bracket = offered.map(str::to_owned).filter(|text| !text.is_empty()).or_else(|| in_brackets(ask));
        let prompt = bracket.map_or_else(|| "> ".to_owned(), |text| format!("[{text}] > "));
        if self.by_itself {
            self.voice.line(&prompt);
            return Ok(Some(offered.unwrap_or_default().to_owned()));
        }
        let line = self.lines.next(&self.voice, &prompt)?;
        Ok(line.map(|line| if line.trim().is_empty() { offered.unwrap_or_default().to_owned() } else { line }))
    }

    fn take(&mut self, ask: &Ask, text: &str) -> Result<(), Failure> {
        let taken = match typed::read_line(self.session.machine(), ask, text) {
            Ok(answer) => match self.sealed(ask, answer)? {
                Ok(answer) => self.session.answer(&answer),
                Err(refused) => Err(refused),
            },
            Err(refused) => Err(refused),
        };
        match taken {
            Ok(body) => {
                self.refusals = 0;
                self.keep_and_apply(&body)
            }
            Err(refused) => {
                self.voice.line(&format!("  {}", output::bold(&refused.say)));
                self.voice.line(&format!("  {}", refused.mend));
                self.refusals += 1;
                if self.by_itself && self.refusals >= MOST_REFUSALS {
                    return Err(Failure::Bug(format!("the demo is stuck at `{}`: {refused}", ask.say)));
                }
                Ok(())
            }
        }
    }

    /// Seals names before they are handed in; nothing of them stands in an event.
    fn sealed(&mut self, ask: &Ask, answer: Answer) -> Result<Result<Answer, Refused>, Failure> {
        let Answer::Words(words) = &answer else { return Ok(Ok(answer)) };
        Ok(match &ask.about {
            About::Customer => {
                let (key, record) = self.keep.new_person(&typed::person(words))?;
                Ok(Answer::Person { key, record })
            }
            About::Approve | About::HandOver => self.signed(words)?.map(Answer::Signature),
            About::Hazard(_) => {
                let (action, name) = words.split_once(' ').unwrap_or((words, ""));
                match typed::action_of(action) {
                    Ok(action) => self.signed(name)?.map(|signature| Answer::Hazard {
                        told: vec![Role::Customer],
                        action,
                        signature,
                    }),
                    Err(refused) => Err(refused),
                }
            }
            _ => Ok(answer),
        })
    }

    fn signed(&mut self, name: &str) -> Result<Result<Signature, Refused>, Failure> {
        let Some(key) = self.session.key() else {
            return Ok(Err(Refused::new("no customer yet", "say who the customer is first")));
        };
        if name.trim().is_empty() {
            return Ok(Err(Refused::new("a name is needed for the record", "type it, or `refused`, or `nobody`")));
        }
        Ok(Ok(Signature::Signed { record: self.keep.seal_words(key, name.trim())? }))
    }

    fn undo(&mut self) -> Result<(), Failure> {
        let (ids, job) = (self.session.to_undo(), self.session.job());
        let (Some(job), false) = (job, ids.is_empty()) else {
            self.voice.line("  There is nothing to undo on this visit.");
            return Ok(());
        };
        let left = self.keep.undo(&ids, job)?;
        self.session = Session::resume(self.predictor, self.settings.clone(), &left);
        self.voice.line("  Undone. The last answer no longer counts.");
        Ok(())
    }

    fn leave(&self) -> ExitCode {
        self.voice.line("");
        self.voice.line("Stopped here. Nothing is lost: `callwright call` goes on at this point.");
        if self.voice.quiet {
            output::json(&json!({ "job": self.session.job().map(|job| job.to_string()), "end": null }));
        }
        ExitCode::SUCCESS
    }

    fn finish(&self) -> Result<ExitCode, Failure> {
        let Some(job) = self.session.job() else {
            return Err(Failure::Bug("the call ended without a job".to_owned()));
        };
        let paths = self.papers(job)?;
        let folded = self.keep.job(job).ok_or_else(|| Failure::Bug("the job is not in the book".to_owned()))?;
        let ended = folded.all::<book::CallEnded>().last().map(|(_, ended)| ended.end.clone());
        if self.voice.quiet {
            output::json(&json!({
                "job": job.to_string(),
                "end": ended,
                "standing": folded.standing(),
                "facts_count": self.keep.facts_of(job),
                "record": paths.html,
                "record_text": paths.text,
                "repaired": folded.all::<book::PartChanged>().map(|(_, changed)| changed.part.clone()).collect::<Vec<_>>(),
                "charges": billing::bill(&folded),
                "book": self.keep.path,
            }));
            return Ok(ExitCode::SUCCESS);
        }
        self.voice.line("");
        self.voice.line(&output::bold("The call has ended."));
        if let Some(demo) = &self.demo {
            let fault = &self.session.machine()[demo.hidden()];
            let part = &self.session.machine()[fault.part].name;
            self.voice.line(&format!("The demo's hidden fault was: {part}: {}.", fault.say));
        }
        self.voice.line(&format!("record: {}", paths.html.display()));
        self.voice.line(&format!("as text: {}", paths.text.display()));
        Ok(ExitCode::SUCCESS)
    }

    /// Writes the quote that is about to be answered, for the customer to read.
    fn write_quote(&self) -> Result<(), Failure> {
        let Some(folded) = self.session.job().and_then(|job| self.keep.job(job)) else { return Ok(()) };
        if let Some(path) = papers::write_quote(&self.keep.path, &folded, &self.heading())? {
            self.voice.line(&format!("  as a page: {}", path.display()));
        }
        Ok(())
    }

    fn heading(&self) -> documents::Heading {
        let names = self.session.key().zip(self.session.person());
        let customer = names.and_then(|(key, record)| self.keep.person(key, record));
        let records = screens::signatures(self.session.events());
        let signed = self.session.key().map(|key| self.keep.signed(key, records)).unwrap_or_default();
        screens::heading(self.session.machine(), customer, signed, self.demo.is_some())
    }

    fn papers(&self, job: JobId) -> Result<papers::Paths, Failure> {
        let folded = self.keep.job(job).ok_or_else(|| Failure::Bug("the job is not in the book".to_owned()))?;
        papers::write(&self.keep.path, job, &folded, &self.heading())
    }
}

/// What Enter alone takes, where it says something.
fn in_brackets(ask: &Ask) -> Option<String> {
    match ask.enter.as_ref()? {
        Answer::Done => Some("done".to_owned()),
        Answer::YesNo(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        Answer::Choice(id) => Some(id.clone()),
        Answer::Count { count, .. } => Some(count.to_string()),
        Answer::Skip => Some("skip".to_owned()),
        _ => None,
    }
}
