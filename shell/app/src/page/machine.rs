//! A machine as it is described: its drawing in every state, and how its zones warm up.

use super::drawing::DrawingView;
use super::hands::Hands;
use super::plot::PlotView;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::Screen;

#[component]
pub(super) fn MachineView(screen: Screen, hands: Hands) -> impl IntoView {
    let drawing = screen.drawing.map(|of| view! { <DrawingView of=of hands=hands/> });
    let curves = screen.curves.into_iter().map(|plot| view! { <PlotView plot=plot/> }).collect_view();
    view! {
        <main class="study">
            <div class="row">
                <h1 id="say" tabindex="-1">{screen.say}</h1>
                <button class="small" id="to-day" on:click=move |_| hands.touch(&Touch::Day)>"the day"</button>
            </div>
            {drawing}
            {curves}
        </main>
    }
}
