//! What the page does for the hands: passes touches on, speaks, keeps the screen awake, hands out files, stays offline.

use base64ct::{Base64, Encoding};
use js_sys::{Array, Function, Object, Promise, Reflect, Uint8Array};
use leptos::prelude::*;
use screens::Touch;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::{Closure, JsValue};
use web_sys::{
    Blob, BlobPropertyBag, File, FilePropertyBag, HtmlAnchorElement, HtmlElement, HtmlInputElement, Url, Worker,
};

/// The way to the worker, and what is only of this page.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hands {
    worker: StoredValue<Worker, LocalStorage>,
    /// The sheet that is pulled up.
    pub(crate) sheet: RwSignal<Sheet>,
    /// What stands on the reading pad.
    pub(crate) typed: RwSignal<String>,
    /// Prices and suspects are hidden: the customer looks on.
    pub(crate) hidden: RwSignal<bool>,
    /// Letters that can be read from two steps off.
    pub(crate) large: RwSignal<bool>,
    /// How large the drawing is, percent of its place; and what part of it is in sight.
    pub(crate) zoom: RwSignal<u32>,
    pub(crate) sight: StoredValue<(i32, i32)>,
    /// The terminal that the keys are at in the drawing; and that they have just put a probe there.
    pub(crate) walked: StoredValue<Option<String>>,
    pub(crate) put_down: StoredValue<bool>,
}

/// How large the drawing is at first, percent of its place: whole on a desk, readable on a phone.
const WHOLE: u32 = 100;
const READABLE: u32 = 300;

/// Sheets of a call.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Sheet {
    None,
    Drawing,
    Suspects,
    Ways,
    History,
    Papers,
    Photos,
}

impl Hands {
    pub(crate) fn new(worker: Worker) -> Self {
        Self {
            worker: StoredValue::new_local(worker),
            sheet: RwSignal::new(Sheet::None),
            typed: RwSignal::new(String::new()),
            hidden: RwSignal::new(false),
            large: RwSignal::new(false),
            zoom: RwSignal::new(if is_desk() { WHOLE } else { READABLE }),
            sight: StoredValue::new((0, 0)),
            walked: StoredValue::new(None),
            put_down: StoredValue::new(false),
        }
    }

    /// Hands the worker a touch.
    pub(crate) fn touch(self, touch: &Touch) {
        if matches!(touch, Touch::Answer(_) | Touch::TakeOffered) {
            self.typed.set(String::new());
            self.let_down();
        }
        self.send(touch);
    }

    pub(crate) fn answer(self, text: impl Into<String>) {
        self.touch(&Touch::Answer(text.into()));
    }

    /// Lets the sheet down; on a desk the drawing stands in its place.
    pub(crate) fn let_down(self) {
        self.pull(if is_desk() { Sheet::Drawing } else { Sheet::None });
    }

    /// Deletes the last key typed.
    pub(crate) fn delete_last(self) {
        self.typed.update(|typed| {
            typed.pop();
        });
    }

    /// Pulls a sheet up, or lets it down; what only the worker can work out is asked for.
    pub(crate) fn pull(self, sheet: Sheet) {
        let before = self.sheet.get_untracked();
        if before == sheet {
            return;
        }
        self.sheet.set(sheet);
        let of = |sheet: Sheet| match sheet {
            Sheet::Drawing => screens::Sheet::Drawing,
            Sheet::Papers => screens::Sheet::Papers,
            Sheet::Photos => screens::Sheet::Photos,
            Sheet::History => screens::Sheet::Curves,
            _ => screens::Sheet::None,
        };
        if of(before) != of(sheet) {
            self.send(&Touch::Sheet(of(sheet)));
        }
    }

    fn send(self, touch: &Touch) {
        let text = serde_json::to_string(touch).unwrap_or_default();
        // A worker that is gone has told its trouble.
        self.worker.with_value(|worker| drop(worker.post_message(&text.into())));
    }
}

/// Says whether there is room for three columns.
pub(crate) fn is_desk() -> bool {
    let wide = web_sys::window().and_then(|window| window.match_media("(min-width: 68.75rem)").ok().flatten());
    wide.is_some_and(|wide| wide.matches())
}

/// Speaks a step by a voice of this device; one that would send the words elsewhere is not used.
pub(crate) fn speak(text: &str) {
    let say = || {
        let window: JsValue = web_sys::window()?.into();
        let synthesis = Reflect::get(&window, &"speechSynthesis".into()).ok().filter(JsValue::is_object)?;
        let voices: Array = call(&synthesis, "getVoices", &[])?.dyn_into().ok()?;
        let here = |voice: &JsValue| {
            Reflect::get(voice, &"localService".into()).is_ok_and(|local| local.is_truthy())
                && Reflect::get(voice, &"lang".into())
                    .ok()
                    .and_then(|lang| lang.as_string())
                    .is_some_and(|lang| lang.starts_with("en"))
        };
        let voice = voices.iter().find(here)?;
        let make: Function = Reflect::get(&window, &"SpeechSynthesisUtterance".into()).ok()?.dyn_into().ok()?;
        let utterance = Reflect::construct(&make, &Array::of1(&text.into())).ok()?;
        Reflect::set(&utterance, &"voice".into(), &voice).ok()?;
        call(&synthesis, "cancel", &[])?;
        call(&synthesis, "speak", &[&utterance])
    };
    // Without a voice of its own the device stays silent; the step stands on the screen.
    let _ = say();
}

/// Keeps the screen awake while a call is open. The browser lets go whenever the page is out of sight, so this asks anew
/// with each move.
pub(crate) fn stay_awake() {
    let ask = || {
        let navigator: JsValue = web_sys::window()?.navigator().into();
        let lock = Reflect::get(&navigator, &"wakeLock".into()).ok().filter(JsValue::is_object)?;
        let promise: Promise = call(&lock, "request", &[&"screen".into()])?.dyn_into().ok()?;
        Some(promise)
    };
    if let Some(promise) = ask() {
        wasm_bindgen_futures::spawn_local(async move {
            // A browser that refuses (battery low) lets the screen go dark; nothing is lost by it.
            let _ = wasm_bindgen_futures::JsFuture::from(promise).await;
        });
    }
}

/// Hands a text out as a file: to what the device shares files with, or where it shares none, as a download.
pub(crate) fn hand_out(name: &str, text: &str) {
    hand_out_parts(name, &Array::of1(&text.into()));
}

/// Hands out a file that came in base64.
pub(crate) fn hand_out_bytes(name: &str, base64: &str) {
    // What is no base64 was never sent by the worker.
    let bytes = Base64::decode_vec(base64).unwrap_or_default();
    hand_out_parts(name, &Array::of1(&Uint8Array::from(bytes.as_slice())));
}

fn hand_out_parts(name: &str, parts: &Array) {
    if share(name, parts).is_some() {
        return;
    }
    let give = || {
        let options = BlobPropertyBag::new();
        options.set_type(kind_of(name));
        let blob = Blob::new_with_str_sequence_and_options(parts, &options).ok()?;
        let address = Url::create_object_url_with_blob(&blob).ok()?;
        let anchor: HtmlAnchorElement = web_sys::window()?.document()?.create_element("a").ok()?.dyn_into().ok()?;
        anchor.set_href(&address);
        anchor.set_download(name);
        anchor.click();
        Url::revoke_object_url(&address).ok()
    };
    // A browser that gives no files still shows a text.
    let _ = give();
}

/// The media type of a file, by how its name ends.
fn kind_of(name: &str) -> &'static str {
    match name.rsplit('.').next() {
        Some("html") => "text/html",
        Some("csv") => "text/csv",
        Some("ics") => "text/calendar",
        Some("json") => "application/json",
        Some("pdf") => "application/pdf",
        Some("xml") => "application/xml",
        _ => "text/plain",
    }
}

/// Shares a file. SOURCE: W3C Web Share, `canShare` and `share` with files.
fn share(name: &str, parts: &Array) -> Option<()> {
    let navigator: JsValue = web_sys::window()?.navigator().into();
    let options = FilePropertyBag::new();
    options.set_type(kind_of(name));
    let file = File::new_with_str_sequence_and_options(parts, name, &options).ok()?;
    let data = Object::new();
    Reflect::set(&data, &"files".into(), &Array::of1(&file)).ok()?;
    call(&navigator, "canShare", &[&data]).filter(JsValue::is_truthy)?;
    let shared: Promise = call(&navigator, "share", &[&data])?.dyn_into().ok()?;
    wasm_bindgen_futures::spawn_local(async move {
        // Who thinks better of it has shared nothing.
        let _ = wasm_bindgen_futures::JsFuture::from(shared).await;
    });
    Some(())
}

/// Reads the file that was chosen as text and hands it on.
pub(crate) fn read_text(event: &web_sys::Event, then: impl Fn(String) + 'static) {
    let input = event.target().and_then(|at| at.dyn_into::<HtmlInputElement>().ok());
    let Some(file) = input.and_then(|input| input.files()?.get(0)) else { return };
    wasm_bindgen_futures::spawn_local(async move {
        let text = wasm_bindgen_futures::JsFuture::from(file.text()).await.ok().and_then(|text| text.as_string());
        // A file that cannot be read is as good as one that says nothing that can be used.
        then(text.filter(|text| !text.is_empty()).unwrap_or_else(|| "?".to_owned()));
    });
}

/// Puts the focus on the new move, so that it is read out and keys go to the page.
pub(crate) fn say_is_new() {
    request_animation_frame(|| {
        let found = web_sys::window().and_then(|window| window.document()).and_then(|d| d.get_element_by_id("say"));
        if let Some(say) = found.and_then(|found| found.dyn_into::<HtmlElement>().ok()) {
            // A page in the background takes no focus.
            let _ = say.focus();
        }
    });
}

/// Registers the service worker, and notes when a newer version is waiting.
pub(crate) fn keep_offline(newer: RwSignal<bool>) {
    let Some(window) = web_sys::window() else { return };
    let navigator: JsValue = window.navigator().into();
    if !Reflect::has(&navigator, &"serviceWorker".into()).unwrap_or(false) {
        return;
    }
    let container = window.navigator().service_worker();
    wasm_bindgen_futures::spawn_local(async move {
        let registered = wasm_bindgen_futures::JsFuture::from(container.register("./sw.js")).await;
        let Some(registration) =
            registered.ok().and_then(|of| of.dyn_into::<web_sys::ServiceWorkerRegistration>().ok())
        else {
            return;
        };
        if registration.waiting().is_some() && registration.active().is_some() {
            newer.set(true);
        }
        let of = registration.clone();
        let found = Closure::<dyn FnMut()>::new(move || {
            let Some(installing) = of.installing() else { return };
            let of = of.clone();
            let changed = Closure::<dyn FnMut()>::new(move || {
                if of.waiting().is_some() && of.active().is_some() {
                    newer.set(true);
                }
            });
            installing.set_onstatechange(Some(changed.as_ref().unchecked_ref()));
            changed.forget();
        });
        registration.set_onupdatefound(Some(found.as_ref().unchecked_ref()));
        found.forget();
    });
}

/// Takes the newer version that waits, and loads the page anew. Only offered on the day: never in the middle of a call.
pub(crate) fn take_newer() {
    let Some(window) = web_sys::window() else { return };
    let container = window.navigator().service_worker();
    wasm_bindgen_futures::spawn_local(async move {
        let Ok(found) = wasm_bindgen_futures::JsFuture::from(container.get_registration()).await else { return };
        let Ok(registration) = found.dyn_into::<web_sys::ServiceWorkerRegistration>() else { return };
        let reload = Closure::<dyn FnMut()>::new(move || {
            // A reload that is refused leaves the old version running.
            let _ = window.location().reload();
        });
        container.set_oncontrollerchange(Some(reload.as_ref().unchecked_ref()));
        reload.forget();
        if let Some(waiting) = registration.waiting() {
            let _ = waiting.post_message(&"take over".into());
        }
    });
}

/// Calls a method that not every browser has; `None` where it has not, or throws.
pub(super) fn call(of: &JsValue, name: &str, with: &[&JsValue]) -> Option<JsValue> {
    let function: Function = Reflect::get(of, &name.into()).ok()?.dyn_into().ok()?;
    let arguments: Array = with.iter().map(|value| (*value).clone()).collect();
    function.apply(of, &arguments).ok()
}
