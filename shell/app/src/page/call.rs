//! A call: the line on top, the move, the pad, and the sheets.

use super::camera::Torch;
use super::hands::{Hands, Sheet, is_desk, speak, stay_awake};
use super::heading::notice_view;
use super::large::LargeView;
use super::pad::PadView;
use super::ruler::RulerView;
use super::sheets::SheetView;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Line, Panel, Place, Screen, Sort, Standing, Top};
use std::time::Duration;

/// How often the minutes so far are looked at.
const EVERY: Duration = Duration::from_secs(20);

#[component]
pub(super) fn CallView(screen: Screen, hands: Hands) -> impl IntoView {
    stay_awake();
    if hands.sheet.get_untracked() == Sheet::None {
        hands.let_down();
    }
    let ended = screen.place == Place::Ended;
    let say = screen.say.clone();
    let spoken = std::iter::once(screen.say.clone())
        .chain(screen.lines.iter().filter(|line| line.sort == Sort::Do).map(|line| line.say.clone()))
        .collect::<Vec<_>>()
        .join(". ");
    let cautions = screen.cautions.iter().map(panel).collect_view();
    let notice = notice_view(screen.notice.clone());
    let unexplained = (!screen.unexplained.is_empty()).then(|| {
        let sentences = screen.unexplained.iter().map(|say| view! { <p>{say.clone()}</p> }).collect_view();
        view! { <div class="notice" id="unexplained" role="status">{sentences}<p>"If you see what differs, say that it is not built like this."</p></div> }
    });
    let (first, rest): (Vec<Line>, Vec<Line>) =
        screen.lines.iter().cloned().partition(|line| !matches!(line.sort, Sort::Means | Sort::Otherwise));
    let last = screen.last.clone().map(|ruler| {
        let say = ruler.say.clone().unwrap_or_default();
        view! {
            <details class="last" open=is_desk()><summary id="last-read">{say}</summary><RulerView ruler=ruler id="last".to_owned()/></details>
        }
    });
    let ruler = screen.ruler.clone().map(|ruler| view! { <RulerView ruler=ruler id="asked".to_owned()/> });
    let more = (!rest.is_empty()).then(|| {
        view! {
            <details class="more"><summary>"what each outcome would mean, and what else could be done"</summary>
                {rest.iter().map(|line| line_view(line, hands)).collect_view()}
            </details>
        }
    });
    let (far, far_spoken) = (screen.clone(), spoken.clone());
    view! {
        {move || hands.large.get().then(|| view! { <LargeView screen=far.clone() spoken=far_spoken.clone() hands=hands/> })}
        <div class="call" hidden=move || hands.large.get()>
            <TopView top=screen.top.clone() hands=hands/>
            <div class="columns">
                <main class="move">
                    {notice}
                    {unexplained}
                    {cautions}
                    <h1 id="say" tabindex="-1" class:done=ended>{say}</h1>
                    <div aria-live="polite">{first.iter().map(|line| line_view(line, hands)).collect_view()}</div>
                    {ruler}
                    {more}
                    {last}
                    <div class="aside">
                        <button class="small" on:click=move |_| speak(&spoken)>"say it"</button>
                        <Torch/>
                        <button class="small" id="large" on:click=move |_| hands.large.set(true)>
                            "large letters"
                        </button>
                        <button class="small" id="hide" on:click=move |_| hands.hidden.update(|hidden| *hidden = !*hidden)>
                            {move || if hands.hidden.get() { "show prices and suspects" } else { "customer looks on" }}
                        </button>
                    </div>
                </main>
                <SheetView screen=screen.clone() hands=hands/>
            </div>
            <footer class="thumb">
                <PadView screen=screen.clone() hands=hands/>
                <Tabs screen=screen hands=hands/>
            </footer>
        </div>
    }
}

#[component]
fn TopView(top: Top, hands: Hands) -> impl IntoView {
    let stages = top
        .stages
        .into_iter()
        .map(|stage| {
            let (class, now) = match stage.standing {
                Standing::Done => ("done", None),
                Standing::Now => ("now", Some("step")),
                Standing::ToCome => ("to-come", None),
            };
            view! { <li class=class aria-current=now>{stage.say}</li> }
        })
        .collect_view();
    let since = top.since.map(|since| view! { <SoFar since=since/> });
    view! {
        <header class="top">
            <div class="who">
                <button class="small" id="to-day" on:click=move |_| hands.touch(&Touch::Day)>"the day"</button>
                <span class="what"><b>{top.who}</b>" " {top.machine}</span>
                {since}
            </div>
            <ol class="stages" aria-label="stages of the call">{stages}</ol>
            {top.note.map(|note| view! { <p class="soft note">{note}</p> })}
        </header>
    }
}

/// How long the visit has lasted. The engine has no clock: the page looks at its own.
#[component]
fn SoFar(since: String) -> impl IntoView {
    let began = minutes_at(since.split('[').next().unwrap_or_default());
    let now = RwSignal::new(js_sys::Date::now());
    let ticking = set_interval_with_handle(move || now.set(js_sys::Date::now()), EVERY);
    if let Ok(ticking) = ticking {
        on_cleanup(move || ticking.clear());
    }
    let on_the_wall = since.get(11..16).map(|wall| format!("since {wall}"));
    // A phone whose clock was put back has not gone back in time.
    let so_far =
        move || began.map(|began| format!("{:.0} min so far", (now.get() / 60_000.0 - began).max(0.0).floor()));
    view! { <span class="soft" id="so-far" title=on_the_wall>{so_far}</span> }
}

/// Gives minutes since 1970 of a time with its offset; `None` where it is no time.
fn minutes_at(time: &str) -> Option<f64> {
    let at = js_sys::Date::parse(time);
    at.is_finite().then_some(at / 60_000.0)
}

/// A hazard panel: sign, word, sentence.
fn panel(panel: &Panel) -> impl IntoView + use<> {
    let class = format!("hazard {}", panel.word.to_lowercase());
    view! {
        <div class=class>
            <svg class="sign" viewBox="0 0 24 22" aria-hidden="true">
                <path d="M12 1 L23 21 H1 Z"/><path class="mark" d="M12 8 V14 M12 17 V18"/>
            </svg>
            <p><b>{panel.word.clone()}</b>" " {panel.sentence.clone()}</p>
        </div>
    }
}

/// A line under the move. Prices and suspects are hidden while the customer looks on.
fn line_view(line: &Line, hands: Hands) -> impl IntoView + use<> {
    let (class, before) = match line.sort {
        Sort::Do => ("do", ""),
        Sort::Expect => ("expect", "expect: "),
        Sort::Means => ("means", ""),
        Sort::Why => ("why", "why: "),
        Sort::Otherwise => ("otherwise", ""),
        Sort::Notice => ("flag", ""),
        Sort::Plain => ("plain", ""),
    };
    let private = matches!(line.sort, Sort::Means | Sort::Why | Sort::Otherwise);
    let say = line.say.clone();
    view! { <p class=class hidden=move || private && hands.hidden.get()>{before}{say}</p> }
}

/// What pulls the sheets up, and undo.
#[component]
fn Tabs(screen: Screen, hands: Hands) -> impl IntoView {
    let tab = move |sheet: Sheet, id: &'static str, say: &'static str| {
        let pulled = move || hands.sheet.get() == sheet;
        let turn = move |_| hands.pull(if pulled() { Sheet::None } else { sheet });
        view! {
            <button id=id aria-expanded=move || pulled().to_string() class:pulled=pulled on:click=turn>{say}</button>
        }
    };
    let undo = screen.undo;
    let finding = !screen.suspects.is_empty();
    let photos = screen.photo_count > 0;
    view! {
        <nav class="tabs" aria-label="sheets">
            {tab(Sheet::Drawing, "tab-drawing", "drawing")}
            {finding.then(|| tab(Sheet::Suspects, "tab-suspects", "suspects"))}
            {tab(Sheet::History, "tab-history", "found")}
            {tab(Sheet::Papers, "tab-papers", "papers")}
            {photos.then(|| tab(Sheet::Photos, "tab-photos", "photos"))}
            {(!screen.ways.is_empty()).then(|| tab(Sheet::Ways, "tab-ways", "other"))}
            <button id="undo" disabled=!undo on:click=move |_| hands.touch(&Touch::Undo)>"undo"</button>
        </nav>
    }
}
