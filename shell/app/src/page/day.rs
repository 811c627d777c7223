//! The day: what goes on, what waits, a new call.

use super::hands::{Hands, take_newer};
use super::heading::notice_view;
use leptos::prelude::*;
use rehearsal::practice::Difficulty;
use screens::Touch;
use screens::screen::{Choice, Screen};

#[component]
pub(super) fn DayView(
    screen: Screen,
    hands: Hands,
    newer: RwSignal<bool>,
    not_persistent: RwSignal<bool>,
) -> impl IntoView {
    let day = screen.day.unwrap_or_default();
    let damaged = (!day.damaged.is_empty()).then(|| {
        let lines = day.damaged.iter().map(|line| view! { <li>{line.clone()}</li> }).collect_view();
        view! {
            <section class="notice" id="damaged" role="alert">
                <p>"Something in the book cannot be read. The rest is safe."</p>
                <ul>{lines}</ul>
            </section>
        }
    });
    let go_on = day.unfinished.map(|who| {
        view! {
            <button class="main" id="main-button" on:click=move |_| hands.touch(&Touch::GoOn)>
                "go on with " {who}
            </button>
        }
    });
    let waiting = day
        .waiting
        .into_iter()
        .enumerate()
        .map(|(at, say)| {
            view! {
                <button class="choice" on:click=move |_| hands.touch(&Touch::Visit { at })>{say}</button>
            }
        })
        .collect_view();
    let looked = day.machines.clone().into_iter().map(|machine| {
        let id = machine.answer;
        view! {
            <button class="choice" data-machine=id.clone() on:click=move |_| hands.touch(&Touch::Machine { machine: id.clone() })>
                {machine.say}
            </button>
        }
    });
    let practice = day.machines.clone().into_iter().map(|machine| practice(machine, hands));
    let machines = day
        .machines
        .into_iter()
        .map(|machine| {
            let id = machine.answer;
            view! {
                <button class="choice" on:click=move |_| hands.touch(&Touch::NewCall { machine: id.clone() })>
                    {machine.say}
                </button>
            }
        })
        .collect_view();
    let own = screen.top.note.clone().map(|note| {
        view! {
            <p class="soft">{note}</p>
            <button class="choice" id="own-shop" on:click=move |_| hands.touch(&Touch::OwnShop)>"back to your own shop"</button>
        }
    });
    let try_it = screen.top.note.is_none().then(move || {
        view! {
            <h2>"Try it"</h2>
            <button class="choice" id="demo" on:click=move |_| hands.touch(&Touch::Demo)>
                "the demo: an invented shop's call on a dryer that tumbles and stays cold"
            </button>
            <button class="choice" id="demo-shop" on:click=move |_| hands.touch(&Touch::DemoShop)>
                "the demo's shop: plan, load, work and bill an invented Monday"
            </button>
            <details class="group" id="practice"><summary>"practise on a hidden fault"</summary>{practice.collect_view()}</details>
            <details class="group" id="machines"><summary>"look at a machine"</summary><div class="choices">{looked.collect_view()}</div></details>
        }
    });
    view! {
        <main class="day">
            <h1 id="say" tabindex="-1">{screen.say}</h1>
            {notice_view(screen.notice)}
            {damaged}
            {move || not_persistent.get().then(|| view! {
                <p class="notice" id="not-persistent" role="status">
                    "The browser may clear the book when room gets short. Install the app, or export the records. "
                    <button on:click=move |_| not_persistent.set(false)>"understood"</button>
                </p>
            })}
            {go_on}
            {waiting}
            <details class="group" id="new-call"><summary>"a new call: on which machine?"</summary><div class="choices">{machines}</div></details>
            {own}
            {try_it}
            <h2>"The shop"</h2>
            <div class="row">
                <button class="choice" id="plan" on:click=move |_| hands.touch(&Touch::Plan)>"plan a day"</button>
                <button class="choice" id="customers" on:click=move |_| hands.touch(&Touch::Customers)>"customers"</button>
                <button class="choice" id="money" on:click=move |_| hands.touch(&Touch::Money)>"money"</button>
                <button class="choice" id="months" on:click=move |_| hands.touch(&Touch::Months)>"looking back"</button>
                <button class="choice" id="devices" on:click=move |_| hands.touch(&Touch::Devices)>"devices"</button>
                <button class="choice" id="van" on:click=move |_| hands.touch(&Touch::Van)>"the van"</button>
                <button class="choice" id="describe" on:click=move |_| hands.touch(&Touch::Describe)>"describe a machine"</button>
                <button class="choice" id="settings" on:click=move |_| hands.touch(&Touch::Settings)>"settings"</button>
            </div>
            <a class="choice" id="guide" href="guide.html">"the guide"</a>
            <p class="soft">{format!("{} jobs closed in this book. Everything stays on this device.", day.closed)}</p>
            {move || newer.get().then(|| view! {
                <button class="choice" id="newer" on:click=move |_| take_newer()>"a new version is ready: take it now"</button>
            })}
        </main>
    }
}

fn practice(machine: Choice, hands: Hands) -> impl IntoView {
    let buttons = Difficulty::ALL.map(|difficulty| {
        let machine = machine.answer.clone();
        let touch = Touch::Practice { machine, difficulty };
        view! { <button class="choice" on:click=move |_| hands.touch(&touch)>{difficulty.word()}</button> }
    });
    view! { <p>{machine.say}</p><div class="row" data-lesson=machine.answer>{buttons.to_vec()}</div> }
}
