//! The sheets that are pulled up from the bottom edge; on a desk they stand beside the move.

use super::hands::{Hands, Sheet, hand_out};
use super::ruler::RulerView;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Drawing, Paper, Screen, Suspect, Way};
use wasm_bindgen::JsCast;
use web_sys::Element;

#[component]
pub(super) fn SheetView(screen: Screen, hands: Hands) -> impl IntoView {
    let suspects = screen.suspects.clone();
    let beside = (!suspects.is_empty()).then(|| view! {
        <aside class="beside" aria-label="suspects"><SuspectsView suspects=suspects hands=hands/></aside>
    });
    let sheet = move || {
        let (title, body) = match hands.sheet.get() {
            Sheet::None => return None,
            Sheet::Drawing => ("drawing", screen.drawing.clone().map(|of| drawing(of, hands).into_any())),
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
                    <button class="small" id="let-down" on:click=move |_| hands.pull(Sheet::None)>"close"</button>
                </div>
                {body}
            </section>
        })
    };
    view! { {sheet} {beside} }
}

#[component]
fn SuspectsView(suspects: Vec<Suspect>, hands: Hands) -> impl IntoView {
    let rows = suspects.into_iter().map(|suspect| {
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
    }).collect_view();
    view! {
        <p class="soft" hidden=move || !hands.hidden.get()>"hidden while the customer looks on"</p>
        <ol class="suspects" hidden=move || hands.hidden.get()>{rows}</ol>
    }
}

fn ways(ways: Vec<Way>, hands: Hands) -> impl IntoView {
    ways.into_iter().map(|way| {
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
                }.into_any()
            }
        }
    }).collect_view()
}

/// The drawing: pan by scrolling, larger and smaller by buttons or pinch, terminals under the thumb.
fn drawing(of: Drawing, hands: Hands) -> impl IntoView {
    let size = RwSignal::new(100_u32);
    let tapped = move |event: web_sys::MouseEvent| {
        let at = event.target().and_then(|at| at.dyn_into::<Element>().ok());
        let dot = at.and_then(|at| at.closest("[data-terminal]").ok().flatten());
        if let Some(terminal) = dot.and_then(|dot| dot.get_attribute("data-terminal")) {
            hands.touch(&Touch::Probe(terminal));
        }
    };
    let find = move |event: web_sys::Event| show_part(&event_target_value(&event));
    let words = of.words.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    let probes = (!of.probes.is_empty()).then(|| {
        let signs = ["red + on ", "black - on "];
        let told = of.probes.iter().zip(signs).map(|(at, sign)| format!("{sign}{at}")).collect::<Vec<_>>().join(", ");
        view! {
            <p>{told}" " <button class="small" on:click=move |_| hands.touch(&Touch::LiftProbes)>"lift the probes"</button></p>
        }
    });
    let take = of.take.map(|take| view! {
        <button class="main" id="take-probes" on:click=move |_| hands.answer(take.answer.clone())>{take.say}</button>
    });
    let folded = of.folded;
    view! {
        <p class="soft">"drawn: " {of.state}". Thick is what may be live. Tap two terminals to see what each suspect would show there."</p>
        <div class="row">
            <input type="search" aria-label="find a part" placeholder="find a part" on:change=find/>
            <button class="small" aria-label="larger" on:click=move |_| size.update(|size| *size = (*size + 75).min(700))>"+"</button>
            <button class="small" aria-label="smaller" on:click=move |_| size.update(|size| *size = size.saturating_sub(75).max(100))>"-"</button>
            <button class="small" on:click=move |_| hands.touch(&Touch::Fold(!folded))>
                {if folded { "show all" } else { "fold away" }}
            </button>
        </div>
        <div class="paper" id="drawing" tabindex="0" role="group" aria-label="ladder drawing">
            <div style=move || format!("width:{}%", size.get()) on:click=tapped inner_html=of.svg></div>
        </div>
        {probes}
        {of.ruler.map(|ruler| view! { <RulerView ruler=ruler id="probed".to_owned()/> })}
        {take}
        <details><summary>"the drawing in words"</summary><ul>{words}</ul></details>
    }
}

/// Brings a part of the drawing into sight, by its id or the beginning of it.
fn show_part(typed: &str) {
    let wanted = typed.trim().to_lowercase();
    let paper = web_sys::window().and_then(|w| w.document()).and_then(|d| d.get_element_by_id("drawing"));
    let Some(paper) = paper.filter(|_| !wanted.is_empty()) else { return };
    let Ok(parts) = paper.query_selector_all("[data-part]") else { return };
    for at in 0..parts.length() {
        let found = parts.item(at).and_then(|node| node.dyn_into::<Element>().ok());
        let Some(part) = found else { continue };
        if part.get_attribute("data-part").is_some_and(|id| id.to_lowercase().starts_with(&wanted)) {
            part.scroll_into_view();
            return;
        }
    }
}

fn papers(papers: Vec<Paper>) -> impl IntoView {
    let empty = papers.is_empty().then(|| view! { <p class="soft">"There is no paper yet."</p> });
    let each = papers.into_iter().map(|paper| {
        let (file, html) = (paper.file, paper.html);
        view! {
            <div class="row"><h3>{paper.title}</h3>
                <button class="small" on:click=move |_| hand_out(&file, &html)>"as a file"</button>
                <button class="small" on:click=move |_| print()>"print"</button>
            </div>
            <pre class="page">{paper.text}</pre>
        }
    }).collect_view();
    view! { {empty} {each} }
}

fn print() {
    if let Some(window) = web_sys::window() {
        // A browser without a printer says so itself.
        let _ = window.print();
    }
}
