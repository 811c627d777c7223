//! The drawing on its paper: pan by scrolling, larger and smaller by two fingers or buttons, terminals under the thumb.

use super::hands::Hands;
use super::ruler::RulerView;
use super::walk;
use leptos::html::Div;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::Drawing;
use std::collections::BTreeMap;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::Closure;
use web_sys::{Element, KeyboardEvent, MouseEvent, PointerEvent, ShadowRoot, ShadowRootInit, ShadowRootMode};

const SMALLEST: u32 = 100;
const LARGEST: u32 = 700;
const STEP: u32 = 75;
/// How the terminal looks that the keys are at: the picture's own style knows none.
const HERE: &str = "[data-here] .hit { stroke: currentColor; stroke-width: 3; fill-opacity: .2; }";

#[component]
pub(super) fn DrawingView(of: Drawing, hands: Hands) -> impl IntoView {
    let words = of.words.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    let probes = (!of.probes.is_empty()).then(|| {
        let signs = ["red + on ", "black - on "];
        let told = of.probes.iter().zip(signs).map(|(at, sign)| format!("{sign}{at}")).collect::<Vec<_>>().join(", ");
        view! {
            <p id="probes">{told}" "
                <button on:click=move |_| hands.touch(&Touch::LiftProbes)>"lift the probes"</button>
            </p>
        }
    });
    let take = of.take.into_iter().enumerate().map(|(at, take)| {
        let id = if at == 0 { "take-probes".to_owned() } else { format!("take-probes-{at}") };
        view! { <button id=id on:click=move |_| hands.answer(take.answer.clone())>{take.say}</button> }
    });
    let rulers = of.rulers.into_iter().enumerate().map(|(at, ruler)| {
        let id = if at == 0 { "probed".to_owned() } else { format!("probed-{at}") };
        view! { <RulerView ruler=ruler id=id/> }
    });
    let states = of.states.into_iter().map(|state| {
        let drawn = state.answer == of.state;
        view! { <option value=state.answer selected=drawn>{state.say}</option> }
    });
    let turn = move |event: web_sys::Event| hands.touch(&Touch::State(event_target_value(&event)));
    let folded = of.folded;
    let paper = NodeRef::<Div>::new();
    let find = move |event: web_sys::Event| show_part(paper, &event_target_value(&event));
    let scale = move |to: u32| hands.zoom.set(to.clamp(SMALLEST, LARGEST));
    view! {
        <label class="field"><span>"drawn"</span><select id="drawn-state" on:change=turn>{states.collect_view()}</select></label>
        <p class="soft">{of.note}</p>
        <div class="row">
            <input type="search" aria-label="find a part" placeholder="find a part" on:change=find/>
            <button aria-label="larger" on:click=move |_| scale(hands.zoom.get_untracked() + STEP)>"+"</button>
            <button aria-label="smaller" on:click=move |_| scale(hands.zoom.get_untracked().saturating_sub(STEP))>"-"</button>
            <button on:click=move |_| hands.touch(&Touch::Fold(!folded))>{if folded { "show all" } else { "fold away" }}</button>
        </div>
        <PaperView svg=of.svg hands=hands paper=paper/>
        {probes}
        {rulers.collect_view()}
        {take.collect_view()}
        <details><summary>"the drawing in words"</summary><ul>{words}</ul></details>
    }
}

/// The paper itself. The picture has a style of its own, which is kept from the page's by a shadow.
#[component]
fn PaperView(svg: String, hands: Hands, paper: NodeRef<Div>) -> impl IntoView {
    let sheet = NodeRef::<Div>::new();
    sheet.on_load(move |at| {
        let Ok(shadow) = at.attach_shadow(&ShadowRootInit::new(ShadowRootMode::Open)) else { return };
        shadow.set_inner_html(&format!("<style>{HERE}</style>{svg}"));
        let tapped = Closure::<dyn FnMut(MouseEvent)>::new(move |event: MouseEvent| {
            if let Some(terminal) = terminal_at(&event) {
                hands.touch(&Touch::Probe(terminal));
            }
        });
        // A picture that hears nothing still shows.
        let _ = shadow.add_event_listener_with_callback("click", tapped.as_ref().unchecked_ref());
        tapped.forget();
    });
    paper.on_load(move |at| {
        let (left, top) = hands.sight.get_value();
        request_animation_frame(move || {
            at.set_scroll_left(left);
            at.set_scroll_top(top);
            // Who walks by keys goes on walking after a probe was put down.
            if let Some(terminal) = hands.walked.get_value().filter(|_| hands.put_down.get_value()) {
                hands.put_down.set_value(false);
                walk::mark(&at, &terminal);
                // A page in the background takes no focus.
                let _ = at.focus();
            }
        });
    });
    let keyed = move |event: KeyboardEvent| {
        let Some(at) = paper.get_untracked() else { return };
        if let Some(way) = walk::way(&event.key()) {
            event.prevent_default();
            event.stop_propagation();
            if let Some(terminal) = walk::next(&at, hands.walked.get_value().as_deref(), way) {
                walk::mark(&at, &terminal);
                hands.walked.set_value(Some(terminal));
            }
        } else if let ("Enter" | " ", Some(terminal)) = (event.key().as_str(), hands.walked.get_value()) {
            event.prevent_default();
            event.stop_propagation();
            hands.put_down.set_value(true);
            hands.touch(&Touch::Probe(terminal));
        }
    };
    let scrolled = move |_| {
        if let Some(at) = paper.get_untracked() {
            hands.sight.set_value((at.scroll_left(), at.scroll_top()));
        }
    };
    // Where each finger is, and how far apart they were when the drawing was this large.
    let fingers = StoredValue::new(BTreeMap::<i32, (i32, i32)>::new());
    let began = StoredValue::new(None::<(f64, u32)>);
    let down = move |event: PointerEvent| {
        fingers.update_value(|fingers| {
            fingers.insert(event.pointer_id(), (event.client_x(), event.client_y()));
        });
        began.set_value(apart(&fingers.get_value()).map(|apart| (apart, hands.zoom.get_untracked())));
    };
    let moved = move |event: PointerEvent| {
        fingers.update_value(|fingers| {
            if let Some(at) = fingers.get_mut(&event.pointer_id()) {
                *at = (event.client_x(), event.client_y());
            }
        });
        let now = apart(&fingers.get_value());
        if let (Some(now), Some((then, zoom))) = (now, began.get_value()) {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "held to the range of the sizes"
            )]
            let to = (f64::from(zoom) * now / then.max(1.0)).clamp(f64::from(SMALLEST), f64::from(LARGEST)) as u32;
            hands.zoom.set(to);
        }
    };
    let up = move |event: PointerEvent| {
        fingers.update_value(|fingers| {
            fingers.remove(&event.pointer_id());
        });
        began.set_value(None);
    };
    view! {
        <div class="paper" id="drawing" tabindex="0" role="group" aria-label="ladder drawing" node_ref=paper
            aria-describedby="walking" on:keydown=keyed
            on:scroll=scrolled on:pointerdown=down on:pointermove=moved on:pointerup=up on:pointercancel=up>
            <div node_ref=sheet style=move || format!("width:{}%", hands.zoom.get())></div>
        </div>
        <p class="soft" id="walking" role="status">"With keys: arrows walk from terminal to terminal, Enter puts a probe down."</p>
    }
}

/// Gives how far apart two fingers are.
fn apart(fingers: &BTreeMap<i32, (i32, i32)>) -> Option<f64> {
    let mut at = fingers.values();
    let (one, two) = (at.next()?, at.next()?);
    let (x, y) = (f64::from(one.0 - two.0), f64::from(one.1 - two.1));
    Some((x * x + y * y).sqrt())
}

fn terminal_at(event: &MouseEvent) -> Option<String> {
    let at: Element = event.target()?.dyn_into().ok()?;
    at.closest("[data-terminal]").ok()??.get_attribute("data-terminal")
}

/// Brings a part of the drawing into sight, by its id or the beginning of it.
fn show_part(paper: NodeRef<Div>, typed: &str) {
    let wanted = typed.trim().to_lowercase();
    let shadow: Option<ShadowRoot> =
        paper.get_untracked().and_then(|paper| paper.first_element_child()).and_then(|sheet| sheet.shadow_root());
    let Some(shadow) = shadow.filter(|_| !wanted.is_empty()) else { return };
    let Ok(parts) = shadow.query_selector_all("[data-part]") else { return };
    for at in 0..parts.length() {
        let found = parts.item(at).and_then(|node| node.dyn_into::<Element>().ok());
        let Some(part) = found else { continue };
        if part.get_attribute("data-part").is_some_and(|id| id.to_lowercase().starts_with(&wanted)) {
            part.scroll_into_view();
            return;
        }
    }
}
