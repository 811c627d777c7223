//! The keyboard: digits go to the pad from anywhere (a choice by its place), Enter takes, U takes back (on the reading pad
//! only while nothing is typed: there it is also micro), Escape lets a sheet down. What must be held is held with its own
//! button.

use super::hands::Hands;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Pad, Screen};
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlElement, KeyboardEvent};

/// Listens to the keyboard as long as the page lives.
pub(super) fn listen(screen: RwSignal<Option<Screen>>, hands: Hands) {
    let heard = window_event_listener(leptos::ev::keydown, move |event: KeyboardEvent| {
        let in_field = event
            .target()
            .and_then(|at| at.dyn_into::<Element>().ok())
            .is_some_and(|at| matches!(at.tag_name().as_str(), "INPUT" | "TEXTAREA" | "SELECT"));
        if event.ctrl_key() || event.meta_key() || event.alt_key() || in_field {
            return;
        }
        let key = event.key();
        let pad = screen.with_untracked(|shown| shown.as_ref().map(|shown| shown.pad.clone()));
        let offered = screen.with_untracked(|shown| shown.as_ref().is_some_and(|shown| shown.offered.is_some()));
        let reading = matches!(pad, Some(Pad::Reading { .. }));
        match key.as_str() {
            "Escape" => hands.let_down(),
            "Backspace" if reading => hands.delete_last(),
            // On a button Enter presses it.
            // What makes something live is held, never pressed.
            "Enter" if !on_button(&event) && !matches!(pad, Some(Pad::Button { hold: true, .. })) => {
                if reading || offered {
                    take(hands);
                } else {
                    press("main-button");
                }
            }
            "u" | "U" if !reading || hands.typed.with_untracked(String::is_empty) => hands.touch(&Touch::Undo),
            _ if reading && is_figure_or_unit(&key) => {
                event.prevent_default();
                hands.typed.update(|typed| typed.push_str(&key));
            }
            digit if choice_at(pad.as_ref(), digit).is_some() => {
                hands.answer(choice_at(pad.as_ref(), digit).unwrap_or_default());
            }
            _ => {}
        }
    });
    // Listens until the page is closed.
    std::mem::forget(heard);
}

/// Says whether a key belongs on the reading pad: `15.2`, `OL`, `4k7`, `3.3 mV`.
fn is_figure_or_unit(key: &str) -> bool {
    let mut letters = key.chars();
    let one = letters.next().filter(|_| letters.next().is_none());
    one.is_some_and(|letter| letter.is_alphanumeric() || " .,-+\u{b5}\u{b0}".contains(letter))
}

/// Gives what the choice of this place answers, from 1.
fn choice_at(pad: Option<&Pad>, digit: &str) -> Option<String> {
    let Some(Pad::Choices(choices)) = pad else { return None };
    let at: usize = digit.parse().ok()?;
    choices.get(at.checked_sub(1)?).map(|choice| choice.answer.clone())
}

fn on_button(event: &KeyboardEvent) -> bool {
    let at = event.target().and_then(|at| at.dyn_into::<Element>().ok());
    at.is_some_and(|at| matches!(at.tag_name().as_str(), "BUTTON" | "A" | "SUMMARY"))
}

/// Takes what stands on the pad; with nothing typed, what the demo offers.
pub(super) fn take(hands: Hands) {
    let typed = hands.typed.get_untracked();
    if typed.trim().is_empty() {
        hands.touch(&Touch::TakeOffered);
    } else {
        hands.answer(typed);
    }
}

fn press(id: &str) {
    let found = web_sys::window().and_then(|window| window.document()).and_then(|d| d.get_element_by_id(id));
    if let Some(button) = found.and_then(|found| found.dyn_into::<HtmlElement>().ok()) {
        button.click();
    }
}
