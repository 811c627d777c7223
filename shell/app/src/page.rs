//! The page: starts the worker, draws what it tells, hands it touches. Computes nothing of the trade.

#![expect(unreachable_pub, reason = "what a component's macro writes")]

mod back;
mod call;
mod camera;
mod day;
mod drawing;
mod fields;
mod hands;
mod heading;
mod keys;
mod large;
mod lesson;
mod machine;
mod pad;
mod plot;
mod ruler;
mod sheets;
mod signature;
mod walk;

use crate::told::Told;
use hands::Hands;
use leptos::prelude::*;
use screens::screen::{Place, Screen};
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use web_sys::{MessageEvent, Worker, WorkerOptions, WorkerType};

/// What the page knows.
#[derive(Clone, Copy, Debug)]
struct Shown {
    /// The last screen.
    screen: RwSignal<Option<Screen>>,
    /// How many screens were told: what waits for the next one can tell it from the last.
    count: RwSignal<u32>,
    /// Records that cannot be read, in words.
    damaged: RwSignal<Vec<String>>,
    /// Another tab writes the book.
    elsewhere: RwSignal<bool>,
    /// What no touch mends.
    trouble: RwSignal<Option<(String, String)>>,
    /// The browser would not promise to keep the book.
    not_persistent: RwSignal<bool>,
    /// A new version is ready.
    newer: RwSignal<bool>,
}

impl Shown {
    /// Shows the next screen. Where it says something else than the last, that is read out and the keys go to the page.
    fn next(self, screen: Screen) {
        let said = |shown: &Option<Screen>| shown.as_ref().map(|shown| (shown.place, shown.say.clone()));
        let before = self.screen.with_untracked(said);
        self.elsewhere.set(false);
        self.screen.set(Some(screen));
        self.count.update(|count| *count += 1);
        if self.screen.with_untracked(said) != before {
            hands::say_is_new();
        }
    }
}

/// Starts the page.
pub(crate) fn start() {
    let shown = Shown {
        screen: RwSignal::new(None),
        count: RwSignal::new(0),
        damaged: RwSignal::new(Vec::new()),
        elsewhere: RwSignal::new(false),
        trouble: RwSignal::new(None),
        not_persistent: RwSignal::new(false),
        newer: RwSignal::new(false),
    };
    let Some(worker) = begin_worker(shown) else {
        shown.trouble.set(Some((
            "this browser starts no worker".to_owned(),
            "open the app in a current browser, over https".to_owned(),
        )));
        leptos::mount::mount_to_body(move || view! { <Trouble shown=shown/> });
        return;
    };
    let hands = Hands::new(worker);
    keys::listen(shown.screen, hands);
    hands::keep_offline(shown.newer);
    leptos::mount::mount_to_body(move || view! { <App shown=shown hands=hands/> });
}

fn begin_worker(shown: Shown) -> Option<Worker> {
    let options = WorkerOptions::new();
    options.set_type(WorkerType::Module);
    let worker = Worker::new_with_options("./start.js", &options).ok()?;
    let heard = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let told = event.data().as_string().and_then(|text| serde_json::from_str::<Told>(&text).ok());
        match told {
            Some(Told::Screen(screen)) => shown.next(*screen),
            Some(Told::Damaged(lines)) => shown.damaged.set(lines),
            Some(Told::Elsewhere) => shown.elsewhere.set(true),
            Some(Told::Trouble { say, mend }) => shown.trouble.set(Some((say, mend))),
            Some(Told::File { name, base64 }) => hands::hand_out_bytes(&name, &base64),
            Some(Told::NotPersistent) => shown.not_persistent.set(true),
            None => {}
        }
    });
    worker.set_onmessage(Some(heard.as_ref().unchecked_ref()));
    heard.forget();
    let stopped = Closure::<dyn FnMut()>::new(move || {
        shown.trouble.set(Some((
            "the engine stopped: a fault of this program".to_owned(),
            "nothing that was kept is lost; load the page again to go on from there".to_owned(),
        )));
    });
    worker.set_onerror(Some(stopped.as_ref().unchecked_ref()));
    stopped.forget();
    Some(worker)
}

#[component]
fn App(shown: Shown, hands: Hands) -> impl IntoView {
    back::listen(shown.screen, hands);
    let body = move || {
        if shown.elsewhere.get() {
            return view! { <Elsewhere/> }.into_any();
        }
        match shown.screen.get() {
            None => view! { <main class="wait"><p role="status">"Opening the book."</p></main> }.into_any(),
            Some(screen) => match screen.place {
                Place::Day => {
                    let (newer, not_persistent) = (shown.newer, shown.not_persistent);
                    view! { <day::DayView screen=screen hands=hands newer=newer not_persistent=not_persistent/> }
                        .into_any()
                }
                Place::Call | Place::Ended => view! { <call::CallView screen=screen hands=hands/> }.into_any(),
                Place::Machine => view! { <machine::MachineView screen=screen hands=hands/> }.into_any(),
                Place::Practice => view! { <lesson::LessonView screen=screen hands=hands/> }.into_any(),
                Place::Van
                | Place::Settings
                | Place::Describe
                | Place::Customers
                | Place::Plan
                | Place::Money
                | Place::Months
                | Place::Devices
                | Place::Locked => view! { <fields::FieldsView screen=screen hands=hands/> }.into_any(),
            },
        }
    };
    view! {
        <div id="app" data-screens=move || shown.count.get().to_string()>
        <Trouble shown=shown/>
        {move || (!shown.damaged.with(Vec::is_empty)).then(|| view! { <Damaged lines=shown.damaged/> })}
        {body}
        </div>
    }
}

#[component]
fn Damaged(lines: RwSignal<Vec<String>>) -> impl IntoView {
    let rows = move || lines.get().into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    view! {
        <section class="notice" id="damaged-here" role="alert">
            <p>"Something in the book cannot be read. The rest is safe."</p>
            <ul>{rows}</ul>
            <button class="small" on:click=move |_| lines.set(Vec::new())>"understood"</button>
        </section>
    }
}

#[component]
fn Trouble(shown: Shown) -> impl IntoView {
    move || {
        shown.trouble.get().map(|(say, mend)| {
            view! {
                <div class="notice" id="trouble" role="alert"><p>{say}</p><p>{mend}</p></div>
            }
        })
    }
}

#[component]
fn Elsewhere() -> impl IntoView {
    view! {
        <main class="wait">
            <h1>"Open in another tab"</h1>
            <p role="status">
                "The book is written in another tab of this browser, and only one may write it. Close that one and this one "
                "goes on by itself. Nothing is lost."
            </p>
        </main>
    }
}
