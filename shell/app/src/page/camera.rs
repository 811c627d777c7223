//! The camera: a photo made small enough to keep, and the lamp beside the lens as a torch.

use super::hands::{Hands, call};
use js_sys::{Array, Object, Promise, Reflect};
use leptos::prelude::*;
use screens::Touch;
use screens::screen::{Choice, Photo};
use std::cell::RefCell;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::JsValue;
use wasm_bindgen_futures::{JsFuture, spawn_local};
use web_sys::{CanvasRenderingContext2d, File, HtmlCanvasElement, HtmlInputElement, ImageBitmap};

/// The longer side of a photo, its quality from 0 to 1, and how often it is made smaller until it can be kept.
const LONGEST: f64 = 1600.0;
const QUALITY: f64 = 0.7;
const TRIES: u32 = 4;
/// Letters of base64 that a photo may have: three quarters of them are its bytes.
const MOST_LETTERS: usize = 780_000;

/// A big button that opens the camera, and what can be tapped instead.
#[component]
pub(super) fn PhotoPad(instead: Vec<Choice>, hands: Hands) -> impl IntoView {
    let others = instead
        .into_iter()
        .map(|choice| view! { <button class="choice" on:click=move |_| hands.answer(choice.answer.clone())>{choice.say}</button> })
        .collect_view();
    view! { <Shutter say="take the photo" main=true hands=hands/> {others} }
}

/// Opens the camera, or a choice of pictures where there is none.
#[component]
pub(super) fn Shutter(say: &'static str, main: bool, hands: Hands) -> impl IntoView {
    let failed = RwSignal::new(false);
    let taken = move |event: web_sys::Event| {
        let input = event.target().and_then(|at| at.dyn_into::<HtmlInputElement>().ok());
        let Some(file) = input.and_then(|input| input.files()?.get(0)) else { return };
        failed.set(false);
        spawn_local(async move {
            match small(&file).await {
                Some(jpeg) => hands.touch(&Touch::Photo(jpeg)),
                None => failed.set(true),
            }
        });
    };
    view! {
        <label class="shutter" class:main=main>{say}
            <input type="file" accept="image/*" capture="environment" on:change=taken/>
        </label>
        {move || failed.get().then(|| view! { <p class="notice" role="alert">"This browser cannot read that picture. Take it as a JPEG."</p> })}
    }
}

/// The photos of the job.
#[component]
pub(super) fn PhotosView(photos: Vec<Photo>, hands: Hands) -> impl IntoView {
    let empty = photos.is_empty().then(|| view! { <p class="soft">"No photo yet."</p> });
    let each = photos
        .into_iter()
        .map(|photo| {
            let source = format!("data:image/jpeg;base64,{}", photo.jpeg);
            view! { <figure class="photo"><img src=source alt=photo.say.clone()/><figcaption>{photo.say}</figcaption></figure> }
        })
        .collect_view();
    view! { {empty} {each} <Shutter say="another photo" main=false hands=hands/> }
}

/// Makes a picture small enough to keep; base64 of a JPEG.
async fn small(file: &File) -> Option<String> {
    let made = web_sys::window()?.create_image_bitmap_with_blob(file).ok()?;
    let picture: ImageBitmap = JsFuture::from(made).await.ok()?.dyn_into().ok()?;
    let (width, height) = (f64::from(picture.width()), f64::from(picture.height()));
    let canvas: HtmlCanvasElement = web_sys::window()?.document()?.create_element("canvas").ok()?.dyn_into().ok()?;
    let mut scale = (LONGEST / width.max(height)).min(1.0);
    for _ in 0..TRIES {
        let (across, down) = ((width * scale).max(1.0), (height * scale).max(1.0));
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most the longest side")]
        let whole = |side: f64| side as u32;
        canvas.set_width(whole(across));
        canvas.set_height(whole(down));
        let paper: CanvasRenderingContext2d = canvas.get_context("2d").ok()??.dyn_into().ok()?;
        paper.draw_image_with_image_bitmap_and_dw_and_dh(&picture, 0.0, 0.0, across, down).ok()?;
        let address = canvas.to_data_url_with_type_and_encoder_options("image/jpeg", &QUALITY.into()).ok()?;
        let jpeg = address.strip_prefix("data:image/jpeg;base64,")?;
        if jpeg.len() <= MOST_LETTERS {
            return Some(jpeg.to_owned());
        }
        scale *= 0.6;
    }
    None
}

thread_local! {
    /// The camera's track while the lamp is on.
    static LAMP: RefCell<Option<JsValue>> = const { RefCell::new(None) };
}

/// One touch for the lamp beside the lens. Where there is none, it says so.
#[component]
pub(super) fn Torch() -> impl IntoView {
    let say = RwSignal::new("torch");
    let turn = move |_| {
        if let Some(track) = LAMP.with(RefCell::take) {
            // A track that is gone is dark.
            let _ = call(&track, "stop", &[]);
            say.set("torch");
            return;
        }
        spawn_local(async move {
            match lit().await {
                Some(track) => {
                    LAMP.with(|lamp| lamp.replace(Some(track)));
                    say.set("torch off");
                }
                None => say.set("no torch here"),
            }
        });
    };
    view! { <button class="small" id="torch" on:click=turn>{move || say.get()}</button> }
}

/// Turns the lamp on; gives the track that holds it. SOURCE: W3C MediaStream Image Capture, the constraint `torch`.
async fn lit() -> Option<JsValue> {
    let navigator: JsValue = web_sys::window()?.navigator().into();
    let devices = Reflect::get(&navigator, &"mediaDevices".into()).ok().filter(JsValue::is_object)?;
    let wanted = object(&[("video", &object(&[("facingMode", &"environment".into())]))]);
    let stream = promised(&devices, "getUserMedia", &wanted).await?;
    let tracks: Array = call(&stream, "getVideoTracks", &[])?.dyn_into().ok()?;
    let track = tracks.get(0);
    let able = call(&track, "getCapabilities", &[])
        .and_then(|able| Reflect::get(&able, &"torch".into()).ok())
        .is_some_and(|torch| torch.is_truthy());
    let on = object(&[("advanced", &Array::of1(&object(&[("torch", &true.into())])).into())]);
    if able && promised(&track, "applyConstraints", &on).await.is_some() {
        return Some(track);
    }
    let _ = call(&track, "stop", &[]);
    None
}

fn object(members: &[(&str, &JsValue)]) -> JsValue {
    let object = Object::new();
    for (name, value) in members {
        // Setting a member of a fresh object cannot fail.
        let _ = Reflect::set(&object, &(*name).into(), value);
    }
    object.into()
}

async fn promised(of: &JsValue, name: &str, with: &JsValue) -> Option<JsValue> {
    let promise: Promise = call(of, name, &[with])?.dyn_into().ok()?;
    JsFuture::from(promise).await.ok()
}

/// Says whether the browser reads bars by itself. SOURCE: WICG Shape Detection, `BarcodeDetector`.
pub(super) fn can_scan() -> bool {
    Reflect::has(&js_sys::global(), &"BarcodeDetector".into()).unwrap_or(false)
}

/// Reads the bars in a picture that was taken, and hands their number on; a question mark where there are none to be read.
pub(super) fn scan(event: &web_sys::Event, then: impl Fn(String) + 'static) {
    let input = event.target().and_then(|at| at.dyn_into::<HtmlInputElement>().ok());
    let Some(file) = input.and_then(|input| input.files()?.get(0)) else { return };
    spawn_local(async move {
        then(number_in(&file).await.unwrap_or_else(|| "?".to_owned()));
    });
}

async fn number_in(file: &File) -> Option<String> {
    let picture = JsFuture::from(web_sys::window()?.create_image_bitmap_with_blob(file).ok()?).await.ok()?;
    let kind: js_sys::Function = Reflect::get(&js_sys::global(), &"BarcodeDetector".into()).ok()?.dyn_into().ok()?;
    let detector = Reflect::construct(&kind, &Array::new()).ok()?;
    let found: Promise = call(&detector, "detect", &[&picture])?.dyn_into().ok()?;
    let all: Array = JsFuture::from(found).await.ok()?.dyn_into().ok()?;
    Reflect::get(&all.get(0), &"rawValue".into()).ok()?.as_string().filter(|number| !number.is_empty())
}
