//! A machine as it is described: its drawing in every state, and how its zones warm up.

use super::drawing::DrawingView;
use super::fields::group_view;
use super::hands::Hands;
use super::heading::Heading;
use super::plot::PlotView;
use leptos::prelude::*;
use screens::screen::Screen;

#[component]
pub(super) fn MachineView(screen: Screen, hands: Hands) -> impl IntoView {
    let drawing = screen.drawing.map(|of| view! { <DrawingView of=of hands=hands/> });
    let curves = screen.curves.into_iter().map(|plot| view! { <PlotView plot=plot/> }).collect_view();
    let server = screen.typesets;
    let groups = screen.fields.into_iter().map(|group| group_view(group, hands, server)).collect_view();
    view! {
        <main class="study">
            <Heading say=screen.say hands=hands/>
            {drawing}
            {curves}
            {groups}
        </main>
    }
}
