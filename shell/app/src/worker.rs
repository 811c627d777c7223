//! The worker: book, engine and screens. Takes touches, keeps what is owed, then tells what is shown.

use crate::browser;
use crate::keeping::{Held, Keeping};
use crate::told::Told;
use book::{Body, Checksum, Content, Event, MachineFile, Pen, ShopFact};
use call::{Settings, unfinished, waiting};
use futures_channel::mpsc::{UnboundedReceiver, unbounded};
use futures_util::StreamExt;
use machine::Machine;
use prediction::{Meter, Predictor};
use screens::shipped::{DEMO, DEMO_SEED, text_of};
use screens::{Begin, Desk, Touch};
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use web_sys::{DedicatedWorkerGlobalScope, MessageEvent};

/// The shop's own book, and the demo's.
const OWN: &str = "callwright";
const OF_DEMO: &str = "callwright-demo";
/// The fact that says where one was, and what it says on the day and in the demo; else it is the machine of a call.
const PLACE: &str = "place";
const ON_DAY: &str = "day";
const IN_DEMO: &str = "demo";

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
    let own = Keeping::open(OWN).await?;
    let mut at = own.fact(PLACE).await?.unwrap_or_else(|| ON_DAY.to_owned());
    loop {
        let (next, begin) = match at.as_str() {
            ON_DAY => day(&own, &mut inbox).await?,
            there => (there.to_owned(), Begin::GoOn),
        };
        stand_at(&own, &next).await;
        if next == IN_DEMO {
            demo(&mut inbox).await?;
        } else {
            calling(&own, &next, None, begin, &mut inbox).await?;
        }
        ON_DAY.clone_into(&mut at);
        stand_at(&own, ON_DAY).await;
    }
}

/// Remembers where one is. Where even that finds no room, the call's own first record says so.
async fn stand_at(own: &Keeping, place: &str) {
    drop(own.note(PLACE, place).await);
}

/// Shows the day until a call is begun; gives the machine's id, or the demo, and how it begins.
async fn day(own: &Keeping, inbox: &mut Inbox) -> Result<(String, Begin), String> {
    let held = own.load().await?;
    let damaged = held.damaged();
    let events = &held.loaded.events;
    tell(&Told::Screen(Box::new(screens::day::screen(events, &damaged, &|events| name_of(&held, events)))));
    loop {
        let machine_of = |events: &[Event]| machine_of(events).unwrap_or_else(|| DEMO.to_owned());
        match inbox.next().await.ok_or("the page is gone")? {
            Touch::NewCall { machine } => return Ok((machine, Begin::Fresh)),
            Touch::Demo => return Ok((IN_DEMO.to_owned(), Begin::GoOn)),
            Touch::GoOn => {
                if let Some(of) = unfinished(events) {
                    return Ok((machine_of(&of.events), Begin::GoOn));
                }
            }
            Touch::Visit { at } => {
                if let Some(of) = waiting(events).into_iter().nth(at) {
                    return Ok((machine_of(&of.events), Begin::Visit(at)));
                }
            }
            _ => {}
        }
    }
}

/// Plays the demo in a book of its own: on from where it was broken off, else afresh.
async fn demo(inbox: &mut Inbox) -> Result<(), String> {
    let mut keeping = Keeping::open(OF_DEMO).await?;
    let broken_off = unfinished(&keeping.load().await?.loaded.events).is_some();
    if !broken_off {
        drop(keeping);
        Keeping::throw_away(OF_DEMO).await?;
        keeping = Keeping::open(OF_DEMO).await?;
    }
    let begin = if broken_off { Begin::GoOn } else { Begin::Fresh };
    calling(&keeping, DEMO, Some(DEMO_SEED), begin, inbox).await
}

/// Works through one call until the thumb goes back to the day.
async fn calling(
    keeping: &Keeping,
    id: &str,
    demo: Option<u64>,
    begin: Begin,
    inbox: &mut Inbox,
) -> Result<(), String> {
    let (machine, text) = shipped(id)?;
    let predictor = Predictor::new(&machine, Meter::ordinary());
    let held = keeping.load().await?;
    let damaged = held.damaged();
    if !damaged.is_empty() {
        tell(&Told::Damaged(damaged));
    }
    let pen = Pen::after(keeping.device(&mut browser::random).await?, &held.loaded);
    let mut settings = settings(&machine, text)?;
    settings.full_van = demo.is_some();
    let sealed = (held.keys, held.records);
    let mut desk = Desk::open(&predictor, settings, pen, &held.loaded, sealed, demo, begin);
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
        tell(&Told::Screen(Box::new(desk.screen())));
        match inbox.next().await.ok_or("the page is gone")? {
            Touch::Day => return Ok(()),
            touch => desk.touch(&touch, &mut browser::random),
        }
    }
}

fn shipped(id: &str) -> Result<(Machine, &'static str), String> {
    let text = text_of(id).ok_or_else(|| format!("there is no machine `{id}` in this version of the app"))?;
    let read = machine::read(text).machine;
    Ok((read.ok_or_else(|| format!("the shipped machine `{id}` cannot be read"))?, text))
}

fn settings(machine: &Machine, text: &str) -> Result<Settings, String> {
    let file = MachineFile { machine: machine.id.clone(), hash: Checksum::of(text.as_bytes()).to_string() };
    let currency = machine.currency.parse().map_err(|error: book::BadCurrency| error.to_string())?;
    Ok(Settings::usual(file, currency))
}

/// Gives the machine that the events of a job name.
fn machine_of(events: &[Event]) -> Option<String> {
    events.iter().rev().find_map(|event| match event.body() {
        Body::Shop(ShopFact::ApplianceAdded(added)) => added.machine.as_ref().map(|file| file.machine.clone()),
        _ => None,
    })
}

/// Gives the customer's name, where his record can be opened.
fn name_of(held: &Held, events: &[Event]) -> Option<String> {
    let (key, record) = events.iter().find_map(|event| match event.body() {
        Body::Shop(ShopFact::CustomerAdded(added)) => Some((added.key, added.record)),
        _ => None,
    })?;
    let (_, key) = held.keys.iter().find(|(id, _)| *id == key)?;
    let sealed = held.records.iter().find(|of| of.id == record)?;
    let person = Content::from_plain(&sealed.open(key).ok()?).ok()?.to_person().ok()?;
    Some(person.name).filter(|name| !name.is_empty())
}
