//! The back gesture: one step back in the work, not out of the call.

use super::hands::{Hands, Sheet};
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Place, Screen};
use wasm_bindgen::JsValue;
use web_sys::Window;

/// Listens to the back gesture as long as the page lives. Within a call one entry of the history stands before the page, so
/// that going back meets it instead of leaving; on the day the gesture leaves the app as everywhere.
pub(super) fn listen(screen: RwSignal<Option<Screen>>, hands: Hands) {
    let Some(window) = web_sys::window() else { return };
    let within = move || screen.with(|shown| shown.as_ref().is_some_and(|shown| shown.place != Place::Day));
    let entered = window.clone();
    Effect::new(move |was: Option<bool>| {
        let now = within();
        if now && was != Some(true) {
            stand_before(&entered);
        }
        now
    });
    let heard = window_event_listener(leptos::ev::popstate, move |_| {
        let undo = screen.with_untracked(|shown| shown.as_ref().is_some_and(|shown| shown.undo));
        let place = screen.with_untracked(|shown| shown.as_ref().map(|shown| shown.place));
        if matches!(place, None | Some(Place::Day)) {
            return;
        }
        if hands.sheet.get_untracked() != Sheet::None && !super::hands::is_desk() {
            hands.let_down();
        } else if hands.large.get_untracked() {
            hands.large.set(false);
        } else if undo {
            hands.touch(&Touch::Undo);
        } else {
            hands.touch(&Touch::Day);
            return;
        }
        stand_before(&window);
    });
    // Listens until the page is closed.
    std::mem::forget(heard);
}

fn stand_before(window: &Window) {
    // Without a history the gesture leaves the page; the call is kept and comes back at the same place.
    let _ = window.history().and_then(|history| history.push_state_with_url(&JsValue::NULL, "", None));
}
