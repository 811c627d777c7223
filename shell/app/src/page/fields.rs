//! Fields that are set one by one: the van, the settings, a machine's description.

use super::camera::{can_scan, scan};
use super::hands::{Hands, hand_out, read_text};
use super::heading::{Heading, notice_view};
use super::plot::PlotView;
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Field, Fields, Place, Screen, Setting};

#[component]
pub(super) fn FieldsView(screen: Screen, hands: Hands) -> impl IntoView {
    let server = screen.typesets;
    let groups = screen.fields.into_iter().map(|group| group_view(group, hands, server)).collect_view();
    let stay = screen.place == Place::Locked;
    let curves = screen.curves.into_iter().map(|plot| view! { <PlotView plot=plot/> }).collect_view();
    view! {
        <main class="day">
            <Heading say=screen.say hands=hands stay=stay/>
            {notice_view(screen.notice)}
            {groups}
            {curves}
        </main>
    }
}

/// `server`: the shop's server sets pages as PDF.
pub(super) fn group_view(group: Fields, hands: Hands, server: bool) -> impl IntoView {
    let title = group.title.clone();
    let rows = group.fields.into_iter().map(|field| field_view(field, hands, server)).collect_view();
    view! {
        <section class="fields" aria-label=title>
            <h2>{group.title}</h2>
            {group.note.map(|note| note.lines().map(|line| view! { <p class="soft">{line.to_owned()}</p> }).collect_view())}
            {rows}
        </section>
    }
}

fn field_view(field: Field, hands: Hands, server: bool) -> AnyView {
    let Field { id, say, value, note, set } = field;
    let send = {
        let id = id.clone();
        move |value: String| hands.touch(&Touch::Set { id: id.clone(), value })
    };
    match set {
        Setting::Typed => {
            let change = move |event| send(event_target_value(&event));
            view! {
                <label class="field"><span>{say}</span>
                    <span class="row"><input type="text" inputmode="decimal" autocomplete="off" data-field=id value=value on:change=change/>
                        <span class="unit">{note}</span></span>
                </label>
            }
            .into_any()
        }
        Setting::Words => {
            let change = move |event| send(event_target_value(&event));
            view! {
                <label class="field"><span>{say}<br/><span class="soft">{note}</span></span>
                    <span class="row"><input type="text" autocomplete="off" autocapitalize="none" data-field=id value=value on:change=change/></span>
                </label>
            }
            .into_any()
        }
        Setting::Scan => {
            let change = {
                let send = send.clone();
                move |event| send(event_target_value(&event))
            };
            let scan = can_scan().then(|| {
                let read = move |event| scan(&event, send.clone());
                view! { <label class="shutter">"scan"<input type="file" accept="image/*" capture="environment" on:change=read/></label> }
            });
            view! {
                <label class="field"><span>{say}<br/><span class="soft">{note}</span></span>
                    <span class="row"><input type="text" autocomplete="off" data-field=id value=value on:change=change/></span>
                </label>
                {scan}
            }
            .into_any()
        }
        Setting::Lines => {
            let change = move |event| send(event_target_value(&event));
            view! {
                <textarea class="lines" rows="10" autocomplete="off" autocapitalize="none" spellcheck="false" aria-label=say
                    data-field=id prop:value=value on:change=change></textarea>
            }
            .into_any()
        }
        Setting::OneOf(choices) => {
            let change = move |event| send(event_target_value(&event));
            let options = choices
                .into_iter()
                .map(|choice| {
                    let picked = choice.answer == value;
                    view! { <option value=choice.answer selected=picked>{choice.say}</option> }
                })
                .collect_view();
            view! {
                <label class="field"><span>{say}</span><select data-field=id on:change=change>{options}</select></label>
            }
            .into_any()
        }
        Setting::Shown => {
            let lines =
                note.lines().map(|line| view! { <br/><span class="soft">{line.to_owned()}</span> }).collect_view();
            view! {
                <div class="field" data-field=id><span>{say}{lines}</span><output>{value}</output></div>
            }
            .into_any()
        }
        Setting::Save(file) => {
            let as_pdf = (server && file.ends_with(".html")).then(|| {
                let (of, label) = (id.clone(), format!("{say}, as PDF"));
                let set = move |_| hands.touch(&Touch::AsPdf(of.clone()));
                view! { <button class="pdf" data-pdf=id.clone() aria-label=label on:click=set>"PDF"</button> }
            });
            let hand = move |_| hand_out(&file, &value);
            view! { <div class="row"><button class="choice" data-field=id on:click=hand>{say}</button>{as_pdf}</div> }
                .into_any()
        }
        Setting::Act => {
            view! { <button class="choice" data-field=id on:click=move |_| send(String::new())>{say}</button> }
                .into_any()
        }
        Setting::Choices(choices) => {
            let buttons = choices
                .into_iter()
                .map(|choice| {
                    let (picked, send) = (choice.answer == value, send.clone());
                    view! {
                        <button class="choice" class:picked=picked aria-pressed=picked.to_string()
                            on:click=move |_| send(choice.answer.clone())>{choice.say}</button>
                    }
                })
                .collect_view();
            let label = say.clone();
            view! {
                <div class="field" data-field=id role="group" aria-label=label>
                    <span>{say}</span><span class="row">{buttons}</span>
                </div>
            }
            .into_any()
        }
        Setting::Count => {
            let count: Option<u32> = value.parse().ok();
            let (less, more) = (send.clone(), send);
            let shown = count.map_or("not counted".to_owned(), |count| count.to_string());
            let (one_less, one_more) = (format!("one {say} less"), format!("one {say} more"));
            view! {
                <div class="field" data-field=id>
                    <span>{say}<br/><span class="soft">{note}</span></span>
                    <span class="row">
                        <button aria-label=one_less on:click=move |_| less(count.unwrap_or(1).saturating_sub(1).to_string())>"-"</button>
                        <output>{shown}</output>
                        <button aria-label=one_more on:click=move |_| more((count.unwrap_or(0) + 1).to_string())>"+"</button>
                    </span>
                </div>
            }
            .into_any()
        }
        Setting::File(none) => {
            let (read, empty) = (send.clone(), send);
            let none = none.map(|say| {
                let empty = empty.clone();
                view! { <button on:click=move |_| empty(String::new())>{say}</button> }
            });
            let change = move |event| read_text(&event, read.clone());
            view! {
                <div class="field">
                    <label for=id.clone()>{say}<br/><span class="soft">{note}</span></label>
                    <span class="row">
                        <input type="file" id=id accept=".toml,.csv,text/plain,text/csv" on:change=change/>
                        {none}
                    </span>
                </div>
            }
            .into_any()
        }
    }
}
