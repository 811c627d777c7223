//! The sheets that are pulled up from the bottom edge; on a desk they stand beside the move.

use super::drawing::DrawingView;
use super::hands::{Hands, Sheet, hand_out};
use leptos::prelude::*;
use screens::screen::{Paper, Screen, Suspect, Way};

#[component]
pub(super) fn SheetView(screen: Screen, hands: Hands) -> impl IntoView {
    let suspects = screen.suspects.clone();
    let beside = (!suspects.is_empty()).then(|| {
        view! {
            <aside class="beside" aria-label="suspects"><SuspectsView suspects=suspects hands=hands/></aside>
        }
    });
    let sheet = move || {
        let (title, body) = match hands.sheet.get() {
            Sheet::None => return None,
            Sheet::Drawing => {
                ("drawing", screen.drawing.clone().map(|of| view! { <DrawingView of=of hands=hands/> }.into_any()))
            }
            Sheet::Suspects => {
                let suspects = screen.suspects.clone();
                ("suspects", Some(view! { <SuspectsView suspects=suspects hands=hands/> }.into_any()))
            }
            Sheet::Ways => ("something else", Some(ways(screen.ways.clone(), hands).into_any())),
            Sheet::History => {
                let lines = screen.history.iter().map(|line| view! { <li>{line.clone()}</li> }).collect_view();
                ("found so far", Some(view! { <ol class="history">{lines}</ol> }.into_any()))
            }
            Sheet::Papers => ("papers", Some(papers(screen.papers.clone()).into_any())),
        };
        Some(view! {
            <section class="sheet" aria-label=title>
                <div class="row"><h2>{title}</h2>
                    <button class="small" id="let-down" on:click=move |_| hands.let_down()>"close"</button>
                </div>
                {body}
            </section>
        })
    };
    view! { {sheet} {beside} }
}

#[component]
fn SuspectsView(suspects: Vec<Suspect>, hands: Hands) -> impl IntoView {
    let rows = suspects
        .into_iter()
        .map(|suspect| {
            let percent = |share: f64| format!("width:{:.1}%", 100.0 * share);
            let reasons = suspect.reasons.into_iter().map(|reason| view! { <li>{reason}</li> }).collect_view();
            view! {
                <li>
                    <details>
                        <summary>
                            <span class="name">{suspect.say}</span>" " <span class="odds">{suspect.odds}</span>
                            <span class="bar" aria-hidden="true">
                                <span class="ghost" style=percent(suspect.before)></span>
                                <span class="now" style=percent(suspect.share)></span>
                            </span>
                        </summary>
                        <ul>{reasons}</ul>
                    </details>
                </li>
            }
        })
        .collect_view();
    view! {
        <p class="soft" hidden=move || !hands.hidden.get()>"hidden while the customer looks on"</p>
        <ol class="suspects" hidden=move || hands.hidden.get()>{rows}</ol>
    }
}

fn ways(ways: Vec<Way>, hands: Hands) -> impl IntoView {
    ways.into_iter()
        .map(|way| {
            let written = RwSignal::new(String::new());
            let answer = way.answer.clone();
            let go = move || hands.answer(format!("{answer}{}", written.get_untracked()));
            match way.words {
                None => view! { <button class="choice" on:click=move |_| go()>{way.say}</button> }.into_any(),
                Some(hint) => {
                    let label = format!("{}: {hint}", way.say);
                    view! {
                        <div class="way">
                            <label>{label}
                                <input type="text" autocomplete="off"
                                    on:input=move |event| written.set(event_target_value(&event))/>
                            </label>
                            <button class="choice" on:click=move |_| go()>"say so"</button>
                        </div>
                    }
                    .into_any()
                }
            }
        })
        .collect_view()
}

fn papers(papers: Vec<Paper>) -> impl IntoView {
    let empty = papers.is_empty().then(|| view! { <p class="soft">"There is no paper yet."</p> });
    let each = papers
        .into_iter()
        .map(|paper| {
            let (file, html) = (paper.file, paper.html);
            view! {
                <div class="row"><h3>{paper.title}</h3>
                    <button class="small" on:click=move |_| hand_out(&file, &html)>"as a file"</button>
                    <button class="small" on:click=move |_| print()>"print"</button>
                </div>
                <pre class="page">{paper.text}</pre>
            }
        })
        .collect_view();
    view! { {empty} {each} }
}

fn print() {
    if let Some(window) = web_sys::window() {
        // A browser without a printer says so itself.
        let _ = window.print();
    }
}
