//! What stands over the places outside of a call: what is shown, the way back to the day, and why the last touch was not
//! taken.

use super::hands::Hands;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::Notice;

/// What is shown, other buttons, and the way back to the day, unless one must stay.
#[component]
pub(super) fn Heading(
    say: String,
    hands: Hands,
    #[prop(optional)] stay: bool,
    #[prop(optional)] children: Option<Children>,
) -> impl IntoView {
    let back = (!stay).then(|| {
        view! { <button class="small" id="to-day" on:click=move |_| hands.touch(&Touch::Day)>"the day"</button> }
    });
    view! {
        <div class="row">
            <h1 id="say" tabindex="-1">{say}</h1>
            {children.map(|children| children())}
            {back}
        </div>
    }
}

/// Why the last touch was not taken, and what to do.
pub(super) fn notice_view(notice: Option<Notice>) -> impl IntoView {
    notice.map(|notice| {
        view! {
            <div class="notice" id="notice" role="alert"><p class="as-written"><b>{notice.say}</b></p><p>{notice.mend}</p></div>
        }
    })
}
