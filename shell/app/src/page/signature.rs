//! A field to sign in with a finger, a pen or a mouse, and the name beside it.

use super::hands::Hands;
use super::pad::buttons;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::Choice;
use wasm_bindgen::JsCast;
use web_sys::{Element, PointerEvent};

/// Steps of the field that a stroke moves on before a point is kept: a quick hand leaves more points than a line needs.
const STEP: u16 = 6;

/// What a hand has written so far: strokes, each its points in the field's numbers.
type Written = Vec<Vec<(u16, u16)>>;

#[component]
pub(super) fn Signature(field: (u16, u16), most_points: usize, instead: Vec<Choice>, hands: Hands) -> impl IntoView {
    let name = RwSignal::new(String::new());
    let written = RwSignal::new(Written::new());
    let down = RwSignal::new(false);
    let begin = move |event: PointerEvent| {
        event.prevent_default();
        let Some((on, at)) = place(&event, field) else { return };
        // The stroke stays ours when the finger slips over the edge.
        drop(on.set_pointer_capture(event.pointer_id()));
        down.set(true);
        written.update(|written| written.push(vec![at]));
    };
    let go_on = move |event: PointerEvent| {
        let Some((_, at)) = place(&event, field).filter(|_| down.get_untracked()) else { return };
        written.update(|written| {
            let room = written.iter().map(Vec::len).sum::<usize>() < most_points;
            let Some(stroke) = written.last_mut().filter(|_| room) else { return };
            let moved = |last: &(u16, u16)| last.0.abs_diff(at.0) >= STEP || last.1.abs_diff(at.1) >= STEP;
            if stroke.last().is_none_or(moved) {
                stroke.push(at);
            }
        });
    };
    let take = move || {
        let strokes = written.with_untracked(|written| written.iter().map(|stroke| points(stroke)).collect::<Vec<_>>());
        let name = name.get_untracked().trim().to_owned();
        hands.touch(&Touch::Sign { name, strokes: strokes.join(";") });
    };
    let lines = move || {
        let line = |stroke: &Vec<(u16, u16)>| view! { <polyline points=points(stroke)/> };
        written.with(|written| written.iter().map(line).collect_view())
    };
    let (width, height) = field;
    view! {
        <div class="words">
            <label for="field-0">"name of the one who signs"</label>
            <input id="field-0" type="text" autocomplete="off"
                on:input=move |event| name.set(event_target_value(&event))
                on:keydown=move |event| if event.key() == "Enter" { take(); }
            />
            <span class="soft" id="sign-here">"sign here with a finger, or leave it blank: the name alone is taken too"</span>
            <svg class="signature" id="signature" viewBox=format!("0 0 {width} {height}") role="img" aria-labelledby="sign-here"
                on:pointerdown=begin on:pointermove=go_on
                on:pointerup=move |_| down.set(false)
                on:pointercancel=move |_| down.set(false)
            >{lines}</svg>
        </div>
        <div class="row">
            <button class="choice" on:click=move |_| written.set(Written::new())>"clear"</button>
            {buttons(instead, hands)}
            <button class="main" id="main-button" on:click=move |_| take()>"take it"</button>
        </div>
    }
}

/// Writes a stroke's points as they are kept and drawn.
fn points(stroke: &[(u16, u16)]) -> String {
    stroke.iter().map(|(x, y)| format!("{x},{y}")).collect::<Vec<_>>().join(" ")
}

/// Gives the field and where in it the pointer is, in the field's numbers.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held between nothing and the field's size"
)]
fn place(event: &PointerEvent, (width, height): (u16, u16)) -> Option<(Element, (u16, u16))> {
    let on: Element = event.current_target()?.dyn_into().ok()?;
    let at = on.get_bounding_client_rect();
    let scaled =
        |from: f64, length: f64, most: u16| ((from / length) * f64::from(most)).clamp(0.0, f64::from(most)) as u16;
    let x = scaled(f64::from(event.client_x()) - at.x(), at.width(), width);
    let y = scaled(f64::from(event.client_y()) - at.y(), at.height(), height);
    Some((on, (x, y)))
}
