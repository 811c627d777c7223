//! The worker: book, engine and screens. Takes touches, keeps what is owed, then tells what is shown.

use crate::browser;
use crate::keeping::Keeping;
use crate::sharing;
use crate::told::Told;
use base64ct::{Base64, Encoding};
use book::{Event, JobId, Pen, RecordId};
use call::unfinished;
use documents::Page;
use futures_channel::mpsc::{UnboundedReceiver, unbounded};
use futures_util::future::{Either, select};
use futures_util::{FutureExt, StreamExt};
use prediction::Predictor;
use rehearsal::Rehearsal;
use rehearsal::practice::{self, Lesson};
use screens::screen::{Notice, Screen};
use screens::{
    Begin, Behind, Counter, Desk, Draft, Leave, Opening, Practice, Script, ShareAsk, Sharing, Study, Touch, Typesetter,
    file_of,
};
use serde::{Deserialize, Serialize};
use shipped::DEMO_SEED;
use std::pin::pin;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

/// The shop's own book, and the demo's.
const OWN: &str = "callwright";
const OF_DEMO: &str = "callwright-demo";
const OF_DEMO_SHOP: &str = "callwright-demo-shop";
/// Closed jobs of the demo's shop in its year: some seconds of a phone's work. The command line makes more.
const DEMO_JOBS: usize = 60;
/// The fact of the device that says where one was.
const PLACE: &str = "place";
/// Least milliseconds between two exchanges that nobody asked for.
const BETWEEN_EXCHANGES: f64 = 120_000.0;

/// Where one is, so that the app comes back there.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum At {
    #[default]
    Day,
    /// With the shop's server and its devices.
    Devices,
    Call,
    Demo,
    /// In the demo's shop, at its counter or in one of its calls.
    DemoShop,
    Machine(String),
    Practice(Script),
    Describe(Draft),
}

type Inbox = UnboundedReceiver<Touch>;

/// Starts the worker.
pub(crate) fn start() {
    let (send, inbox) = unbounded();
    let scope: DedicatedWorkerGlobalScope = js_sys::global().unchecked_into();
    let heard = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let touch = event.data().as_string().and_then(|text| serde_json::from_str(&text).ok());
        if let Some(touch) = touch {
            // The receiver lives as long as the worker.
            let _ = send.unbounded_send(touch);
        }
    });
    scope.set_onmessage(Some(heard.as_ref().unchecked_ref()));
    heard.forget();
    wasm_bindgen_futures::spawn_local(async move {
        if let Err(say) = work(inbox).await {
            tell(&Told::Trouble {
                say,
                mend: "nothing that was kept is lost; close the app and open it again".to_owned(),
            });
        }
    });
}

fn tell(told: &Told) {
    let scope: DedicatedWorkerGlobalScope = js_sys::global().unchecked_into();
    let text = serde_json::to_string(told).unwrap_or_default();
    // A page that is gone hears nothing any more.
    let _ = scope.post_message(&text.into());
}

async fn work(mut inbox: Inbox) -> Result<(), String> {
    if !browser::hold_if_free().await {
        tell(&Told::Elsewhere);
        browser::hold_when_free().await;
    }
    if !browser::persist().await {
        tell(&Told::NotPersistent);
    }
    let mut own = Keeping::open(OWN).await?;
    unlock(&mut own, &mut inbox).await?;
    let mut shared = Shared::default();
    let mut at: At = own.fact(PLACE).await?.and_then(|kept| serde_json::from_str(&kept).ok()).unwrap_or_default();
    loop {
        at = go(&mut own, at, &mut shared, &mut inbox).await?;
        stand_at(&own, &at).await;
    }
}

/// What is known of the shop's server, and when the book was exchanged last.
#[derive(Debug, Default)]
struct Shared {
    sharing: Sharing,
    exchanged: Option<f64>,
}

impl Shared {
    /// It is time to exchange by itself.
    fn is_due(&self) -> bool {
        let member = self.sharing.member.is_some();
        member && self.exchanged.is_none_or(|last| browser::millis() - last > BETWEEN_EXCHANGES)
    }
}

/// Asks for the words that unlock, until they are the right ones.
async fn unlock(own: &mut Keeping, inbox: &mut Inbox) -> Result<(), String> {
    let mut wrong = false;
    while own.is_locked().await? {
        tell(&Told::Screen(Box::new(screens::locked(wrong))));
        if let Touch::Set { id, value } = inbox.next().await.ok_or("the page is gone")?
            && id == "words"
        {
            wrong = !own.unlock(value.trim()).await?;
        }
    }
    Ok(())
}

/// Remembers where one is. Where even that finds no room, the call's own first record says so.
async fn stand_at(own: &Keeping, at: &At) {
    let text = serde_json::to_string(at).unwrap_or_default();
    drop(own.note(PLACE, &text).await);
}

/// Stands at the counter, goes from there to a call, a machine or a lesson, and says where one is after it.
async fn go(own: &mut Keeping, at: At, shared: &mut Shared, inbox: &mut Inbox) -> Result<At, String> {
    let mut held = own.load().await?;
    let device = own.device(&mut browser::random).await?;
    own.file(&mut held, device, sharing::sent(own).await?).await?;
    let damaged = held.damaged();
    let pen = Pen::after(device, &held.loaded);
    let mut counter = Counter::open(pen, &held.loaded, damaged, (held.keys, held.records)).with_filed(held.away.jobs);
    shared.sharing = sharing::known(own, std::mem::take(&mut shared.sharing)).await?;
    counter.share(shared.sharing.clone());
    let back = match &at {
        At::Day | At::Practice(_) => None,
        At::Devices => counter.touch(&Touch::Devices, &mut browser::random),
        At::Describe(draft) => {
            counter.take_up(draft.clone());
            None
        }
        At::Call => counter.touch(&Touch::GoOn, &mut browser::random),
        At::Demo => Some(Leave::Demo),
        At::DemoShop => Some(Leave::DemoShop),
        At::Machine(machine) => Some(Leave::Machine(machine.clone())),
    };
    let leave = match (at, back) {
        (At::Practice(script), _) => {
            practising(own, script, &counter, inbox).await?;
            return Ok(At::Day);
        }
        (_, Some(leave)) => leave,
        (_, None) => match at_counter(own, &mut counter, Some(shared), inbox).await? {
            Some(leave) => leave,
            None => return Ok(At::Day),
        },
    };
    match leave {
        Leave::Share(asked) => {
            let why = match asked {
                ShareAsk::Exchange | ShareAsk::Pair { .. } => Some("Exchanging the book with the shop's server."),
                ShareAsk::Unlock(_) => Some("Sealing everything on this phone anew."),
                ShareAsk::Trial => Some("Trying what keeps the book, in a database of its own."),
                _ => None,
            };
            if let Some(why) = why {
                tell(&Told::Screen(Box::new(screens::one_moment(why))));
                browser::turn().await;
            }
            if asked == ShareAsk::Exchange {
                shared.exchanged = Some(browser::millis());
            }
            sharing::done(own, &asked, &mut shared.sharing).await?;
            Ok(At::Devices)
        }
        Leave::Call(opening) => {
            stand_at(own, &At::Call).await;
            let left = calling(own, *opening, None, Setting::of(&counter), inbox).await?;
            Ok(if left == Left::ToReadAgain { At::Call } else { At::Day })
        }
        Leave::Demo => {
            stand_at(own, &At::Demo).await;
            let left = demo(inbox).await?;
            Ok(if left == Left::ToReadAgain { At::Demo } else { At::Day })
        }
        Leave::DemoShop => {
            stand_at(own, &At::DemoShop).await;
            demo_shop(inbox).await?;
            Ok(At::Day)
        }
        Leave::OwnShop => Ok(At::Day),
        Leave::Machine(machine) => {
            stand_at(own, &At::Machine(machine.clone())).await;
            studying(own, &machine, &counter, inbox).await?;
            Ok(At::Day)
        }
        Leave::Practice { machine, difficulty } => {
            let mut seed = [0; 4];
            browser::random(&mut seed);
            let script = Script::fresh(&machine, difficulty, u32::from_le_bytes(seed).into());
            practising(own, script, &counter, inbox).await?;
            Ok(At::Day)
        }
    }
}

/// Stands at the counter until something leads away from it; `None` where the server brought something new meanwhile, so that
/// the book must be read again.
async fn at_counter(
    own: &Keeping,
    counter: &mut Counter,
    mut shared: Option<&mut Shared>,
    inbox: &mut Inbox,
) -> Result<Option<Leave>, String> {
    let mut describing = counter.draft().is_some();
    let mut set = Setting::of(counter);
    loop {
        while let Some(owed) = counter.owes(&browser::now()?)? {
            match own.keep(&owed).await {
                Ok(()) => counter.kept(),
                Err(why) => counter.not_kept(&why),
            }
        }
        // What is typed of a description comes back where it was.
        if let Some(draft) = counter.draft() {
            stand_at(own, &At::Describe(draft.clone())).await;
            describing = true;
        } else if std::mem::take(&mut describing) {
            stand_at(own, &At::Day).await;
        }
        let lacks = counter.lacks();
        if !lacks.is_empty() {
            counter.bring(&lacks, filed(own, &lacks).await?);
        }
        set.show(counter.screen());
        let touch = match shared.as_deref_mut().filter(|shared| shared.is_due() && counter.is_at_day()) {
            Some(shared) => match exchanging(own, shared, inbox).await? {
                Some(touch) => touch,
                None => return Ok(None),
            },
            None => inbox.next().await.ok_or("the page is gone")?,
        };
        if let Touch::AsPdf(id) = &touch {
            set.ask(own, counter.page(id)).await;
        } else if let Some(leave) = counter.touch(&touch, &mut browser::random) {
            return Ok(Some(leave));
        }
    }
}

/// Reads what is filed of some jobs; damage is told and the rest is whole.
async fn filed(keeping: &Keeping, jobs: &[JobId]) -> Result<Vec<Event>, String> {
    let (events, damaged) = keeping.read_filed(jobs).await?;
    if !damaged.is_empty() {
        tell(&Told::Damaged(damaged.iter().map(ToString::to_string).collect()));
    }
    Ok(events)
}

/// Exchanges the book while the day is shown. A touch breaks it off, which costs nothing: it goes on where it was. Gives the
/// touch; `None` where something new came.
async fn exchanging(own: &Keeping, shared: &mut Shared, inbox: &mut Inbox) -> Result<Option<Touch>, String> {
    shared.exchanged = Some(browser::millis());
    let said = {
        let exchange = pin!(sharing::exchange(own));
        match select(exchange, inbox.next()).await {
            Either::Left((said, _)) => said,
            Either::Right((touch, _)) => {
                shared.exchanged = None;
                return touch.map(Some).ok_or_else(|| "the page is gone".to_owned());
            }
        }
    };
    let (news, say) = said.map_or_else(|why| (0, why), |exchanged| (exchanged.news, exchanged.say));
    shared.sharing.said = Some(say);
    if news > 0 { Ok(None) } else { inbox.next().await.map(Some).ok_or_else(|| "the page is gone".to_owned()) }
}

/// Pages set by the shop's server, where there is one.
#[derive(Debug)]
struct Setting {
    typesetter: Option<Typesetter>,
    /// What came of the last page, if it was not set.
    notice: Option<Notice>,
}

impl Setting {
    fn of(counter: &Counter) -> Self {
        let known = counter.sharing().member.is_some();
        Self { typesetter: known.then(|| Typesetter::of(&counter.settings())), notice: None }
    }

    /// Shows a screen, and what came of the last page.
    fn show(&mut self, mut screen: Screen) {
        screen.typesets = self.typesetter.is_some();
        screen.notice = self.notice.take().or(screen.notice);
        tell(&Told::Screen(Box::new(screen)));
    }

    /// Has a page set and hands the file to the page.
    async fn ask(&mut self, own: &Keeping, page: Option<Page>) {
        let Some((typesetter, page)) = self.typesetter.as_ref().zip(page) else { return };
        match sharing::set_page(own, typesetter, &page).await {
            Ok(bytes) => tell(&Told::File { name: file_of(&page, "pdf"), base64: Base64::encode_string(&bytes) }),
            Err(why) => self.notice = Some(Notice::not_set(why)),
        }
    }
}

/// Shows a machine as it is described.
async fn studying(own: &Keeping, id: &str, counter: &Counter, inbox: &mut Inbox) -> Result<(), String> {
    let mut set = Setting::of(counter);
    let machine = counter.machine(id).map_err(|refused| refused.say)?;
    let predictor = Predictor::new(&machine, counter.meter());
    let mut study = Study::of(&predictor, counter.temperatures());
    loop {
        set.show(study.screen());
        match inbox.next().await.ok_or("the page is gone")? {
            Touch::Day => return Ok(()),
            Touch::AsPdf(_) => set.ask(own, study.page()).await,
            touch => study.touch(&touch),
        }
    }
}

/// Practises; what was done is kept after every touch, so that a lesson too comes back where it was.
async fn practising(own: &Keeping, script: Script, counter: &Counter, inbox: &mut Inbox) -> Result<(), String> {
    stand_at(own, &At::Practice(script.clone())).await;
    let machine = counter.machine(&script.machine).map_err(|refused| refused.say)?;
    let predictor = Predictor::new(&machine, counter.meter());
    let rehearsal = Rehearsal::new(&predictor, script.seed, practice::settings()).map_err(|error| error.to_string())?;
    let Some(lesson) = Lesson::draw(&rehearsal, script.difficulty, script.seed) else {
        tell(&Told::Trouble {
            say: "this machine has no such lesson".to_owned(),
            mend: "take another difficulty".to_owned(),
        });
        return Ok(());
    };
    let mut practice = Practice::of(&lesson, &machine, script)?;
    loop {
        tell(&Told::Screen(Box::new(practice.screen())));
        match inbox.next().await.ok_or("the page is gone")? {
            Touch::Day => return Ok(()),
            touch => practice.touch(&touch)?,
        }
        stand_at(own, &At::Practice(practice.script().clone())).await;
    }
}

/// Plays the demo in a book of its own: on from where it was broken off, else afresh.
async fn demo(inbox: &mut Inbox) -> Result<Left, String> {
    let mut keeping = Keeping::open(OF_DEMO).await?;
    let device = keeping.device(&mut browser::random).await?;
    let broken_off = unfinished(&keeping.load().await?.loaded.events, device);
    if broken_off.is_none() {
        drop(keeping);
        Keeping::throw_away(OF_DEMO).await?;
        keeping = Keeping::open(OF_DEMO).await?;
    }
    let begin = if broken_off.is_some() { Begin::GoOn } else { Begin::Fresh };
    let mut opening = Opening::demo(begin).map_err(|refused| refused.say)?;
    call::adapt(&mut opening.machine, &broken_off.map(|of| of.events).unwrap_or_default());
    let set = Setting { typesetter: None, notice: None };
    calling(&keeping, opening, Some(Behind::Seed(DEMO_SEED)), set, inbox).await
}

/// Stands at the counter of the demo's shop, made up on the first visit, until one goes back to the own shop.
async fn demo_shop(inbox: &mut Inbox) -> Result<(), String> {
    let keeping = Keeping::open(OF_DEMO_SHOP).await?;
    if keeping.load().await?.loaded.events.is_empty() {
        let mut made = |jobs: usize| {
            let say = format!("An invented year of calls is being played through, once: {jobs} of {DEMO_JOBS}.");
            tell(&Told::Screen(Box::new(screens::one_moment(&say))));
        };
        keeping.keep(&screens::demo_shop(DEMO_SEED, DEMO_JOBS, &mut made)?).await?;
    }
    let mut left = Left::ForTheDay;
    loop {
        let held = keeping.load().await?;
        let damaged = held.damaged();
        let pen = Pen::after(keeping.device(&mut browser::random).await?, &held.loaded);
        let mut counter = Counter::open(pen, &held.loaded, damaged, (held.keys, held.records)).of_demo();
        let again = (left == Left::ToReadAgain).then(|| counter.touch(&Touch::GoOn, &mut browser::random)).flatten();
        left = Left::ForTheDay;
        let leave = match again {
            Some(leave) => leave,
            None => match at_counter(&keeping, &mut counter, None, inbox).await? {
                Some(leave) => leave,
                None => continue,
            },
        };
        match leave {
            Leave::Call(opening) => {
                left = calling(&keeping, *opening, Some(Behind::Job), Setting::of(&counter), inbox).await?;
            }
            Leave::Machine(machine) => studying(&keeping, &machine, &counter, inbox).await?,
            Leave::OwnShop => return Ok(()),
            Leave::Demo | Leave::DemoShop | Leave::Practice { .. } | Leave::Share(_) => {}
        }
    }
}

/// How a call was left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Left {
    /// For the day.
    ForTheDay,
    /// To be taken up again at once, with the machine read anew.
    ToReadAgain,
}

/// Works through one call until the thumb goes back to the day, or its machine must be read again.
async fn calling(
    keeping: &Keeping,
    opening: Opening,
    behind: Option<Behind>,
    mut set: Setting,
    inbox: &mut Inbox,
) -> Result<Left, String> {
    let Opening { machine, meter, settings, begin } = opening;
    let predictor = Predictor::new(&machine, meter);
    let held = keeping.load().await?;
    let damaged = held.damaged();
    if !damaged.is_empty() {
        tell(&Told::Damaged(damaged));
    }
    let pen = Pen::after(keeping.device(&mut browser::random).await?, &held.loaded);
    let sealed = (held.keys, held.records);
    let mut desk = Desk::open(&predictor, settings, pen, &held.loaded, sealed, behind, begin);
    let beside: Vec<JobId> = desk.beside().into_iter().filter(|job| held.away.jobs.contains(job)).collect();
    if !beside.is_empty() {
        desk.bring(filed(keeping, &beside).await?);
    }
    let pictures: Vec<RecordId> = desk.pictures().filter(|id| held.large.contains(id)).collect();
    desk.see(keeping.large(pictures).await?);
    loop {
        while let Some(owed) = desk.owes(&browser::now()?)? {
            match keeping.keep(&owed).await {
                Ok(()) => desk.kept(),
                Err(why) => {
                    desk.not_kept(&why);
                    break;
                }
            }
        }
        if desk.relabelled() {
            return Ok(Left::ToReadAgain);
        }
        set.show(desk.screen());
        match next_touch(&mut desk, inbox).await.ok_or("the page is gone")? {
            Touch::Day => return Ok(Left::ForTheDay),
            Touch::AsPdf(id) => set.ask(keeping, desk.page(&id)).await,
            touch => desk.touch(&touch, &mut browser::random),
        }
    }
}

/// Waits for the next touch, and foresees meanwhile what the next proposal will need.
async fn next_touch(desk: &mut Desk<'_, '_>, inbox: &mut Inbox) -> Option<Touch> {
    loop {
        browser::turn().await;
        if let Some(touch) = inbox.next().now_or_never() {
            return touch;
        }
        if !desk.foresee() {
            return inbox.next().await;
        }
    }
}
