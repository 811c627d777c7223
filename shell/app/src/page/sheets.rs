//! The sheets that are pulled up from the bottom edge; on a desk they stand beside the move.

use super::camera::PhotosView;
use super::drawing::DrawingView;
use super::fields::group_view;
use super::hands::{Hands, Sheet, hand_out};
use super::plot::PlotView;
use leptos::html::Iframe;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Paper, Plot, Screen, Suspect, Way};
use web_sys::HtmlElement;

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
                let curves = curves(screen.curves.clone(), hands);
                ("found so far", Some(view! { <ol class="history" reversed=true>{lines}</ol> {curves} }.into_any()))
            }
            Sheet::Papers => {
                let plots =
                    screen.curves.clone().into_iter().map(|plot| view! { <PlotView plot=plot/> }).collect_view();
                let server = screen.typesets;
                let groups =
                    screen.fields.clone().into_iter().map(|group| group_view(group, hands, server)).collect_view();
                let papers = papers(screen.papers.clone(), screen.typesets.then_some(hands));
                ("papers", Some(view! { {plots} {papers} {groups} }.into_any()))
            }
            Sheet::Photos => {
                let photos = screen.photos.clone();
                ("photos", Some(view! { <PhotosView photos=photos hands=hands/> }.into_any()))
            }
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

/// The curves; those of the suspects are hidden while the customer looks on, as the suspects are.
fn curves(curves: Vec<Plot>, hands: Hands) -> impl IntoView {
    let each = curves.into_iter().map(|plot| view! { <PlotView plot=plot/> }).collect_view();
    view! {
        <div hidden=move || hands.hidden.get()>{each}</div>
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

/// `server` are the hands where the shop's server sets pages.
fn papers(papers: Vec<Paper>, server: Option<Hands>) -> impl IntoView {
    let empty = papers.is_empty().then(|| view! { <p class="soft">"There is no paper yet."</p> });
    let each = papers.into_iter().map(|paper| view! { <PaperView paper=paper server=server/> }).collect_view();
    view! { {empty} {each} }
}

/// A paper as it will be printed, in a frame of its own: nothing of the page around it gets onto it.
#[component]
fn PaperView(paper: Paper, server: Option<Hands>) -> impl IntoView {
    let frame = NodeRef::<Iframe>::new();
    let fit = move |_| {
        let Some(frame) = frame.get_untracked() else { return };
        let height = frame.content_document().and_then(|page| page.document_element()).map(|page| page.scroll_height());
        if let Some(height) = height {
            // A frame that cannot be made higher scrolls.
            let _ = HtmlElement::style(&frame).set_property("height", &format!("{}px", height + 4));
        }
    };
    let print = move |_| {
        if let Some(window) = frame.get_untracked().and_then(|frame| frame.content_window()) {
            // A browser without a printer says so itself.
            let _ = window.print();
        }
    };
    let (file, html, title) = (format!("{}.html", paper.id), paper.html.clone(), paper.title.clone());
    let as_pdf = server.map(|hands| {
        let set = move |_| hands.touch(&Touch::AsPdf(paper.id.clone()));
        view! { <button class="small" on:click=set>"as PDF"</button> }
    });
    view! {
        <div class="row"><h3>{paper.title}</h3>
            <button class="small" on:click=move |_| hand_out(&file, &html)>"as a file"</button>
            {as_pdf}
            <button class="small" on:click=print>"print"</button>
        </div>
        <iframe class="page" title=title sandbox="allow-same-origin allow-modals" srcdoc=paper.html node_ref=frame on:load=fit></iframe>
    }
}
