//! The desk: one call under way, what was touched, and what is owed to the book before the next screen.

use crate::durable::Durable;
use crate::face;
use crate::heading::signatures;
use crate::outbox::Outbox;
use crate::probing::Probing;
use crate::screen::{Notice, Screen};
use crate::sheet;
use crate::touch::{Sheet, Touch};
use crate::vault::Vault;
use base64ct::{Base64, Encoding};
use book::{
    Body, CallOpened, DeviceId, Event, JobFact, JobId, Key, KeyId, Loaded, Pen, Person, Photo, PhotoTaken, Place,
    RecordId, Role, Scope, SealedRecord, ShopFact, Signature, Signed, Strokes, ZonedTime,
};
use call::demo::Demo;
use call::{
    About, Answer, Ask, PHOTO, Refused, Session, Settings, Supposed, events_of, jobs_beside, other_jobs_of, typed,
    unfinished, waiting,
};
use diagnosis::Suspect;
use diagnosis::unexplained::sentences;
use documents::Page;
use prediction::Predictor;
use std::cell::OnceCell;
use std::collections::BTreeMap;

/// Least share of a suspect that is remembered when something else is found.
const REMEMBERED: f64 = 1e-3;

/// How a call begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Begin {
    /// A new job.
    Fresh,
    /// Where it was broken off.
    GoOn,
    /// The visit that a job waits for, by its place in the list.
    Visit(usize),
}

/// What stands behind a demo's call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Behind {
    /// An appliance drawn by a seed whose trouble is that it turns and stays cold.
    Seed(u64),
    /// An appliance drawn by the job's own number, with any fault.
    Job,
}

/// One call under way.
#[derive(Debug)]
pub struct Desk<'p, 'm> {
    pub(crate) session: Session<'p, 'm>,
    predictor: &'p Predictor<'m>,
    settings: Settings,
    /// Everything the book holds, in its order.
    pub(crate) book: Vec<Event>,
    /// What was said on other jobs of the same appliance.
    elsewhere: Vec<Event>,
    /// The unit's own labels have been learned since the machine was read.
    relabelled: bool,
    vault: Vault,
    behind: Option<Behind>,
    demo: Option<Demo<'m>>,
    outbox: Outbox,
    device: DeviceId,
    /// Shares before each thing found, with how many things were found then.
    pub(crate) past: Vec<(usize, BTreeMap<Suspect, f64>)>,
    /// What is said where nothing described explains what was found, as soon as a screen asks for it.
    unexplained: OnceCell<Vec<String>>,
    pub(crate) notice: Option<Notice>,
    pub(crate) offered: Option<String>,
    pub(crate) probing: Probing,
    pub(crate) sheet: Sheet,
    /// What is known better than what is assumed where repair is weighed against replacement.
    pub(crate) supposed: Supposed,
}

impl<'p, 'm> Desk<'p, 'm> {
    /// Opens a call over everything the book holds. With a seed the demo's appliance and people answer.
    #[must_use]
    pub fn open(
        predictor: &'p Predictor<'m>,
        settings: Settings,
        pen: Pen,
        loaded: &Loaded,
        (keys, records): (Vec<(KeyId, Key)>, Vec<SealedRecord>),
        behind: Option<Behind>,
        begin: Begin,
    ) -> Self {
        let session = Session::new(predictor, settings.clone());
        let mut desk = Self {
            session,
            predictor,
            settings,
            book: loaded.events.clone(),
            elsewhere: Vec::new(),
            relabelled: false,
            vault: Vault::of(keys, records),
            behind,
            demo: None,
            device: pen.device(),
            outbox: Outbox::of(pen),
            past: Vec::new(),
            unexplained: OnceCell::new(),
            notice: None,
            offered: None,
            probing: Probing::folded(true),
            sheet: Sheet::None,
            supposed: Supposed::default(),
        };
        desk.appear();
        let events = match begin {
            Begin::Fresh => Vec::new(),
            Begin::GoOn => unfinished(&desk.book, desk.device).map(|of| of.events).unwrap_or_default(),
            Begin::Visit(at) => waiting(&desk.book).into_iter().nth(at).map_or_else(Vec::new, |of| {
                desk.outbox.push(Body::job(of.job, CallOpened { purpose: of.purpose, promised: of.promised }));
                of.events
            }),
        };
        events.iter().for_each(|event| desk.apply(event));
        desk.elsewhere = desk.session.job().map_or_else(Vec::new, |job| other_jobs_of(&desk.book, job));
        desk
    }

    /// Gives the other jobs on the appliance at hand: where steps of theirs are filed away, the shell reads them and hands them in
    /// by [`Self::bring`].
    #[must_use]
    pub fn beside(&self) -> Vec<JobId> {
        self.session.job().map_or_else(Vec::new, |job| jobs_beside(&self.book, job))
    }

    /// Takes up steps of other jobs, which were filed away.
    pub fn bring(&mut self, events: Vec<Event>) {
        let all = std::mem::take(&mut self.book).into_iter().chain(events).collect();
        self.book = Loaded::in_order(all, Vec::new()).events;
        self.elsewhere = self.session.job().map_or_else(Vec::new, |job| other_jobs_of(&self.book, job));
    }

    /// Gives the names of the photos of this appliance, whose records the shell reads and hands in by [`Self::see`].
    pub fn pictures(&self) -> impl Iterator<Item = RecordId> {
        self.photos_taken().map(|(_, photo)| photo.record)
    }

    /// Takes up sealed photos.
    pub fn see(&mut self, records: Vec<SealedRecord>) {
        self.vault.add(Vec::new(), records);
    }

    /// Gives the session.
    #[must_use]
    pub fn session(&self) -> &Session<'p, 'm> {
        &self.session
    }

    /// Says that nothing described explains what was found, and what would; nothing while something does.
    pub(crate) fn unexplained(&self) -> &[String] {
        self.unexplained.get_or_init(|| sentences(self.session.belief()))
    }

    /// Gives the share of a suspect before the last thing found; `None` where nothing was found yet.
    pub(crate) fn before(&self, suspect: &Suspect) -> Option<f64> {
        self.past.last().map(|(_, shares)| shares.get(suspect).copied().unwrap_or_default())
    }

    /// Says whether the demo answers.
    #[must_use]
    pub fn is_demo(&self) -> bool {
        self.behind.is_some()
    }

    /// Gives the demo's hidden fault: to be told once its call has ended.
    pub(crate) fn hidden(&self) -> Option<machine::model::FaultId> {
        self.demo.as_ref().map(Demo::hidden)
    }

    /// Takes a touch. What it changes in the book is owed afterwards; `random` fills bytes with fresh randomness, for keys.
    pub fn touch(&mut self, touch: &Touch, random: &mut dyn FnMut(&mut [u8])) {
        self.notice = None;
        if self.probing.touch(self.session.machine(), touch) {
            return;
        }
        match touch {
            Touch::Answer(text) => self.answer(text, None, random),
            Touch::Sign { name, strokes } => self.sign(name, strokes, random),
            Touch::Photo(jpeg) => self.photo(jpeg, random),
            Touch::TakeOffered => {
                if let Some(text) = self.offered.clone() {
                    self.answer(&text, None, random);
                }
            }
            Touch::Undo => self.undo(),
            Touch::Set { id, value } => {
                self.notice = crate::worth::set(&mut self.supposed, id, value).err().map(Notice::refused);
            }
            Touch::Sheet(sheet) => self.sheet = *sheet,
            // The drawing's are taken already; the others are for other places.
            _ => {}
        }
    }

    /// Gives what must be made durable now; `None` when the screen may be shown. `at` is the time on the wall.
    ///
    /// # Errors
    /// A fact that cannot be written, in words: a fault of the program.
    pub fn owes(&mut self, at: &ZonedTime) -> Result<Option<Durable>, String> {
        let bodies = match self.outbox.next() {
            Some(bodies) => bodies,
            None => match self.session.due() {
                Some(Body::NotUnderstood { .. }) => return Err("a fact was due before its job was open".to_owned()),
                Some(body) => vec![body],
                None => {
                    self.see_offer();
                    return Ok(None);
                }
            },
        };
        self.outbox.write(at, &bodies, self.vault.take_fresh()).map(Some)
    }

    /// Hears that what was owed is durable.
    pub fn kept(&mut self) {
        let Some(durable) = self.outbox.kept() else { return };
        self.vault.add(durable.keys, durable.records);
        let undone = durable.events.iter().any(|event| matches!(event.body(), Body::Undo { .. }));
        self.book.extend(durable.events.iter().cloned());
        let labels = |event: &Event| match event.body() {
            Body::Shop(ShopFact::ApplianceLearned(learned)) => !learned.labels.is_empty(),
            _ => false,
        };
        self.relabelled |= durable.events.iter().any(labels);
        if undone {
            self.resume();
        } else {
            durable.events.iter().for_each(|event| self.apply(event));
        }
    }

    /// Hears that what was owed could not be made durable, and why: nothing of it counts.
    pub fn not_kept(&mut self, why: &str) {
        self.outbox.not_kept();
        self.notice = Some(Notice::not_kept(why));
    }

    /// Works out a little of what the next proposal will need, while nothing was touched; says whether more is left.
    pub fn foresee(&mut self) -> bool {
        self.session.foresee()
    }

    /// Gives everything that is shown.
    #[must_use]
    pub fn screen(&self) -> Screen {
        face::screen(self)
    }

    /// Gives a page of this call's job by the id of its paper, for a typesetter; `None` if there is no such page.
    #[must_use]
    pub fn page(&self, id: &str) -> Option<Page> {
        sheet::pages(self).into_iter().find(|(of, _)| of == id).map(|(_, page)| page)
    }

    /// Gives the customer, where his record can be opened.
    pub(crate) fn customer(&self) -> Option<Person> {
        let (key, record) = self.session.key().zip(self.session.person())?;
        self.vault.person(key, record)
    }

    /// Says whether the machine must be read again: its unit's own labels have been learned.
    #[must_use]
    pub fn relabelled(&self) -> bool {
        self.relabelled
    }

    /// Gives the photos of this appliance that can be opened, the latest first: when, of which parts, the picture in base64.
    pub(crate) fn photos(&self) -> impl Iterator<Item = (&ZonedTime, Vec<&str>, String)> {
        self.photos_taken().rev().filter_map(|(event, photo)| {
            let picture = self.vault.picture(self.session.key()?, photo.record)?;
            let parts = photo.shows.iter().map(|place| place.id.as_str()).collect();
            Some((event.at(), parts, Base64::encode_string(&picture)))
        })
    }

    /// Gives the photos that were taken of this appliance, those of other jobs first.
    pub(crate) fn photos_taken(&self) -> impl DoubleEndedIterator<Item = (&Event, &Photo)> {
        self.elsewhere.iter().chain(self.session.events()).filter_map(|event| match event.body() {
            Body::Job { fact: JobFact::PhotoTaken(taken), .. } => Some((event, &taken.photo)),
            _ => None,
        })
    }

    /// Gives who signed on this job, where it can be opened.
    pub(crate) fn signed(&self) -> BTreeMap<RecordId, Signed> {
        let Some(key) = self.session.key() else { return BTreeMap::new() };
        let records = signatures(self.session.events());
        records.filter_map(|record| Some((record, self.vault.signed(key, record)?))).collect()
    }

    fn apply(&mut self, event: &Event) {
        let taken = self.session.belief().evidence().len();
        let shares = self.session.belief().shares().into_iter().filter(|(_, share)| *share >= REMEMBERED);
        let shares: BTreeMap<Suspect, f64> = shares.map(|(suspect, share)| (suspect.clone(), share)).collect();
        self.session.apply(event);
        if self.session.belief().evidence().len() != taken {
            self.past.push((taken, shares));
            self.unexplained.take();
            self.probing.probes.clear();
        }
        if let Some(demo) = &mut self.demo {
            demo.note(event);
        }
        self.appear();
    }

    /// Lets the demo's appliance appear as soon as it is known which it is.
    fn appear(&mut self) {
        if self.demo.is_none() {
            let machine = self.predictor.machine();
            self.demo = match self.behind {
                Some(Behind::Seed(seed)) => Demo::draw(machine, seed),
                Some(Behind::Job) => self.session.job().and_then(|job| Demo::any(machine, job.0.counter())),
                None => None,
            };
        }
    }

    fn resume(&mut self) {
        let events = self.session.job().map(|job| events_of(&self.book, job)).unwrap_or_default();
        self.session = Session::new(self.predictor, self.settings.clone());
        self.past.clear();
        self.unexplained.take();
        self.demo = None;
        self.appear();
        events.iter().for_each(|event| self.apply(event));
    }

    fn see_offer(&mut self) {
        let ask = self.session.ask();
        self.offered = match (&mut self.demo, self.behind) {
            (Some(demo), _) => Some(demo.answer(&ask)),
            // Whose appliance it is is asked before it is known which.
            (None, Some(_)) => call::demo::before(&ask),
            (None, None) => None,
        };
    }

    fn sign(&mut self, name: &str, strokes: &str, random: &mut dyn FnMut(&mut [u8])) {
        let written = if strokes.is_empty() { Ok(None) } else { Strokes::read(strokes).map(Some) };
        match written {
            // Nothing typed is the answer of Enter, which may be that nobody is there.
            Ok(Some(_)) if name.trim().is_empty() => {
                let (say, mend) = ("a name is needed beside the signature", "type who signs, then take it again");
                self.notice = Some(Notice { say: say.to_owned(), mend: mend.to_owned() });
            }
            Ok(strokes) => self.answer(name, strokes, random),
            Err(bad) => {
                self.notice = Some(Notice { say: bad.to_string(), mend: "clear the field and sign again".to_owned() });
            }
        }
    }

    /// Keeps a photo of what is being worked at; where a photo is asked for, that is done then.
    fn photo(&mut self, jpeg: &str, random: &mut dyn FnMut(&mut [u8])) {
        let asked = is_photo(&self.session.ask());
        let sealed = self.session.key().ok_or_else(|| Refused::new("no customer yet", "say who the customer is first"));
        let sealed = sealed.and_then(|key| {
            let bytes = Base64::decode_vec(jpeg).unwrap_or_default();
            self.vault.seal_picture(key, bytes, random)
        });
        match (sealed, self.session.job()) {
            (Ok(record), Some(job)) => {
                let shows = self.session.at_work().into_iter().map(|part| Place::at(&part)).collect();
                self.outbox.push(Body::job(job, PhotoTaken { photo: Photo { record, shows } }));
                if asked {
                    self.answer("done", None, random);
                }
            }
            (Ok(_), None) => self.vault.forget_fresh(),
            (Err(refused), _) => self.notice = Some(Notice::refused(refused)),
        }
    }

    fn answer(&mut self, text: &str, strokes: Option<Strokes>, random: &mut dyn FnMut(&mut [u8])) {
        let ask = self.session.ask();
        let answer = typed::read_line(self.session.machine(), &ask, text);
        let taken = answer.and_then(|answer| self.sealed(&ask, answer, strokes, random));
        match taken.and_then(|answer| self.session.answer(&answer)) {
            Ok(body) => self.outbox.push(body),
            Err(refused) => {
                self.vault.forget_fresh();
                self.notice = Some(Notice::refused(refused));
            }
        }
    }

    /// Seals names before they are handed in; nothing of them stands in an event.
    fn sealed(
        &mut self,
        ask: &Ask,
        answer: Answer,
        strokes: Option<Strokes>,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<Answer, Refused> {
        let Answer::Words(words) = &answer else { return Ok(answer) };
        match &ask.about {
            About::Customer => {
                let (key, record) = self.vault.new_person(&typed::person(words), random)?;
                Ok(Answer::Person { key, record })
            }
            About::Approve | About::HandOver => self.signature(words, strokes, random).map(Answer::Signature),
            About::Hazard(_) => {
                let (action, name) = words.split_once(' ').unwrap_or((words, ""));
                let action = typed::action_of(action)?;
                let signature = self.signature(name, strokes, random)?;
                Ok(Answer::Hazard { told: vec![Role::Customer], action, signature })
            }
            _ => Ok(answer),
        }
    }

    fn signature(
        &mut self,
        name: &str,
        strokes: Option<Strokes>,
        random: &mut dyn FnMut(&mut [u8]),
    ) -> Result<Signature, Refused> {
        let key = self.session.key().ok_or_else(|| Refused::new("no customer yet", "say who the customer is first"))?;
        if name.trim().is_empty() {
            return Err(Refused::new("a name is needed for the record", "type it, or `refused`, or `nobody`"));
        }
        let signed = Signed { name: name.trim().to_owned(), strokes };
        Ok(Signature::Signed { record: self.vault.seal_signed(key, &signed, random)? })
    }

    fn undo(&mut self) {
        let (ids, job) = (self.session.to_undo(), self.session.job());
        let (Some(job), false) = (job, ids.is_empty()) else {
            let say = "there is nothing to undo on this visit".to_owned();
            self.notice = Some(Notice { say, mend: "go on with the next step".to_owned() });
            return;
        };
        let scope = Scope { job: Some(job), call: None };
        self.outbox.push_all(ids.into_iter().map(|id| Body::undo(scope, id, None)).collect());
    }
}

/// Says whether a photo is what is asked for.
pub(crate) fn is_photo(ask: &Ask) -> bool {
    matches!(&ask.about, About::Line(id) if id == PHOTO)
}
